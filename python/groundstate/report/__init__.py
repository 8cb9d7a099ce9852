"""An outcome as one page of HTML that needs nothing beside it: no script, no network, no other file.

`Outcome.to_html` gives the page; `to_folder` writes those of many outcomes with an index.
"""

from groundstate.report._folder import to_folder
from groundstate.report._page import to_html

__all__ = ["to_folder", "to_html"]
