"""A room that begins anew with people at work waits for them as if it had never forgotten them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import RoomEngine
from engine.decisions import PictureOrder, Prompt, RecallOrder
from engine.events import Answer, ProjectorReport, Service, SourceChosen
from engine.people_at_work import PeopleAtWork, PersonAtScreen, with_people_at_work
from engine.room import DARK
from engine.snapshot import decode, encode
from engine.state import State, first_state
from tests.engine.invariants import violations
from tests.engine.meetings import START, evenings
from tests.engine.story import HAYLOFT, Story
from tests.engine.test_step import Evening, steps

PACE = HAYLOFT.pace
HOUR = 3_600_000
PEOPLE = st.builds(
    PersonAtScreen,
    st.sampled_from([*HAYLOFT.panels, None]),
    st.sampled_from([None, "Ana"]),
    st.booleans(),
    st.integers(START - HOUR, START + HOUR),
)


def begun(at_screen: PersonAtScreen | None, *, technician: bool = False) -> State:
    """Begin anew with people at work."""
    found = PeopleAtWork(at_screen, technician)
    return with_people_at_work(HAYLOFT, first_state(HAYLOFT), found, START)


@given(evening=evenings(HAYLOFT), at_screen=st.none() | PEOPLE, technician=st.booleans())
def test_whatever_is_heard_nobody_is_lit_and_nothing_moves(
    evening: Evening, at_screen: PersonAtScreen | None, *, technician: bool
) -> None:
    """And all that must always hold holds from there on."""
    begins = begun(at_screen, technician=technician)
    assert decode(encode(begins)) == begins
    for before, decisions, after in steps(HAYLOFT, evening, begins):
        assert violations(HAYLOFT, before, decisions, after) == []
        there = [one.core.asked for one in (before, after)]
        if after.core.service or all(one is not None and one.at_screen for one in there):
            lit = [one for one in decisions if isinstance(one, PictureOrder)]
            assert {one.picture for one in lit} <= {DARK}
            assert not [one for one in decisions if isinstance(one, RecallOrder)]


def test_it_stands_as_after_their_ready() -> None:
    story = Story()
    story.film(0, 1.78)
    asked = next(one for one in story.at(60, None) if isinstance(one, Prompt))
    story.at(60, Answer(prompt=asked.id, answer="ready", who="Ana"))
    known, now = story.core, START + 60_000
    assert known.asked is not None
    found = PersonAtScreen("sides", "Ana", known.asked.sent, now + PACE.give_up)
    state = with_people_at_work(HAYLOFT, first_state(HAYLOFT), PeopleAtWork(found), now)
    assert state.core.asked is not None
    assert state.core.asked._replace(id=known.asked.id) == known.asked
    for name in ("remind", "give_up"):
        assert getattr(state.core.timers, name) == getattr(known.timers, name)
    assert state.core.panels == "asked"


@pytest.mark.parametrize(
    ("ends", "warned", "light"),
    [
        (START - HOUR, 1, 1 + PACE.remind),
        (START + PACE.remind, 1, 1 + PACE.remind),
        (START + 2 * PACE.remind, PACE.remind, 2 * PACE.remind),
        (START + HOUR, PACE.give_up - PACE.remind, PACE.give_up),
    ],
    ids=["over", "nearly over", "to come", "too far ahead"],
)
def test_they_are_warned_in_good_time_before_the_light_comes_back(
    ends: int, warned: int, light: int
) -> None:
    engine = RoomEngine(HAYLOFT, begun(PersonAtScreen("sides", None, True, ends)))
    assert engine.deadline == START + warned
    (warning,) = engine.receive(None, START + warned).decisions
    assert isinstance(warning, Prompt)
    assert (warning.stage, warning.ends) == ("light comes back", START + light)
    assert engine.state.core.timers.give_up == START + light


def test_nothing_is_ordered_until_a_technician_is_done() -> None:
    engine = RoomEngine(HAYLOFT, begun(None, technician=True))
    for event in (ProjectorReport(state="lit"), SourceChosen(source="disc")):
        assert engine.receive(event, START).decisions == ()
    decisions = engine.receive(Service(begun=False), START).decisions
    assert any(isinstance(one, PictureOrder) for one in decisions)
