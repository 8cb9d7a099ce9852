"""Runs and methods in any form, reduced to outcomes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Literal

import numpy as np

from groundstate._core import (
    GroundstateError,
    Method,
    Outcome,
    Run,
    Simulation,
    TableError,
    Verification,
    _argument_error,
    _method_from_json,
    _method_from_toml_bytes,
    _read_each,
    _read_runs,
    _reduce,
    _reduce_columns,
    _reduce_many,
    _simulate,
    _verify,
)
from groundstate._table import Table

#: A table of readings: a path to CSV, a mapping of columns, a list of rows, a frame, or a Run.
TableLike = Any
#: A method: a Method, a path to TOML or JSON, or a mapping.
MethodLike = Any


def read_method(method: MethodLike) -> Method:
    """A method from a Method, a path to a TOML or JSON file, or a mapping of its keys."""
    if isinstance(method, Method):
        return method
    if isinstance(method, Mapping):
        import json

        return _method_from_json(json.dumps(method))
    if isinstance(method, (str, os.PathLike)):
        path = os.fspath(method)
        with open(path, "rb") as file:
            content = file.read()
        if path.lower().endswith(".json"):
            return _method_from_json(content.decode("utf-8-sig"))
        return _method_from_toml_bytes(content)
    raise TypeError(f"method: a {type(method).__name__} is not a method, a mapping or a path to TOML or JSON")


def _columns(table: TableLike) -> Any:
    """The table as the core takes it: CSV bytes, or a list of (name, kind, data)."""
    if isinstance(table, (str, os.PathLike)):
        with open(table, "rb") as file:
            return file.read()
    if isinstance(table, bytes):
        return table
    if isinstance(table, Mapping):
        return [_column(str(name), values) for name, values in table.items()]
    if hasattr(table, "column_names") and hasattr(table, "column"):
        return [_column(str(name), table.column(name)) for name in table.column_names]
    if hasattr(table, "columns") and hasattr(table, "__getitem__"):
        return [_column(str(name), table[name]) for name in table.columns]
    if isinstance(table, Sequence) and not isinstance(table, str):
        names = list(dict.fromkeys(name for row in table for name in row))
        return [_column(str(name), [row.get(name) for row in table]) for name in names]
    raise TypeError(f"table: a {type(table).__name__} is not a path, a mapping of columns, a list of rows or a frame")


def _column(name: str, values: Any) -> tuple[str, str, Any]:
    """One column: figures as float64 with NaN for missing, words as text with "" for missing."""
    if hasattr(values, "to_pylist"):
        values = values.to_pylist()
    elif hasattr(values, "to_list") and getattr(getattr(values, "dtype", None), "kind", "O") not in "fiu":
        values = values.to_list()
    array = values if isinstance(values, np.ndarray) else None
    if array is None and hasattr(values, "__array__"):
        array = np.asarray(values)
    if array is not None and array.dtype.kind in "fiu":
        if np.ma.isMaskedArray(array):
            array = np.ma.filled(array.astype(np.float64), np.nan)
        return (name, "number", np.ascontiguousarray(array, dtype=np.float64))
    cells = list(values) if array is None else array.tolist()
    if cells and all(_is_number(cell) or _is_missing(cell) for cell in cells) and any(_is_number(c) for c in cells):
        return (name, "number", np.array([np.nan if _is_missing(cell) else float(cell) for cell in cells]))
    return (name, "text", ["" if _is_missing(cell) else str(cell) for cell in cells])


def _is_number(cell: Any) -> bool:
    return isinstance(cell, (int, float, np.integer, np.floating)) and not isinstance(cell, bool)


def _is_missing(cell: Any) -> bool:
    # pandas' NA refuses to be compared, so it is known by its name before it is compared with itself.
    named = cell is None or cell is np.ma.masked or type(cell).__name__ in ("NAType", "NaTType")
    return named or bool(cell != cell)


def read_runs(table: TableLike, method: MethodLike | None = None) -> list[Run]:
    """The runs of a table. Everything that is wrong with it is named at once.

    ``method`` says how missing readings and other programmes' role names are read.
    """
    return _read_runs(_columns(table), None if method is None else read_method(method))


def reduce(table: TableLike, method: MethodLike) -> Outcome:
    """Reduces exactly one run by one method.

    ``table`` is a mapping of columns, a list of rows, a frame, a path to CSV, or a Run; ``method`` a Method, a
    mapping, or a path to TOML or JSON. A table of several runs raises TableError and names them.
    """
    chosen = read_method(method)
    if isinstance(table, Run):
        return _reduce(table, chosen)
    runs = read_runs(table, chosen)
    if len(runs) != 1:
        names = ", ".join(run.name for run in runs[:10])
        raise TableError(f"the table holds {len(runs)} runs: {names}; choose one, or reduce them all with reduce_many")
    return _reduce(runs[0], chosen)


class Outcomes(Sequence[Outcome]):
    """Outcomes of many runs, in order; what could not be read or reduced is in ``errors`` by run."""

    __slots__ = ("_errors", "_interrupted", "_outcomes")

    def __init__(self, outcomes: list[Outcome], errors: dict[str, Exception], interrupted: bool) -> None:
        self._outcomes, self._errors, self._interrupted = outcomes, errors, interrupted

    @property
    def errors(self) -> dict[str, Exception]:
        """The exception of each run that could not be read or reduced."""
        return dict(self._errors)

    @property
    def interrupted(self) -> bool:
        """Whether a stop was asked for before every run was reduced; those finished are here."""
        return self._interrupted

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, str):
            for outcome in self._outcomes:
                if outcome.run.name == key:
                    return outcome
            raise self._errors.get(key, KeyError(key))
        return self._outcomes[key]

    def __len__(self) -> int:
        return len(self._outcomes)

    def __iter__(self) -> Iterator[Outcome]:
        return iter(self._outcomes)

    def _joined(self, name: str) -> Table:
        tables = [(outcome.run.name, getattr(outcome, name)) for outcome in self._outcomes]
        if not tables:
            return Table({})
        columns: dict[str, Any] = {"run": [run for run, table in tables for _ in range(len(table))]}
        for column in tables[0][1].columns:
            parts = [table[column] for _, table in tables]
            figures = isinstance(parts[0], np.ndarray)
            columns[column] = np.concatenate(parts) if figures else [cell for part in parts for cell in part]
        return Table(columns)

    @property
    def results(self) -> Table:
        """The results of all runs in one table."""
        return self._joined("results")

    @property
    def checks(self) -> Table:
        """The checks of all runs in one table."""
        return self._joined("checks")

    @property
    def findings(self) -> Table:
        """The findings of all runs in one table."""
        rows = [(outcome.run.name, finding) for outcome in self._outcomes for finding in outcome.findings]
        names = ("code", "severity", "subject", "sentence", "citation")
        columns: dict[str, Any] = {"run": [run for run, _ in rows]}
        return Table(columns | {name: [getattr(finding, name) for _, finding in rows] for name in names})

    def __repr__(self) -> str:
        return f"<Outcomes of {len(self)} runs, {len(self._errors)} errors>"


def reduce_many(
    table: TableLike,
    method: MethodLike | Mapping[str, MethodLike],
    *,
    threads: int | None = None,
    progress: Callable[[int, int], bool | None] | None = None,
) -> Outcomes:
    """Reduces every run of a table; one bad run never stops the others.

    ``method`` is one method for all, or a mapping from run to method (values are Method, mapping or path).
    ``progress(done, total)`` is called between chunks of runs and may return False to stop. Ctrl-C stops as
    well; what is finished is kept.
    """
    by_run = isinstance(method, Mapping) and "element" not in method
    methods: Any = [(str(run), read_method(one)) for run, one in method.items()] if by_run else read_method(method)
    first = methods if isinstance(methods, Method) else (methods[0][1] if methods else None)
    errors: dict[str, Exception] = {}
    runs: list[Run] = []
    given = [table] if isinstance(table, Run) else table
    if isinstance(given, Sequence) and given and all(isinstance(run, Run) for run in given):
        runs = list(given)
    else:
        for name, run in _read_each(_columns(table), first):
            if isinstance(run, Run):
                runs.append(run)
            else:
                errors[name] = run
    count = threads if threads is not None else (os.cpu_count() or 1)
    reduced, interrupted = _reduce_many(runs, methods, count, progress)
    outcomes: list[Outcome] = []
    for run, outcome in zip(runs, reduced, strict=True):
        if isinstance(outcome, Outcome):
            outcomes.append(outcome)
        elif isinstance(outcome, GroundstateError):
            errors[run.name] = outcome
    return Outcomes(outcomes, errors, interrupted)


#: Flags of `reduce_columns` by their bit.
COLUMN_FLAGS = {
    "no_root": 1,
    "above_top": 2,
    "below_limit": 4,
    "high_replicate_sd": 8,
    "condemned": 16,
    "r2_below_limit": 32,
    "check_failed": 64,
    "not_reduced": 128,
}


def _codes(name: str, values: Any) -> tuple[Any, Any]:
    """A column as uint32 codes and the words they stand for: categories are read as they are."""
    categories = getattr(getattr(values, "cat", None), "categories", None)
    if categories is not None and hasattr(values.cat, "codes"):
        codes = np.asarray(values.cat.codes)
        if (codes < 0).any():
            raise _argument_error(name, "a row has no value")
        return codes.astype(np.uint32), np.asarray(categories)
    words, codes = np.unique(np.asarray(values), return_inverse=True)
    return codes.astype(np.uint32), words


def _whole(name: str, values: Any) -> Any:
    """A column of whole numbers as uint32."""
    array = np.asarray(values)
    if array.dtype.kind not in "iu" and not (array.dtype.kind == "f" and (array == np.floor(array)).all()):
        raise _argument_error(name, "a column of whole numbers is needed")
    if array.size and (array.min() < 0 or array.max() > 0xFFFFFFFE):
        raise _argument_error(name, "a number from 0 to 4294967294 is needed")
    return np.ascontiguousarray(array, dtype=np.uint32)


def reduce_columns(columns: Mapping[str, Any], method: MethodLike, *, threads: int | None = None) -> Table:
    """Reduces many runs of bare numbers, without budgets, findings, text or fingerprint.

    ``columns`` holds, one element a reading: run, position (whole numbers), role, absorbance, nominal (NaN where
    there is none), and where given replicate and dilution (a factor). A data frame serves as well. run and role may
    be words, whole numbers or categories.

    The table has one row a measured position, by run and position: run, position, role, value and
    standard_uncertainty in the method's unit of liquids, lo and hi (at the method's coverage), status_code (as
    `Estimates.status_code`) and flags (bits named in ``groundstate.COLUMN_FLAGS``). Values and uncertainties are bit
    for bit those of `reduce_many`. A run that cannot be reduced has the flag not_reduced and stops no other.
    """
    chosen = read_method(method)
    needed = ("run", "position", "role", "absorbance")
    missing = [name for name in needed if name not in columns]
    if missing:
        raise TableError(f"the table has no column {', '.join(missing)}")
    given = {name: columns[name] for name in (*needed, "nominal", "replicate", "dilution") if name in columns}
    figures = {
        name: np.ascontiguousarray(given[name], dtype=np.float64)
        for name in ("absorbance", "nominal", "dilution")
        if name in given
    }
    runs, run_words = _codes("run", given["run"])
    roles, role_words = _codes("role", given["role"])
    found, _ = _reduce_columns(
        runs,
        _whole("position", given["position"]),
        roles,
        [str(word) for word in role_words],
        _whole("replicate", given["replicate"]) if "replicate" in given else None,
        figures["absorbance"],
        figures.get("nominal"),
        figures.get("dilution"),
        chosen,
        threads if threads is not None else (os.cpu_count() or 1),
    )
    found["run"] = run_words[found["run"]]
    found["role"] = role_words[found["role"]]
    return Table(found)


def simulate(
    table: TableLike | Outcome,
    method: MethodLike | None = None,
    *,
    seed: int,
    trials: int | Literal["adaptive"] = "adaptive",
    coverage: float = 0.95,
    scatter: Literal["t", "normal"] = "t",
    threads: int | None = None,
) -> Simulation:
    """Distributions of a run's reported results by Monte Carlo (JCGM 101), the whole chain in every trial.

    ``table`` and ``method`` as for `reduce`, or an Outcome alone. ``trials`` is a number, or adaptive: batches until
    mean, u and interval ends have settled to two figures of u. ``scatter`` says how scatter that was estimated from
    few readings is drawn: from a t distribution, or as if it were known ("normal"), which is what first-order
    propagation assumes.
    """
    if isinstance(table, Outcome):
        outcome = table
    elif method is None:
        raise TypeError("method: a run needs its method; an Outcome brings its own")
    else:
        outcome = reduce(table, method)
    count = None if trials == "adaptive" else int(trials)
    return _simulate(outcome, seed, count, coverage, scatter, threads if threads is not None else (os.cpu_count() or 1))


def verify(archive: str | os.PathLike[str]) -> Verification:
    """Reduces the input of an archived outcome again and compares every member.

    ``archive`` is a path, or the JSON text itself.
    """
    text = os.fspath(archive)
    if not text.lstrip().startswith("{"):
        with open(text, encoding="utf-8") as file:
            text = file.read()
    return _verify(text)
