"""Settings of the whole test run."""

import os

from hypothesis import settings

# The same examples every time; HYPOTHESIS_PROFILE=search looks for new ones.
settings.register_profile("same", derandomize=True)
settings.register_profile("search", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))
