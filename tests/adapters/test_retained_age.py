"""What came live is newer than what is retained, and what nobody took tells nothing.

A date that is heard for the first time, but is older than what was told since, makes no news.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from adapters.live.retained_facts import EARLY
from engine.events import (
    Event,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
)
from rules.room.load import load
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, differences, staged
from tests.adapters.test_retained_again import (
    CHANGES,
    DISC,
    FIRST,
    GUESTS,
    LIT,
    PAUSED,
    PLAYS,
    connects_anew,
    retained,
    told,
)
from tests.golden.evenings import BEGINS

STREAMER = SourceChosen(source="streamer")
NONESUCH = Playback(state="playing", source="nonesuch")
NOWHERE = (LensReport(moving=False, preset="nonesuch"), PanelReport(panels="nonesuch"))
TWICE = ProjectorReport(state="lit", id="once")
REFUSED: dict[str, tuple[Event, Event, Event]] = {
    "an unknown source": (DISC, SourceChosen(source="nonesuch"), STREAMER),
    "what plays on an unknown source": (PLAYS, NONESUCH, PAUSED),
    "a fact with a value that it never has": (GUESTS, replace(GUESTS, value=7), GUESTS),
    "what was heard before": (TWICE, TWICE, ProjectorReport(state="warming")),
    "an old title": (
        Title(begun=True, name="the second film", at=moment_of(BEGINS)),
        replace(FIRST, at=moment_of(BEGINS - 60_000)),
        Title(begun=True, name="the third film"),
    ),
}
"""What is known, what comes live and is refused, and what is retained."""


@pytest.mark.parametrize(("known", "refused", "kept"), REFUSED.values(), ids=[*REFUSED])
def test_a_live_message_that_is_refused_makes_nothing_old(
    tmp_path: Path, known: Event, refused: Event, kept: Event
) -> None:
    known = replace(known, value=False) if isinstance(known, ToldFact) else known
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, PLAYS, known)
        stands = told(stage)
        stage.durable.connected()
        stage.hear(refused)
        stage.pass_to(stage.clock.time + EARLY)
        assert len(stage.refusals) == 1
        stage.note(stage.durable.take(retained([kept])))
        assert told(stage) != stands
        assert len(stage.refusals) == 1
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("report", NOWHERE)
def test_a_lens_or_panels_of_which_nothing_was_taken_live_may_be_retained(
    tmp_path: Path, report: LensReport | PanelReport
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.durable.connected()
        stage.hear(report)
        at_broad = LensReport(moving=False, preset="broad")
        stage.note(stage.durable.take(retained([at_broad, PanelReport(panels="open")])))
        core = stage.durable.engine.state.core
        assert (core.preset, core.arrangement) == ("broad", "open")
        assert stage.refusals == ["unknown_name"]


def test_what_plays_on_an_unknown_source_takes_no_retained_playback_away(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, STREAMER)
        stage.durable.connected()
        stage.note(stage.durable.take(retained([PLAYS])))
        stage.hear(NONESUCH)
        stage.note(stage.durable.take(retained([DISC])))
        assert told(stage)["playback"] == "playing"


@pytest.mark.parametrize("then", [(PLAYS, replace(PAUSED, source="disc"), DISC), (PLAYS, DISC)])
def test_what_plays_and_comes_live_before_its_source_is_newer_than_what_is_retained(
    tmp_path: Path, then: tuple[Event, ...]
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, STREAMER)
        stage.durable.connected()
        for event in then:
            if event == replace(PAUSED, source="disc"):
                stage.note(stage.durable.take(retained([event])))
            else:
                stage.hear(event)
        assert told(stage)["playback"] == "playing"
        stage.note(stage.durable.take(retained([replace(PAUSED, source="disc")])))
        assert told(stage)["playback"] == "playing"
        assert stage.refusals[-1] == "stale"


# ------------------------------------------------------------------------------- dates


def dated(event: Event, after: int) -> Event:
    """Date an event by so many ms after the beginning."""
    return replace(event, at=moment_of(BEGINS + after))


def hears_live(stage: Stage, before: tuple[Event, ...], new: Event) -> dict[str, object]:
    """Hear something live, without a date, ten seconds after the beginning."""
    stage.clock.face = 1_200
    if before:
        stage.hear(*before)
    stage.durable.connected()
    stage.clock.time += 10_000
    stage.hear(new)
    stage.clock.time += 10_000
    return everything(stage)


def everything(stage: Stage) -> dict[str, object]:
    """Give what is told, of lens and panels too."""
    core = stage.durable.engine.state.core
    travels = stage.durable.engine.state.tally.travels
    return told(stage) | {"lens": (core.lens, core.preset, travels), "panels": core.arrangement}


MOVED: dict[str, tuple[tuple[Event, ...], Event, Event]] = {
    "lens": (
        (LIT,),
        LensReport(moving=False, preset="broad"),
        LensReport(moving=False, preset="tall"),
    ),
    "panels": ((LIT,), PanelReport(panels="sides"), PanelReport(panels="open")),
}
DATED = {**CHANGES, **MOVED}


@pytest.mark.parametrize("gap", ["", "another connection", "a restart"])
@pytest.mark.parametrize("change", DATED.values(), ids=[*DATED])
def test_an_older_date_that_is_heard_for_the_first_time_is_older_than_what_came_live(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event], gap: str
) -> None:
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stands = hears_live(stage, before, new)
        if gap == "a restart":
            stage.restart()
        if gap:
            stage.durable.connected()
        stage.note(stage.durable.take(retained([dated(old, 5_000)])))
        stage.pass_to(stage.clock.time + EARLY)
        assert everything(stage) == stands
        assert stage.refusals == ["stale"]
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("change", DATED.values(), ids=[*DATED])
def test_a_later_date_makes_news_of_what_is_retained(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event]
) -> None:
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stands = hears_live(stage, before, new)
        stage.note(stage.durable.take(retained([dated(old, 15_000)])))
        assert everything(stage) != stands
        assert stage.refusals == []


def test_an_older_date_that_says_what_stands_is_not_refused(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stands = hears_live(stage, (LIT, DISC), PLAYS)
        stage.note(stage.durable.take(retained([dated(PLAYS, 5_000)])))
        assert everything(stage) == stands
        assert stage.refusals == []


def test_of_live_messages_the_date_counts_and_not_when_they_came(tmp_path: Path) -> None:
    """A hub tells everything once more, each with the moment since when it is so."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        hears_live(stage, (LIT, DISC), dated(PLAYS, 2_000))
        stage.note(stage.durable.take(retained([dated(PAUSED, 5_000)])))
        assert told(stage)["playback"] == "paused"


# ------------------------------------------------------------------------- another room file


@pytest.mark.parametrize("starts", [False, True], ids=["as a message", "at a start"])
@pytest.mark.parametrize("at", [None, moment_of(BEGINS - 5_000)], ids=["", "dated"])
def test_a_fact_that_a_person_told_is_the_hubs_again_once_a_room_file_has_dropped_it(
    tmp_path: Path, at: None, *, starts: bool
) -> None:
    """The room knows nothing else of it."""
    stranger = load(HAYLOFT.text.replace("broad", "wide"), "in/room")
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, LensReport(moving=False, preset="broad"))
        stage.hear(replace(GUESTS, value=False, who="Ana"))
        if starts:
            stage.restart(stranger)
        else:
            stage.note(stage.durable.adopt(stranger))
        connects_anew(stage, replace(GUESTS, at=at))
        assert dict(stage.durable.engine.state.core.told)["guests"] is True
        assert stage.refusals == []


def test_what_the_broker_still_brings_as_a_room_file_drops_everything_is_news(
    tmp_path: Path,
) -> None:
    """Live messages of the same connection were before it, and are dropped with the rest."""
    stranger = load(HAYLOFT.text.replace("broad", "wide"), "in/room")
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.durable.connected()
        stage.hear(LIT, DISC, LensReport(moving=False, preset="broad"), PLAYS, FIRST)
        stage.note(stage.durable.adopt(stranger))
        stage.note(stage.durable.take(retained([LIT, STREAMER, Title(begun=True, name="other")])))
        assert (told(stage)["source"], told(stage)["title_name"]) == ("streamer", "other")
        assert stage.refusals == []


# ------------------------------------------------------------------------------- doubt

SIDES, OPEN, NO_PANELS = (PanelReport(panels=one) for one in ("sides", "open", None))
TALL, BROAD = (LensReport(moving=False, preset=one) for one in ("tall", "broad"))
NO_LENS = LensReport(moving=False, preset=None, known=False)


@pytest.mark.parametrize("restarts", [False, True], ids=["", "after a restart"])
@pytest.mark.parametrize(
    ("live", "old"),
    [((SIDES,), OPEN), ((SIDES, NO_PANELS), OPEN), ((BROAD,), TALL), ((BROAD, NO_LENS), TALL)],
)
def test_what_is_in_doubt_stays_so_however_often_the_old_message_comes(
    tmp_path: Path, live: tuple[Event, ...], old: Event, *, restarts: bool
) -> None:
    """Doubt is no news: else light would fall on panels after the second gap."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, *live)
        for _ in range(3):
            if restarts:
                stage.restart()
            connects_anew(stage, old, old)
            core = stage.durable.engine.state.core
            stands = core.arrangement if isinstance(old, PanelReport) else core.preset
            assert stands is None
        stage.hear(old)
        core = stage.durable.engine.state.core
        assert (core.arrangement or core.preset) is not None, "told once more, live, it is believed"
