"""Which promises a replayed night breaks, and when."""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.events import Event, Mark, Playback, RatioSeen, SourceChosen
from engine.room import Room
from engine.state import first_state
from rules.room.load import load
from simulator.nights.night_file import NightEntry
from simulator.nights.promises import judge_of
from simulator.nights.replay import ReplayStep, replay
from tests.simulator.proofs import STUDY, promised, study

SECOND = 1_000
STRETCHED = STUDY.replace("show: {picture: whole}", "show: {picture: gentle}")
WAIVED = STRETCHED.replace(
    "sources:\n", "waived: [{promise: menus plain, because: They are pictures.}]\nsources:\n"
)
A_MENU: tuple[tuple[int, Event], ...] = (
    (0, SourceChosen(source="disc")),
    (1, Playback(state="stopped")),
    (2, RatioSeen(ratio=2.2)),
    (20, Mark()),
    (21, Mark()),
)


def broken_at(room: Room, events: tuple[tuple[int, Event], ...]) -> list[tuple[int, str]]:
    """Replay events, given in seconds; tell the promises that break, each with its second."""
    entries = [
        NightEntry(number, second * SECOND, event, None)
        for number, (second, event) in enumerate(events, start=2)
    ]
    found = []
    for one in replay(RoomEngine(room), entries, until=60 * SECOND):
        assert isinstance(one, ReplayStep)
        found += [(one.entry.now // SECOND, promise.label) for promise in one.broken]
    return found


def test_a_night_that_breaks_a_built_in_promise_says_so_once_at_the_next_line() -> None:
    """A stretched menu breaks its promise when it is ordered, not again while it stands."""
    assert broken_at(load(STRETCHED, "study.yaml"), A_MENU) == [(20, "menus plain")]


def test_a_promise_that_the_room_waives_is_not_judged() -> None:
    assert broken_at(load(WAIVED, "study.yaml"), A_MENU) == []


@pytest.mark.parametrize(
    ("never", "broken"),
    [
        ('{preset: "null"}', True),
        ('{picture: "null"}', False),
        ('{preset: "null", lift: "null"}', False),
    ],
)
def test_while_a_picture_waits_for_the_last_change_only_what_tests_it_is_not_judged(
    never: str, broken: bool
) -> None:
    room = load(study(promised(never)), "study.yaml")
    state = first_state(room)
    judge = judge_of(room, "mine")
    assert judge(state, (), state)
    state.core.holds = ("flash",)
    assert judge(state, (), state) is broken


def test_a_night_that_keeps_its_promises_says_nothing() -> None:
    assert broken_at(load(STUDY, "study.yaml"), A_MENU) == []
