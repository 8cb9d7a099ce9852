"""Several methods, and which of them a run was measured by."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from groundstate._core import Method, MethodError, Run

if TYPE_CHECKING:
    from groundstate._core import GroundstateError
    from groundstate._reduce import MethodLike

    #: Runs of a table by name, or what is wrong with them.
    Reading = Sequence[tuple[str, Run | GroundstateError]]

SUFFIXES = (".toml", ".json")


class Methods(Sequence[Method]):
    """Methods by element, id and effective date. A run says which one is its own.

    A run's columns may name it: ``method`` (the method's id, or id and version), ``element`` or ``x_element`` (symbol),
    and ``date`` (YYYY-MM-DD). A method serves a run when nothing that the run says speaks against it. Of several
    versions of one method, the one that was effective at the date serves: the last whose ``effective_from`` is not
    after it. A run that no method serves, or more than one, is a MethodError that says so: nothing is guessed.
    """

    __slots__ = ("_methods",)

    def __init__(self, methods: Sequence[MethodLike]) -> None:
        from groundstate._reduce import read_method

        self._methods = [read_method(method) for method in methods]
        seen: set[tuple[str, str, str]] = set()
        for method in self._methods:
            key = (method.element, method.id, method.version)
            if key in seen:
                raise MethodError(f"method {method.id} version {method.version} is given twice")
            seen.add(key)

    @classmethod
    def read(cls, *paths: str | os.PathLike[str]) -> Methods:
        """The methods of files, and of the TOML and JSON files of folders."""
        found: list[Path] = []
        for path in map(Path, paths):
            inside = (
                sorted(file for file in path.iterdir() if file.suffix.lower() in SUFFIXES) if path.is_dir() else [path]
            )
            if not inside:
                raise MethodError(f"{path}: the folder holds no method; a method is a TOML or JSON file")
            found += inside
        return cls(found)

    def of(self, run: Run) -> Method:
        """The one method that serves a run."""
        facts = run.facts
        serving = _effective([method for method in self._methods if _serves(method, facts)], facts.get("date", ""))
        if len(serving) == 1:
            return serving[0]
        said = ", ".join(
            f"{name} {facts[name]}" for name in ("method", "element", "x_element", "date") if name in facts
        )
        what = f"run {run.name}: {'no method serves it' if not serving else 'more than one method serves it'}"
        what += f" ({said})" if said else " (it names neither method nor element)"
        listed = serving or self._methods
        raise MethodError(f"{what}; there {'is' if len(listed) == 1 else 'are'} {', '.join(map(_described, listed))}")

    def choose(self, read: Callable[[Method], Reading]) -> dict[str, tuple[Run, Method] | Exception]:
        """Each run of a table with its method, or what is wrong with it. ``read`` reads the table as a method says.

        How a table is read is part of the method, and the method follows from the table: it is read in each way that
        the methods ask for, and a run is taken in the way of its own method.
        """
        found: dict[str, tuple[Run, Method] | Exception] = {}
        for way, method in {_way(method): method for method in self._methods}.items():
            for name, run in read(method):
                if not isinstance(run, Run):
                    found.setdefault(name, run)
                    continue
                try:
                    chosen = self.of(run)
                except MethodError as error:
                    found[name] = error
                    continue
                if _way(chosen) == way:
                    found[name] = (run, chosen)
        return found

    def __getitem__(self, index: Any) -> Any:
        return self._methods[index]

    def __len__(self) -> int:
        return len(self._methods)

    def __iter__(self) -> Iterator[Method]:
        return iter(self._methods)

    def __eq__(self, other: object) -> bool:
        return self._methods == other._methods if isinstance(other, Methods) else NotImplemented

    __hash__: ClassVar[None]  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        return (Methods, (self._methods,))

    def to_dict(self) -> dict[str, Any]:
        """The methods as dictionaries, every default stated."""
        return {"methods": [method.to_dict() for method in self._methods]}

    def __repr__(self) -> str:
        return f"<Methods {', '.join(map(_described, self._methods))}>"


def _way(method: Method) -> tuple[str, str, str]:
    """What of a method says how a table is read."""
    held = method.to_dict()
    return held["missing"], held["aliases"], held["signal_kind"]


def _described(method: Method) -> str:
    from_when = _effective_from(method)
    return f"{method.id} version {method.version} ({method.element}{', from ' + from_when if from_when else ''})"


def _effective_from(method: Method) -> str:
    return str(method.to_dict().get("effective_from") or "")


def _serves(method: Method, facts: dict[str, str]) -> bool:
    """Whether nothing that the run says speaks against the method."""
    named, element = facts.get("method"), facts.get("element") or facts.get("x_element")
    if named is not None and named not in (method.id, f"{method.id} {method.version}"):
        return False
    return element is None or element == method.element


def _effective(methods: list[Method], date: str) -> list[Method]:
    """Of each method the versions that were effective at a date, of which the last; of another text, all of them."""
    import re

    if not re.match(r"\d{4}-\d\d-\d\d", date):
        return methods
    begun = [method for method in methods if _effective_from(method) <= date[:10]]
    last = {(one.element, one.id): "" for one in begun}
    for one in begun:
        last[one.element, one.id] = max(last[one.element, one.id], _effective_from(one))
    return [one for one in begun if _effective_from(one) == last[one.element, one.id]]
