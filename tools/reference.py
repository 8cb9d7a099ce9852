"""Reference pages that follow from the sources: Python names from stub and modules, findings from the core.

The pages are Markdown for the documentation site. Signatures and types are read from the source texts, so that the
site shows what a type checker sees; tests/python/test_docstrings.py holds the compiled part to the same words.
"""

from __future__ import annotations

import ast
import copy
import inspect
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "python" / "groundstate"
CODES = ROOT / "crates" / "groundstate" / "src" / "finding" / "code.rs"

#: Sections of the docstrings, and how they are headed on the site.
SECTIONS = {"Args": "Arguments", "Returns": "Returns", "Raises": "Raises", "Source": "Source", "Example": "Example"}

#: Pages of names that are written in Python, by module; another one is headed by its first line.
TITLES = {
    "_batches": "Batches",
    "_frames": "Frames",
    "_methods": "Choosing among methods",
    "_reduce": "Reducing runs",
    "_table": "Tables",
    "_validate": "Self-validation",
}

#: Aliases that are better read by another name than spelled out.
READABLE = {"_Scalar": "float", "_Numbers": "ArrayLike", "_Floats": "NDArray", "_SupportsArray": "ArrayLike"}

Definition = ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign


@dataclass
class Page:
    """One page: its title, what it says first, and the definitions on it by name, overloads together."""

    name: str
    title: str
    opening: str = ""
    namespace: str = ""
    items: dict[str, list[Definition]] = field(default_factory=dict)


class Aliases(ast.NodeTransformer):
    """Private type aliases spelled out."""

    def __init__(self, known: dict[str, ast.expr]) -> None:
        self.known = known

    def visit_Name(self, node: ast.Name) -> ast.expr:
        if node.id in READABLE:
            return ast.Name(READABLE[node.id])
        found = self.known.get(node.id)
        return node if found is None else self.visit(copy.deepcopy(found))

    def visit_Subscript(self, node: ast.Subscript) -> ast.expr:
        if isinstance(node.value, ast.Name) and node.value.id == "NDArray":
            return ast.Name("NDArray")
        self.generic_visit(node)
        return node


def names(node: Definition) -> list[str]:
    if isinstance(node, ast.Assign):
        return [target.id for target in node.targets if isinstance(target, ast.Name)]
    if isinstance(node, ast.AnnAssign):
        return [node.target.id] if isinstance(node.target, ast.Name) else []
    return [node.name]


def definitions(body: Sequence[ast.stmt]) -> Iterator[tuple[str, Definition]]:
    for node in body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef, ast.Assign, ast.AnnAssign)):
            for name in names(node):
                yield name, node


def exported(init: Path) -> list[str]:
    """`__all__` of a package."""
    for name, node in definitions(ast.parse(init.read_text(encoding="utf-8")).body):
        if name == "__all__" and isinstance(node, ast.Assign):
            found: list[str] = ast.literal_eval(node.value)
            return found
    raise SystemExit(f"{init}: there is no __all__")


def aliases(trees: Sequence[ast.Module]) -> dict[str, ast.expr]:
    found: dict[str, ast.expr] = {}
    for tree in trees:
        for name, node in definitions(tree.body):
            if isinstance(node, ast.AnnAssign) and node.value and ast.unparse(node.annotation) == "TypeAlias":
                found[name] = node.value
    return found


def headings(text: str) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("# ---- "):
            yield number, line[7:].strip()


def pages() -> tuple[list[Page], Aliases]:
    """Every public name on its page: a page for each section of the stub, module of the package and subpackage."""
    root = set(exported(PACKAGE / "__init__.py"))
    # A public module that only gathers names: those that it alone has are written with it.
    gathered = {path.stem: exported(path) for path in PACKAGE.glob("*.py") if not path.name.startswith("_")}
    wanted = root.union(*gathered.values())
    stub = (PACKAGE / "_core.pyi").read_text(encoding="utf-8")
    sources = [path for path in sorted(PACKAGE.glob("_*.py")) if path.name not in ("__init__.py", "__main__.py")]
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sources}
    made = [Page(re.sub(r"\W+", "-", title), title[0].upper() + title[1:]) for _, title in headings(stub)]
    starts = [number for number, _ in headings(stub)]
    for name, node in definitions(ast.parse(stub).body):
        at = sum(start < node.lineno for start in starts) - 1
        if name in wanted and at >= 0:
            module = next((f"{stem}." for stem, inside in gathered.items() if name in inside and name not in root), "")
            made[at].items.setdefault(module + name, []).append(node)
    for path, tree in trees.items():
        said = (ast.get_docstring(tree) or path.stem).partition("\n")[0].rstrip(".").partition(":")[0]
        page = Page(path.stem.strip("_"), TITLES.get(path.stem, said))
        for name, node in definitions(tree.body):
            if name in wanted and not any(name in other.items for other in made):
                page.items.setdefault(name, []).append(node)
        made.append(page)
    folders = {path.parent for path in PACKAGE.glob("*/__init__.py") if not path.parent.name.startswith("_")}
    for folder in sorted(folders):
        tree = ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))
        page = Page(folder.name, f"gs.{folder.name}", ast.get_docstring(tree) or "", f"{folder.name}.")
        public = exported(folder / "__init__.py")
        for path in sorted(folder.rglob("*.py")):
            trees[path] = ast.parse(path.read_text(encoding="utf-8"))
            for name, node in definitions(trees[path].body):
                if name in public:
                    page.items.setdefault(name, []).append(node)
        made.append(page)
    there = {name.rpartition(".")[2] for page in made for name in page.items}
    missing = wanted - {"__version__"} - there - {f.name for f in folders} - set(gathered)
    if missing:
        raise SystemExit(f"no definition found of {', '.join(sorted(missing))}")
    return [page for page in made if page.items], Aliases(aliases([ast.parse(stub), *trees.values()]))


def signature(node: ast.FunctionDef, known: Aliases, method: bool) -> str:
    copied = ast.parse(f"def f({ast.unparse(node.args)}): ...").body[0]
    assert isinstance(copied, ast.FunctionDef)
    if method and not any(isinstance(d, ast.Name) and d.id == "staticmethod" for d in node.decorator_list):
        first = copied.args.posonlyargs or copied.args.args
        first.pop(0)
    known.visit(copied)
    result = "" if node.returns is None else f" -> {annotation(node.returns, known)}"
    return f"({ast.unparse(copied.args)}){result}"


def annotation(node: ast.expr, known: Aliases) -> str:
    return ast.unparse(known.visit(ast.parse(ast.unparse(node), mode="eval").body))


def decorated(node: ast.FunctionDef, name: str) -> bool:
    return any(ast.unparse(decorator).rpartition(".")[2] == name for decorator in node.decorator_list)


def markdown(doc: str, links: dict[str, str]) -> str:
    """A docstring as Markdown: its sections headed, its arguments a list, its names linked."""
    out: list[str] = []
    section = ""
    for line in inspect.cleandoc(doc).splitlines():
        head = line[:-1] if line.endswith(":") else ""
        if head in SECTIONS:
            section = head
            out += ["", f"**{SECTIONS[head]}**", ""]
            continue
        if section and line and not line.startswith(" "):
            section = ""
            out.append("")
        if section == "Example":
            out.append(line[4:])
        elif section in ("Args", "Raises"):
            entry = re.match(r"    (\*{0,2}\w+(?:, \w+)*(?: \.\.\.)?): (.*)", line)
            named = entry and ", ".join(f"`{one}`" for one in entry[1].split(", "))
            out.append(f"- {named}: {entry[2]}" if entry else "  " + line.strip())
        else:
            out.append(line.strip() if section else line)
    text = "\n".join(out).replace("\n\n\n", "\n\n")
    text = re.sub(r"((?:^>>> .*\n|^\.\.\. .*\n|^(?!\s*$|\*\*).+\n?)+)", fenced, text, flags=re.MULTILINE)
    return re.sub(r"(?<!`)`([A-Za-z_.]+)`(?!`)", lambda found: linked(found, links), text)


def fenced(found: re.Match[str]) -> str:
    """A doctest as a block of code."""
    block = found[0]
    return f"```pycon\n{block.rstrip()}\n```\n" if block.startswith(">>> ") else block


def linked(found: re.Match[str], links: dict[str, str]) -> str:
    target = links.get(found[1])
    return f"{{py:obj}}`{found[1]} <{target}>`" if target else found[0]


def directive(kind: str, head: str, body: str, options: Sequence[str] = (), fence: int = 4) -> str:
    opened = "`" * fence
    return "\n".join([f"{opened}{{py:{kind}}} {head}", *options, "", body, opened, ""])


def function(name: str, nodes: Sequence[Definition], known: Aliases, links: dict[str, str], kind: str) -> str:
    overloads = [node for node in nodes if isinstance(node, ast.FunctionDef)]
    doc = next((text for node in reversed(overloads) if (text := ast.get_docstring(node))), "")
    heads = [name + signature(node, known, kind == "method") for node in overloads]
    static = decorated(overloads[0], "staticmethod")
    options = [":staticmethod:"] if static and kind == "method" else []
    blocks = [
        directive(kind, head, markdown(doc, links) if head is heads[-1] else "", [*options, *no_index(head, heads)])
        for head in heads
    ]
    return "\n".join(blocks)


def no_index(head: str, heads: Sequence[str]) -> list[str]:
    return [] if head is heads[0] else [":no-index:"]


def members(node: ast.ClassDef) -> dict[str, list[Definition]]:
    found: dict[str, list[Definition]] = {}
    for name, inner in definitions(node.body):
        doc = ast.get_docstring(inner) if isinstance(inner, ast.FunctionDef) else None
        public = not name.startswith("_") or (name.startswith("__") and name != "__init__" and doc is not None)
        if public and not (isinstance(inner, ast.FunctionDef) and decorated(inner, "setter")):
            found.setdefault(name, []).append(inner)
    return found


def described(name: str, node: ast.ClassDef, known: Aliases, links: dict[str, str]) -> str:
    made = [inner for name, inner in definitions(node.body) if name in ("__new__", "__init__")]
    head = name
    if made and isinstance(made[0], ast.FunctionDef):
        head += signature(made[0], known, True).partition(" -> ")[0]
    bases = [ast.unparse(base) for base in node.bases if ast.unparse(base) not in ("Protocol", "Generic")]
    body = [markdown(ast.get_docstring(node) or "", links)]
    if bases:
        body.insert(0, "Bases: " + ", ".join(f"{{py:obj}}`{base}`" for base in bases) + "\n")
    for member, inner in members(node).items():
        first = inner[0]
        if isinstance(first, ast.FunctionDef) and not decorated(first, "property"):
            body.append(function(member, inner, known, links, "method"))
        elif isinstance(first, ast.FunctionDef):
            returned = "" if first.returns is None else annotation(first.returns, known)
            text = markdown(ast.get_docstring(first) or "", links)
            body.append(directive("property", member, text, [f":type: {returned}"]))
        elif isinstance(first, ast.AnnAssign):
            body.append(directive("attribute", member, "", [f":type: {annotation(first.annotation, known)}"]))
    exception = any(base.endswith(("Error", "Exception")) for base in bases)
    return directive("exception" if exception else "class", head, "\n".join(body), fence=6)


def python_page(page: Page, known: Aliases, links: dict[str, str]) -> str:
    module = f"groundstate.{page.namespace}".rstrip(".")
    out = [f"# {page.title}", "", page.opening, "", f"```{{py:currentmodule}} {module}", "```", ""]
    for name, nodes in page.items.items():
        first = nodes[0]
        if isinstance(first, ast.ClassDef):
            out.append(described(name, first, known, links))
        elif isinstance(first, ast.FunctionDef):
            out.append(function(name, nodes, known, links, "function"))
        elif isinstance(first, ast.AnnAssign):
            out.append(directive("data", name, "", [f":type: {annotation(first.annotation, known)}"]))
        else:
            out.append(directive("data", name, ""))
    return "\n".join(out)


def targets(made: Sequence[Page]) -> dict[str, str]:
    """What a name in backquotes may point to: public names, and members written with their class."""
    found: dict[str, str] = {}
    for page in made:
        space = f"groundstate.{page.namespace}"
        for name, nodes in page.items.items():
            found[name] = found[name.rpartition(".")[2]] = space + name
            first = nodes[0]
            if isinstance(first, ast.ClassDef):
                found |= {f"{name}.{member}": f"{space}{name}.{member}" for member in members(first)}
    return found


def findings_page() -> str:
    """The catalogue of findings, room by room, as the core has it."""
    entry = re.compile(
        r"((?: *///.*\n)+) *\w+ = \"(\w+)\", (\w+),\s*\"((?:[^\"\\]|\\.)*)\";|^ *// ---- (.+)$", re.MULTILINE
    )
    text = CODES.read_text(encoding="utf-8")
    out = [
        "# Findings",
        "",
        "What the library notices, by the part of it that does. The name is stable; the sentence may be improved.",
        "Words in braces are facts, which `Finding.facts` gives as numbers or words. Severity is the usual one: a rule",
        "of the method may raise it.",
        "",
    ]
    count = 0
    for doc, name, severity, sentence, room in entry.findall(text[text.index("codes! {") :]):
        if room:
            out += ["", f"## {room[0].upper() + room[1:]}", ""]
            continue
        count += 1
        said = " ".join(line.strip().removeprefix("///").strip() for line in doc.strip().splitlines())
        written = re.sub(r"\\\n\s*", "", sentence).replace('\\"', '"').replace("|", r"\|")
        out += [f"`{name}` ({severity.lower()})", f": {said}", "", f"  “{written}”", ""]
    if count < 50 or count != len(re.findall(r"^ +\w+ = \"", text, re.MULTILINE)):
        raise SystemExit(f"{CODES}: {count} findings read, which cannot be all of them")
    return "\n".join(out)


def write(folder: Path) -> None:
    """Write all pages into `folder`; a page that stays the same is left alone."""
    made, known = pages()
    links = targets(made)
    texts = {f"python-{page.name}.md": python_page(page, known, links) for page in made}
    texts["findings.md"] = findings_page()
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.md"):
        if old.name not in texts:
            old.unlink()
    for name, text in texts.items():
        path = folder / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
