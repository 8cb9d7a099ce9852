"""The page: template, style sheet and view put together."""

from __future__ import annotations

from importlib.resources import files
from typing import Any, cast, get_args

from groundstate._core import MissingExtraError, Outcome, _argument_error
from groundstate.report._text import clean
from groundstate.report._view import Budgets, view


def to_html(outcome: Outcome, title: str | None = None, budgets: str = "reported") -> str:
    """The outcome as one page of HTML; see `Outcome.to_html`."""
    if budgets not in get_args(Budgets):
        raise _argument_error("budgets", f"there is no choice {budgets!r}", 'it is "reported", "all" or "none"')
    return rendered("page.html.j2", **view(outcome, title, cast(Budgets, budgets)))


def rendered(template: str, **shown: Any) -> str:
    """A template of this package with the style sheet and what it shows."""
    environment = _environment()
    style = environment.filters["safe"](files(__package__).joinpath("page.css").read_text(encoding="utf-8"))
    return cast(str, environment.get_template(template).render(style=style, **shown)) + "\n"


def _environment() -> Any:
    """Templates of this package: everything that is not marked as safe is escaped, and an unknown name is an error."""
    try:
        import jinja2
    except ImportError as missing:
        raise MissingExtraError("the report needs Jinja2: pip install 'groundstate[report]'") from missing
    return jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda name: files(__package__).joinpath(name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=clean,
        trim_blocks=True,
        lstrip_blocks=True,
    )
