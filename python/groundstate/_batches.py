"""Batches of readings from any engine, cut so that no run is split between two of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from groundstate._core import TableError
from groundstate._frames import extra


def whole_runs(batches: Iterable[Any], *, by: str = "run", at_least: int = 100_000) -> Iterator[Any]:
    """Arrow tables that hold whole runs, from record batches that were cut anywhere.

    Args:
        batches: Arrow record batches or tables, data frames, or anything else that offers the Arrow interface, in an
            order that keeps the readings of a run together.
        by: the column that names the run, whole numbers or words; numbers must ascend.
        at_least: readings of a table, except of the last; fewer tables mean less work around them.

    Returns:
        Tables one after another. One table and the batch at hand are held; of runs named by words, the names as well.

    Raises:
        TableError: a run comes back after another one began, so that its readings would be reduced in two halves.
    """
    arrow = extra("pyarrow")
    held: list[Any] = []
    rows = 0
    order = _Order(by)
    for batch in batches:
        table = arrow.table(batch)
        if by not in table.column_names:
            raise TableError(f"a batch has no column {by}; there are {', '.join(table.column_names)}")
        if table.num_rows == 0:
            continue
        start, splits = order.start_of_last_run(table.column(by))
        whole, rest = table.slice(0, start), table.slice(start)
        if not splits and rows + start >= at_least and rows + start > 0:
            yield arrow.concat_tables([*held, whole], promote_options="permissive")
            held, rows = [rest], rest.num_rows
        else:
            held.append(table)
            rows += table.num_rows
    if held:
        yield arrow.concat_tables(held, promote_options="permissive")


class _Order:
    """The runs so far, so that one that comes back is noticed."""

    def __init__(self, by: str) -> None:
        self._by = by
        self._last: Any = None
        self._names: set[str] = set()

    def start_of_last_run(self, column: Any) -> tuple[int, bool]:
        """Where the last run of a batch begins, and whether a cut there would split it from the batch before.

        TableError where one of the runs was over already.
        """
        import pyarrow as arrow
        import pyarrow.compute as compute

        plain = column.combine_chunks()
        if column.null_count:
            raise TableError(f"column {self._by}: a reading has no run")
        if arrow.types.is_dictionary(plain.type):
            plain = plain.dictionary_decode()
        encoded = compute.run_end_encode(plain)
        names, ends = encoded.values.to_pylist(), encoded.run_ends
        splits = len(names) == 1 and names[0] == self._last
        for name in names:
            if name == self._last:
                continue
            ascends = self._last is None or isinstance(name, str) or name > self._last
            if not ascends or name in self._names:
                raise TableError(
                    f"column {self._by}: readings of run {name} come after those of {self._last}; "
                    f"sort the source by {self._by}"
                )
            if isinstance(name, str):
                self._names.add(name)
            self._last = name
        return (int(ends[-2].as_py()) if len(names) > 1 else 0), splits
