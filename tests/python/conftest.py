"""Settings of every Python test."""

import os

from hypothesis import settings

# Examples share two cores with other tests: a deadline would measure the neighbours. In the continuous
# integration the same examples are drawn each time, so that a red run can be repeated.
settings.register_profile("groundstate", deadline=None, derandomize="CI" in os.environ, print_blob=True)
settings.load_profile("groundstate")
