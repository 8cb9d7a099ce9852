"""The compiled part says what its stub says: find where the two differ, or write the stub's words into the binding.

    python tools/docstrings.py            names every public docstring that differs
    python tools/docstrings.py --write    copies the stub's docstrings into crates/groundstate-py (then build again)

The stub is where the words are written: an editor shows them, the site is made from them, and help() shows those of
the compiled part, which come from the comments in Rust. Exceptions have theirs in error.rs, by hand.
"""

from __future__ import annotations

import ast
import inspect
import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
STUB = ROOT / "python" / "groundstate" / "_core.pyi"
BINDING = ROOT / "crates" / "groundstate-py" / "src"


def public(name: str) -> bool:
    return not name.startswith("_")


def stub() -> dict[str, str]:
    """Docstrings of the stub by name; of overloads, the last one has the words."""
    found: dict[str, str] = {}
    for node in ast.parse(STUB.read_text(encoding="utf-8")).body:
        if not isinstance(node, (ast.FunctionDef, ast.ClassDef)) or not public(node.name):
            continue
        found[node.name] = ast.get_docstring(node) or ""
        for inner in node.body if isinstance(node, ast.ClassDef) else []:
            if isinstance(inner, ast.FunctionDef) and public(inner.name):
                found[f"{node.name}.{inner.name}"] = ast.get_docstring(inner) or ""
    return found


def compiled() -> dict[str, str]:
    """Docstrings of the compiled part by name."""
    import groundstate._core as core

    def words(of: object) -> str:
        doc = getattr(of, "__doc__", None)
        return inspect.cleandoc(doc) if doc else ""

    found: dict[str, str] = {}
    for name, thing in vars(core).items():
        if not public(name) or not (isinstance(thing, type) or inspect.isroutine(thing)):
            continue
        found[name] = words(thing)
        for member in vars(thing) if isinstance(thing, type) else ():
            inner = getattr(thing, member)
            if public(member) and (inspect.isroutine(inner) or inspect.isdatadescriptor(inner)):
                found[f"{name}.{member}"] = words(inner)
    return found


def differences() -> list[str]:
    """One line for each public name whose words are missing or differ."""
    wanted, given = stub(), compiled()
    lines = [f"{name}: the stub has no docstring" for name, words in wanted.items() if not words]
    lines += [f"{name}: not in the stub" for name in given if name not in wanted]
    for name, words in wanted.items():
        if words and given.get(name) != words:
            lines.append(f"{name}: help() says {given.get(name, 'nothing')!r}, the stub {words!r}")
    return lines


#: A Rust item that Python can see: its name there, and the lines of its comment (none, where one is to go).
Item = tuple[str, range]


def items(text: str, classes: dict[str, str]) -> Iterator[Item]:
    """The items of a source file. `classes` holds the Python name of each class by its name in Rust."""
    owner, exposed, fields, last = "", False, False, ("", "")
    comment: list[int] = []
    attributes, first = "", -1
    lines = iter(enumerate(text.splitlines()))
    for at, line in lines:
        stripped = line.strip()
        if stripped.startswith("///"):
            comment.append(at)
            continue
        if stripped.startswith("#["):
            first = at if first < 0 else first
            attributes += stripped
            while attributes.count("[") > attributes.count("]"):
                attributes += next(lines)[1].strip()
            continue
        start = comment[0] if comment else first if first >= 0 else at
        where = range(start, comment[-1] + 1 if comment else start)
        depth = (len(line) - len(line.lstrip())) // 4
        renamed = re.search(r'name = "(\w+)"|#\[getter\((\w+)\)\]', attributes)
        other = renamed and (renamed[1] or renamed[2])
        if (
            structure := re.match(r"(?:pub(?:\(\w+\))? )?(?:struct|enum) (\w+)", stripped)
        ) and "#[pyclass" in attributes:
            owner = classes[structure[1]] = other or structure[1]
            fields = "get_all" in attributes
            yield owner, where
        elif block := re.match(r"impl (\w+)", stripped):
            owner, exposed, fields = classes.get(block[1], block[1]), "#[pymethods]" in attributes, False
        elif function := re.match(r"(?:pub(?:\(\w+\))? )?fn (\w+)", stripped):
            name = other or function[1]
            if depth == 0 and "#[pyfunction]" in attributes:
                yield name, where
            elif depth == 1 and exposed and public(name) and "#[new]" not in attributes:
                yield f"{owner}.{name}", where
        elif fields and depth == 1 and (named := re.match(r"(?:pub )?(\w+):", stripped)):
            yield f"{owner}.{named[1]}", where
        elif pair := re.fullmatch(r"(\w+), (\w+),", stripped):  # the classes of one figure, made by a macro
            last = (pair[1], pair[2])
            yield last[0], where
        elif line == "}":
            if comment and last[0]:
                yield ".".join(last), where
            exposed = fields = False
        comment, attributes, first = [], "", -1


def write() -> None:
    """Put the stub's words over every item of the binding; say which have no place there."""
    wanted = stub()
    seen: set[str] = set()
    classes: dict[str, str] = {}
    for path in sorted(BINDING.glob("*.rs")):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for name, where in reversed(list(items(text, classes))):
            if words := wanted.get(name):
                seen.add(name)
                indent = " " * (len(lines[where.start]) - len(lines[where.start].lstrip()))
                lines[where.start : where.stop] = [f"{indent}/// {line}".rstrip() for line in words.splitlines()]
        if "\n".join(lines) + "\n" != text:
            path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    for name in sorted(set(wanted) - seen):
        print(f"not written: {name}")


if __name__ == "__main__":
    if sys.argv[1:] == ["--write"]:
        write()
    else:
        found = differences()
        print("\n".join(found))
        sys.exit(bool(found))
