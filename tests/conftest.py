"""Settings of the whole test run."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

from estate import workflow

DEMO = Path(__file__).parents[1] / "demo_estate"

# The same examples every time; HYPOTHESIS_PROFILE=search looks for new ones.
settings.register_profile("same", derandomize=True)
settings.register_profile("search", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture(scope="session")
def demo_design(tmp_path_factory):
    """Return the folder of the demo estate's design."""
    return workflow.design(DEMO, tmp_path_factory.mktemp("demo") / "design")[2]


@pytest.fixture(scope="session")
def demo_audit(tmp_path_factory):
    """Return the demo estate's audit with a budget of 1000, and its folder."""
    made, _, out = workflow.audit(DEMO, tmp_path_factory.mktemp("demo") / "audit", budget=1000.0)
    return made, out
