"""The documentation site: Sphinx with MyST, notebooks executed in the build. `./dev docs` calls it."""

import logging
import os
import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from pygments.lexers.special import TextLexer  # noqa: E402
from sphinx.application import Sphinx  # noqa: E402

import groundstate  # noqa: E402
from tools import reference  # noqa: E402

project = "groundstate"
author = "the groundstate developers"
version = release = groundstate.__version__

extensions = ["myst_nb", "sphinx.ext.mathjax"]
exclude_patterns = ["schema"]
root_doc = "index"
primary_domain = "py"
add_module_names = False
python_use_unqualified_type_names = True
python_display_short_literal_types = True
python_maximum_signature_line_length = 88

myst_enable_extensions = ["attrs_inline", "colon_fence", "deflist", "dollarmath", "fieldlist"]
myst_heading_anchors = 3
myst_url_schemes = ("http", "https", "mailto")

# Notebooks run under a profile of their own: silent unless something is wrong, and nobody's start-up files.
profile = HERE.parent / "build" / "ipython" / "profile_default"
profile.mkdir(parents=True, exist_ok=True)
settings = "c.IPKernelApp.log_level = 40\nc.InlineBackend.figure_formats = {'svg'}\n"
(profile / "ipython_kernel_config.py").write_text(settings, encoding="utf-8")
os.environ["IPYTHONDIR"] = str(profile.parent)
logging.getLogger("traitlets").setLevel(logging.WARNING)
# A notebook that fails, fails the build.
nb_execution_mode = "force"
nb_execution_raise_on_error = True
nb_execution_timeout = 120
nb_merge_streams = True
smartquotes = False

html_theme = "furo"
html_title = "groundstate"
html_static_path = ["_static"]
html_css_files = ["own.css"]
html_copy_source = False
html_show_sphinx = False
html_show_copyright = False
accents = ["color-brand-primary", "color-brand-content", "color-api-name", "color-api-pre-name"]
html_theme_options = {
    "light_css_variables": dict.fromkeys(accents, "#0b5d70"),
    "dark_css_variables": dict.fromkeys(accents, "#6fc7d8"),
}

# Pages that follow from the sources: the Python names from the stub, the findings from the core's catalogue.
reference.write(HERE / "reference" / "made")


def setup(app: Sphinx) -> None:
    """Tables in CSV are shown as they are: Pygments knows no such language."""
    app.add_lexer("csv", TextLexer)
