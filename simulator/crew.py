"""Trials side by side: as many processes as there are processors, with the same answer as one.

The processes are forked, so that each begins with what is known; only states go to and fro.
Results come back in the order of what was asked, whoever was quicker.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Protocol

from engine.events import Event
from engine.state import Core
from simulator.trials import Report, Trials

AT_ONCE = 4
"""So many states go to a process together."""
MOST = 8

Heard = tuple[int, Core]
Answered = tuple[int, Event | str | None, Core]

_mine: list[Trials] = []


class Crew(Protocol):
    """Whoever takes the steps."""

    def heard(self, states: list[Heard]) -> Iterable[Report]:
        """Let everything happen to each of these states."""

    def answered(self, posts: list[Answered]) -> Iterable[Report]:
        """Let each of these be answered to in every world."""


class _Alone:
    def __init__(self, trials: Trials) -> None:
        self._trials = trials

    def heard(self, states: list[Heard]) -> Iterable[Report]:
        return (self._trials.heard(*state) for state in states)

    def answered(self, posts: list[Answered]) -> Iterable[Report]:
        return (self._trials.answered(*post) for post in posts)


class _Together:
    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool

    def heard(self, states: list[Heard]) -> Iterable[Report]:
        return self._pool.map(_hear, states, chunksize=AT_ONCE)

    def answered(self, posts: list[Answered]) -> Iterable[Report]:
        return self._pool.map(_answer, posts, chunksize=AT_ONCE)


def processors() -> int:
    """Say how many processes are worth while here: one where none can be forked."""
    if "fork" not in multiprocessing.get_all_start_methods():
        return 1
    return min(MOST, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1)


@contextmanager
def crew_for(trials: Trials, workers: int) -> Iterator[Crew]:
    """Give a crew of so many processes; one worker is this process itself."""
    if workers < 2:  # noqa: PLR2004 - alone
        yield _Alone(trials)
        return
    _mine[:] = [trials]
    pool = ProcessPoolExecutor(workers, multiprocessing.get_context("fork"), _begin)
    try:
        yield _Together(pool)
    finally:
        pool.shutdown(cancel_futures=True)
        _mine.clear()


def _begin() -> None:
    """Leave Ctrl-C to the process that asked."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _hear(state: Heard) -> Report:
    return _mine[0].heard(*state)


def _answer(post: Answered) -> Report:
    return _mine[0].answered(*post)
