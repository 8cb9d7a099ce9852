"""Tables of any origin as lists of cells by column."""

from collections.abc import Mapping, Sequence
from typing import Any

from groundstate._core import _argument_error


def columns(table: Any, name: str) -> dict[str, list[Any]] | None:
    """The cells of each column of `table`, None for those that are missing; None where it is no table.

    A table is a mapping of columns (one figure or word stands for a whole column), a list of mappings with a row each,
    a structured array, or a data frame of any library that names its columns.
    """
    if not _is_table(table):
        return None
    from groundstate._frames import is_missing, named_columns

    listed = {column: _listed(cells) for column, cells in named_columns(table)}
    rows = max((len(cells) for cells in listed.values()), default=0)
    for column, cells in listed.items():
        if len(cells) != rows:
            raise _argument_error(f"{name}.{column}", f"the column has {len(cells)} cells, another has {rows}")
    return {column: [None if is_missing(cell) else cell for cell in cells] for column, cells in listed.items()}


def _is_table(given: Any) -> bool:
    if isinstance(given, Mapping) or getattr(getattr(given, "dtype", None), "names", None):
        return True
    if isinstance(given, Sequence) and not isinstance(given, (str, bytes)):
        return bool(given) and isinstance(given[0], Mapping)
    # A column of a frame has no columns of its own.
    return hasattr(given, "columns") or hasattr(given, "column_names")


def _listed(cells: Any) -> list[Any]:
    for method in ("to_pylist", "to_list", "tolist"):
        if hasattr(cells, method):
            found: list[Any] = getattr(cells, method)()
            return found
    return list(cells)
