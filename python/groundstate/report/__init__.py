"""An outcome as one page of HTML that needs nothing beside it: no script, no network, no other file."""

from groundstate.report._page import to_html

__all__ = ["to_html"]
