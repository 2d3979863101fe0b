"""What every test shares: how much Hypothesis tries, and where the standards' files lie."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.house.tree import beside

REPOSITORY = Path(__file__).resolve().parents[1]

# A loaded machine is slow now and then: no example has a deadline, nothing fails for being slow.
settings.register_profile(
    "here",
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
# The same examples on every run: what passed once does not fail on an unchanged tree.
settings.register_profile(
    "ci",
    settings.get_profile("here"),
    derandomize=True,
    database=None,
    max_examples=50,
)
settings.load_profile("ci" if os.environ.get("CI") else "here")


@pytest.fixture(scope="session")
def repository() -> Path:
    """The project's top folder."""
    return REPOSITORY


@pytest.fixture(scope="session")
def standards() -> Path:
    """The folder of data files from standards bodies that may lie beside the checkout."""
    return beside(
        "standards", "the standards' figures, carried in the tests, are checked all the same"
    )
