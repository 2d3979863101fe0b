"""Workers give their results in the tasks' order, and a subject goes back to who knows it."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterator

import pytest

from simulator.proof.stopping import BrokenOff
from simulator.proof.worker_pool import WorkerPool, worker_pool

WORKERS = 3
SUBJECTS = [number * number % 7 for number in range(60)]
done: list[int] = []
"""What this process has done so far."""


def work(number: int) -> tuple[int, int, tuple[int, ...]]:
    """Tell which task it is, who does it, and what they had done before."""
    before = tuple(done)
    done.append(number)
    return number, os.getpid(), before


@pytest.fixture
def pool() -> Iterator[WorkerPool]:
    done.clear()
    with worker_pool((work,), WORKERS) as made:
        yield made


def test_results_come_in_the_order_of_the_tasks(pool: WorkerPool) -> None:
    tasks = [(number,) for number in range(len(SUBJECTS))]
    for subjects in ((), SUBJECTS):
        found = [number for number, _, _ in pool.results(work, tasks, subjects)]
        assert found == [*range(len(SUBJECTS))]


def test_the_tasks_of_a_subject_are_done_in_their_order_by_whoever_does_them(
    pool: WorkerPool,
) -> None:
    tasks = [(number,) for number in range(len(SUBJECTS))]
    for number, _, before in pool.results(work, tasks, SUBJECTS):
        assert all(one < number for one in before if SUBJECTS[one] == SUBJECTS[number])


def test_what_fits_into_one_batch_stays_with_whoever_knows_its_subject(pool: WorkerPool) -> None:
    """Six subjects of two tasks each: nobody has to help anybody out."""
    subjects = [number % 6 for number in range(12)]
    who: defaultdict[int, set[int]] = defaultdict(set)
    for number, process, _ in pool.results(work, [(one,) for one in range(12)], subjects):
        who[subjects[number]].add(process)
    assert all(len(processes) == 1 for processes in who.values())
    assert len(set[int]().union(*who.values())) == WORKERS


def test_a_proof_without_subjects_is_shared_out_too(pool: WorkerPool) -> None:
    assert len({process for _, process, _ in pool.results(work, [(one,) for one in range(60)])}) > 1


def wait_for_ever(end: int) -> bytes:
    """Read from a pipe into which nobody writes."""
    return os.read(end, 1)


@pytest.mark.parametrize("questions", [1, 3])
def test_a_task_that_never_ends_keeps_nobody_from_breaking_off(questions: int) -> None:
    ends = os.pipe()
    left = iter(range(questions))
    with (
        pytest.raises(BrokenOff),
        worker_pool((wait_for_ever,), WORKERS, lambda: next(left, None) is None) as pool,
    ):
        [*pool.results(wait_for_ever, [(ends[0],)] * WORKERS)]
    assert next(left, None) is None
    for end in ends:
        os.close(end)


def test_a_pool_of_one_asks_before_each_task() -> None:
    left = iter(range(2))
    with worker_pool((work,), 1, lambda: next(left, None) is None) as pool:
        found = pool.results(work, [(1,), (2,), (3,)])
        assert [next(found)[0], next(found)[0]] == [1, 2]
        with pytest.raises(BrokenOff):
            next(found)
