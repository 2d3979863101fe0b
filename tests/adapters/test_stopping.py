"""Which signals end rooms cleanly."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Iterator

import pytest

from adapters.live.stop_signals import (
    STOPPING,
    signals_put_back_unless_stopped,
    stopped_by_signals,
)
from tests.adapters.staging import turns


@pytest.fixture(autouse=True)
def handlers() -> Iterator[None]:
    """Put back what was to be done about signals."""
    before = {one: signal.getsignal(one) for one in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)}
    yield
    for one, handler in before.items():
        signal.signal(one, handler)


@pytest.mark.parametrize("one", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
async def test_a_service_manager_a_key_and_a_closed_terminal_stop_rooms(one: int) -> None:
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    stop = asyncio.Event()
    with stopped_by_signals(stop):
        os.kill(os.getpid(), one)
        await asyncio.wait_for(stop.wait(), 60)


async def test_rooms_outlive_the_terminal_where_whoever_started_them_said_so() -> None:
    """As `nohup` does."""
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    stop = asyncio.Event()
    with stopped_by_signals(stop):
        os.kill(os.getpid(), signal.SIGHUP)
        await turns()
    assert not stop.is_set()


@pytest.mark.parametrize("one", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_whoever_stops_rooms_again_does_not_end_them_while_the_journal_is_closed(one: int) -> None:
    """Up to the end of the process: the event loop has gone by then."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)

    async def live() -> bool:
        stop = asyncio.Event()
        with stopped_by_signals(stop):
            os.kill(os.getpid(), one)
            await asyncio.wait_for(stop.wait(), 60)
            os.kill(os.getpid(), one)
        return stop.is_set()

    with signals_put_back_unless_stopped() as signals:
        signals.stopped = asyncio.run(live())
        os.kill(os.getpid(), one)
    os.kill(os.getpid(), one)


def test_signals_do_what_they_did_once_rooms_have_ended_by_themselves() -> None:
    before = {one: signal.getsignal(one) for one in STOPPING}

    async def live() -> None:
        with stopped_by_signals(asyncio.Event()):
            pass

    with signals_put_back_unless_stopped():
        asyncio.run(live())
        for one in STOPPING:
            os.kill(os.getpid(), one)
    assert {one: signal.getsignal(one) for one in STOPPING} == before
