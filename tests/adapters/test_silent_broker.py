"""A broker that keeps a connection and acknowledges nothing over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.live import answer_watch, connection
from adapters.live.answer_watch import MOST_SILENT, SilenceWatch
from tests.adapters.test_connection import LIT, connected


async def test_a_broker_that_acknowledges_nothing_is_connected_to_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once all that may be in flight is, no order could leave any more."""
    monkeypatch.setattr(answer_watch, "MOST_SILENT", 0.05)
    monkeypatch.setattr(connection, "HOUSEKEEPING_INTERVAL", 0.01)
    async with connected(tmp_path, acknowledges=False, receive_maximum=3) as one:
        one.hear(*LIT)
        await one.broker.until(lambda: len(one.broker.orders()) > 0)
        assert one.broker.connections > 1
        assert "broker acknowledges nothing" in one.logged()


def test_a_broker_is_silent_only_while_something_waits_for_it() -> None:
    watch = SilenceWatch()
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert not watch.lasts(MOST_SILENT, waits=False)
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    watch.broken = True
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert watch.lasts(1, waits=True)
