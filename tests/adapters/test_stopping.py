"""Which signals end rooms cleanly."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Iterator

import pytest

from adapters.live.run_rooms import stopped_by_signals
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
