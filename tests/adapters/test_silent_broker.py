"""A broker that keeps a connection and acknowledges nothing over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.live import answer_watch, connection, live_room
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


async def test_an_order_for_which_a_slow_broker_had_no_room_before_its_end_is_given_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cue that is over is not ordered again, but this one never left."""
    monkeypatch.setattr(live_room, "RETRY_AFTER", 0.0)
    async with connected(tmp_path, acknowledges=False, receive_maximum=1, greeting=1) as one:
        one.hear(*LIT)
        (cue,) = one.stage.durable.engine.state.core.open_cues
        while one.stage.clock.time < cue.ends:
            one.stage.clock.time += 1_000
            one.room.look_at_clock()
        assert one.stage.durable.engine.state.core.open_cues == ()

        def is_given_again() -> bool:
            one.broker.acknowledge_all()
            return any(kind == "cue" for kind, _ in one.broker.orders())

        await one.broker.until(is_given_again)
        ((_, again),) = [order for order in one.broker.orders() if order[0] == "cue"]
        assert again is not None
        assert again > cue.id


def test_a_broker_is_silent_only_while_something_waits_for_it() -> None:
    watch = SilenceWatch()
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert not watch.lasts(MOST_SILENT, waits=False)
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    watch.broken = True
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert not watch.lasts(MOST_SILENT - 1, waits=True)
    assert watch.lasts(1, waits=True)
