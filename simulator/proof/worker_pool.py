"""Workers that look for successors side by side: one process for each processor.

Processes are forked, so that each begins with what is known; only states are sent to and fro.
Results come back in the order of the tasks, so that any number of workers finds the same. Only
pipes connect the processes: no thread and no lock can be left behind when somebody breaks off.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Final, Literal, Protocol

from engine.events import Event
from engine.state import Core
from simulator.proof.half_steps import Expansion
from simulator.proof.successors import Successors

BATCH: Final = 4
"""The number of tasks that go to a process together."""
IN_FLIGHT: Final = 2
"""The number of batches a process has: while it works on one, the next lies ready."""
MOST_WORKERS: Final = 8

Method = Literal["after_events", "after_answers"]
EventTask = tuple[int, Core]
AnswerTask = tuple[int, Event | str | None, Core]


class WorkerPool(Protocol):
    """Expands states, in whatever processes."""

    def after_events(self, tasks: list[EventTask]) -> Iterable[Expansion]:
        """Take every first half step from each of these states."""

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        """Take every second half step from each of these cores."""


class _InProcess:
    def __init__(self, successors: Successors) -> None:
        self._successors = successors

    def after_events(self, tasks: list[EventTask]) -> Iterable[Expansion]:
        return (self._successors.after_events(*task) for task in tasks)

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        return (self._successors.after_answers(*task) for task in tasks)


class _Forked:
    def __init__(self, workers: list[Connection]) -> None:
        self._workers = workers

    def after_events(self, tasks: list[EventTask]) -> Iterable[Expansion]:
        return self._results("after_events", tasks)

    def after_answers(self, tasks: list[AnswerTask]) -> Iterable[Expansion]:
        return self._results("after_answers", tasks)

    def _results(
        self, method: Method, tasks: Sequence[EventTask | AnswerTask]
    ) -> Iterator[Expansion]:
        """Send tasks, a batch at a time, to whoever is free; yield results in the tasks' order."""
        batches = enumerate(tasks[at : at + BATCH] for at in range(0, len(tasks), BATCH))
        in_flight: dict[Connection, list[int]] = {worker: [] for worker in self._workers}
        done: dict[int, list[Expansion]] = {}

        def send_next(worker: Connection) -> None:
            number, batch = next(batches, (0, None))
            if batch is not None:
                worker.send((method, batch))
                in_flight[worker].append(number)

        for worker in self._workers * IN_FLIGHT:
            send_next(worker)
        following = 0
        while any(in_flight.values()):
            ready = wait([worker for worker, numbers in in_flight.items() if numbers])
            for worker in [worker for worker in self._workers if worker in ready]:
                done[in_flight[worker].pop(0)] = worker.recv()
                send_next(worker)
            while following in done:
                yield from done.pop(following)
                following += 1


def processors() -> int:
    """Return how many workers are worth while on this machine; 1 where none can be forked."""
    if "fork" not in multiprocessing.get_all_start_methods():
        return 1
    return min(
        MOST_WORKERS, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1
    )


@contextmanager
def worker_pool(successors: Successors, workers: int) -> Iterator[WorkerPool]:
    """Run a pool of so many workers; one worker is this process itself."""
    if workers < 2:  # noqa: PLR2004 - alone
        yield _InProcess(successors)
        return
    fork = multiprocessing.get_context("fork")
    ours: list[Connection] = []
    processes: list[BaseProcess] = []
    try:
        for _ in range(workers):
            our_end, their_end = fork.Pipe()
            ours.append(our_end)
            process = fork.Process(target=_work, args=(successors, their_end, ours), daemon=True)
            process.start()
            processes.append(process)
            their_end.close()
        yield _Forked(ours)
    finally:
        for started in processes:
            started.kill()  # It holds nothing that would have to be saved.
            started.join()


def _work(successors: Successors, pipe: Connection, ours: list[Connection]) -> None:
    """Work on tasks until nobody sends any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asked.
    for our_end in ours:
        our_end.close()  # Only the process that asked holds these ends: with it they are gone.
    methods: dict[Method, Callable[..., Expansion]] = {
        "after_events": successors.after_events,
        "after_answers": successors.after_answers,
    }
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            method, batch = pipe.recv()
            pipe.send([methods[method](*task) for task in batch])
