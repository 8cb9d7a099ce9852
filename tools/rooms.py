"""Check that a room of the core uses only rooms before it in the list, and that the binding stays thin.

An edge is drawn for every `crate::room` in the sources, tests left out (a test may look anywhere). The list
below is a total order, so a tree without an upward edge has no circle either.
"""

import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOMS = """
    error finding element numeric unit rounding statistics estimate document glassware curve addition
    preparation detection criteria method run check outcome reduce columns simulate
    signal
    wire text
    guide
""".split()
LEAVES = {"signal": {"wire", "text"}}  # who may use a leaf, whatever comes after it

CORE = Path("crates/groundstate/src")
BINDING = Path("crates/groundstate-py/src")
BINDING_CAP = 0.5  # lines of binding for each line of core; more means that arithmetic is creeping in


NOT_CODE = re.compile(r'//[^\n]*|\br(#+)".*?"\1|"(?:\\.|[^"\\])*"|\'(?:\\.|[^\\\'])\'', re.DOTALL)


def code(path: Path) -> str:
    """The source without comments, strings and everything from the first test module on; lines keep their numbers."""
    text = NOT_CODE.sub(lambda match: "\n" * match[0].count("\n"), path.read_text(encoding="utf-8"))
    return re.split(r"#\[cfg\((?:all\()?test\b[^\n]*\]\s*mod\b", text)[0]


def sources(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*.rs")) if path.stem != "tests")


def names(text: str) -> Iterator[tuple[int, str]]:
    """First segments of every path from the crate's root: `crate::a::B`, `crate::{a::B, c::{D, E}}`."""
    for match in re.finditer(r"\bcrate::(?:(\w+)|\{)", text):
        line = text.count("\n", 0, match.start()) + 1
        if match[1]:
            yield line, match[1]
            continue
        depth, item = 1, ""
        for char in text[match.end() :]:
            depth += (char == "{") - (char == "}")
            if depth == 0 or (char == "," and depth == 1):
                yield from ((line, found[0]) for found in [re.findall(r"\w+", item)] if found)
                item = ""
            else:
                item += char
            if depth == 0:
                break


def problems() -> Iterator[str]:
    root = code(CORE / "lib.rs")
    present = re.findall(r"^\s*(?:pub(?:\(crate\))?\s+)?mod (\w+);", root, re.MULTILINE)
    yield from (f"{CORE}/lib.rs: room `{room}` is not in the list of tools/rooms.py" for room in {*present} - {*ROOMS})
    home = {
        name: room for room, tail in re.findall(r"pub use (\w+)::([^;]+);", root) for name in re.findall(r"\w+", tail)
    }
    for path in sources(CORE):
        own = path.relative_to(CORE).parts[0].removesuffix(".rs")
        if own not in ROOMS:
            continue
        text = code(path)
        for line, name in names(text):
            used = home.get(name, name)
            if used not in ROOMS or used == own:
                continue
            if ROOMS.index(used) > ROOMS.index(own) or own not in LEAVES.get(used, {own}):
                yield f"{path}:{line}: `{own}` uses `{used}`, which comes after it in the list"
        # The way round the check: a path through the parent of the room.
        outward = "super::" * len(path.relative_to(CORE).parts[path.stem == "mod" :])
        for match in re.finditer(rf"(?<!super::){outward}(?:\{{|(\w+))", text):
            if match[1] is None or match[1] in {*ROOMS, *home}:
                yield f"{path}: name another room by `crate::`, not by `{outward}`"


def lines(folder: Path) -> int:
    return sum(bool(line.strip()) for path in sources(folder) for line in code(path).splitlines())


found = list(problems())
core, binding = lines(CORE), lines(BINDING)
print(f"lines of code: core {core}, binding {binding}, ratio {binding / core:.2f} (at most {BINDING_CAP})")
if binding > BINDING_CAP * core:
    found.append("the binding is too large: what it computes belongs in the core")
sys.exit("\n".join(found) or None)
