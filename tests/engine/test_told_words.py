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
    moment_of,
)
from engine.state import TELLS, LastHeard, first_state
from engine.told_words import (
    begun_anew,
    is_told_before,
    last_told,
    says_what_stands,
    without_words,
    words_before,
)
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
    """What was told before may stand as well as not, until something else is told of it."""
    service = Service(begun=True), Service(begun=False)
    tally = told(ONE, OTHER, STREAMER, *service, replace(GUESTS, who="Ana")).engine.state.tally
    story = Story()
    story.engine.go_back(first_state(HAYLOFT)._replace(tally=begun_anew(tally)))
    assert before(story, service[0])
    assert not any(before(story, one) for one in (ONE, OTHER, DISC, STREAMER, GUESTS, NO_GUESTS))
    assert story.engine.state.tally.heard_of("told guests") is None, "nor does her word stand"
    story.at(100, OTHER)
    story.at(101, NO_GUESTS)
    assert before(story, ONE)
    assert before(story, GUESTS)
    assert not any(before(story, one) for one in (DISC, STREAMER))


def test_in_a_room_of_which_only_titles_are_told_an_older_one_is_known() -> None:
    story = Story()
    story.at(10, ONE)
    story.at(20, OTHER)
    assert before(story, ONE)


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


def test_of_each_subject_the_words_that_were_told_last_are_kept() -> None:
    """Names of films have no end; of sources there are few."""
    films = [Title(begun=True, name=f"film {999 - one}") for one in range(HEARD_KEPT)]
    films[:0] = [Title(begun=True, name=f"film{TELLS}{one}") for one in range(3)]
    story = told(STREAMER, GUESTS, *films, films[0], NO_GUESTS)
    heard = story.engine.state.tally.heard
    assert list(heard) == sorted(heard)
    assert before(story, DISC)
    assert before(story, GUESTS)
    others = [film for film in films[1:] if before(story, film)]
    assert others == films[-HEARD_KEPT + 1 :]
    assert stands(story, films[0]), "it was told once more"
    assert len([one for one in heard if one.subject.startswith("title")]) == HEARD_KEPT


def test_many_dated_facts_leave_room_for_what_is_told_of_anything_else() -> None:
    """A room has any number of told facts, and remembers of each since when it is so."""
    guests = HAYLOFT.told["guests"]
    facts = {f"fact_{one}": guests._replace(name=f"fact_{one}") for one in range(3 * HEARD_KEPT)}
    engine = RoomEngine(replace(HAYLOFT, told={**HAYLOFT.told, **facts}))
    at = moment_of(START)
    dated = [ToldFact(fact=one, value=value, at=at) for value in (True, False) for one in facts]
    evening: tuple[Event, ...] = (DISC, ONE, *dated, STREAMER, OTHER, *dated)
    for second, event in enumerate(evening):
        assert engine.receive(event, START + 1_000 * second).refusal is None
    words = words_before(engine.state)
    old: tuple[Event, ...] = (DISC, ONE, *dated[: len(facts)])
    assert all(is_told_before(engine.room, engine.state.core, words, one) for one in old)


def test_a_journal_of_before_that_has_kept_more_words_is_cut_short_as_more_are_told() -> None:
    words = tuple(
        LastHeard(f"title{TELLS}(True, 'film {one:03}')", START + one) for one in range(90)
    )
    facts = tuple(LastHeard(f"told fact {one:03}", START) for one in range(90))
    state = told().engine.state
    engine = RoomEngine(HAYLOFT, state._replace(tally=state.tally._replace(heard=words + facts)))
    assert engine.receive(ONE, START + 60_000).refusal is None
    heard = engine.state.tally.heard
    assert [one for one in heard if one in facts] == [*facts]
    assert [one for one in heard if one in words] == [*words[1 - HEARD_KEPT :]]


def test_since_when_the_latest_is_so_that_was_told_of_a_subject_is_known() -> None:
    story = told()
    assert last_told(story.engine.state.tally, "title") == 0
    story.at(20, ONE)
    story.at(30, replace(OTHER, at=moment_of(START + 25_000)))
    assert last_told(story.engine.state.tally, "title") == START + 25_000
    story.at(40, ONE)
    assert last_told(story.engine.state.tally, "title") == START + 40_000, "told once more"
    assert last_told(story.engine.state.tally, "source") == START + 10_000
    story.at(50, replace(DISC, at=moment_of(START + 5_000)))
    assert last_told(story.engine.state.tally, "source") == START + 10_000, "it was so then as well"


def test_who_forgets_what_was_told_keeps_since_when_it_is_known() -> None:
    story = told(replace(GUESTS, value=False, who="Ana"), GUESTS, ONE)
    state = story.engine.state
    kept = without_words(state.tally)
    assert [one.subject for one in kept.heard] == ["told guests"]
    assert any("one film" in word.subject for word in state.tally.heard)
    assert all(TELLS not in one.subject for one in kept.heard)
    assert kept._replace(heard=()) == state.tally._replace(heard=())
