"""Nights turn at the room's own noon, in every zone, on leap days and where clocks change.

Local times are those of the IANA time zone database (BCP 175), as Python's zoneinfo reads it.
"""

from __future__ import annotations

import json
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from adapters.cli.night_export import export_night
from adapters.live.drafts import Committed
from adapters.live.journal_reader import JournalReader
from engine.events import (
    Event,
    LensReport,
    Mark,
    Outcome,
    PanelReport,
    Playback,
    RatioSeen,
    TimeOfDay,
    Title,
)
from engine.room_engine import RoomEngine
from engine.state import night_at
from rules.room.load import load
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import Stage, ZonedClock, differences, staged

HOUR = 3_600_000
ZONES = (
    *("Europe/Lisbon", "America/New_York", "America/Los_Angeles", "America/St_Johns"),
    *("America/Adak", "Pacific/Honolulu", "Pacific/Pago_Pago", "Pacific/Kiritimati"),
    *("Pacific/Auckland", "Pacific/Chatham", "Australia/Lord_Howe", "Asia/Tokyo", "Asia/Kathmandu"),
)
LATE = HAYLOFT.text.replace(
    "  rows:\n",
    """  rows:
    - name: late
      case: {time: "[00:30..02:30)", playback: playing}
      show: {picture: plain, lift: 0 %, cues: {lamps: full}}
      because: Whoever is up so late finds the door.
""",
    1,
)
LEAP_DAY = "2028-02-29"


def odd_days(zone: ZoneInfo) -> set[date]:
    """Give the leap day of 2028, and the days on which a zone's clocks change in that year."""
    days = {date(2028, 2, 29)}
    moment = datetime(2028, 1, 1, tzinfo=UTC)
    while moment.year == 2028:
        local, later = moment.astimezone(zone), (moment + timedelta(hours=1)).astimezone(zone)
        if local.utcoffset() != later.utcoffset():
            days.add(later.date())
        moment += timedelta(hours=1)
    return days


@pytest.mark.parametrize("name", ZONES)
def test_nights_turn_at_noon_and_at_no_other_time(name: str) -> None:
    zone, quarter = ZoneInfo(name), timedelta(minutes=15)
    for day in odd_days(zone):
        engine = RoomEngine(HAYLOFT)
        moment = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(days=2)
        night: int | None = None
        turned: list[datetime] = []
        for _ in range(5 * 96):
            local, now = moment.astimezone(zone), int(moment.timestamp()) * 1_000
            engine.receive(TimeOfDay(minute=60 * local.hour + local.minute), now)
            before, night = night, night_at(engine.state.core, now)
            if before is not None and night != before:
                assert night == before + 1
                turned.append(local)
            moment += quarter
        assert {one.strftime("%H:%M") for one in turned} == {"12:00"}
        days = [one.date() for one in turned]
        assert days == [days[0] + timedelta(days=number) for number in range(len(days))]
        assert len(days) >= 4


def moment(text: str) -> int:
    """Read a moment in UTC as ms."""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()) * 1_000


class Evening:
    """A wide film by the room's own clock, and when, by UTC, the lamps are told what."""

    def __init__(self, stage: Stage) -> None:
        self.stage = stage
        self.lamps: list[str] = []
        self.others: set[str] = set()
        self.hear(*LIT, LensReport(moving=False, preset="broad"), PanelReport(panels="open"))
        self.hear(
            Playback(state="playing"), Title(begun=True, declared=2.39), RatioSeen(ratio=2.39)
        )
        self.goes_on_to(stage.clock.time + 60_000)
        self.lamps.clear()
        self.others.clear()

    def hear(self, *events: Event) -> None:
        self._carry_out(self.stage.hear(*events))

    def _carry_out(self, committed: Committed) -> None:
        now = datetime.fromtimestamp(self.stage.clock.time // 1_000, UTC)
        for said, _ in committed.messages:
            order = json.loads(said.body)
            self.others.add(order["kind"])
            if order["kind"] == "cue":
                self.lamps.append(f"{now:%d %H:%M} {order['value']}")
            if order["kind"] in ("cue", "picture"):
                self.hear(Outcome(order=order["id"], outcome="done"))

    def goes_on_to(self, end: int) -> None:
        stage = self.stage
        while (due := stage.durable.deadline) is not None and due <= end:
            stage.clock.time = max(due, stage.clock.time)
            self._carry_out(stage.note(stage.durable.pass_time()))
        stage.clock.time = end


@pytest.mark.parametrize(
    ("begins", "ends", "lamps"),
    [
        ("2028-02-29T21:00", "2028-03-01T04:00", ["01 00:30 full", "01 02:30 low"]),
        ("2028-03-25T22:00", "2028-03-26T05:00", ["26 00:30 full", "26 01:30 low"]),
        ("2028-10-28T21:00", "2028-10-29T05:00", ["28 23:30 full", "29 02:30 low"]),
    ],
    ids=["leap day", "clocks go forward", "clocks go back"],
)
def test_a_film_goes_on_over_the_leap_day_and_over_both_changes_of_the_clock(
    begins: str, ends: str, lamps: list[str], tmp_path: Path
) -> None:
    """Only what looks at the time follows the clock: the hour that comes twice is late twice."""
    room = load(LATE, "hayloft.yaml")
    with staged(room, tmp_path / "journal", moment(begins), ZonedClock) as stage:
        evening = Evening(stage)
        evening.goes_on_to(moment(ends))
        assert evening.lamps == lamps
        assert evening.others == {"cue"}
        assert stage.refusals == []
        stage.restart()
        evening.hear(Mark(words="after a restart"))
        assert stage.durable.engine.state.core.title_name is None
        assert stage.durable.engine.state.core.playback == "playing"
        assert differences(room, stage.lines()) == []


@pytest.mark.parametrize("zone", ["America/New_York", "Pacific/Auckland", "Europe/Lisbon"])
def test_an_evening_is_one_night_of_the_journal_wherever_the_room_is(
    zone: str, tmp_path: Path
) -> None:
    """From seven to one o'clock; the noon before it and the noon after it each begin another."""
    text, local = HAYLOFT.text.replace("Europe/Lisbon", zone), ZoneInfo(zone)
    noon = int(datetime(2028, 2, 29, 12, tzinfo=local).timestamp()) * 1_000
    told = [noon - HOUR, *(noon + HOUR * hour for hour in (1, 7, 8, 10, 13, 23)), noon + 25 * HOUR]
    path = tmp_path / "journal"
    with staged(load(text, "hayloft.yaml"), path, told[0], ZonedClock) as stage:
        for number, at in enumerate(told):
            stage.clock.time = at
            stage.hear(Mark(words=f"mark {number}"))
    lines = b"".join(export_night(path, None, LEAP_DAY, "2028-03-01", without_titles=False).lines)
    assert [number for number in range(len(told)) if f"mark {number}".encode() in lines] == [
        *range(1, 7)
    ]
    with closing(JournalReader(path)) as past:
        assert [(one.begins - noon) // HOUR for one in past.nights("hayloft")] == [-1, 1, 25]
