"""The package as a user gets it: version, imports, types, what the archives hold."""

import importlib.metadata
import os
import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

import groundstate as gs

# Builds of the extension must not meet each other.
pytestmark = pytest.mark.xdist_group("cargo")
ROOT = Path(__file__).parents[2]


def run(*command: str, cwd: Path = ROOT) -> str:
    """Standard output of this interpreter with `command`; a failure shows what it printed."""
    done = subprocess.run([sys.executable, *command], cwd=cwd, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def test_one_version_everywhere() -> None:
    stated = tomllib.loads((ROOT / "Cargo.toml").read_text())["workspace"]["package"]["version"]
    assert gs.__version__ == importlib.metadata.version("groundstate") == stated


def test_import_needs_numpy_and_nothing_else(tmp_path: Path) -> None:
    # What a virtual environment loads by itself at start is subtracted: it is not ours.
    code = "import sys; before = set(sys.modules); import groundstate; print(*(set(sys.modules) - before))"
    loaded = {name.partition(".")[0] for name in run("-c", code, cwd=tmp_path).split()}
    assert "groundstate" in loaded
    assert loaded - set(sys.stdlib_module_names) <= {"groundstate", "numpy"}


def test_import_loads_the_compiled_part_and_nothing_of_the_standard_library() -> None:
    # Whatever takes time at import (reading tables, dates, JSON ...) waits until it is asked for.
    code = "import sys, numpy; before = set(sys.modules); import groundstate; print(*(set(sys.modules) - before))"
    assert set(run("-c", code).split()) == {"groundstate", "groundstate._core"}


def test_declared_requirements_are_numpy_and_nothing_else() -> None:
    declared = importlib.metadata.requires("groundstate") or []
    hard = [requirement for requirement in declared if "extra ==" not in requirement]
    assert [re.split(r"[<>=!~ ;\[]", requirement)[0] for requirement in hard] == ["numpy"]


def test_every_public_name_exists() -> None:
    assert len(set(gs.__all__)) == len(gs.__all__)
    assert [name for name in gs.__all__ if not hasattr(gs, name)] == []


def test_wheel_holds_the_package_its_types_and_its_licences(tmp_path: Path) -> None:
    # The development profile: the compiled part is there already, so this packs and hardly compiles.
    run("-m", "maturin", "build", "--quiet", "--profile", "dev", "--out", str(tmp_path))
    (wheel,) = tmp_path.glob("*.whl")
    assert "-cp311-abi3-" in wheel.name
    names = zipfile.ZipFile(wheel).namelist()
    package = ROOT / "python" / "groundstate"
    ours = {path.relative_to(package.parent).as_posix() for path in package.rglob("*") if path.is_file()}
    ours = {name for name in ours if "__pycache__" not in name and not name.endswith((".so", ".pyd"))}
    assert {"groundstate/py.typed", "groundstate/_core.pyi", "groundstate/__init__.py"} <= ours
    assert ours <= set(names)
    assert sum(name.startswith("groundstate/_core.") and not name.endswith(".pyi") for name in names) == 1
    assert {name.rpartition("/")[2] for name in names} >= {"LICENSE-MIT", "LICENSE-APACHE", "METADATA"}
    tops = {name.partition("/")[0] for name in names}
    assert {top for top in tops if top != "groundstate" and ".dist-info" not in top} == set()


def test_sdist_holds_what_a_build_needs(tmp_path: Path) -> None:
    run("-m", "maturin", "sdist", "--out", str(tmp_path))
    (sdist,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    needed = {"Cargo.toml", "Cargo.lock", "pyproject.toml", "README.md", "LICENSE-MIT", "LICENSE-APACHE"}
    needed |= {
        f"crates/{crate}/{file}" for crate in ("groundstate", "groundstate-py") for file in ("Cargo.toml", "src/lib.rs")
    }
    needed |= {f"python/groundstate/{file}" for file in ("__init__.py", "_core.pyi", "py.typed")}
    assert needed - names == set()
    assert [name for name in names if re.search(r"(^|/)(target|\.venv|build|__pycache__)/|\.so$", name)] == []


def texts() -> Iterator[tuple[str, str]]:
    """Path and text of every file of the tree that is not built or cached."""
    made = {".git", ".venv", "target", "build", "__pycache__"}
    for folder, folders, files in os.walk(ROOT):
        folders[:] = [
            name
            for name in folders
            if name not in made and not name.endswith("_cache") and not name.startswith((".venv", ".hypothesis"))
        ]
        for file in set(files) - made:
            path = Path(folder, file)
            try:
                yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")
            except UnicodeDecodeError:  # compiled, or a picture
                continue


def test_no_file_names_a_folder_of_one_machine() -> None:
    # In two pieces, so that this file is not its own finding.
    private = re.compile("|".join("/" + rest for rest in ("root/", "work/", r"home/\w", r"Users/\w")))
    found = [(name, match[0]) for name, text in texts() for match in [private.search(text)] if match]
    assert found == []
