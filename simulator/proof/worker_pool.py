"""Workers that do a proof's work side by side: one process for each processor.

Processes are forked, so that each begins with what is known; only tasks and results are sent to and
fro. Results come in the order of the tasks, so that any number of workers finds the same. Only
pipes connect the processes: no thread and no lock can be left behind when somebody breaks off.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, Final, Protocol, TypeVar, TypeVarTuple

from simulator.proof.stopping import Stop, go_on, never

BATCH: Final = 8
"""The number of tasks that go to a process together."""
IN_FLIGHT: Final = 2
"""The number of batches a process has: while it works on one, the next lies ready."""
MOST_WORKERS: Final = 8
PATIENCE: Final = 0.1
"""Whether to break off is asked at least so often while nobody has a result, seconds."""

Function = Callable[..., Any]
Arguments = TypeVarTuple("Arguments")
Result = TypeVar("Result")


class WorkerPool(Protocol):
    """Calls functions, in whatever processes."""

    def results(
        self,
        function: Callable[[*Arguments], Result],
        tasks: Sequence[tuple[*Arguments]],
        subjects: Sequence[Hashable] = (),
    ) -> Iterator[Result]:
        """Call one of the pool's functions for each task, which is a tuple of its arguments.

        `subjects` says for each task what it is about. Whoever had a subject gets it again where
        that is possible, and so need not learn anew what it knows of it. The tasks of one subject
        are handed out in their order, whoever gets them. Raises `BrokenOff` once the pool's `stop`
        says so, however long a task takes; nothing more can be had of the pool then.
        """


class _InProcess:
    def __init__(self, stop: Stop) -> None:
        self._stop = stop

    def results(
        self,
        function: Callable[[*Arguments], Result],
        tasks: Sequence[tuple[*Arguments]],
        subjects: Sequence[Hashable] = (),  # noqa: ARG002 - this process gets them all
    ) -> Iterator[Result]:
        for task in tasks:
            go_on(self._stop)
            yield function(*task)


class _Forked:
    def __init__(
        self, functions: Sequence[Function], workers: list[Connection], stop: Stop
    ) -> None:
        self._functions = functions
        self._workers = workers
        self._stop = stop
        self._known_to: dict[Hashable, Connection] = {}
        """Who had each subject first."""

    def results(
        self,
        function: Callable[[*Arguments], Result],
        tasks: Sequence[tuple[*Arguments]],
        subjects: Sequence[Hashable] = (),
    ) -> Iterator[Result]:
        """Send tasks, a batch at a time, to whoever is free; yield results in the tasks' order."""
        number_of_function = self._functions.index(function)
        waiting: dict[Hashable, deque[int]] = {}
        for number in range(len(tasks)):
            subject = subjects[number] if subjects else None
            waiting.setdefault(subject, deque()).append(number)
        in_flight: dict[Connection, list[list[int]]] = {worker: [] for worker in self._workers}
        done: dict[int, Result] = {}

        def send_next(worker: Connection) -> None:
            if waiting:
                batch = self._batch_for(worker, waiting)
                worker.send((number_of_function, [tasks[number] for number in batch]))
                in_flight[worker].append(batch)

        for worker in self._workers * IN_FLIGHT:
            send_next(worker)
        following = 0
        while any(in_flight.values()):
            busy = [worker for worker, batches in in_flight.items() if batches]
            ready = wait(busy, PATIENCE)
            go_on(self._stop)
            for worker in [worker for worker in self._workers if worker in ready]:
                done |= zip(in_flight[worker].pop(0), worker.recv(), strict=True)
                send_next(worker)
            while following in done:
                yield done.pop(following)
                following += 1

    def _batch_for(self, worker: Connection, waiting: dict[Hashable, deque[int]]) -> list[int]:
        """Take the next tasks for a worker: of a subject it knows, else of one nobody knows."""
        known_to = self._known_to
        own = next((one for one in waiting if known_to.get(one) is worker), None)
        new = [one for one in waiting if one not in known_to]
        subject = own if own is not None else max(new or waiting, key=lambda one: len(waiting[one]))
        known_to.setdefault(subject, worker)
        numbers = waiting[subject]
        batch = [numbers.popleft() for _ in range(min(BATCH, len(numbers)))]
        if not numbers:
            del waiting[subject]
        return batch


def processors() -> int:
    """Return how many workers are worth while on this machine; 1 where none can be forked."""
    if "fork" not in multiprocessing.get_all_start_methods():
        return 1
    return min(
        MOST_WORKERS, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1
    )


@contextmanager
def worker_pool(
    functions: Sequence[Function], workers: int, stop: Stop = never
) -> Iterator[WorkerPool]:
    """Run a pool of so many workers for these functions; one worker is this process itself."""
    if workers < 2:  # noqa: PLR2004 - alone
        yield _InProcess(stop)
        return
    fork = multiprocessing.get_context("fork")
    ours: list[Connection] = []
    processes: list[BaseProcess] = []
    gc.freeze()  # What is known stays, so nobody looks through it again and again for garbage.
    try:
        for _ in range(workers):
            our_end, their_end = fork.Pipe()
            ours.append(our_end)
            process = fork.Process(target=_work, args=(functions, their_end, ours), daemon=True)
            process.start()
            processes.append(process)
            their_end.close()
        yield _Forked(functions, ours, stop)
    finally:
        for started in processes:
            started.kill()  # It holds nothing that would have to be saved.
            started.join()
        gc.unfreeze()


def _work(functions: Sequence[Function], pipe: Connection, ours: list[Connection]) -> None:
    """Work on tasks until nobody sends any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asked.
    gc.disable()  # Half steps leave no cycles behind; looking for them takes a fifth of the time.
    for our_end in ours:
        our_end.close()  # Only the process that asked holds these ends: with it they are gone.
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            number, batch = pipe.recv()
            pipe.send([functions[number](*task) for task in batch])
