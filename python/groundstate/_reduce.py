"""Runs and methods in any form, reduced to outcomes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, ClassVar, Literal

import numpy as np

from groundstate._arrays import as_float64
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
    _reduce_shaped,
    _simulate,
    _verify,
    _with_raw_digest,
)
from groundstate._frames import (
    coded_column,
    columns_of,
    is_missing,
    kind_of,
    named_columns,
    plain_array,
    renamed,
    renaming,
)
from groundstate._methods import Methods
from groundstate._progress import telling
from groundstate._table import Table, joined

#: A table of readings: a path to CSV, a mapping of columns, a list of rows, a frame, or a Run.
TableLike = Any
#: A method: a Method, a path to TOML or JSON, or a mapping.
MethodLike = Any


def read_method(method: MethodLike) -> Method:
    """A method from any form.

    Args:
        method: a Method, a path to a TOML or JSON file, or a mapping of its keys.

    Raises:
        MethodError: everything that is wrong with it, at once.
        OSError: the file cannot be read.
    """
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


def read_runs(
    table: TableLike, method: MethodLike | None = None, *, columns: Mapping[str, str | None] | None = None
) -> list[Run]:
    """The runs of a table. Everything that is wrong with it is named at once.

    Args:
        table: a path to CSV, its bytes or an open file; a mapping of columns, a list of rows, a structured array; a
            table of pandas, polars, pyarrow or DuckDB, or anything that gives an Arrow stream.
        method: says how missing readings and other programmes' role names are read.
        columns: maps the table's own names to those of this library, `{"Sample ID": "label", "Abs": "absorbance"}`;
            None in place of a name leaves the column out.

    Raises:
        TableError: everything that is wrong with the table, with row and column.

    Example:
        >>> import groundstate as gs
        >>> readings = {"role": ["standard", "standard", "sample"], "absorbance": [0.1, 0.2, 0.15],
        ...             "nominal": [1, 2, None], "label": ["S1", "S2", "well 3"]}
        >>> [run] = gs.read_runs(readings)
        >>> len(run)
        3
    """
    chosen = None if method is None else read_method(method)
    return _read_runs(columns_of(table), chosen, renaming(columns), kind_of(table))


def reduce(table: TableLike, method: MethodLike, *, columns: Mapping[str, str | None] | None = None) -> Outcome:
    """Reduces exactly one run by one method.

    Args:
        table: as for `read_runs`, or a Run.
        method: a Method, a mapping, or a path to TOML or JSON.
        columns: as for `read_runs`.

    Returns:
        The outcome: results, checks, calibrations, findings. What chemistry can do wrong is a status and a finding.

    Raises:
        TableError: a table that cannot be understood, or that holds several runs, which it names.
        MethodError: a method that cannot be understood.

    Example:
        >>> import groundstate as gs
        >>> readings = {"role": ["standard"] * 3 + ["sample"], "absorbance": [0.0562, 0.1123, 0.2239, 0.0870],
        ...             "nominal": [0.5, 1, 2, None], "label": ["S1", "S2", "S3", "well 3"]}
        >>> outcome = gs.reduce(readings, gs.Method.new("Zn"))
        >>> outcome.results.row("well 3").text
        '0.775'
    """
    chosen = read_method(method)
    if isinstance(table, Run):
        return _reduce(table, chosen)
    held = columns_of(table)
    runs = _read_runs(held, chosen, renaming(columns), kind_of(table))
    if len(runs) != 1:
        names = ", ".join(run.name for run in runs[:10])
        raise TableError(f"the table holds {len(runs)} runs: {names}; choose one, or reduce them all with reduce_many")
    outcome, digest = _reduce(runs[0], chosen), _raw_digest(table, held)
    return outcome if digest is None else _with_raw_digest(outcome, digest)


def _raw_digest(table: TableLike, held: Any) -> str | None:
    """The SHA-256 of the bytes that a table was read from; None for one that was in memory or came decoded."""
    if isinstance(table, (str, os.PathLike, bytes, bytearray, memoryview)):
        return hashlib.sha256(held).hexdigest()
    return None


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
        return joined([(outcome.run.name, getattr(outcome, name)) for outcome in self._outcomes])

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
        return joined([(outcome.run.name, outcome.findings.table) for outcome in self._outcomes])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Outcomes):
            return NotImplemented
        said = [{run: str(error) for run, error in of._errors.items()} for of in (self, other)]
        return self._outcomes == other._outcomes and said[0] == said[1] and self._interrupted == other._interrupted

    __hash__: ClassVar[None]  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        return (Outcomes, (self._outcomes, self._errors, self._interrupted))

    def to_dict(self) -> dict[str, Any]:
        """Outcomes as dictionaries by run, the words of the errors, and whether a stop was asked for."""
        return {
            "outcomes": {outcome.run.name: outcome.to_dict() for outcome in self._outcomes},
            "errors": {run: str(error) for run, error in self._errors.items()},
            "interrupted": self._interrupted,
        }

    def _repr_html_(self) -> str:
        from groundstate._html import outcomes

        return outcomes(self)

    def __repr__(self) -> str:
        return f"<Outcomes of {len(self)} runs, {len(self._errors)} errors>"


def reduce_many(
    table: TableLike,
    method: MethodLike | Mapping[str, MethodLike] | Methods,
    *,
    columns: Mapping[str, str | None] | None = None,
    threads: int | None = None,
    progress: bool | Callable[[int, int], bool | None] | None = None,
) -> Outcomes:
    """Reduces every run of a table; one bad run never stops the others.

    Ctrl-C stops within a moment: what is finished is returned, and `interrupted` of the outcomes is True.

    Args:
        table: as for `read_runs`, or a Run or a sequence of them.
        method: one method for all; a mapping from run to method (values are Method, mapping or path); or Methods, of
            which each run's own columns choose one.
        columns: as for `read_runs`.
        threads: how many; all cores when not given. The figures do not depend on it.
        progress: True for a bar of tqdm; or a callable that is told (done, total) between chunks of runs and may return
            False to stop.

    Returns:
        The outcomes in order, and the error of each run that has none.

    Raises:
        TableError: a table of which not even the runs can be told.
        MethodError: a method that cannot be understood.
    """
    if isinstance(method, Methods):
        return _reduce_chosen(table, method, columns, threads, progress)
    by_run = isinstance(method, Mapping) and "element" not in method
    methods: Any = [(str(run), read_method(one)) for run, one in method.items()] if by_run else read_method(method)
    first = methods if isinstance(methods, Method) else (methods[0][1] if methods else None)
    errors: dict[str, Exception] = {}
    runs: list[Run] = []
    digest: str | None = None
    given = [table] if isinstance(table, Run) else table
    if isinstance(given, Sequence) and given and all(isinstance(run, Run) for run in given):
        runs = list(given)
    else:
        held = columns_of(table)
        digest = _raw_digest(table, held)
        for name, run in _read_each(held, first, renaming(columns), kind_of(table)):
            if isinstance(run, Run):
                runs.append(run)
            else:
                errors[name] = run
    count = threads if threads is not None else (os.cpu_count() or 1)
    with telling(progress) as tell:
        reduced, interrupted = _reduce_many(runs, methods, count, tell, digest)
    outcomes: list[Outcome] = []
    for run, outcome in zip(runs, reduced, strict=True):
        if isinstance(outcome, Outcome):
            outcomes.append(outcome)
        elif isinstance(outcome, GroundstateError):
            errors[run.name] = outcome
    return Outcomes(outcomes, errors, interrupted)


def _reduce_chosen(
    table: TableLike,
    methods: Methods,
    columns: Mapping[str, str | None] | None,
    threads: int | None,
    progress: bool | Callable[[int, int], bool | None] | None,
) -> Outcomes:
    """As `reduce_many`, each run by the method that it names itself."""
    digest: str | None = None
    given = [table] if isinstance(table, Run) else table
    if isinstance(given, Sequence) and given and all(isinstance(run, Run) for run in given):
        read: list[tuple[str, Run | GroundstateError]] = [(run.name, run) for run in given]
        found = methods.choose(lambda _: read)
    else:
        held, names, kind = columns_of(table), renaming(columns), kind_of(table)
        digest = _raw_digest(table, held)
        found = methods.choose(lambda way: _read_each(held, way, names, kind))
    errors = {name: one for name, one in found.items() if isinstance(one, Exception)}
    taken = {name: one for name, one in found.items() if not isinstance(one, Exception)}
    if not taken:
        return Outcomes([], errors, False)
    outcomes = reduce_many(
        [run for run, _ in taken.values()],
        {name: method for name, (_, method) in taken.items()},
        threads=threads,
        progress=progress,
    )
    named = [outcome if digest is None else _with_raw_digest(outcome, digest) for outcome in outcomes]
    return Outcomes(named, {**errors, **outcomes.errors}, outcomes.interrupted)


_MISSING = 2**32 - 1
#: Where looking at a column once a word takes as long as sorting it.
_MANY_WORDS = 12


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
    """A column as uint32 codes, and the words they stand for: None where the codes stand for themselves.

    Whole numbers are codes; so are categories and a pair (codes, words).
    """
    if isinstance(values, tuple) and len(values) == 2:
        codes, words = _whole(name, values[0]), np.asarray(values[1])
        if name == "run" and codes.size and codes.max() >= len(words):
            raise _argument_error(name, f"code {codes.max()} is not in a list of {len(words)} words")
        return codes, words
    column = coded_column(name, values)
    if column is not None:
        codes, texts = column
        if (codes == _MISSING).any():
            raise _argument_error(name, "a row has no value")
        return codes, np.asarray(texts)
    array = plain_array(values)
    if array.dtype.kind == "O" and any(is_missing(cell) for cell in array):
        raise _argument_error(name, "a row has no value")
    if array.dtype == np.uint32:
        return np.ascontiguousarray(array), None
    if array.dtype.kind in "iu" and (not array.size or (array.min() >= 0 and array.max() < _MISSING)):
        return np.ascontiguousarray(array, dtype=np.uint32), None
    array = array.astype(str) if array.dtype.kind == "O" else array
    few = _few_words(array) if name == "role" and array.size else None
    if few is not None:
        return few
    words, codes = np.unique(array, return_inverse=True)
    return codes.astype(np.uint32), words


def _few_words(array: Any) -> tuple[Any, Any] | None:
    """Codes and words of a column of a few words, by a look at the column for each; None where there are many."""
    codes, rest = np.zeros(array.shape, np.uint32), np.ones(array.shape, bool)
    words: list[Any] = []
    while rest[first := int(rest.argmax())]:
        if len(words) == _MANY_WORDS:
            return None
        same = array == array[first]
        codes[same] = len(words)
        rest &= ~same
        words.append(array[first])
    return codes, np.array(words)


def _role_codes(values: Any) -> tuple[Any, list[str], Any]:
    """Roles as codes, the words that the core reads, and the words that go out (None: codes go out as codes)."""
    codes, words = _codes("role", values)
    if words is None:
        raise _argument_error("role", "codes of roles need their words: give a pair (codes, words)")
    return codes, [str(word) for word in words], None if isinstance(values, tuple) else words


def _whole(name: str, values: Any) -> Any:
    """A column of whole numbers as uint32."""
    array = plain_array(values)
    if array.dtype == np.uint32:  # what is no code of a role, the core says
        return np.ascontiguousarray(array)
    if array.dtype.kind not in "iu" and not (array.dtype.kind == "f" and (array == np.floor(array)).all()):
        raise _argument_error(name, "a column of whole numbers is needed")
    if array.size and (array.min() < 0 or array.max() >= _MISSING):
        raise _argument_error(name, "a number from 0 to 4294967294 is needed")
    return np.ascontiguousarray(array, dtype=np.uint32)


def reduce_columns(
    table: TableLike,
    method: MethodLike,
    *,
    columns: Mapping[str, str | None] | None = None,
    replicate_limit: tuple[float, float] | None = None,
    threads: int | None = None,
) -> Table:
    """Reduces many runs of bare numbers, without budgets, findings, text or fingerprint.

    Args:
        table: holds, one row a reading: run, position (whole numbers), role, absorbance, nominal (NaN where there is
            none), and where given replicate and dilution (a factor). It is a mapping of columns or any table in memory
            that `read_runs` takes. run and role may be words or categories, or a pair (codes, words), which is
            quickest; run may be whole numbers. Rows come in any order; those sorted by run and position need not be
            put in order. Or absorbance is of shape (runs, positions, replicates), NaN where a reading is missing; then
            role has one element a position, nominal and dilution have shape (positions,) or (runs, positions), run (if
            given) names the runs, and positions are numbered from 1.
        method: as for `reduce`.
        columns: as for `read_runs`.
        replicate_limit: standard deviation and relative standard deviation (%) of the readings of a position; what
            exceeds both has the flag high_replicate_sd.
        threads: how many; all cores when not given. The figures do not depend on it.

    Returns:
        One row a measured position, by run and position: run, position, role (words, or codes where a pair was given),
        value and standard_uncertainty in the
        method's unit of liquids, lo and hi (at the method's coverage), status_code (as `Estimates.status_code`) and
        flags (bits named in `COLUMN_FLAGS`). Values and uncertainties are bit for bit those of `reduce_many`. A run
        that cannot be reduced has the flag not_reduced and stops no other.

    Raises:
        TableError: a column is missing.
        ArgumentError: columns of different lengths or of the wrong kind.
        MethodError: a method that bare columns cannot follow.
    """
    chosen = read_method(method)
    count = threads if threads is not None else (os.cpu_count() or 1)
    needed = ("run", "position", "role", "absorbance")
    given = renamed(dict(named_columns(table)), columns)
    if getattr(given.get("absorbance"), "ndim", 1) == 3:
        return _shaped(given, chosen, count, replicate_limit)
    missing = [name for name in needed if name not in given]
    if missing:
        raise TableError(f"the table has no column {', '.join(missing)}")
    figures = {
        name: np.ascontiguousarray(as_float64(given[name], name))
        for name in ("absorbance", "nominal", "dilution")
        if name in given
    }
    runs, run_words = _codes("run", given["run"])
    roles, role_words, words_out = _role_codes(given["role"])
    found, _, unit = _reduce_columns(
        runs,
        _whole("position", given["position"]),
        roles,
        role_words,
        _whole("replicate", given["replicate"]) if "replicate" in given else None,
        figures["absorbance"],
        figures.get("nominal"),
        figures.get("dilution"),
        chosen,
        count,
        replicate_limit,
    )
    names = None if isinstance(given["run"], tuple) else run_words
    return _worded(found, names, words_out, unit, kind_of(table))


def _shaped(
    columns: Mapping[str, Any], method: Method, threads: int, replicate_limit: tuple[float, float] | None
) -> Table:
    """The same for runs of one shape."""
    absorbance = np.ascontiguousarray(columns["absorbance"], dtype=np.float64)
    runs, positions, replicates = absorbance.shape
    if "role" not in columns:
        raise TableError("the table has no column role")
    roles, role_words, words_out = _role_codes(columns["role"])
    if len(roles) != positions:
        raise _argument_error("role", f"{len(roles)} roles for {positions} positions")
    figures: dict[str, Any] = {}
    for name in ("nominal", "dilution"):
        if name in columns:
            array = np.ascontiguousarray(columns[name], dtype=np.float64)
            if array.shape not in ((positions,), (runs, positions)):
                what = f"an array of shape {array.shape} for {runs} runs of {positions} positions"
                raise _argument_error(name, what)
            figures[name] = array.ravel()
    found, _, unit = _reduce_shaped(
        replicates,
        roles,
        role_words,
        absorbance.ravel(),
        figures.get("nominal"),
        figures.get("dilution"),
        method,
        threads,
        replicate_limit,
    )
    names = np.asarray(columns["run"]) if "run" in columns else None
    if names is not None and names.shape != (runs,):
        raise _argument_error("run", f"an array of shape {names.shape} for {runs} runs")
    return _worded(found, names, words_out, unit, kind_of(columns))


def _worded(found: dict[str, Any], runs: Any, roles: Any, unit: str, kind: Any) -> Table:
    """The table with words for codes, where there are words."""
    for name, words in (("run", runs), ("role", roles)):
        if words is not None:
            found[name] = words[found[name]]
    for column in found.values():  # nobody else has them, so that they need no copy to be read-only
        column.flags.writeable = False
    return Table(found, dict.fromkeys(("value", "standard_uncertainty", "lo", "hi"), unit), kind)


#: The name of a distribution, or a name with its parameter: ("t", degrees of freedom), ("trapezoidal", width of the
#: top over that of the base).
Distribution = str | tuple[str, float]


def simulate(
    table: TableLike | Outcome,
    method: MethodLike | None = None,
    *,
    seed: int,
    trials: int | Literal["adaptive"] = "adaptive",
    tolerance: float | None = None,
    coverage: float = 0.95,
    distributions: Mapping[str, Distribution] | None = None,
    positions: Sequence[int | str] | None = None,
    standards_relative_u: float = 0.0,
    scatter: Literal["t", "normal"] = "t",
    threads: int | None = None,
    progress: Callable[[int, int], bool | None] | None = None,
) -> Simulation:
    """Distributions of a run's results by Monte Carlo, the whole chain in every trial.

    Args:
        table: as for `reduce`, or an Outcome, which brings its method.
        method: as for `reduce`.
        seed: what the random numbers follow from; the same on any number of threads.
        trials: a number; or "adaptive": batches until mean, u and interval ends of every result have settled within the
            tolerance, 1,024,000 trials at most.
        tolerance: 1 or 2 (a whole number): significant figures of u, half a unit of the last of which is the numerical
            tolerance; or that tolerance itself, a float in the unit of the results. None is 2.
        coverage: coverage probability of the intervals.
        distributions: forms of sources that are not normal, by the kind or the key of a source as a budget names them:
            "rectangular", "triangular", ("trapezoidal", width of the top over that of the base), ("t", degrees of
            freedom), "normal". The standard uncertainty stays that of the source. A key goes before its kind.
        positions: positions, or labels of reported results; None is every reported result.
        standards_relative_u: relative standard uncertainty of each standard, independent of the others, over what the
            calibration allows for.
        scatter: how scatter that was estimated from few readings is drawn: from a t distribution, or as if it were
            known ("normal"), which is what first-order propagation assumes.
        threads: how many; all cores when not given.
        progress: is told (trials done, the most there may be) between batches; False stops, as Ctrl-C does.

    Raises:
        ArgumentError: a number out of range, or a source or position that is not there.

    Source:
        JCGM 101:2008, 6.4, 7.6, 7.7, 7.9 and 8.
    """
    if isinstance(table, Outcome):
        outcome = table
    elif method is None:
        raise TypeError("method: a run needs its method; an Outcome brings its own")
    else:
        outcome = reduce(table, method)
    how = {
        "seed": seed,
        "trials": trials,
        "tolerance": tolerance,
        "coverage": coverage,
        "distributions": None if distributions is None else dict(distributions),
        "standards_relative_u": standards_relative_u,
        "scatter": scatter,
        "threads": threads,
    }
    return _simulate(outcome, None if positions is None else list(positions), how, progress)


def verify(archive: str | os.PathLike[str]) -> Verification:
    """Reduces the input of an archived outcome again and compares every member.

    Args:
        archive: a path, or the JSON text itself.

    Raises:
        WireError: a document that cannot be read.
        OSError: the file cannot be read.
    """
    text = os.fspath(archive)
    if not text.lstrip().startswith("{"):
        with open(text, encoding="utf-8") as file:
            text = file.read()
    return _verify(text)
