"""What one step saves itself, and what it never leaves out.

Each test fails if a condition is left out or turned round.
"""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.events import Event, Override, Playback, RatioSeen, SourceChosen
from engine.state import State
from engine.step import step
from engine.transaction import Transaction
from tests.engine.moments import films, ms
from tests.engine.story import UNANSWERED, Story, changed, shape

# ------------------------------------------------------------------------------ quiet readings


def kept(story: Story, second: float, event: Event) -> tuple[State, State]:
    """Give the State before and after an event."""
    before = story.engine.state
    assert story.at(second, event) == []
    return before, story.engine.state


def test_a_reading_that_settles_nothing_is_kept_without_a_copy_of_the_rest() -> None:
    """Most events are such readings, so nothing is chosen or ordered anew for them."""
    before, after = kept(films(), 40, shape(2.39, bottom=30))
    assert after.settling.reading != before.settling.reading
    assert after.core is before.core


def test_a_reading_that_does_not_count_leaves_the_very_state_that_was() -> None:
    story = Story(UNANSWERED)
    story.at(5, SourceChosen(source="console"))
    story.at(6, None)
    before, after = kept(story, 6, shape(2.39))
    assert after is before


def test_a_reading_that_settles_at_once_is_chosen_for_at_once() -> None:
    """So it is in a room whose shapes need not stand for a while."""
    hasty = changed(
        ("orders: {answered: yes}\n", ""),
        ("{taller: 500 ms, wider: 4 s}", "{taller: 0 s, wider: 0 s, odd: 0 s}"),
    )
    story = Story(hasty)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="playing"))
    story.at(11, RatioSeen(ratio=2.39))  # The first word of a detector is looked at closely anyway.
    story.at(12, RatioSeen(ratio=2.20))
    assert story.pictures()[-1] == "gentle"


# ---------------------------------------------------------------------------------------- time


@pytest.mark.parametrize("by_itself", [True, False], ids=["time alone", "with an event"])
def test_whoever_comes_late_is_told_all_that_fell_due_meanwhile(*, by_itself: bool) -> None:
    """The film's shape settles, the lens is sent off, and it does not say that it arrives."""
    prompt, late = Story(UNANSWERED), Story(UNANSWERED)
    prompt.film(10, 1.78)
    late.film(10, 1.78)
    told = prompt.at(100, None)
    assert sorted({one.at for one in told}) == [ms(23), ms(50)]
    state, decisions = step(
        UNANSWERED, late.engine.state, None if by_itself else Playback(state="playing"), ms(100)
    )
    assert list(decisions) == told
    assert state.due == prompt.engine.state.due


# ------------------------------------------------------------------------- choosing once more


def test_under_an_override_the_picture_that_was_just_ordered_counts_as_standing() -> None:
    """A menu is not left distorted. The plain picture is what stands afterwards, and is wanted."""
    story = films(ratio=2.20)
    assert story.pictures()[-1] == "gentle"
    story.at(40, Override(taken=True, until="session"))
    assert story.core.wanted.picture == "gentle"
    story.at(50, Playback(state="stopped"))
    assert story.pictures()[-1] == "plain"
    assert story.core.wanted.picture == "plain"


# ------------------------------------------------------------------------------------ the copy


@pytest.mark.parametrize("own", [True, False])
def test_a_transaction_works_on_a_copy_unless_the_core_is_its_own(*, own: bool) -> None:
    state = RoomEngine(UNANSWERED).state
    tx = Transaction(UNANSWERED, state, ms(0), own=own)
    assert (tx.core is state.core) is own
    assert tx.core == state.core
