"""The one tabular type: named columns of equal length, rows as views."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from groundstate._core import _argument_error


class Row(Mapping[str, Any]):
    """One row of a table, by column name or as an attribute."""

    __slots__ = ("_index", "_table")

    def __init__(self, table: Table, index: int) -> None:
        self._table, self._index = table, index

    def __getitem__(self, name: str) -> Any:
        cell = self._table[name][self._index]
        return cell.item() if hasattr(cell, "item") else cell

    def __getattr__(self, name: str) -> Any:
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


class Table(Sequence[Row]):
    """Columns by name (read-only arrays of float64 where they hold figures, lists otherwise), rows by index.

    A figure that is not there is NaN, a word that is not there None.
    """

    __slots__ = ("_columns",)

    def __init__(self, columns: Mapping[str, Any]) -> None:
        for column in columns.values():
            if hasattr(column, "flags"):
                column.flags.writeable = False
        self._columns = dict(columns)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(self._columns)

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

    def row(self, label: str) -> Row:
        """The first row with this label; of results the reported one where there is one."""
        found = [row for row in self if row["label"] == label]
        if not found:
            raise _argument_error("label", f"there is no row called {label!r}")
        return next((row for row in found if row.get("reported")), found[0])

    def to_dict(self) -> dict[str, list[Any]]:
        """Columns as plain lists."""
        return {name: list(getattr(column, "tolist", lambda c=column: c)()) for name, column in self._columns.items()}

    def to_pandas(self) -> Any:
        """The table as a pandas DataFrame."""
        return _extra("pandas").DataFrame(dict(self._columns))

    def to_polars(self) -> Any:
        """The table as a polars DataFrame."""
        return _extra("polars").DataFrame(self.to_dict(), strict=False)

    def __repr__(self) -> str:
        return f"<Table of {len(self)} rows: {', '.join(self._columns)}>"


def _extra(name: str) -> Any:
    """An optional package, or the error that says how to install it."""
    import importlib

    from groundstate._core import MissingExtraError

    try:
        return importlib.import_module(name)
    except ImportError as missing:
        raise MissingExtraError(f"this needs {name}: pip install 'groundstate[{name}]'") from missing
