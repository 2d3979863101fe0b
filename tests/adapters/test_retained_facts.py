"""Retained facts come in any order, and mean the same in each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.live.messages import InboundMessage, payload_of
from adapters.live.retained_facts import EARLY
from engine.decisions import Prompt
from engine.events import (
    Answer,
    Event,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS
from tests.soak import sample

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
FILM: tuple[Event, ...] = (
    ProjectorReport(state="lit"),
    SourceChosen(source="disc"),
    Signal(locked=True, columns=3_840, rows=2_160, range="high"),
    Playback(state="playing", source="disc", id="p"),
    Title(begun=True, name="a film", declared=2.39),
    LensReport(moving=False, preset="broad"),
    PanelReport(panels="open"),
    ToldFact(fact="guests", value=True),
)
"""A film that has begun, as a hub retains it."""
EPISODE: tuple[Event, ...] = (
    ProjectorReport(state="lit"),
    SourceChosen(source="streamer"),
    Playback(state="playing", source="streamer"),
    RatioSeen(ratio=1.78),
    LensReport(moving=False, preset="tall"),
    PanelReport(panels="sides"),
)
"""Another evening, of which roomcue may still know."""


def retained(events: Iterable[Event]) -> list[InboundMessage]:
    return [InboundMessage(*payload_of(event), retained=True) for event in events]


def what_is_known(stage: Stage) -> dict[str, object]:
    """Give what facts lead to, and what is wanted once it has stood for long."""
    stage.pass_to(stage.clock.time + 30_000)
    state = stage.durable.engine.state
    core = state.core
    names = (
        *("source", "playback", "title", "title_name", "declared", "longest", "frame", "locked"),
        *("range", "three_d", "lens", "arrangement", "told", "projector", "service", "wanted"),
        *("row", "title_row", "override"),
    )
    known = {name: getattr(core, name) for name in names} | {"aspect": state.settling.aspect}
    if core.playback == "paused":
        # A pause holds what was wanted before it, which may be anything.
        known |= dict.fromkeys(("wanted", "row", "title_row"))
    return known


def lead_to(
    before: Sequence[Event], messages: Sequence[InboundMessage], batches: int
) -> tuple[dict[str, object], list[str]]:
    """Let a room hear messages in batches over a new connection, after what it knew before."""
    with TemporaryDirectory() as folder, staged(HAYLOFT, Path(folder) / "j", BEGINS) as stage:
        if before:
            stage.hear(*before)
            stage.pass_to(BEGINS + 60_000)
        stage.durable.connected()
        stage.note(stage.durable.lost())
        each = -(-len(messages) // batches)
        for start in range(0, len(messages), each):
            stage.note(stage.durable.take(messages[start : start + each]))
        known = what_is_known(stage)
        assert differences(HAYLOFT, stage.lines()) == []
        return known, stage.refusals


@pytest.mark.parametrize("before", [(), EPISODE], ids=["new", "known"])
def test_playback_may_come_before_its_source(before: tuple[Event, ...]) -> None:
    """The film is no menu then."""
    projector, source, signal, playback, *others = FILM
    known, _ = lead_to(before, retained([projector, playback, source, signal, *others]), 1)
    assert (known["source"], known["playback"], known["title"]) == ("disc", "playing", True)


facts = st.tuples(
    st.builds(ProjectorReport, state=st.sampled_from(["lit", "lit", "warming", "off"])),
    st.builds(SourceChosen, source=st.sampled_from([*HAYLOFT.sources])),
    st.builds(
        Signal,
        locked=st.booleans(),
        columns=st.sampled_from([720, 1_920, 3_840]),
        rows=st.just(1_080),
        range=st.sampled_from(["standard", "high"]),
    ),
    st.builds(
        Playback,
        state=st.sampled_from(["playing", "playing", "paused", "stopped", "unknown"]),
        source=st.none() | st.sampled_from([*HAYLOFT.sources]),
        id=st.none() | st.just("p"),
    ),
    st.builds(
        Title,
        begun=st.booleans(),
        name=st.none() | st.just("a film"),
        declared=st.none() | st.sampled_from([1.78, 2.39]),
    ),
    st.builds(LensReport, moving=st.just(False), preset=st.sampled_from([*HAYLOFT.presets, None])),
    st.builds(PanelReport, panels=st.sampled_from([*HAYLOFT.panels, None])),
    st.builds(ToldFact, fact=st.just("guests"), value=st.booleans()),
)


@settings(deadline=None, max_examples=sample(25, 500))
@given(
    heard=facts,
    order=st.permutations(range(8)),
    before=st.sampled_from([(), EPISODE]),
    batches=st.integers(1, 8),
)
def test_retained_facts_mean_the_same_in_every_order(
    heard: tuple[Event, ...], order: list[int], before: tuple[Event, ...], batches: int
) -> None:
    """Of projector, source, signal, playback, title, lens, panels and told facts."""
    in_order, _ = lead_to(before, retained(heard), 1)
    otherwise, _ = lead_to(before, retained(heard[at] for at in order), batches)
    assert otherwise == in_order


def test_a_playback_that_comes_before_its_source_counts_once_that_is_shown() -> None:
    """Whoever says both live, in the wrong order, is understood too, and nothing is refused."""
    messages = [InboundMessage(*payload_of(event)) for event in (FILM[0], FILM[3], FILM[1])]
    known, refusals = lead_to((), messages, 3)
    assert refusals == []
    assert (known["source"], known["playback"]) == ("disc", "playing")


def test_a_playback_whose_source_is_not_shown_soon_is_refused(tmp_path: Path) -> None:
    """What played back then says nothing of the source that somebody chooses much later."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(FILM[0], SourceChosen(source="streamer"), FILM[3])
        stage.pass_to(BEGINS + EARLY - 1)
        assert stage.refusals == []
        stage.pass_to(BEGINS + EARLY)
        assert stage.refusals == ["not_shown"]
        stage.hear(SourceChosen(source="disc"))
        assert stage.durable.engine.state.core.playback == "unknown"
        assert differences(HAYLOFT, stage.lines()) == []


def questions(stage: Stage) -> int:
    """Count what waits, in which every further question takes the place of the one before."""
    asked = [one for one in stage.durable.record.waiting() if one.message.slot == "question"]
    for one in asked:
        stage.durable.record.sent(one.serial or 0)
    return len(asked)


def test_where_a_source_plays_that_is_not_shown_the_hub_is_asked_once_for_each_that_is(
    tmp_path: Path,
) -> None:
    """The broker may have dropped the word that it is shown; or nobody looks at that player."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(FILM[0], SourceChosen(source="streamer"))
        asked = []
        for told in (
            Playback(state="paused", source="disc"),
            Playback(state="playing", source="disc"),
            Playback(state="playing", source="disc"),
            SourceChosen(source="streamer"),
            Playback(state="playing", source="disc"),
            SourceChosen(source="disc"),
            Playback(state="playing", source="disc"),
            Playback(state="playing", source="streamer"),
        ):
            stage.hear(told)
            stage.pass_to(stage.clock.time + EARLY)
            asked.append(questions(stage))
        assert asked == [0, 1, 0, 0, 0, 0, 0, 1]
        assert differences(HAYLOFT, stage.lines()) == []


def test_every_player_may_tell_what_it_does_before_its_source_is_shown(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(FILM[0], FILM[3], Playback(state="paused", source="streamer"))
        states = []
        for source in ("disc", "streamer"):
            stage.hear(SourceChosen(source=source))
            states.append(stage.durable.engine.state.core.playback)
        assert states == ["playing", "paused"]
        assert stage.refusals == []


def test_the_latest_word_of_a_player_counts(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(FILM[0], FILM[3], Playback(state="paused", source="disc"))
        stage.hear(SourceChosen(source="disc"))
        assert stage.durable.engine.state.core.playback == "paused"


def test_a_player_waits_as_long_as_before_where_the_clock_is_set(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(FILM[0], FILM[3])
        stage.clock.set(3_600_000)
        stage.hear(SourceChosen(source="disc"))
        assert stage.durable.engine.state.core.playback == "playing"


def test_nothing_follows_from_a_source_that_was_refused(tmp_path: Path) -> None:
    """What was to follow waits for a source that is shown; one message makes one refusal."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(ProjectorReport(state="lit"))
        stage.hear(Playback(state="playing", source="nonesuch"))
        stage.hear(SourceChosen(source="nonesuch"))
        assert stage.refusals == ["unknown_name", "unknown_name"]
        stage.hear(FILM[3])
        stage.hear(SourceChosen(source="nonesuch"), SourceChosen(source="disc"))
        assert stage.refusals[2:] == ["unknown_name"]
        core = stage.durable.engine.state.core
        assert (core.source, core.playback) == ("disc", "playing")


def test_what_was_retained_is_forgotten_once_something_newer_is_heard(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.durable.connected()
        stage.durable.take(retained(FILM[:4]))
        stage.hear(Playback(state="stopped", source="disc"))
        stage.durable.take(retained([SourceChosen(source="streamer")]))
        assert stage.durable.engine.state.core.playback == "unknown"


def test_what_was_retained_is_forgotten_with_its_connection(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.durable.take(retained([FILM[3]]))
        stage.durable.connected()
        stage.durable.take(retained([SourceChosen(source="disc")]))
        assert stage.durable.engine.state.core.playback == "unknown"


# ------------------------------------------------------------------------------ how old they are


def fitted(stage: Stage) -> None:
    """An episode has begun with open panels, and somebody fits the side panels and says so."""
    panels_open = retained([PanelReport(panels="open")])
    stage.durable.take(panels_open)
    stage.hear(ProjectorReport(state="lit"), LensReport(moving=False, preset="tall"))
    stage.hear(*EPISODE[1:4], Title(begun=True, declared=1.78))
    stage.pass_to(BEGINS + 120_000)
    asked = stage.durable.engine.state.core.asked
    assert asked is not None
    stage.hear(Answer(prompt=asked.id, answer="ready"))
    stage.hear(Answer(prompt=asked.id, answer="done"))
    assert stage.durable.engine.state.core.arrangement == "sides"


def test_a_word_of_somebody_at_the_panels_is_newer_than_what_was_retained(tmp_path: Path) -> None:
    """The old message comes again: nobody widens a picture or sends the lens off over panels."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        fitted(stage)
        stage.durable.connected()
        stage.note(stage.durable.lost())
        stage.note(stage.durable.take(retained([PanelReport(panels="open")])))
        assert stage.durable.engine.state.core.arrangement is None
        before = len(stage.decisions)
        stage.hear(Title(begun=True, name="wide", declared=2.39), RatioSeen(ratio=2.39))
        stage.pass_to(stage.clock.time + 120_000)
        made = stage.decisions[before:]
        assert "recall" not in [one.kind for one in made]
        assert [one.panels for one in made if isinstance(one, Prompt)][:1] == ["open"]


@pytest.mark.parametrize(("later", "stands"), [(-1, "sides"), (1, "open")], ids=["older", "newer"])
def test_a_date_tells_whether_what_was_retained_is_older(
    later: int, stands: str, tmp_path: Path
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        fitted(stage)
        at = moment_of(stage.clock.time + later * 1_000)
        stage.clock.time += 5_000
        stage.note(stage.durable.take(retained([PanelReport(panels="open", at=at)])))
        assert stage.durable.engine.state.core.arrangement == stands


def test_a_date_ahead_of_the_clock_tells_no_age(tmp_path: Path) -> None:
    """The hub's clock is an hour fast: it may have retained this before the panels were fitted."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        fitted(stage)
        at = moment_of(stage.clock.time + 3_600_000)
        stage.note(stage.durable.take(retained([PanelReport(panels="open", at=at)])))
        assert stage.durable.engine.state.core.arrangement is None
        stage.hear(PanelReport(panels="open", at=at))
        assert stage.durable.engine.state.core.arrangement == "open", "told once more, live"


def test_a_fast_date_that_came_live_before_is_known_to_be_older(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        at = moment_of(BEGINS + 3_600_000)
        stage.hear(PanelReport(panels="open", at=at))
        fitted(stage)
        stage.note(stage.durable.take(retained([PanelReport(panels="open", at=at)])))
        assert stage.durable.engine.state.core.arrangement == "sides"


def test_what_a_person_told_is_newer_than_what_was_retained(tmp_path: Path) -> None:
    """Guests have come since the hub retained that there are none."""
    none_here = retained([ToldFact(fact="guests", value=False)])
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.durable.take(none_here)
        assert dict(stage.durable.engine.state.core.told)["guests"] is False
        stage.hear(ToldFact(fact="guests", value=True, who="Ana"))
        stage.durable.connected()
        stage.note(stage.durable.take(none_here))
        assert dict(stage.durable.engine.state.core.told)["guests"] is True
        at = moment_of(stage.clock.time + 1_000)
        stage.clock.time += 2_000
        dated = ToldFact(fact="guests", value=False, at=at)
        stage.note(stage.durable.take(retained([dated])))
        assert dict(stage.durable.engine.state.core.told)["guests"] is False, "dated, it is newer"
        assert differences(HAYLOFT, stage.lines()) == []


def test_what_agrees_with_what_is_known_leaves_it_known(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        fitted(stage)
        stage.note(stage.durable.take(retained([PanelReport(panels="sides")])))
        assert stage.durable.engine.state.core.arrangement == "sides"


def test_what_the_hub_says_now_is_believed(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        fitted(stage)
        stage.hear(PanelReport(panels="open"))
        assert stage.durable.engine.state.core.arrangement == "open"


def test_half_fitted_panels_stay_unknown_whatever_was_retained(tmp_path: Path) -> None:
    """Somebody went to the screen and never said what they did there."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.durable.take(retained([PanelReport(panels="open")]))
        stage.hear(ProjectorReport(state="lit"), LensReport(moving=False, preset="tall"))
        stage.hear(*EPISODE[1:4], Title(begun=True, declared=1.78))
        stage.pass_to(BEGINS + 120_000)
        asked = stage.durable.engine.state.core.asked
        assert asked is not None
        stage.hear(Answer(prompt=asked.id, answer="ready"))
        stage.pass_to(stage.clock.time + HAYLOFT.pace.give_up - 1)
        stage.all_taken()
        stage.pass_to(stage.clock.time + 1)
        assert stage.durable.engine.state.core.arrangement is None
        stage.note(stage.durable.take(retained([PanelReport(panels="open")])))
        assert stage.durable.engine.state.core.arrangement is None


def rested(stage: Stage) -> None:
    """The lens was told live to rest at `tall`, which somebody has sent it to since."""
    stage.hear(ProjectorReport(state="lit"), LensReport(moving=False, preset="broad"))
    stage.hear(*EPISODE[1:3], LensReport(moving=True, preset="tall"))
    stage.hear(LensReport(moving=False, preset="tall"))


def test_a_lens_that_was_retained_elsewhere_is_in_doubt_and_nobody_has_moved_it(
    tmp_path: Path,
) -> None:
    """The old message comes again: it is no travel, and takes the room over for nobody."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        rested(stage)
        before = stage.durable.engine.state
        stage.durable.connected()
        stage.note(stage.durable.lost())
        stage.note(stage.durable.take(retained([LensReport(moving=False, preset="broad")])))
        after = stage.durable.engine.state
        assert (after.core.lens, after.core.preset) == ("unknown", None)
        assert after.tally.travels == before.tally.travels
        assert after.core.override == before.core.override
        stage.hear(LensReport(moving=False, preset="tall"))
        told = stage.durable.engine.state
        assert (told.core.lens, told.core.preset) == ("resting", "tall")
        assert told.tally.travels == before.tally.travels
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("preset", [None, "broad"])
def test_a_lens_that_was_lost_on_its_way_is_not_found_by_what_was_retained(
    preset: str | None, tmp_path: Path
) -> None:
    """It may be from before the travel."""
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        rested(stage)
        stage.hear(LensReport(moving=True, preset="broad"))
        stage.durable.connected()
        stage.note(stage.durable.lost())
        stage.note(stage.durable.take(retained([LensReport(moving=False, preset=preset)])))
        assert stage.durable.engine.state.core.lens == "unknown"


def test_a_lens_that_was_retained_with_a_later_date_is_believed(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        rested(stage)
        at = moment_of(BEGINS + 1_000)
        stage.clock.time += 5_000
        stage.note(stage.durable.take(retained([LensReport(moving=False, preset="broad", at=at)])))
        assert stage.durable.engine.state.core.preset == "broad"


def test_the_first_word_of_a_lens_may_be_retained(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.note(stage.durable.take(retained([LensReport(moving=False, preset="broad")])))
        assert stage.durable.engine.state.core.preset == "broad"
