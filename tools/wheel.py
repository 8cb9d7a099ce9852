"""The source archive and the wheel as users get them: contents, size, and a first result in an empty environment.

python tools/wheel.py build/dist    called by ./dev wheel, which has built both there, the wheel from the archive
"""

import json
import os
import re
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "python" / "groundstate"
LARGEST = 3_000_000  # bytes; a wheel that is quick to fetch everywhere


def files_of_the_package() -> set[str]:
    """Every file of the package except what was compiled."""
    paths = (path.relative_to(PACKAGE.parent).as_posix() for path in PACKAGE.rglob("*") if path.is_file())
    found = {path for path in paths if "__pycache__" not in path}
    return found - set(compiled(found))


def compiled(names: set[str]) -> list[str]:
    return [name for name in names if re.search(r"\.(so|pyd|dylib|dll)$", name)]


def look_at_wheel(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert "-cp311-abi3-" in wheel.name, f"{wheel.name} is not for every Python from 3.11"
    missing = files_of_the_package() - names
    assert not missing, f"the wheel lacks {sorted(missing)}"
    for what, pattern in {
        "stubs": r"groundstate/_core\.pyi",
        "the mark of types": r"groundstate/py\.typed",
        "published cases": r"groundstate/cases/quam-a1-standard\.json",
        "the demonstration": r"groundstate/demo/roof_water\.csv",
        "licences": r".*/LICENSE-(MIT|APACHE)",
        "the core": r"groundstate/_core\.(abi3\.so|pyd)",
    }.items():
        assert any(re.fullmatch(pattern, name) for name in names), f"the wheel lacks {what}"
    assert len(compiled(names)) == 1, f"compiled parts: {compiled(names)}"
    strangers = {name for name in names if not re.match(r"groundstate(/|-[^/]+\.dist-info/)", name)}
    assert not strangers, f"the wheel holds {sorted(strangers)}"
    unwanted = [name for name in names if re.search(r"(^|/)(tests?|target|__pycache__|examples)/", name)]
    assert not unwanted, f"the wheel holds {unwanted}"
    size = wheel.stat().st_size
    assert size < LARGEST, f"the wheel has {size} bytes, more than {LARGEST}"
    print(f"{wheel.name}: {size / 1e6:.2f} MB, {len(names)} files")


def look_at_source(archive: Path) -> None:
    with tarfile.open(archive) as held:
        names = {name.partition("/")[2] for name in held.getnames()}
    needed = {"Cargo.toml", "Cargo.lock", "pyproject.toml", "README.md", "LICENSE-MIT", "LICENSE-APACHE"}
    needed |= {f"python/{name}" for name in files_of_the_package()}
    assert not needed - names, f"the source archive lacks {sorted(needed - names)}"
    unwanted = [name for name in names if re.search(r"(^|/)(target|\.venv|build|__pycache__|\.git)/", name)]
    unwanted += [name for name in names if name.startswith("tests/")] + compiled(names)
    assert not unwanted, f"the source archive holds {unwanted}"
    print(f"{archive.name}: {archive.stat().st_size / 1e6:.2f} MB, {len(names)} files")


def run(python: Path, *arguments: str, cwd: Path, status: int = 0) -> str:
    """Standard output of a Python of its own, which sees nothing of this tree."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run([str(python), *arguments], cwd=cwd, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == status, f"{arguments}: status {done.returncode}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def numpy_as_pinned() -> str:
    pins = (ROOT / "tools" / "test.txt").read_text(encoding="utf-8").splitlines()
    return next(pin for pin in pins if pin.startswith("numpy=="))


FIRST_RESULT = """
from importlib.resources import files
import groundstate as gs
demo = files("groundstate") / "demo"
outcome = gs.reduce(demo / "roof_water.csv", demo / "roof_water.toml")
row = outcome.results.row("Depot north")
print(outcome.standing, row.text, row.unit)
"""


def try_as_a_new_user(wheel: Path, folder: Path) -> None:
    """From pip install in an empty environment to a reported result."""
    home = folder / "environment"
    venv.EnvBuilder(clear=True, with_pip=True).create(home)
    python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    run(python, "-m", "pip", "install", "--quiet", numpy_as_pinned(), str(wheel), cwd=folder)
    listed = json.loads(run(python, "-m", "pip", "list", "--format", "json", cwd=folder))
    there = {package["name"].lower() for package in listed} - {"pip", "setuptools", "wheel"}
    assert there == {"groundstate", "numpy"}, f"installed: {sorted(there)}"

    said = run(python, "-c", FIRST_RESULT, cwd=folder)
    assert re.fullmatch(r"complete \S+ mg/L\n", said), said
    where = "from importlib.resources import files; print(files('groundstate') / 'demo')"
    demo = Path(run(python, "-c", where, cwd=folder).strip())
    assert home in demo.parents, demo
    table, method = str(demo / "roof_water.csv"), str(demo / "roof_water.toml")
    reported = run(python, "-m", "groundstate", "reduce", table, "--method", method, "--json", "out.json", cwd=folder)
    assert "Depot north" in reported
    assert run(python, "-m", "groundstate", "verify", "out.json", cwd=folder) == "identical\n"
    evidence = run(python, "-m", "groundstate", "validate", cwd=folder)
    print(next(line for line in evidence.splitlines() if line.startswith("passed: ")))


def main(folder: Path) -> None:
    (wheel,) = folder.glob("*.whl")
    (archive,) = folder.glob("*.tar.gz")
    look_at_source(archive)
    look_at_wheel(wheel)
    try_as_a_new_user(wheel, folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
