"""What was told before something else was: by that a message that a broker kept is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine import RoomEngine
from engine.events import (
    Event,
    LensReport,
    Playback,
    ProjectorReport,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
)
from engine.state import TELLS, first_state
from engine.told_words import is_told_before, says_what_stands, without_words, words_before
from engine.transaction import HEARD_KEPT
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, Story

DISC, STREAMER = SourceChosen(source="disc"), SourceChosen(source="streamer")
PLAYS = Playback(state="playing", source="disc")
STOPPED = Playback(state="stopped", source="disc")
ONE, OTHER = Title(begun=True, name="one film"), Title(begun=True, name="another")
WIDE = Signal(locked=True, columns=3_840, rows=2_160, range="high", three_d=False)
GUESTS = ToldFact(fact="guests", value=True)
NO_GUESTS = ToldFact(fact="guests", value=False)

PAIRS: dict[str, tuple[Event, Event]] = {
    "projector": (ProjectorReport(state="warming"), ProjectorReport(state="off")),
    "service": (Service(begun=True), Service(begun=False)),
    "source": (DISC, STREAMER),
    "playback": (PLAYS, STOPPED),
    "title": (ONE, OTHER),
    "title, over": (Title(begun=False), ONE),
    "title, begun": (ONE, Title(begun=False, name="one film")),
    "signal": (WIDE, replace(WIDE, rows=1_080)),
    "signal, range": (WIDE, replace(WIDE, range="standard")),
    "signal, 3D": (WIDE, replace(WIDE, three_d=True)),
    "signal, lost": (Signal(locked=False), WIDE),
    "told": (GUESTS, NO_GUESTS),
}


def before(story: Story, event: Event) -> bool:
    """Tell whether an event says what was told before something else was."""
    state = story.engine.state
    return is_told_before(HAYLOFT, state.core, words_before(state), event)


def stands(story: Story, event: Event) -> bool:
    """Tell whether an event says no more than what is known."""
    return says_what_stands(HAYLOFT, story.engine.state.core, event)


def told(*events: Event) -> Story:
    story = Story()
    for second, event in enumerate((DISC, *events), 10):
        story.at(second, event)
    return story


@pytest.mark.parametrize(("old", "new"), PAIRS.values(), ids=[*PAIRS])
def test_what_was_told_is_old_once_something_else_is_told(old: Event, new: Event) -> None:
    story = told(old)
    assert not before(story, old), "it stands"
    assert not before(story, new), "nobody has said so yet"
    story.at(30, new)
    assert before(story, old)
    assert not before(story, new)
    story.at(40, old)
    assert before(story, new)
    assert not before(story, old), "it is so again"


@pytest.mark.parametrize(("old", "new"), PAIRS.values(), ids=[*PAIRS])
def test_what_was_told_last_is_what_stands(old: Event, new: Event) -> None:
    story = told(old)
    assert stands(story, old)
    assert not stands(story, new)
    story.at(30, new)
    assert stands(story, new)
    assert not stands(story, old)


def test_what_leaves_something_unsaid_says_what_stands_if_the_rest_does() -> None:
    story = told()
    assert not stands(story, Title(begun=True)), "none has begun"
    story.at(20, PLAYS)
    assert stands(story, Playback(state="playing"))
    assert not stands(story, Playback(state="stopped"))
    assert not stands(story, Playback(state="playing", source="streamer"))
    assert stands(story, ToldFact(fact="guests", value=None)), "nobody has told otherwise"
    assert not stands(story, ToldFact(fact="nonesuch", value=None))
    story.at(30, ONE)
    story.at(31, GUESTS)
    story.at(32, replace(WIDE, three_d=True))
    assert stands(story, Title(begun=True))
    assert not stands(story, ToldFact(fact="guests", value=None))
    assert stands(story, Signal(locked=True)), "in three dimensions, as it is"
    assert not stands(story, Signal(locked=True, three_d=False))
    assert not stands(story, LensReport(moving=False, preset="tall"))


def test_a_fact_that_is_told_as_nothing_is_its_default() -> None:
    guests = HAYLOFT.told["guests"]._replace(default=False)
    room = replace(HAYLOFT, told={**HAYLOFT.told, "guests": guests})
    state, nothing = told(NO_GUESTS, GUESTS).engine.state, ToldFact(fact="guests", value=None)
    assert is_told_before(room, state.core, words_before(state), nothing)
    assert not says_what_stands(room, state.core, nothing)
    core = told(NO_GUESTS).engine.state.core
    assert says_what_stands(room, core, nothing)
    assert not says_what_stands(HAYLOFT, core, nothing)


def test_a_room_that_has_begun_anew_knows_but_whether_somebody_is_at_work() -> None:
    """What was told before may stand as well as not, and is all that is known."""
    tally = told(ONE, OTHER, Service(begun=True), Service(begun=False)).engine.state.tally
    anew = first_state(HAYLOFT)
    nothing, lit = anew.core, replace(anew.core, projector="warming")
    for core in (nothing, lit, replace(nothing, source="disc")):
        words = words_before(anew._replace(core=core, tally=tally))
        assert is_told_before(HAYLOFT, core, words, Service(begun=True))
        assert is_told_before(HAYLOFT, core, words, ONE) == (core is not nothing)


def test_what_is_told_of_another_source_or_of_none_is_told_apart() -> None:
    story = told(PLAYS, STOPPED)
    assert before(story, Playback(state="playing")), "of whichever source"
    assert not before(story, Playback(state="playing", source="streamer"))
    assert not before(story, Playback(state="stopped"))
    assert not before(story, Playback(state="paused"))
    story.at(30, STREAMER)
    assert before(story, STOPPED), "nobody knows what plays there"
    assert before(story, DISC)


def test_a_part_of_a_signal_is_told_with_the_rest_as_it_is() -> None:
    high = Signal(locked=True, range="high")
    story = told(WIDE, replace(WIDE, range="standard"))
    assert before(story, high)
    assert not before(story, Signal(locked=True, range="standard"))
    assert not before(story, Signal(locked=True, columns=3_840))
    assert not before(story, Signal(locked=True, three_d=True))
    story.at(30, Signal(locked=False))
    assert before(story, Signal(locked=True, range="standard"))


def test_of_a_lens_and_of_facts_that_the_room_has_not_nothing_is_compared() -> None:
    story = told(LensReport(moving=False, preset="tall"), LensReport(moving=False, preset="broad"))
    assert not before(story, LensReport(moving=False, preset="tall"))
    assert not before(story, ToldFact(fact="nonesuch", value=True))


def test_the_oldest_word_of_what_most_is_told_of_is_forgotten() -> None:
    """Names of films have no end; of sources there are few."""
    films = [Title(begun=True, name=f"film {999 - one}") for one in range(HEARD_KEPT)]
    films.insert(0, Title(begun=True, name=f"film{TELLS}0"))
    story = told(STREAMER, GUESTS, *films, NO_GUESTS)
    heard = story.engine.state.tally.heard
    assert len(heard) == HEARD_KEPT
    assert list(heard) == sorted(heard)
    assert before(story, DISC)
    assert before(story, GUESTS)
    forgotten = [film for film in films[:-1] if not before(story, film)]
    assert forgotten == films[: len(forgotten)], "the oldest"
    assert 0 < len(forgotten) < HEARD_KEPT // 2


def test_a_room_of_many_facts_whose_journal_has_no_words_yet_goes_on() -> None:
    """The journals of before have but the dates of what was told; a room may have any number."""
    facts = tuple((f"told fact {one:03}", START) for one in range(HEARD_KEPT))
    state = told().engine.state
    tally = state.tally._replace(heard=facts)
    engine = RoomEngine(HAYLOFT, state._replace(tally=tally))
    assert engine.receive(PLAYS, START + 60_000).refusal is None
    assert [one for one in engine.state.tally.heard if one in facts] == [*facts]
    assert engine.receive(STOPPED, START + 61_000).refusal is None
    assert len(engine.state.tally.heard) == HEARD_KEPT + 1


def test_who_forgets_what_was_told_keeps_since_when_it_is_known() -> None:
    story = told(replace(GUESTS, value=False, who="Ana"), GUESTS, ONE)
    state = story.engine.state
    kept = without_words(state.tally)
    assert [subject for subject, _ in kept.heard] == ["told guests"]
    assert any("one film" in word for word, _ in state.tally.heard)
    assert all(TELLS not in subject for subject, _ in kept.heard)
    assert kept._replace(heard=()) == state.tally._replace(heard=())
