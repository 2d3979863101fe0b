"""Records of any evening: lanes without a hole, troubles inside the night, sums that fit."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.render.night_report import ReportInput, night_report
from engine import RoomEngine
from rules.room.load import load
from simulator.nights.night_file import NightEntry
from simulator.nights.night_record import record_night
from simulator.nights.replay import replay
from simulator.nights.sums import sums_of
from simulator.nights.troubles import roots_at, troubles_of
from simulator.shipped import ROOMS
from tests.engine.meetings import START, evenings
from tests.soak import sample

SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]


@settings(max_examples=sample(30, 1_000), deadline=None)
@given(st.data())
def test_whatever_is_heard_has_a_record_and_a_report(data: st.DataObject) -> None:
    """Spans follow each other up to the end, chains go forward, and looks fit into what played."""
    room = data.draw(st.sampled_from(SHIPPED))
    now, entries = START, list[NightEntry]()
    for number, (wait, event) in enumerate(data.draw(evenings(room))):
        now += wait
        entries.append(NightEntry(number, now, event, None))
    engine = RoomEngine(room)
    record = record_night(
        engine, START, entries, lambda heard, see: replay(engine, heard, None, see)
    )
    assert record.ends == now
    for spans in record.lanes.values():
        assert not spans or (spans[0].start, spans[-1].end) == (START, now)
        assert all(one.end == other.start for one, other in pairwise(spans))
    troubles = troubles_of(record)
    for one in troubles:
        assert START <= one.at <= one.until <= now
        assert one.words.endswith((".", "!", "?", ":")) or one.kind in {"broken", "marked"}
        assert all(START <= cause.at <= now for cause in one.causes)
        assert all(before.at <= after.at for before, after in pairwise(one.causes))
    assert all(cause.at <= now for cause in roots_at(record, now))
    sums = sums_of(record)
    assert sum(look.ms for look in sums.looks) <= sums.played <= now - START
    made = sum(len(step.decisions) for step in record.steps)
    assert sums.decisions == made == sum(len(one.decisions) for one in record.moments)
    assert night_report(ReportInput(record, troubles, sums, (), None, "0"))
