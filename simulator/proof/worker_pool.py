"""Trials side by side: as many processes as there are processors, with the same answer as one.

The processes are forked, so that each begins with what is known; only states go to and fro.
Results come back in the order of what was asked, whoever was quicker. Nothing but pipes lies
between the processes: no thread and no lock can be left behind when somebody breaks it off.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Final, Protocol

from engine.events import Event
from engine.state import Core
from simulator.proof.half_steps import Expansion
from simulator.proof.successors import Successors

AT_ONCE: Final = 4
"""So many states go to a process together."""
AHEAD: Final = 2
"""So many times: while one lot is under way the next lies ready, and nobody waits for more."""
MOST: Final = 8

EventTask = tuple[int, Core]
AnswerTask = tuple[int, Event | str | None, Core]


class WorkerPool(Protocol):
    """Whoever takes the steps."""

    def after_events(self, states: list[EventTask]) -> Iterable[Expansion]:
        """Let everything happen to each of these states."""

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        """Let each of these be answered to in every world."""


class _InProcess:
    def __init__(self, successors: Successors) -> None:
        self._successors = successors

    def after_events(self, states: list[EventTask]) -> Iterable[Expansion]:
        return (self._successors.after_events(*state) for state in states)

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        return (self._successors.after_answers(*post) for post in tasks)


class _Forked:
    def __init__(self, others: list[Connection]) -> None:
        self._others = others

    def after_events(self, states: list[EventTask]) -> Iterable[Expansion]:
        return self._done("heard", states)

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        return self._done("answered", tasks)

    def _done(self, what: str, tasks: Sequence[EventTask | AnswerTask]) -> Iterator[Expansion]:
        """Hand out tasks, a lot at a time, to whoever is free."""
        lots = enumerate(tasks[at : at + AT_ONCE] for at in range(0, len(tasks), AT_ONCE))
        begun: dict[Connection, list[int]] = {other: [] for other in self._others}
        done: dict[int, list[Expansion]] = {}

        def hand_out(other: Connection) -> None:
            number, lot = next(lots, (0, None))
            if lot is not None:
                other.send((what, lot))
                begun[other].append(number)

        for other in self._others * AHEAD:
            hand_out(other)
        following = 0
        while any(begun.values()):
            ready = wait([other for other, numbers in begun.items() if numbers])
            for other in [other for other in self._others if other in ready]:
                done[begun[other].pop(0)] = other.recv()
                hand_out(other)
            while following in done:
                yield from done.pop(following)
                following += 1


def processors() -> int:
    """Say how many processes are worth while here: one where none can be forked."""
    if "fork" not in multiprocessing.get_all_start_methods():
        return 1
    return min(MOST, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1)


@contextmanager
def worker_pool(successors: Successors, workers: int) -> Iterator[WorkerPool]:
    """Give a crew of so many processes; one worker is this process itself."""
    if workers < 2:  # noqa: PLR2004 - alone
        yield _InProcess(successors)
        return
    fork = multiprocessing.get_context("fork")
    others: list[Connection] = []
    processes: list[BaseProcess] = []
    try:
        for _ in range(workers):
            other, end = fork.Pipe()
            others.append(other)
            process = fork.Process(target=_work, args=(successors, end, others), daemon=True)
            process.start()
            processes.append(process)
            end.close()
        yield _Forked(others)
    finally:
        for one in processes:
            one.kill()  # It has nothing that would have to be put away.
            one.join()


def _work(successors: Successors, end: Connection, others: list[Connection]) -> None:
    """Take steps until nobody asks for any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asked.
    for other in others:
        other.close()  # Only the one that asked holds these ends: with it they are gone.
    tasks: dict[str, Callable[..., Expansion]] = {
        "heard": successors.after_events,
        "answered": successors.after_answers,
    }
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            what, lot = end.recv()
            end.send([tasks[what](*task) for task in lot])
