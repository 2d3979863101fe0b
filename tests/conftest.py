"""What every test shares: how much Hypothesis tries, and where the standards' files lie."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.house.tree import beside
from tests.soak import TIMES, sample

REPOSITORY = Path(__file__).resolve().parents[1]

# The same examples on every run and every machine: what passed once does not fail on an unchanged
# tree. A loaded machine is slow now and then: no example has a deadline.
settings.register_profile(
    "everyday",
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    database=None,
    max_examples=50,
)
# Other examples on every run, and many more.
settings.register_profile(
    "soak", settings.get_profile("everyday"), derandomize=False, max_examples=sample(50, 500)
)
settings.load_profile("soak" if TIMES else "everyday")


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
