"""A night as text: no effect stands without its cause, and `why` hides no part of a look."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from adapters.render.night_text import Timeline, event_words
from adapters.render.why_text import doing
from engine import Outcome, Override, OverrideLook, Refused, SourceChosen
from engine.events import (
    BarsSeen,
    BlackSeen,
    Forget,
    FormatCode,
    Mark,
    Playback,
    Signal,
    TimeOfDay,
    Title,
)
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import DEMO_NIGHT
from tests.engine.meetings import START
from tests.engine.story import HAYLOFT, UNANSWERED, Story

if TYPE_CHECKING:
    from adapters.render.styled import Block
    from engine import Event

HEAD_LINE, *LINES = DEMO_NIGHT.read_bytes().splitlines()
HEAD = read_head(HEAD_LINE)


def words(block: Block) -> str:
    return str(getattr(block, "text", block))


def told(*steps: ReplayStep) -> list[str]:
    """Give the timeline's lines of some steps."""
    timeline = Timeline(HAYLOFT)
    return [words(block) for step in steps for block in timeline.blocks(step)]


def shipped_steps() -> list[ReplayStep]:
    room = load(HEAD.room_file, DEMO_NIGHT.name)
    steps = replay(engine_for(room, HEAD), read_lines(HEAD.start, LINES))
    return [step for step in steps if isinstance(step, ReplayStep)]


def step_of(
    event: Event,
    like: ReplayStep,
    **changed: Any,  # noqa: ANN401 - fields of every type
) -> ReplayStep:
    entry = NightEntry(1, like.entry.now, event, None)
    return like._replace(entry=entry, **changed)


def test_in_the_shipped_evening_every_effect_stands_beneath_what_caused_it() -> None:
    steps = [step for step in shipped_steps() if step.entry.event is not None]
    caused = [step for step in steps if len(step.decisions) > step.due]
    assert any(isinstance(step.entry.event, Outcome) for step in caused), "a quiet event among them"
    for step in caused:
        event = step.entry.event
        assert event is not None
        lines = told(step)
        cause = next(at for at, line in enumerate(lines) if line.endswith(event_words(event)))
        heads = [line for line in lines[:cause] if line[:2].isdecimal()]
        assert len(heads) == step.due


def test_an_event_is_told_only_where_something_follows_from_it_at_once() -> None:
    answered = next(
        step
        for step in shipped_steps()
        if isinstance(step.entry.event, Outcome) and step.decisions and not step.due
    )
    done = Outcome(order=8, outcome="done")
    assert told(step_of(done, answered))[0].endswith("order 8: done")
    assert told(step_of(done, answered, decisions=())) == []
    due = len(answered.decisions)
    assert "order 8: done" not in " ".join(told(step_of(done, answered, due=due)))


def test_a_quiet_event_that_is_refused_or_breaks_a_promise_is_told() -> None:
    quiet = next(step for step in shipped_steps() if not step.decisions)
    done = Outcome(order=8, outcome="done")
    refused = told(step_of(done, quiet, refused=Refused("not_open", "order 8 is not open")))
    assert refused[0].endswith("order 8: done")
    broken = told(step_of(done, quiet, broken=HAYLOFT.promises[:1]))
    assert broken[0].endswith("order 8: done")
    assert broken[1].startswith("promise broken")


def test_a_source_that_is_reported_again_is_told_only_if_something_follows() -> None:
    quiet = next(step for step in shipped_steps() if not step.decisions)
    busy = next(step for step in shipped_steps() if step.decisions and not step.due)
    disc = SourceChosen(source="disc")
    assert len(told(step_of(disc, quiet), step_of(disc, quiet))) == 1
    lines = told(step_of(disc, quiet), step_of(disc, busy))
    assert sum(line.endswith("source: disc") for line in lines) == 2


def test_why_shows_how_far_the_picture_is_raised_and_what_a_person_asked_for() -> None:
    steps = shipped_steps()
    raised = next(one for one in steps if any(getattr(d, "lift", 0) for d in one.decisions))
    engine = engine_for(load(HEAD.room_file, DEMO_NIGHT.name), HEAD)
    assert [*replay(engine, read_lines(HEAD.start, LINES), raised.entry.now)]
    said = dict(doing(engine.state.core, raised.entry.now))
    assert said["picture"].startswith("plain for 2.39, lift 11 %")
    assert said["wanted"] == "plain, broad, open, lift 11 %"
    assert said["override"] == "rules"
    override = Override(
        taken=True, until="title", look=OverrideLook(picture="whole", preset="tall")
    )
    engine.receive(override, raised.entry.now)
    said = dict(doing(engine.state.core, raised.entry.now))
    assert said["override"] == "person, until title, asked for whole, tall"
    engine.receive(Override(taken=True, until="session"), raised.entry.now)
    assert dict(doing(engine.state.core, raised.entry.now))["override"] == "person, until session"


def test_why_says_by_which_name_a_title_is_remembered_its_shape_and_what_was_chosen() -> None:
    story = Story(UNANSWERED)
    story.at(10, Title(begun=True, name="first", series="all of them"))
    story.film(10, 2.39)
    assert "remembered" not in dict(doing(story.core, START))
    story.at(20, Override(taken=True, until="title"))
    said = "by name as 'all of them', chosen last time: leave it as it stands"
    assert dict(doing(story.core, START))["remembered"] == said
    look = OverrideLook(picture="whole", cues={"lamps": "full"})
    story.at(600, Override(taken=True, until="title", look=look))
    story.at(700, Playback(state="stopped"))
    story.at(710, Title(begun=True, name="second", series="all of them"))
    said = "by name as 'all of them', shape 2.39, chosen last time: whole, lamps: full"
    assert dict(doing(story.core, START))["remembered"] == said


def test_a_title_of_a_series_and_what_is_forgotten_are_told_by_their_names() -> None:
    begins = Title(begun=True, name="first", series="all of them")
    assert event_words(begins) == "title 'first' of 'all of them' begins"
    words = "a person has what is remembered of 'all of them' forgotten (Ana)"
    assert event_words(Forget(name="all of them", who="Ana")) == words
    assert "of every title" in event_words(Forget(name=None))


def test_a_signal_is_told_with_what_rules_and_pictures_may_go_by() -> None:
    high = Signal(locked=True, columns=3_840, rows=1_600, range="high", three_d=False)
    assert event_words(high) == "signal locked, 3840 x 1600, high range, not 3D"
    assert event_words(Signal(locked=False)) == "signal lost"


def test_a_mark_is_told_with_who_said_it() -> None:
    assert event_words(Mark(words="too dark", who="Ana")) == 'mark: "too dark" (Ana)'
    assert event_words(Mark()) == 'mark: "that was wrong"'


def test_cues_that_a_person_sets_are_told_by_name() -> None:
    own = Override(taken=True, look=OverrideLook(picture="plain", cues={"lamps": "low"}))
    assert event_words(own) == "a person takes over until session: picture plain, cue lamps low"


def test_the_clock_and_every_kind_of_reading_say_what_they_told() -> None:
    said = [
        event_words(one)
        for one in (TimeOfDay(minute=1325), BlackSeen(), FormatCode(code=10, frame="16:9"))
    ]
    assert said == [
        "the clock: 22:05",
        "reading: all black",
        "reading: format code 10 in a frame of 16:9",
    ]


def bars(top: int, bottom: int, side: int, *, rows: int = 1_080) -> str:
    """Tell a reading of bars in a raster of 1920 columns."""
    read = BarsSeen(top=top, bottom=bottom, left=side, right=side, columns=1_920, rows=rows)
    return event_words(read)


def test_a_reading_of_even_bars_says_which_shape_is_left() -> None:
    assert bars(138, 138, 0) == "reading: 2.39, 138 and 138 rows of black"
    assert bars(0, 0, 240) == "reading: 1.33, 0 and 0 rows, 240 and 240 columns of black"


def test_a_reading_of_which_no_shape_follows_says_none() -> None:
    """Lettering makes bars uneven, small rasters have pixels of their own, and all may be black."""
    assert bars(138, 90, 0) == "reading: 138 and 90 rows of black"
    assert bars(70, 70, 0, rows=576) == "reading: 70 and 70 rows of black"
    assert bars(0, 0, 960) == "reading: 0 and 0 rows, 960 and 960 columns of black"
