"""Run mutmut with tests that are collected once, and each mutant in a fork of what is collected.

`make mutants` runs this by its path. By itself mutmut lets pytest collect anew for each mutant,
which takes much longer than the tests that notice it. Those that noticed another mutant of the same
function come first, for they often notice this one too.
"""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

import mutmut.__main__
import pytest
from _pytest.config import _prepareconfig
from mutmut.mutation import trampoline
from mutmut.runners.harness import PytestRunner
from mutmut.utils.file_utils import change_cwd
from mutmut.workers.isolation import ForkRunner

NOTICED: Final = Path("noticed.log")
"""Which test noticed which mutant, written by the forks (beside the changed sources)."""
MOST_SECONDS: Final = 30
"""A test that takes longer, ten times as long as the longest of them, never ends. This is the
processor's time, which does not hang on how busy the machine is."""
NEVER_ENDS: Final = 36
"""The exit status by which mutmut knows it."""


class CollectedTests(PytestRunner):
    """The tests, collected before the first mutant is tried."""

    _session: pytest.Session
    _items: dict[str, pytest.Item]

    def prepare_main_test_run(self) -> None:
        with change_cwd("mutants"):
            given = ["--rootdir=.", "-q", "--tb=native", *self._pytest_add_cli_args]
            config = _prepareconfig([*given, *self._pytest_add_cli_args_test_selection])
            config._do_configure()  # noqa: SLF001 - nothing else begins a session without running it
            self._session = pytest.Session.from_config(config)
            config.hook.pytest_sessionstart(session=self._session)
            self._items = {item.nodeid: item for item in self._session.perform_collect()}
            if self._session.testsfailed:
                raise pytest.UsageError("not all tests can be collected: run pytest in mutants/")

    def run_tests(self, *, mutant_name: str | None, tests: Iterable[str]) -> int:
        """Run tests until one fails; this is a fork, or a run before any mutant is tried."""
        if mutant_name is None:
            return super().run_tests(mutant_name=None, tests=tests)
        trampoline.get_mutant_under_test = lambda: mutant_name
        function = mutant_name.rpartition("__mutmut_")[0]
        signal.signal(signal.SIGPROF, lambda *_: os._exit(NEVER_ENDS))
        with change_cwd("mutants"):
            known = [test for test in tests if test in self._items]  # one with a backslash is not
            for test in likely_first(known, noticed_before(function)):
                item = self._items[test]
                signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                if self._session.testsfailed:
                    with NOTICED.open("a", encoding="utf-8") as log:
                        log.write(f"{function} {test}\n")
                    return 1
        return 0


def noticed_before(function: str) -> Counter[str]:
    """Count which tests have noticed a mutant of a function so far."""
    if not NOTICED.exists():
        return Counter()
    lines = (line.split(" ", 1) for line in NOTICED.read_text("utf-8").splitlines())
    return Counter(test for changed, test in lines if changed == function)


def likely_first(tests: Sequence[str], before: Counter[str]) -> list[str]:
    """Let the tests that noticed most come first; the others keep their order."""
    return sorted(tests, key=lambda test: -before[test])


def runner_of_forks(max_workers: int = 1) -> ForkRunner:
    """Make what tries mutants, as mutmut asks for it."""
    tests = CollectedTests()
    tests.prepare_main_test_run()
    return ForkRunner(max_workers, tests)


if __name__ == "__main__":
    mutmut.__main__.get_mutant_runner = runner_of_forks  # type: ignore[attr-defined]
    mutmut.__main__.cli()
