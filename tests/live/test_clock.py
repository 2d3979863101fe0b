"""The machine's clock is set while a room is live: libfaketime shows roomcue another time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from adapters.live.journal_reader import JournalReader
from adapters.live.messages import rfc3339
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish_all

FAKETIME = str(next(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1")))
IN = "roomcue/hayloft/in"
FEW_MINUTES = timedelta(minutes=10)
SOON = 12
"""A room looks at the clock as a minute begins: wrong clocks are so many seconds before that."""


class Watch:
    """What time roomcue sees: the true one, and so many seconds more."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "watch"
        self.off(0)

    def off(self, seconds: int) -> None:
        """Set it. A file is replaced whole, so that nobody reads half of it."""
        new = self._file.with_suffix(".new")
        new.write_text(f"{seconds:+d}\n")
        new.replace(self._file)

    @property
    def env(self) -> dict[str, str]:
        return {
            "LD_PRELOAD": FAKETIME,
            "FAKETIME_TIMESTAMP_FILE": str(self._file),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
        }


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", keeps=True) as one:
        yield one


@pytest.mark.parametrize("hours", [3, -5])
def test_a_clock_that_was_wrong_and_is_set_right_costs_nothing(
    broker: Mosquitto, tmp_path: Path, hours: int
) -> None:
    """Dated reports are taken before and after it, and orders are dated by the clock as it is."""
    watch, journal = Watch(tmp_path), tmp_path / "journal"
    off = hours * 3_600 + (60 - SOON - now().second) % 60
    watch.off(off)
    wrong = timedelta(seconds=off)
    with (
        Roomcue([DEMO_ROOM], journal, port=broker.port, env=watch.env) as room,
        Listener(broker.port, "roomcue/hayloft/out/#") as listener,
    ):
        publish_all(broker.port, [dated("projector", "state", "lit", wrong)])
        publish_all(broker.port, [dated("source", "source", "disc", wrong)])
        order = listener.wait_for(lambda one: one.subtopic == "order", "an order")
        assert abs(moment(order.data["at"]) - now() - wrong) < FEW_MINUTES
        watch.off(0)
        until(lambda: "clock was set" in room.said(), "it is noticed")
        before = len(listener.of("order"))
        publish_all(broker.port, [dated("playback", "state", "playing")])
        until(lambda: len(listener.of("order")) > before, "an order of the film")
        later = listener.of("order")[before].data
        assert abs(moment(later["at"]) - now()) < FEW_MINUTES
        refused = [one.data for one in listener.of("reason") if one.data["kind"] == "refused"]
        assert [one for one in refused if one["code"] == "stale"] == []
        room.stop()
        watch.off(off)
        room.start()
        until(lambda: room.said().count("The clock was set") == 2, "it is found set again")
    with closing(JournalReader(journal)) as past:
        nights = past.nights("hayloft")
    assert len(nights) == 3
    for number, night in enumerate(nights):
        file, begins = tmp_path / f"{number}.jsonl", rfc3339(night.begins)
        exported = run("export", "--journal", journal, "--from", begins, "--out", file)
        assert exported.exit_code == 0, exported.output
        assert "byte for byte" in run("replay", file, "--verify").output


def dated(subtopic: str, name: str, value: str, off: timedelta = timedelta()) -> tuple[str, str]:
    at = (now() + off).isoformat()
    return f"{IN}/{subtopic}", f'{{"{name}":"{value}","at":"{at}"}}'


def now() -> datetime:
    return datetime.now(UTC)


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
