"""What comes with the package: examples, schemas, and what is installed."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, NamedTuple

from groundstate._core import _BUILD, Method, Run, __version__, _argument_error, _header

_HERE = Path(__file__).parent
#: The kinds of document with a schema.
_DOCUMENTS = ("mdl_record", "method", "outcome", "run")
#: Packages that are used where they are installed.
_OPTIONAL = ("pandas", "polars", "pyarrow", "duckdb", "matplotlib", "jinja2", "tqdm", "uncertainties")


class UnoptimisedWarning(RuntimeWarning):
    """The compiled part was built for development: results are the same, but they take many times as long."""


class Example(NamedTuple):
    """An invented run with its method: ``gs.reduce(*gs.example("roof_water"))``."""

    run: Run
    method: Method


def example(name: str = "roof_water") -> Example:
    """An invented run and its method, for trying things out and for bug reports. Nothing in it was measured.

    "roof_water" is a run of liquids whose every check passes, "gutter_sediment" one of solids with a failed check and
    a second calibration.
    """
    from groundstate._reduce import read_method, read_runs

    folder = _HERE / "demo"
    names = sorted(path.stem for path in folder.glob("*.toml"))
    if name not in names:
        raise _argument_error("name", f"there is no example {name!r}", f"it is one of {', '.join(names)}")
    method = read_method(folder / f"{name}.toml")
    (run,) = read_runs(folder / f"{name}.csv", method)
    return Example(run, method)


def schema(document: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of the documents of this version: "method", "run", "outcome" or "mdl_record"."""
    import json

    if document not in _DOCUMENTS:
        raise _argument_error(
            "document", f"there is no schema of {document!r}", f"it is one of {', '.join(_DOCUMENTS)}"
        )
    found: dict[str, Any] = json.loads((_HERE / "schema" / f"{document}.json").read_text(encoding="utf-8"))
    return found


class Header(NamedTuple):
    """What the first member of a document says."""

    document: str
    """ "method", "run" or "outcome"."""
    major: int
    """Major version; readers of another one cannot read the document."""
    minor: int
    """Minor version; readers of an older one pass over members that they do not know."""
    is_newer: bool
    """Whether this library is older than the document's minor version."""


def read_header(document: str | os.PathLike[str]) -> Header:
    """What a document is, from its first member alone: the rest may be of any version, or missing.

    ``document`` is a path or the JSON text itself. Of a file only the beginning is read. WireError says what is wrong
    with it.
    """
    text = os.fspath(document)
    if not text.lstrip("\ufeff \t\r\n").startswith("{"):
        with open(text, encoding="utf-8", errors="replace") as file:
            text = file.read(4096)
    return Header(*_header(text))


def show_versions() -> str:
    """Versions of this package and of what it works with, as text for a bug report. Nothing in it names a machine."""
    import platform
    from importlib.metadata import PackageNotFoundError, version

    def installed(name: str) -> str:
        try:
            return version(name)
        except PackageNotFoundError:
            return "not installed"

    rows = [
        ("groundstate", f"{__version__} ({_BUILD} build)"),
        ("python", f"{platform.python_version()} ({platform.python_implementation()})"),
        ("system", f"{platform.system()} {platform.machine()}"),
        ("numpy", installed("numpy")),
        *((name, installed(name)) for name in _OPTIONAL),
    ]
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"{name:<{width}}  {found}" for name, found in rows)
