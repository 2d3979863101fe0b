"""What every test shares: how much Hypothesis tries, and where the standards' files lie."""

import gc
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadFileScheduling

from adapters.cli.memory_folder import FOLDER_VARIABLE, OFF
from tests.house.tree import beside
from tests.soak import TIMES, sample

REPOSITORY = Path(__file__).resolve().parents[1]

LONGEST = (
    "simulator/test_explanations.py",
    "simulator/test_proof.py",
    "live/test_clock.py",
    "simulator/test_explicit_states.py",
    "live/test_run.py",
    "soundness/test_soundness.py",
    "live/test_kill.py",
    "simulator/test_fold.py",
    "live/test_takeover.py",
    "simulator/test_creep.py",
    "live/test_first_evening.py",
    "simulator/test_mutants.py",
    "live/test_example_hubs.py",
    "engine/test_step.py",
    "live/test_proven_start.py",
    "simulator/test_decision_mutants.py",
    "live/test_journal_under_way.py",
    "simulator/test_liveness.py",
    "live/test_unread_log.py",
    "simulator/test_reachability.py",
    "live/test_flood.py",
    "adapters/test_wear.py",
    "live/test_rehearse.py",
    "live/test_deploy.py",
    "live/test_hardship.py",
    "adapters/test_checking.py",
    "adapters/test_check_command.py",
)
"""Files that take longest begin first, so that no worker is left alone with one at the end.

Those that wait for a clock or a broker stand between those that compute.
"""
TOGETHER = {
    "tests/simulator/test_explanations.py": "tests/simulator/test_proof.py",
    "tests/simulator/test_memory.py": "tests/simulator/test_reachability.py",
}
"""Files that prove the same rooms: one worker takes the second with the first."""
ONE_MORE = 1
"""A worker more than there are processors: live tests wait for a clock or a broker now and then."""

# What a test proves is proven in that test; those of the memory have a folder of their own.
os.environ[FOLDER_VARIABLE] = OFF

# The same examples on every run and every machine: what passed once does not fail on an unchanged
# tree. A loaded machine is slow now and then: no example has a deadline.
settings.register_profile(
    "everyday",
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    database=None,
    max_examples=30,
)
# Other examples on every run, and many more.
settings.register_profile(
    "soak", settings.get_profile("everyday"), derandomize=False, max_examples=sample(30, 500)
)
settings.load_profile("soak" if TIMES else "everyday")


class BySharedWork(LoadFileScheduling):  # type: ignore[misc] # xdist has no types
    """Give a worker a file's tests, or those of files that share what takes long."""

    def _split_scope(self, nodeid: str) -> str:
        file: str = super()._split_scope(nodeid)
        return TOGETHER.get(file, file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> BySharedWork:  # noqa: ANN401
    return BySharedWork(config, log)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    return len(os.sched_getaffinity(0)) + ONE_MORE


def pytest_collection_finish() -> None:
    """What is loaded now stays; looking for garbage in it took a fifth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.hookimpl(trylast=True)  # after the tests have been shuffled
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    places = {REPOSITORY / "tests" / name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: places.get(item.path, len(places)))


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
