"""A retained message that comes again says nothing new: what was told since is newer.

A broker gives it whenever the room listens anew. Whoever retains dates what they retain, and then
it tells its age; without a date, or with one that was heard before, it may be of any age.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from adapters.live.messages import InboundMessage, payload_of
from adapters.live.retained_facts import EARLY
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
from engine.transaction import HEARD_KEPT
from rules.room.load import load
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS

LIT = ProjectorReport(state="lit")
DISC = SourceChosen(source="disc")
PLAYS = Playback(state="playing", source="disc")
PLAYS_THERE = Playback(state="playing", source="streamer")
PAUSED = Playback(state="paused")
FIRST = Title(begun=True, name="the first film")
SECOND = Title(begun=True, name="the second film")
WIDE = Signal(locked=True, columns=3_840, rows=2_160, range="high")
NARROW = Signal(locked=True, columns=1_920, rows=1_080, range="standard")
GUESTS = ToldFact(fact="guests", value=True)

CHANGES: dict[str, tuple[tuple[Event, ...], Event, Event]] = {
    "projector": ((DISC,), ProjectorReport(state="warming"), LIT),
    "projector, off": ((DISC,), ProjectorReport(state="off"), LIT),
    "service": ((LIT, DISC), Service(begun=True), Service(begun=False)),
    "service, over": ((LIT, DISC), Service(begun=False), Service(begun=True)),
    "source": ((LIT,), DISC, SourceChosen(source="streamer")),
    "playback": ((LIT, DISC), Playback(state="stopped"), PLAYS),
    "playback, by source": ((LIT, DISC), PLAYS, PAUSED),
    "title": ((LIT, DISC, PLAYS), FIRST, SECOND),
    "title, over": ((LIT, DISC, PLAYS), FIRST, Title(begun=False)),
    "signal": ((LIT, DISC), WIDE, NARROW),
    "signal, lost": ((LIT, DISC), Signal(locked=False), WIDE),
    "told": ((LIT,), GUESTS, replace(GUESTS, value=False)),
    "told, default": ((LIT,), replace(GUESTS, value=False), GUESTS),
}
"""What goes before, what a hub retains, and what is told live after it and not retained."""


def retained(events: Iterable[Event]) -> list[InboundMessage]:
    return [InboundMessage(*payload_of(event), retained=True) for event in events]


def connects_anew(stage: Stage, *events: Event) -> None:
    """Lose the broker's memory of us, and hear what it has retained."""
    stage.durable.connected()
    stage.note(stage.durable.lost())
    stage.note(stage.durable.take(retained(events)))
    stage.pass_to(stage.clock.time + EARLY)


def told(stage: Stage) -> dict[str, object]:
    """Give what is told of all but lens and panels."""
    core = stage.durable.engine.state.core
    names = (
        *("projector", "service", "source", "playback", "title", "title_name", "told"),
        *("locked", "columns", "rows", "range"),
    )
    return {name: getattr(core, name) for name in names}


@pytest.mark.parametrize("change", CHANGES.values(), ids=[*CHANGES])
@pytest.mark.parametrize("first", ["live", "retained", "dated"])
@pytest.mark.parametrize("restarts", [False, True], ids=["", "after a restart"])
def test_what_was_told_live_is_newer_than_what_was_retained_before_it(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event], first: str, *, restarts: bool
) -> None:
    before, old, new = change
    if first == "dated":
        old = replace(old, at=moment_of(BEGINS))
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*before)
        stage.clock.time += 1_000
        if first == "retained":
            stage.note(stage.durable.take(retained([old])))
            stage.durable.connected()
        else:
            stage.hear(old)
        stage.clock.time += 1_000
        stage.hear(new)
        stands = told(stage)
        if restarts:
            stage.restart()
        connects_anew(stage, old)
        assert told(stage) == stands
        assert stage.refusals == ["stale"]
        assert differences(HAYLOFT, stage.lines()) == []
        stage.hear(replace(old, at=None))
        assert told(stage) != stands, "told once more, live, it is believed"


@pytest.mark.parametrize("change", CHANGES.values(), ids=[*CHANGES])
def test_what_comes_live_is_newer_than_what_is_retained_and_comes_after_it(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event]
) -> None:
    """Of one connection: the broker has had that before the room began to listen."""
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*before)
        stage.durable.connected()
        stage.hear(new)
        stands = told(stage)
        stage.note(stage.durable.take(retained([old])))
        stage.pass_to(stage.clock.time + EARLY)
        assert told(stage) == stands


@pytest.mark.parametrize("change", CHANGES.values(), ids=[*CHANGES])
def test_what_is_retained_and_was_never_heard_before_is_news(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event]
) -> None:
    """It was told while the room was away."""
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*before, old)
        connects_anew(stage, new)
        heard = told(stage)
        stage.hear(new)
        assert told(stage) == heard


KNOWN: dict[str, tuple[Event, tuple[Event, ...]]] = {
    "a source": (SourceChosen(source="streamer"), ()),
    "what plays, of whichever source": (Playback(state="playing"), ()),
    "a title, by no name": (Title(begun=True), (FIRST,)),
    "a fact that nobody tells": (ToldFact(fact="guests", value=None), ()),
    "a raster, without its range": (Signal(locked=True, columns=3_840), (WIDE,)),
}
"""What is told on two sources, and what after it."""


@pytest.mark.parametrize(("fact", "then"), KNOWN.values(), ids=[*KNOWN])
@pytest.mark.parametrize("live", [False, True], ids=["", "told live as well"])
def test_a_retained_message_that_says_what_is_known_already_changes_nothing(
    tmp_path: Path, fact: Event, then: tuple[Event, ...], *, live: bool
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, PLAYS, Title(begun=True), fact)
        stage.hear(SourceChosen(source="streamer"), PLAYS_THERE, fact, *then)
        stands = told(stage)
        stage.durable.connected()
        if live:
            stage.hear(fact, *then)
        stage.note(stage.durable.take(retained([fact])))
        assert told(stage) == stands
        assert stage.refusals == []
        assert differences(HAYLOFT, stage.lines()) == []


def test_a_date_that_is_later_than_all_before_makes_a_retained_message_news(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, DISC, SourceChosen(source="streamer"))
        stage.clock.time += 10_000
        connects_anew(stage, replace(DISC, at=moment_of(BEGINS + 5_000)))
        assert told(stage)["source"] == "disc"
        assert stage.refusals == []


def test_a_lens_whose_date_was_heard_before_is_moved_by_nobody(tmp_path: Path) -> None:
    """It has been told to rest elsewhere since, without a date."""
    at_broad = LensReport(moving=False, preset="broad", at=moment_of(BEGINS))
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, DISC, PLAYS, at_broad)
        stage.hear(LensReport(moving=True, preset="tall"), LensReport(moving=False, preset="tall"))
        before = stage.durable.engine.state
        connects_anew(stage, at_broad)
        after = stage.durable.engine.state
        assert after.tally.travels == before.tally.travels
        assert after.core.preset != "broad"


def test_whoever_retains_what_nobody_knows_is_believed(tmp_path: Path) -> None:
    """As a last will of the hub's that says so."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, DISC, PLAYS)
        connects_anew(stage, Playback(state="unknown"))
        assert told(stage)["playback"] == "unknown"


def test_a_fact_that_the_room_does_not_have_is_refused_retained_as_well(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        connects_anew(stage, ToldFact(fact="nonesuch", value=True))
        assert stage.refusals == ["unknown_name"]


def test_many_films_later_what_was_told_of_the_source_is_still_known(tmp_path: Path) -> None:
    """Names of films have no end, so the oldest of them are forgotten."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, SourceChosen(source="streamer"), PLAYS_THERE)
        for number in range(2 * HEARD_KEPT):
            stage.clock.time += 1_000
            stage.hear(Title(begun=True, name=f"film {number}"))
        connects_anew(stage, DISC, Title(begun=True, name=f"film {2 * HEARD_KEPT - 2}"))
        assert told(stage)["source"] == "streamer"
        assert told(stage)["title_name"] == f"film {2 * HEARD_KEPT - 1}"


def test_a_topic_that_is_emptied_now_says_so_now(tmp_path: Path) -> None:
    """No broker keeps an empty message."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, DISC, PLAYS, GUESTS)
        empty = [InboundMessage(one, b"", retained=True) for one in ("playback", "told/guests")]
        stage.note(stage.durable.take(empty))
        assert told(stage)["playback"] == "unknown"
        assert told(stage)["told"] == ()
        assert stage.refusals == []


def test_what_was_told_is_known_to_be_old_though_another_room_file_has_come(tmp_path: Path) -> None:
    """One that does not know how the room stands: what is told again goes on from there."""
    stranger = load(HAYLOFT.text.replace("broad", "wide"), "in/room")
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stopped = Playback(state="stopped", source="disc")
        stage.hear(LIT, DISC, LensReport(moving=False, preset="broad"), stopped)
        stage.note(stage.durable.adopt(stranger))
        stage.hear(LIT, DISC, PLAYS)
        connects_anew(stage, stopped)
        assert told(stage)["playback"] == "playing"


@pytest.mark.parametrize("starts", [False, True], ids=["as a message", "at a start"])
def test_a_room_that_begins_anew_under_another_file_believes_what_is_retained(
    tmp_path: Path, *, starts: bool
) -> None:
    """It knows nothing else; but whether somebody is at work it knows."""
    stranger = load(HAYLOFT.text.replace("broad", "wide"), "in/room")
    at_work = Service(begun=True)
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(LIT, DISC, LensReport(moving=False, preset="broad"), PLAYS, FIRST, WIDE, GUESTS)
        stage.hear(Service(begun=False), at_work)
        stands = told(stage)
        if starts:
            stage.restart(stranger)
        else:
            stage.note(stage.durable.adopt(stranger))
        assert told(stage)["source"] is None
        connects_anew(stage, Service(begun=False), LIT, DISC, PLAYS, FIRST, WIDE, GUESTS)
        assert told(stage) == stands
        assert stage.refusals == ["stale"]


def test_by_a_clock_that_is_a_little_fast_the_older_of_two_dates_is_the_older(
    tmp_path: Path,
) -> None:
    """Once it no longer lies ahead it would seem later than when the newer one came."""
    begun, over = (
        Service(begun=one, at=moment_of(BEGINS + after))
        for one, after in ((True, 5_000), (False, 8_000))
    )
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, DISC, begun)
        stage.clock.time += 3_000
        stage.hear(over)
        stage.clock.time += 60_000
        connects_anew(stage, begun)
        assert told(stage)["service"] is False
