"""The one tabular type: named columns of equal length, rows as views; and findings, which are a table as well."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from groundstate._core import Finding, _argument_error
from groundstate._frames import KINDS, Origin, arrow_reader, extra

if TYPE_CHECKING:
    from groundstate._core import Estimates, Intervals


class Row(Mapping[str, Any]):
    """One row of a table, by column name or as an attribute."""

    __slots__ = ("_index", "_table")

    def __init__(self, table: Table, index: int) -> None:
        self._table, self._index = table, index

    def __getitem__(self, name: str) -> Any:
        cell = self._table[name][self._index]
        return cell.item() if hasattr(cell, "item") else cell

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        try:
            return self[name]
        except KeyError:
            raise AttributeError(name) from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._table.columns)

    def __len__(self) -> int:
        return len(self._table.columns)

    def __repr__(self) -> str:
        return f"Row({dict(self)!r})"

    def __reduce__(self) -> tuple[Any, ...]:
        return (Row, (self._table, self._index))


class Table(Sequence[Row]):
    """Columns by name, rows by index. Frozen; equal by content.

    A column is a read-only array where it holds figures, counts or yes and no, a tuple otherwise. A figure that is
    not there is NaN, a word that is not there None. ``units`` names the unit of each column that has one unit in all
    rows; where units differ from row to row they are in a column ``unit``.
    """

    __slots__ = ("_columns", "_origin", "_units")

    def __init__(
        self,
        columns: Mapping[str, Any],
        units: Mapping[str, str] | None = None,
        kind: str | None = None,
        index: Any = None,
    ) -> None:
        self._columns = {name: _frozen(column) for name, column in columns.items()}
        lengths = {len(column) for column in self._columns.values()}
        if len(lengths) > 1:
            raise _argument_error("columns", f"columns have different lengths: {sorted(lengths)}")
        self._units = dict(units or {})
        self._origin = None if kind is None else Origin(kind, index)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(self._columns)

    @property
    def units(self) -> dict[str, str]:
        """Unit of each column that has the same unit in all rows."""
        return dict(self._units)

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, str):
            if key not in self._columns:
                raise KeyError(f"there is no column {key!r}; there are {', '.join(self._columns)}")
            return self._columns[key]
        if isinstance(key, slice):
            return [self[i] for i in range(*key.indices(len(self)))]
        index = key + len(self) if key < 0 else key
        if not 0 <= index < len(self):
            raise IndexError(f"row {key} of a table of {len(self)} rows")
        return Row(self, index)

    def __len__(self) -> int:
        return next((len(column) for column in self._columns.values()), 0)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Table):
            return NotImplemented
        return (
            self.columns == other.columns
            and self._units == other._units
            and all(_same(self._columns[name], other._columns[name]) for name in self._columns)
        )

    __hash__: ClassVar[None]  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        kind, index = (None, None) if self._origin is None else (self._origin.kind, self._origin.index)
        return (Table, (self._columns, self._units, kind, index))

    def row(self, label: str) -> Row:
        """The first row with this label; of results the reported one where there is one."""
        found = [row for row in self if row["label"] == label]
        if not found:
            raise _argument_error("label", f"there is no row called {label!r}")
        return next((row for row in found if row.get("reported")), found[0])

    def select(self, *names: str) -> Table:
        """The table with these columns alone, in this order."""
        units = {name: unit for name, unit in self._units.items() if name in names}
        return self._like({name: self[name] for name in names}, units)

    def filter(self, mask: Any = None, /, **equal: Any) -> Table:
        """The rows where ``mask`` is true, an array of yes and no, and where columns have the values given.

        ``results.filter(reported=True)``, ``checks.filter(verdict="fail")``, ``results.filter(results["value"] > 1)``.
        """
        kept = np.ones(len(self), dtype=bool) if mask is None else np.asarray(mask, dtype=bool)
        if kept.shape != (len(self),):
            raise _argument_error("mask", f"the table has {len(self)} rows, the mask has the shape {kept.shape}")
        for name, wanted in equal.items():
            kept = kept & np.array([cell == wanted for cell in self[name]], dtype=bool)
        rows = np.flatnonzero(kept)
        columns = {name: _picked(column, rows) for name, column in self._columns.items()}
        index = self._origin.index if self._origin is not None else None
        return self._like(columns, self._units, None if index is None else index.take(rows))

    def _like(self, columns: Mapping[str, Any], units: Mapping[str, str], index: Any = None) -> Table:
        kind = None if self._origin is None else self._origin.kind
        if index is None and self._origin is not None:
            index = self._origin.index
        return Table(columns, units, kind, index)

    # ---- out

    def to_dict(self) -> dict[str, list[Any]]:
        """Columns as plain lists; None where a figure is absent."""
        return {name: _plain(column) for name, column in self._columns.items()}

    def to_frame(self, kind: str | None = None) -> Any:
        """The table as ``kind``: "pandas", "polars", "arrow" or "table".

        None gives the kind of table that the readings came in; this table where they came as arrays, lists or a file.
        """
        wanted = kind or (self._origin.kind if self._origin is not None else "table")
        if wanted == "table":
            return self
        if wanted not in KINDS:
            raise _argument_error("kind", f"there is no kind of table {wanted!r}", f"it is one of {', '.join(KINDS)}")
        return {"pandas": self.to_pandas, "polars": self.to_polars, "arrow": self.to_arrow}[wanted]()

    def to_pandas(self) -> Any:
        """The table as a pandas DataFrame, with the index that came in; units are in ``attrs["units"]``."""
        columns = {name: list(c) if isinstance(c, tuple) else c for name, c in self._columns.items()}
        index = self._origin.index if self._origin is not None else None
        frame = extra("pandas").DataFrame(columns, index=index)
        frame.attrs["units"] = dict(self._units)
        return frame

    def to_polars(self) -> Any:
        """The table as a polars DataFrame; a figure that is not there is null. polars keeps no units of columns."""
        polars = extra("polars")
        typed: dict[str, Any] = {}
        for name, column in self._columns.items():
            if isinstance(column, tuple):
                words = all(cell is None or isinstance(cell, str) for cell in column)
                typed[name] = polars.Series(name, list(column), dtype=polars.String if words else None)
            else:
                typed[name] = polars.Series(name, column, nan_to_null=True)
        return polars.DataFrame(list(typed.values()))

    def to_arrow(self) -> Any:
        """The table as a pyarrow Table; a figure that is not there is null. Units are in the metadata of the fields."""
        arrow = extra("pyarrow")
        fields, arrays = [], []
        for name, column in self._columns.items():
            words = isinstance(column, tuple) and all(cell is None or isinstance(cell, str) for cell in column)
            array = arrow.array(
                list(column) if isinstance(column, tuple) else column,
                type=arrow.string() if words else None,
                from_pandas=True,
            )
            metadata = {"unit": self._units[name]} if name in self._units else None
            fields.append(arrow.field(name, array.type, metadata=metadata))
            arrays.append(array)
        return arrow.Table.from_arrays(arrays, schema=arrow.schema(fields))

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """The table as an Arrow stream, for every library that reads one; made by pyarrow or polars."""
        through = arrow_reader("an Arrow stream")
        frame = self.to_polars() if through.__name__ == "polars" else self.to_arrow()
        stream: object = frame.__arrow_c_stream__(requested_schema)
        return stream

    def _repr_html_(self) -> str:
        from groundstate._html import table

        return table(self)

    def __repr__(self) -> str:
        return f"<Table of {len(self)} rows: {', '.join(self._columns)}>"


def _frozen(column: Any) -> Any:
    """A column that nobody can change: arrays of one kind as they are, whole numbers as such, all else a tuple."""
    if isinstance(column, np.ndarray):
        if column.flags.writeable:
            column = column.copy()
            column.flags.writeable = False
        return column
    cells = tuple(tuple(cell) if isinstance(cell, list) else cell for cell in column)
    for kind, dtype in ((bool, np.bool_), (int, np.int64)):
        if cells and all(type(cell) is kind for cell in cells):
            return _frozen(np.array(cells, dtype=dtype))
    return cells


def _picked(column: Any, rows: Any) -> Any:
    return column[rows] if isinstance(column, np.ndarray) else tuple(column[i] for i in rows)


def _plain(column: Any) -> list[Any]:
    if isinstance(column, np.ndarray):
        cells = column.tolist()
        return [None if cell != cell else cell for cell in cells] if column.dtype.kind == "f" else cells
    return [list(cell) if isinstance(cell, tuple) else cell for cell in column]


def _same(one: Any, other: Any) -> bool:
    arrays = isinstance(one, np.ndarray), isinstance(other, np.ndarray)
    if all(arrays):
        return bool(np.array_equal(one, other, equal_nan=one.dtype.kind == "f" and other.dtype.kind == "f"))
    return not any(arrays) and bool(one == other)


class Findings(tuple[Finding, ...]):
    """What was noticed, in order: a tuple of `Finding` that is a table as well.

    ``findings["code"]`` is a column; ``findings.to_frame()`` a table of the kind that came in.
    """

    __slots__ = ()

    #: Names of the columns.
    columns: ClassVar[tuple[str, ...]] = ("code", "severity", "subject", "sentence", "citation")

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, str):
            return self.table[key]
        found = super().__getitem__(key)
        return Findings(found) if isinstance(key, slice) else found

    @property
    def table(self) -> Table:
        """The findings as a Table, one row each."""
        return Table({name: [getattr(finding, name) for finding in self] for name in self.columns})

    def to_dict(self) -> dict[str, list[Any]]:
        """Columns as plain lists."""
        return self.table.to_dict()

    def to_frame(self, kind: str | None = None) -> Any:
        """The findings as a table of ``kind``: "table" (also for None), "pandas", "polars" or "arrow"."""
        return self.table.to_frame(kind)

    def to_pandas(self) -> Any:
        """The findings as a pandas DataFrame."""
        return self.table.to_pandas()

    def to_polars(self) -> Any:
        """The findings as a polars DataFrame."""
        return self.table.to_polars()

    def to_arrow(self) -> Any:
        """The findings as a pyarrow Table."""
        return self.table.to_arrow()

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """The findings as an Arrow stream."""
        return self.table.__arrow_c_stream__(requested_schema)

    def _repr_html_(self) -> str:
        from groundstate._html import findings

        return findings(self)

    def __repr__(self) -> str:
        if not self:
            return "<Findings: none>"
        counts = {word: self["severity"].count(word) for word in ("fail", "caution", "note")}
        said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
        return f"<Findings: {said}>\n" + "\n".join(f"  {finding}" for finding in self)


def joined(tables: Sequence[tuple[str, Table]]) -> Table:
    """The tables of several runs below each other, with a column of the run's name before the others."""
    if not tables:
        return Table({"run": ()})
    columns: dict[str, Any] = {"run": tuple(run for run, table in tables for _ in range(len(table)))}
    for name in tables[0][1].columns:
        parts = [table[name] for _, table in tables]
        if all(isinstance(part, np.ndarray) for part in parts):
            columns[name] = np.concatenate(parts)
        else:
            columns[name] = [cell for part in parts for cell in (part if isinstance(part, tuple) else part.tolist())]
    # Where runs differ in a unit, it is in the column of units alone.
    first = tables[0][1].units
    units = {name: unit for name, unit in first.items() if all(table.units.get(name) == unit for _, table in tables)}
    kinds = {None if table._origin is None else table._origin.kind for _, table in tables}
    return Table(columns, units, kinds.pop() if len(kinds) == 1 else None)


def estimates_table(estimates: Estimates, origin: Origin | None, rows: Sequence[int] | None) -> Table:
    """Estimates as a table that goes back as what came in."""
    return _table_of(
        {
            "value": estimates.value,
            "standard_uncertainty": estimates.u,
            "degrees_of_freedom": estimates.dof,
            "status": tuple(estimates.status.tolist()),
            "unit": (estimates.unit,) * len(estimates),
        },
        {"value": estimates.unit, "standard_uncertainty": estimates.unit},
        origin,
        rows,
    )


def intervals_table(intervals: Intervals, origin: Origin | None, rows: Sequence[int] | None) -> Table:
    """Coverage intervals as a table that goes back as what came in."""
    ends = intervals.ends
    columns = {
        "lo": intervals.lo,
        "hi": intervals.hi,
        "kind": tuple(intervals.kind.tolist()),
        "lower_end": tuple(ends[:, 0].tolist()),
        "upper_end": tuple(ends[:, 1].tolist()),
    }
    return _table_of(columns, {}, origin, rows)


def _table_of(
    columns: Mapping[str, Any], units: Mapping[str, str], origin: Origin | None, rows: Sequence[int] | None
) -> Table:
    index = None if origin is None else origin.index
    if index is not None and rows is not None:
        index = index.take(list(rows))
    return Table(columns, units, None if origin is None else origin.kind, index)
