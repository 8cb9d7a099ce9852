"""The page of a validation: one file, no script, nothing loaded from elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from groundstate._validate import Validation

STYLE = """
:root { color-scheme: light dark; --ink: #1c2430; --soft: #5c6675; --paper: #fdfcf9; --rule: #d9d5cb; --good: #1f6b4a;
  --bad: #a4262c; --wash: #f3f0e8; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6e3db; --soft: #a3a9b2; --paper: #16191d; --rule: #3a3f46;
  --good: #7fcfa6; --bad: #ff9a94; --wash: #1f242a; } }
body { margin: 2rem auto; max-width: 72rem; padding: 0 1rem; background: var(--paper); color: var(--ink);
  font: 15px/1.45 Georgia, "Liberation Serif", serif; }
h1 { font-size: 1.6rem; margin: 0 0 .3rem; } h2 { font-size: 1.05rem; margin: 2rem 0 .2rem; }
.verdict { font-weight: bold; font-size: 1.15rem; } p.agrees, td.agrees { color: var(--good); }
p.failed, td.failed { color: var(--bad); } tbody th { font-weight: normal; }
.source, .basis, caption { color: var(--soft); font-size: .88rem; } .source { margin: 0 0 .4rem; }
.statement { border-left: 3px solid var(--rule); padding: .1rem 0 .1rem .9rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: .85rem; }
th, td { text-align: left; padding: .18rem .6rem .18rem 0; border-bottom: 1px solid var(--rule); vertical-align: top; }
thead th { color: var(--soft); font-weight: normal; }
td.n { font-family: ui-monospace, "DejaVu Sans Mono", monospace; font-size: .8rem; white-space: nowrap; }
tr.failed td { background: var(--wash); } dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem 1rem; }
dt { color: var(--soft); } dd { margin: 0; overflow-wrap: anywhere; }
@media print { body { margin: 0; max-width: none; font-size: 9.5pt; } .wide { overflow: visible; }
  h2 { break-after: avoid; } tr { break-inside: avoid; } @page { margin: 15mm; } }
"""

HEADINGS = (
    "quantity",
    "published",
    "recomputed to 20 digits",
    "computed here",
    "digits",
    "required",
    "verdict",
    "note",
)


def page(validation: Validation, statement: str, basis: str) -> str:
    """The page as text."""
    return "\n".join(_lines(validation, statement, basis)) + "\n"


def _lines(validation: Validation, statement: str, basis: str) -> Iterator[str]:
    word = "agrees" if validation.passed else "failed"
    yield '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<title>groundstate: validation of the arithmetic</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>"
    yield "<h1>Validation of the arithmetic</h1>"
    yield f'<p class="verdict {word}">{escape(validation.headline())}</p>'
    yield f'<p class="statement">{escape(statement)}</p>'
    yield "<dl>"
    for name, value in validation.environment.items():
        yield f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>"
    yield f'</dl>\n<p class="basis">{escape(basis)}</p>'
    for title, rows in validation.by_case():
        yield from _case(title, rows)
    yield "</main>\n</body>\n</html>"


def _case(title: str, rows: list[Any]) -> Iterator[str]:
    yield f"<section>\n<h2>{escape(title)}</h2>"
    yield f'<p class="source">{escape(rows[0]["source"])}</p>'
    yield '<div class="wide"><table>\n<thead><tr>'
    yield "".join(f'<th scope="col">{heading}</th>' for heading in HEADINGS)
    yield "</tr></thead>\n<tbody>"
    for row in rows:
        yield f'<tr class="{row["verdict"]}">{"".join(_cells(row))}</tr>'
    yield "</tbody></table></div>\n</section>"


def _cells(row: Any) -> Iterator[str]:
    yield f'<th scope="row">{escape(row["quantity"])}</th>'
    for name in ("published", "recomputed", "computed"):
        yield f'<td class="n">{escape(row[name] or "")}</td>'
    yield f'<td class="n">{row["digits"]:.1f}</td><td class="n">{row["required"]:g}</td>'
    yield f'<td class="{row["verdict"]}">{row["verdict"]}</td><td>{escape(row["note"])}</td>'
