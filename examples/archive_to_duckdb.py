"""File a folder's outcomes into DuckDB and Parquet.

    python -m groundstate reduce runs/ --method methods/ --out outcomes/
    python examples/archive_to_duckdb.py outcomes/ laboratory.duckdb --parquet tables/

The JSON documents stay the record, from which everything can be computed again; the tables are for questions. Filing
the same outcome twice changes nothing: it is known by the fingerprint of its input and the version of the library.

Needs duckdb and pyarrow: pip install duckdb pyarrow
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

import groundstate as gs

TABLES = ("runs", "results", "checks", "findings")
KEY = ("fingerprint", "library")


def archived(paths: list[Path]) -> Iterator[gs.Outcome]:
    """The outcomes of JSON documents, of files of JSON lines, and of folders of both."""
    for path in paths:
        if path.is_dir():
            yield from archived(sorted(file for file in path.iterdir() if file.suffix in (".json", ".jsonl")))
        elif path.suffix == ".jsonl":
            with path.open(encoding="utf-8") as lines:
                yield from (gs.Outcome.from_json(line) for line in lines if line.strip())
        else:
            yield gs.Outcome.from_json(path.read_text(encoding="utf-8"))


def run_row(outcome: gs.Outcome) -> pa.Table:
    """One row about the run: what was reduced, by what, with which verdict."""
    origin, method = outcome.provenance, outcome.method
    row = {
        "method": method.id,
        "method_version": method.version,
        "element": method.element,
        "profile": method.profile,
        "standing": outcome.standing,
        "raw_sha256": origin["raw"],
        "amends": json.dumps(origin["amends"]) if origin["amends"] else None,
        "facts": json.dumps(outcome.run.facts, ensure_ascii=False),
    }
    return pa.table({name: pa.array([value], pa.string()) for name, value in row.items()})


def tables_of(outcome: gs.Outcome) -> dict[str, pa.Table]:
    """The tables of one outcome, each row with run and key in front."""
    found = {
        "runs": run_row(outcome),
        "results": outcome.results.to_arrow(),
        "checks": outcome.checks.to_arrow(),
        "findings": outcome.findings.to_arrow(),
    }
    front = {
        "run": outcome.run.name,
        "fingerprint": outcome.provenance["fingerprint"],
        "library": outcome.provenance["library"],
    }
    return {name: with_front(table, front) for name, table in found.items()}


def with_front(table: pa.Table, front: dict[str, str]) -> pa.Table:
    rows = table.num_rows
    names = [*front, *(name for name in table.column_names if name not in front)]
    columns = [pa.array([front[name]] * rows, pa.string()) if name in front else table[name] for name in names]
    # a column in which nothing is known yet has no type; it holds words or figures once something is
    typed = [column.cast(pa.string()) if pa.types.is_null(column.type) else column for column in columns]
    return pa.table(dict(zip(names, typed, strict=True)))


def file(outcome: gs.Outcome, database: duckdb.DuckDBPyConnection) -> bool:
    """Files one outcome whole or not at all; False when it is there already."""
    tables = tables_of(outcome)
    database.begin()
    try:
        if has(outcome, database):
            database.rollback()
            return False
        for name, table in tables.items():
            add(name, table, database)
        database.commit()
    except BaseException:
        database.rollback()
        raise
    return True


def has(outcome: gs.Outcome, database: duckdb.DuckDBPyConnection) -> bool:
    if not database.execute("select 1 from information_schema.tables where table_name = 'runs'").fetchall():
        return False
    known = "select 1 from runs where fingerprint = ? and library = ? and amends is not distinct from ?"
    amends = outcome.provenance["amends"]
    values: list[Any] = [outcome.provenance[name] for name in KEY] + [json.dumps(amends) if amends else None]
    return bool(database.execute(known, values).fetchall())


def add(name: str, table: pa.Table, database: duckdb.DuckDBPyConnection) -> None:
    """Adds rows by name of column, so that a newer library may have columns that an older one had not."""
    database.register("incoming", table)
    database.execute(f"create table if not exists {name} as select * from incoming limit 0")
    there = {row[0] for row in database.execute(f"describe {name}").fetchall()}
    for column, kind in ((row[0], row[1]) for row in database.execute("describe incoming").fetchall()):
        if column not in there:
            database.execute(f'alter table {name} add column "{column}" {kind}')
    database.execute(f"insert into {name} by name select * from incoming")
    database.unregister("incoming")


def to_parquet(database: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Each table as one Parquet file."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in TABLES:
        target = str(folder / f"{name}.parquet").replace("'", "''")
        database.execute(f"copy (select * from {name} order by run, fingerprint) to '{target}' (format parquet)")


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="File archived outcomes into DuckDB and Parquet.")
    parser.add_argument("archives", nargs="+", type=Path, help="JSON documents, JSON lines, or folders of both")
    parser.add_argument("database", type=Path, help="DuckDB database, made when it is not there")
    parser.add_argument("--parquet", type=Path, metavar="FOLDER", help="write the tables as Parquet too")
    chosen = parser.parse_args(arguments)
    filed = known = 0
    with duckdb.connect(str(chosen.database)) as database:
        try:
            for outcome in archived(chosen.archives):
                if file(outcome, database):
                    filed += 1
                else:
                    known += 1
        except (gs.GroundstateError, OSError) as error:
            print(error, file=sys.stderr)
            return 2
        if chosen.parquet and filed + known:
            to_parquet(database, chosen.parquet)
    print(f"{filed} outcomes filed, {known} there already")
    return 0


if __name__ == "__main__":
    sys.exit(main())
