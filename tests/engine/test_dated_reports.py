"""Dates: which report is older than what is known, whatever clock it was dated by."""

from __future__ import annotations

from datetime import datetime

import pytest

from engine.events import (
    Answer,
    Event,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
    read_event,
)
from engine.refusal import Refused
from tests.engine.moments import asked, ms, prompted
from tests.engine.story import HAYLOFT, Story
from tests.engine.test_refusals import DISC, ROOM, clock


@pytest.mark.parametrize("event", [Mark(at=clock(10)), Mark(at=clock(5))])
def test_a_tap_is_never_stale(event: Event) -> None:
    story = Story(ROOM)
    story.at(20, Mark(at=clock(20)))
    story.at(30, event)


def test_answers_and_outcomes_are_never_stale() -> None:
    story = Story(HAYLOFT)
    story.at(20, SourceChosen(source="disc"))
    first, second = story.core.picture, story.core.open_cues[0].id
    assert first is not None
    story.at(24, Outcome(order=first, outcome="done", at=clock(23)))
    story.at(24, Outcome(order=second, outcome="done", at=clock(22)))
    story.at(31, Override(taken=True, look=OverrideLook(panels="sides")))
    number = asked(story)
    story.at(35, Answer(prompt=number, answer="ready", who="one", at=clock(34)))
    story.at(36, Answer(prompt=number, answer="no", who="one", at=clock(33)))
    assert story.core.asked is None


@pytest.mark.parametrize(
    ("older", "words"),
    [
        (0.25, "0.25 s older"),
        (119, "119 s older"),
        (120, "2 min older"),
        (2 * 3_600, "2 h older"),
        (3 * 3_600 + 1, "3 h older"),
        (20_000 * 86_400, "20000 days older"),
    ],
)
def test_how_old_a_report_is_is_told_in_a_unit_that_people_use(older: float, words: str) -> None:
    story = Story(ROOM)
    story.at(20, SourceChosen(source="disc", at=clock(20)))
    with pytest.raises(Refused, match=words):
        story.at(21, SourceChosen(source="disc", at=clock(20 - older)))


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("2026-11-20T25:00:00Z", "there is no such moment: hour must be in 0..23"),
        ("2026-11-31T20:00:00Z", "there is no such moment: day is out of range for month"),
        ("2026-11-20T20:00:00+25:00", "a moment is written as in RFC 3339"),
        ("2026-11-20T20:00Z", "a moment is written as in RFC 3339"),
    ],
)
def test_a_moment_that_is_none_is_told_in_words_of_a_calendar(at: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        read_event(f'{{"kind": "mark", "at": "{at}"}}')


def test_what_is_no_news_of_the_source_may_be_older_than_it() -> None:
    story = Story(ROOM)
    story.at(*DISC)
    story.at(30, LensReport(moving=False, preset="tall", at=clock(10)))
    story.at(30, PanelReport(panels="sides", at=clock(10)))
    story.at(30, Signal(locked=False, at=clock(10)))
    assert (story.core.preset, story.core.arrangement) == ("tall", "sides")
    assert not story.core.locked


def fast(seconds: float) -> datetime:
    """Give a moment by a clock that is an hour ahead."""
    return clock(seconds + 3_600)


def test_a_report_dated_by_a_fast_clock_is_no_newer_when_it_is_told_again() -> None:
    """Somebody fits panels; the hub, which does not know, tells everything after a gap."""
    story = Story(HAYLOFT)
    story.at(20, SourceChosen(source="disc"))
    story.at(21, PanelReport(panels="open", at=fast(21)))
    story.at(22, PanelReport(panels="open", at=fast(21)))
    story.at(31, Override(taken=True, look=OverrideLook(panels="sides")))
    number = asked(story)
    story.at(35, Answer(prompt=number, answer="done"))
    with pytest.raises(Refused, match="older than what is known"):
        story.at(40, PanelReport(panels="open", at=fast(21)))
    assert story.core.arrangement == "sides"
    story.at(50, PanelReport(panels="open", at=fast(50)))
    assert story.core.arrangement == "open", "what is new is heard"
    for second, panels, at in ((60, "sides", clock(660)), (70, "open", clock(70))):
        story.at(second, PanelReport(panels=panels, at=at))
        assert story.core.arrangement == panels, "by a clock that was put right as well, or nearly"


def test_a_source_that_is_heard_of_late_makes_nothing_old_that_is_dated_later() -> None:
    """It was lost in a gap, and the hub, whose clock is fast, tells everything once more."""
    story = Story(ROOM)
    story.at(*DISC)
    stopped = Playback(state="stopped", at=fast(35))
    ends = Title(begun=False, at=fast(34))
    for event in (stopped, ends):
        story.at(40, event)
    story.at(50, SourceChosen(source="streamer", at=fast(33)))
    for event in (stopped, ends):
        story.at(50, event)
    assert (story.core.source, story.core.playback) == ("streamer", "stopped")
    with pytest.raises(Refused, match="older than what is known"):
        story.at(51, Playback(state="playing", at=clock(45)))


def test_a_source_is_dated_at_last_when_what_plays_on_it_was_dated_by_a_fast_clock() -> None:
    """By then the hub's dates lie ahead no longer."""
    story = Story(ROOM)
    story.at(*DISC)
    stopped = Playback(state="stopped", at=clock(45))
    story.at(40, stopped)
    story.at(50, SourceChosen(source="streamer", at=clock(44)))
    story.at(50, stopped)
    assert (story.core.source, story.core.playback) == ("streamer", "stopped")


def test_a_hub_that_tells_everything_again_takes_no_word_of_a_person_back() -> None:
    """Ana said that guests are here, after the hub had said that none are."""
    story = Story(ROOM)
    none_here = ToldFact(fact="guests", value=False, at=clock(30))
    story.at(30, none_here)
    story.at(40, ToldFact(fact="guests", value=True, who="Ana"))
    with pytest.raises(Refused, match="older than what is known"):
        story.at(50, none_here)
    assert dict(story.core.told) == {"guests": True}
    story.at(60, ToldFact(fact="guests", value=False, at=clock(60)))
    assert dict(story.core.told) == {"guests": False}


def test_each_told_fact_is_a_subject_of_its_own() -> None:
    story = Story(ROOM)
    story.at(30, ToldFact(fact="guests", value=True, at=clock(30)))
    story.at(40, ToldFact(fact="mood", value="calm", at=clock(20)))
    assert dict(story.core.told) == {"guests": True, "mood": "calm"}


def test_a_clock_that_runs_ahead_does_not_make_later_reports_look_old() -> None:
    story = Story(ROOM)
    story.at(30, LensReport(moving=False, preset="tall", at=clock(4_000)))
    story.at(31, LensReport(moving=False, preset="broad", at=clock(30)))
    assert story.core.preset == "broad"


# ------------------------------------------------------------------------------- the words


def test_panels_that_were_left_half_fitted_are_known_no_earlier_than_that() -> None:
    story = prompted()
    story.at(40, Answer(prompt=asked(story), answer="ready"))
    story.at(60, Service(begun=True))
    with pytest.raises(Refused) as refused:
        story.at(62, PanelReport(panels="sides", at=moment_of(ms(50))))
    assert refused.value.code == "stale"
