"""Settings of every test that imports the package."""

import os

# The extension under test is built with its assertions on, which it warns of.
os.environ.setdefault("GROUNDSTATE_DEVELOPMENT", "1")
