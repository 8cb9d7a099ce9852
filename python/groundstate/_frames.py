"""Tables and columns of any library: what they are, what is in them, and how results go back in the same form.

No frame library is imported before an object of it, or a bare Arrow stream, comes in.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from types import ModuleType
from typing import Any

import numpy as np

from groundstate._core import MissingExtraError, TableError, _argument_error

#: Kinds of table that results can be given as.
KINDS = ("table", "pandas", "polars", "arrow")
#: Packages by the extra that installs them, where the names differ.
_EXTRAS = {"pyarrow": "arrow", "matplotlib": "plot", "jinja2": "report", "tqdm": "progress"}
_EXACT = 2**53  # up to here every integer is a float64


def extra(name: str) -> Any:
    """An optional package, or MissingExtraError that says how to install it."""
    import importlib

    try:
        return importlib.import_module(name)
    except ImportError as missing:
        wanted = _EXTRAS.get(name, name)
        raise MissingExtraError(f"this needs {name}: pip install 'groundstate[{wanted}]'") from missing


def arrow_reader(what: str) -> ModuleType:
    """pyarrow or polars, whichever is installed; one that is loaded already comes first."""
    import importlib

    for name in sorted(("pyarrow", "polars"), key=lambda name: name not in sys.modules):
        try:
            return importlib.import_module(name)
        except ImportError:
            continue
    raise MissingExtraError(
        f"{what} needs pyarrow or polars: pip install 'groundstate[arrow]' or pip install 'groundstate[polars]'"
    )


def library(value: object) -> str:
    """The library that a value is of: pandas, polars, pyarrow or another's name; of children too."""
    for parent in type(value).__mro__:
        name = parent.__module__.partition(".")[0]
        if name in ("pandas", "polars", "pyarrow", "numpy", "duckdb"):
            return name
    return type(value).__module__.partition(".")[0]


def has_stream(value: object) -> bool:
    """Whether a value gives its content as an Arrow stream or array."""
    return hasattr(value, "__arrow_c_stream__") or hasattr(value, "__arrow_c_array__")


# ---- what came in, for the way back


class Origin:
    """What kind of table numbers came in, with the index of pandas. Equal by content, so that pickles are."""

    __slots__ = ("index", "kind")

    def __init__(self, kind: str, index: Any = None) -> None:
        self.kind, self.index = kind, index

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Origin):
            return NotImplemented
        same = self.index is other.index or (self.index is not None and bool(self.index.equals(other.index)))
        return self.kind == other.kind and same

    __hash__ = None  # type: ignore[assignment]


def origin_of(value: object) -> Origin | None:
    """Where a column or table is from; None for what is no frame and no column of one."""
    found = library(value)
    if found == "pandas":
        return Origin("pandas", getattr(value, "index", None))
    if found == "polars":
        return Origin("polars")
    if found == "pyarrow":
        return Origin("arrow")
    if has_stream(value) and found != "groundstate":
        return Origin("polars" if arrow_reader("an Arrow stream").__name__ == "polars" else "arrow")
    return None


def rows_of(origin: Origin, rows: Sequence[int]) -> Origin:
    """The origin of these rows alone."""
    return Origin(origin.kind, None if origin.index is None else origin.index.take(list(rows)))


def kind_of(value: object) -> str | None:
    """The kind of table that a table of readings is; None for files, mappings and lists of rows."""
    if isinstance(value, (str, bytes, Mapping)):
        return None
    origin = origin_of(value)
    return None if origin is None else origin.kind


# ---- numbers of an Arrow stream


def arrow_numbers(value: Any, name: str) -> Any:
    """The content of an object that is nothing but Arrow, as a column or frame of a library that can read it."""
    module = arrow_reader(f"{name}: reading a {type(value).__name__}")
    if module.__name__ == "polars":
        read = module.Series(value) if not _is_table(value) else module.DataFrame(value)
        return read.struct.unnest() if hasattr(read, "struct") and str(read.dtype).startswith("Struct") else read
    if hasattr(value, "__arrow_c_stream__"):
        column = module.chunked_array(value)
        if module.types.is_struct(column.type):
            return module.Table.from_struct_array(column)
        return column
    array = module.array(value)
    return module.Table.from_struct_array(array) if module.types.is_struct(array.type) else array


def _is_table(value: Any) -> bool:
    return hasattr(value, "columns") or hasattr(value, "column_names") or hasattr(value, "num_columns")


# ---- tables of readings


def columns_of(table: Any) -> list[tuple[str, str, Any]] | bytes:
    """A table of readings as the core takes it: CSV bytes, or a list of (name, kind, data)."""
    import os

    if isinstance(table, (str, os.PathLike)):
        with open(table, "rb") as file:
            return file.read()
    if isinstance(table, (bytes, bytearray, memoryview)):
        return bytes(table)
    if callable(getattr(table, "read", None)):
        text = table.read()
        return text.encode("utf-8") if isinstance(text, str) else bytes(text)
    return [_column(name, values) for name, values in named_columns(table)]


def named_columns(table: Any) -> list[tuple[str, Any]]:
    """The columns of a table in memory, in order, as the library that made it gives them."""
    found = library(table)
    if found == "polars" and hasattr(table, "collect"):
        table = table.collect()
    if found == "pyarrow":
        table = _arrow_table(table)
    elif found == "duckdb" or (has_stream(table) and not hasattr(table, "columns") and not isinstance(table, Mapping)):
        table = _read_stream(table)
    if isinstance(table, Mapping):
        return _filled(table)
    if isinstance(table, np.ndarray):
        if table.dtype.names is None:
            raise TypeError("table: an array has no names of columns; give a mapping of columns or a structured array")
        return [(name, table[name]) for name in table.dtype.names]
    if hasattr(table, "column_names") and hasattr(table, "column"):
        return [(str(name), table.column(i)) for i, name in enumerate(table.column_names)]
    if hasattr(table, "columns") and hasattr(table, "__getitem__"):
        return [(str(name), table[name]) for name in table.columns]
    if isinstance(table, Sequence) and not isinstance(table, (str, bytes)):
        odd = next((i for i, row in enumerate(table) if not isinstance(row, Mapping)), None)
        if odd is not None:
            raise TypeError(f"table: row {odd + 1} is a {type(table[odd]).__name__}, not a mapping of columns")
        names = list(dict.fromkeys(name for row in table for name in row))
        return [(str(name), [row.get(name) for row in table]) for name in names]
    raise TypeError(f"table: a {type(table).__name__} is not a path, a mapping of columns, a list of rows or a frame")


def _arrow_table(table: Any) -> Any:
    import pyarrow

    if isinstance(table, pyarrow.RecordBatch):
        return pyarrow.Table.from_batches([table])
    for reading in ("read_all", "to_table"):
        if callable(getattr(table, reading, None)):
            return getattr(table, reading)()
    return table


def _read_stream(table: Any) -> Any:
    module = arrow_reader(f"reading a {type(table).__name__}")
    if module.__name__ == "polars":
        return module.DataFrame(table)
    return module.table(table)


def _filled(table: Mapping[Any, Any]) -> list[tuple[str, Any]]:
    """The columns of a mapping; one word or number stands for the whole column."""
    single = (str, bytes, int, float, date, np.generic, type(None))
    rows = max((len(values) for values in table.values() if not isinstance(values, single)), default=1)
    return [(str(name), [values] * rows if isinstance(values, single) else values) for name, values in table.items()]


def _column(name: str, values: Any) -> tuple[str, str, Any]:
    """One column: figures as float64 with NaN for missing, words as text with "" for missing, or coded words."""
    found = library(values)
    if found == "pandas":
        return _pandas_column(name, values)
    if found == "polars":
        return _polars_column(name, values)
    if found == "pyarrow":
        return _arrow_column(name, values)
    if has_stream(values) and not isinstance(values, (list, tuple, np.ndarray)):
        return _column(name, arrow_numbers(values, name))
    if isinstance(values, np.ndarray) or hasattr(values, "__array__"):
        return _array_column(name, np.ma.asanyarray(values) if np.ma.isMaskedArray(values) else np.asarray(values))
    return _cells(name, list(values))


def _numbers(name: str, numbers: Any) -> tuple[str, str, Any]:
    return (name, "number", np.ascontiguousarray(numbers, dtype=np.float64))


def _coded(name: str, codes: Any, words: Iterable[Any]) -> tuple[str, str, Any] | None:
    """A column of categories; None where the categories are figures, or a word stands for two of them."""
    texts = list(words)
    if any(not isinstance(word, str) for word in texts) or len(set(texts)) != len(texts):
        return None
    return (name, "coded", (np.ascontiguousarray(codes, dtype=np.uint32), texts))


def _pandas_column(name: str, values: Any) -> tuple[str, str, Any]:
    if getattr(values, "ndim", 1) != 1:
        raise _argument_error("table", f"there are two columns {name}")
    dtype = values.dtype
    categories = getattr(dtype, "categories", None)
    if categories is not None and hasattr(values, "cat"):
        codes = np.asarray(values.cat.codes).astype(np.int64)
        coded = _coded(name, np.where(codes < 0, 2**32 - 1, codes), categories)
        return coded or _cells(name, values.tolist())
    kind = getattr(dtype, "kind", "O")
    if kind in "iuf" and not isinstance(dtype, np.dtype):
        if kind == "f" or not _too_large(values.dropna().to_numpy(dtype=np.dtype(f"{kind}8"))):
            return _numbers(name, values.to_numpy(dtype=np.float64, na_value=np.nan))
        return _cells(name, values.tolist())
    if isinstance(dtype, np.dtype) and kind in "iuf":
        return _array_column(name, values.to_numpy())
    if getattr(dtype, "storage", None) == "pyarrow":
        import pyarrow

        return _arrow_column(name, pyarrow.array(values.array))
    return _cells(name, values.tolist())


def _polars_column(name: str, values: Any) -> tuple[str, str, Any]:
    if values.dtype.is_float():
        return _numbers(name, values.cast(_module(values).Float64).fill_null(float("nan")).to_numpy())
    if values.dtype.is_integer() and not (values.is_not_null().any() and _too_large(values.drop_nulls().to_numpy())):
        return _numbers(name, values.cast(_module(values).Float64).fill_null(float("nan")).to_numpy())
    return _cells(name, values.to_list())


def _module(values: Any) -> Any:
    return sys.modules[library(values)]


def _arrow_column(name: str, values: Any) -> tuple[str, str, Any]:
    import pyarrow

    if isinstance(values, pyarrow.ChunkedArray):
        values = values.unify_dictionaries().combine_chunks() if values.num_chunks != 1 else values.chunk(0)
    if isinstance(values, pyarrow.ChunkedArray):  # no chunk at all
        values = pyarrow.concat_arrays(values.chunks) if values.chunks else pyarrow.array([], values.type)
    if pyarrow.types.is_dictionary(values.type):
        indices = values.indices.cast(pyarrow.int64()).fill_null(2**32 - 1).to_numpy(zero_copy_only=False)
        return _coded(name, indices, values.dictionary.to_pylist()) or _cells(name, values.to_pylist())
    if pyarrow.types.is_floating(values.type):
        return _numbers(name, values.cast(pyarrow.float64()).to_numpy(zero_copy_only=False))
    if pyarrow.types.is_integer(values.type) and not _too_large(values.drop_null().to_numpy(zero_copy_only=False)):
        return _numbers(name, values.cast(pyarrow.float64()).to_numpy(zero_copy_only=False))
    if pyarrow.types.is_string(values.type) or pyarrow.types.is_large_string(values.type):
        return _arrow_column(name, values.dictionary_encode())
    return _cells(name, values.to_pylist())


def _array_column(name: str, array: Any) -> tuple[str, str, Any]:
    if array.ndim != 1:
        raise _argument_error("table", f"the column {name} has {array.ndim} dimensions, one is needed")
    if np.ma.isMaskedArray(array):
        return _cells(name, array.tolist())
    if array.dtype.kind == "f" or (array.dtype.kind in "iu" and not _too_large(array)):
        return _numbers(name, array)
    if array.dtype.kind == "M":
        # Finer than a microsecond there is no date in Python.
        return _cells(name, array.astype("datetime64[us]").tolist())
    return _cells(name, array.tolist())


def _too_large(integers: Any) -> bool:
    """Whether an integer is not a float64 exactly: such a column names things, and is kept as text."""
    return bool(integers.size) and bool(((integers > _EXACT) | (integers < -_EXACT)).any())


def _cells(name: str, cells: list[Any]) -> tuple[str, str, Any]:
    # Nearly every column is words, and looking at each cell from here costs more than reading the table.
    kinds = set(map(type, cells))
    if kinds == {str, float} and not any(cell == cell for cell in cells if type(cell) is float):
        return (name, "text", ["" if type(cell) is float else cell for cell in cells])
    if kinds <= {str, type(None)}:
        return (name, "text", cells)
    present = [cell for cell in cells if not is_missing(cell)]
    if present and all(_is_number(cell) for cell in present):
        return _numbers(name, [np.nan if is_missing(cell) else float(cell) for cell in cells])
    write = _writer(present)
    return (name, "text", ["" if is_missing(cell) else write(cell) for cell in cells])


def _is_number(cell: Any) -> bool:
    if isinstance(cell, (int, np.integer)):
        return not isinstance(cell, bool) and abs(int(cell)) <= _EXACT
    return isinstance(cell, (float, np.floating, Decimal))


def is_missing(cell: Any) -> bool:
    """Whether a cell is None, NaN, NA, NaT or masked."""
    # pandas' NA refuses to be compared, so it is known by its name before it is compared with itself.
    named = cell is None or cell is np.ma.masked or type(cell).__name__ in ("NAType", "NaTType")
    return named or (not isinstance(cell, (str, list, np.ndarray)) and bool(cell != cell))


def _writer(present: list[Any]) -> Callable[[Any], str]:
    """How the cells of a column are written: dates as ISO 8601, without the time where none of them has one."""
    times = [cell for cell in present if isinstance(cell, datetime)]
    days_only = bool(times) and all(
        cell.tzinfo is None and (cell.hour, cell.minute, cell.second, cell.microsecond) == (0, 0, 0, 0)
        for cell in times
    )

    def write(cell: Any) -> str:
        if isinstance(cell, datetime):
            return (cell.date() if days_only else cell).isoformat()
        if isinstance(cell, date):
            return cell.isoformat()
        if isinstance(cell, bytes):
            return cell.decode("utf-8", "replace")
        if isinstance(cell, (float, np.floating)):
            number = float(cell)
            # Among words a whole number is a name: 1001, not 1001.0.
            return str(int(number)) if number.is_integer() and abs(number) <= _EXACT else repr(number)
        return str(cell)

    return write


def renaming(columns: Mapping[Any, Any] | None) -> list[tuple[str, str | None]] | None:
    """A mapping from their names to ours as the core takes it."""
    if columns is None:
        return None
    if not isinstance(columns, Mapping):
        raise TypeError(f"columns: a {type(columns).__name__} is not a mapping of their names to ours")
    return [(str(theirs), None if ours is None else str(ours)) for theirs, ours in columns.items()]


# ---- bare columns of many runs


def renamed(table: dict[str, Any], columns: Mapping[Any, Any] | None) -> dict[str, Any]:
    """The columns under our names."""
    names = dict(renaming(columns) or ())
    missing = [name for name in names if name not in table]
    if missing:
        raise TableError(f"the table has no column {', '.join(missing)} to rename; it has {', '.join(table)}")
    result: dict[str, Any] = {}
    for theirs, values in table.items():
        ours = names.get(theirs, theirs)
        if ours in result:
            raise TableError(f"there are two columns {ours}")
        if ours is not None:
            result[ours] = values
    return result


def coded_column(name: str, values: Any) -> tuple[Any, list[str]] | None:
    """Codes and words of a column of categories; None where it is something else."""
    if getattr(getattr(values, "dtype", None), "categories", None) is None and "dictionary" not in str(
        getattr(values, "type", "")
    ):
        return None
    _, kind, data = _column(name, values)
    return data if kind == "coded" else None


def plain_array(values: Any) -> Any:
    """A column as an array: figures as they are, all else as objects."""
    if library(values) == "pyarrow":
        values = values.to_numpy() if hasattr(values, "num_chunks") else values.to_numpy(zero_copy_only=False)
    elif has_stream(values) and library(values) not in ("pandas", "polars"):
        return plain_array(arrow_numbers(values, "table"))
    return np.asarray(values)
