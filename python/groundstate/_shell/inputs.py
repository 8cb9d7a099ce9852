"""Which files are meant: names, quoted patterns, folders, standard input."""

from __future__ import annotations

import argparse
import glob
import hashlib
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from groundstate._shell.decode import decoded

#: What a folder is searched for.
TABLES = (".csv", ".tsv")
ARCHIVES = (".json", ".jsonl")


@dataclass(frozen=True)
class Source:
    """One input: what it is called, and its bytes when they are asked for."""

    name: str
    stem: str
    read: Callable[[], bytes]
    encoding: str | None = None
    decimal_comma: bool = False

    def table(self) -> tuple[bytes, str]:
        """The table in UTF-8 with decimal points, and the SHA-256 of the bytes as they are in the file."""
        content = self.read()
        return decoded(content, self.encoding, self.decimal_comma), hashlib.sha256(content).hexdigest()


class NoInput(Exception):
    """An argument that stands for nothing."""


def tables(arguments: argparse.Namespace, named: Sequence[str]) -> Iterator[Source | NoInput]:
    """The tables that the arguments name, read as the options say."""
    for source in sources(named):
        if isinstance(source, NoInput):
            yield source
        else:
            yield replace(source, encoding=arguments.encoding, decimal_comma=arguments.decimal_comma)


def sources(arguments: Sequence[str], suffixes: tuple[str, ...] = TABLES) -> Iterator[Source | NoInput]:
    """The inputs that the arguments stand for, each once; those of a pattern or a folder by name."""
    seen: set[Path] = set()
    for argument in arguments:
        if argument == "-":
            yield Source("standard input", "run", sys.stdin.buffer.read)
            continue
        try:
            found = _files(argument, suffixes)
        except NoInput as nothing:
            yield nothing
            continue
        for path in found:
            if (resolved := path.resolve()) not in seen:
                seen.add(resolved)
                yield Source(str(path), path.stem, path.read_bytes)


def _files(argument: str, suffixes: tuple[str, ...]) -> list[Path]:
    path = Path(argument)
    if path.is_dir():
        inside = sorted(file for file in path.iterdir() if file.suffix.lower() in suffixes and file.is_file())
        if not inside:
            raise NoInput(f"{argument}: the folder holds no {' or '.join(suffixes)} file")
        return inside
    if path.exists() or not glob.has_magic(argument):
        return [path]
    matching = sorted(Path(name) for name in glob.glob(argument, recursive=True))
    files = [file for file in matching if file.is_file()]
    if not files:
        raise NoInput(f"{argument}: no file has such a name")
    return files
