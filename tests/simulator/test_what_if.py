"""A recorded night under other rules: their own orders are answered, not the recorded ones."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from engine import RoomEngine
from engine.decisions import Decision, RecallOrder
from engine.events import (
    Answer,
    BlackSeen,
    Event,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
)
from engine.room import Room
from rules.room.load import load
from simulator.nights.night_file import BadLine, NightEntry, decision_line, read_head, read_lines
from simulator.nights.replay import ReplayStep, replay
from simulator.nights.what_if import replay_with_other_rules
from simulator.shipped import DEMO_ROOM, NIGHTS
from tests.engine.meetings import START
from tests.engine.story import SILENT, UNANSWERED, changed, shape
from tests.golden.evenings import BEGINS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)


def under(room: Room, name: str) -> tuple[list[Decision], RoomEngine]:
    """Play a shipped night under another room's rules."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    engine, recorded = RoomEngine(room), RoomEngine(HAYLOFT)
    lines = read_lines(read_head(first).start, rest)
    made: list[Decision] = []
    for happening in replay_with_other_rules(engine, recorded, lines):
        assert not isinstance(happening, BadLine)
        made += happening.decisions
    return made, engine


@pytest.mark.parametrize("name", ["pause", "changing", "subtitles", "binge", "evening"])
def test_under_its_own_rules_a_night_is_what_it_was(name: str) -> None:
    """The made-up hub does what the recorded one did."""
    made, _ = under(HAYLOFT, name)
    expected = (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()
    assert [decision_line(BEGINS, decision) for decision in made] == expected


def test_orders_of_other_rules_are_answered_though_their_numbers_differ() -> None:
    """Rules without cues give other numbers, and still no outcome is missed or refused."""
    room = changed(("{picture: whole, lift: 0 %, cues: {lamps: full}}", "{picture: whole}"))
    made, engine = under(room, "evening")
    assert engine.refusals == {}
    assert {one.preset for one in made if isinstance(one, RecallOrder)} == {"broad", "tall"}
    assert not [one for one in made if getattr(one, "code", "").endswith("_failed")]


def test_what_nobody_ordered_happens_all_the_same() -> None:
    """The owner's own lens travel is heard under any rules, and counted by hand."""
    _, engine = under(SILENT, "evening")
    counts = {one.preset: one.by_hand for one in engine.state.tally.travels}
    assert counts["tall"] == 1


def test_the_recorded_hub_s_answers_are_left_out() -> None:
    lines = (NIGHTS / "evening.jsonl").read_bytes()
    assert b'"outcome"' in lines
    first, *rest = lines.splitlines()
    engine = RoomEngine(changed(("per_night: 12", "per_night: 0")))
    heard = [
        happening.entry.event
        for happening in replay_with_other_rules(
            engine, RoomEngine(HAYLOFT), read_lines(read_head(first).start, rest)
        )
        if not isinstance(happening, BadLine)
    ]
    open_orders = [event for event in heard if isinstance(event, Outcome | Answer)]
    assert len(open_orders) < lines.count(b'"outcome"')
    assert engine.refusals == {}


def at(*happened: tuple[float, Event]) -> list[NightEntry | BadLine]:
    """Record what happened at which second."""
    return [
        NightEntry(number, START + round(second * 1_000), event, None)
        for number, (second, event) in enumerate(happened, start=2)
    ]


def otherwise(
    room: Room,
    recorded: Room,
    entries: list[NightEntry | BadLine],
    until: float | None = None,
) -> tuple[list[ReplayStep | BadLine], RoomEngine]:
    """Play entries that one room recorded under the rules of another."""
    engine = RoomEngine(room)
    end = None if until is None else START + round(until * 1_000)
    return [*replay_with_other_rules(engine, RoomEngine(recorded), entries, end)], engine


def told(happenings: Iterable[ReplayStep | BadLine]) -> list[Decision]:
    return [one for each in happenings if isinstance(each, ReplayStep) for one in each.decisions]


BEGUN: tuple[tuple[float, Event], ...] = (
    (0, ProjectorReport(state="lit")),
    (0, LensReport(moving=False, preset="broad")),
    (0, PanelReport(panels="open")),
    (5, SourceChosen(source="disc")),
    (6, Playback(state="playing")),
)
"""An evening has begun."""
TALL_ENOUGH = (*BEGUN, (6.5, shape(1.78)))
"""And what plays sends the lens to the tall preset, under the hayloft's rules."""
NEVER_MOVES = changed(
    ("orders: {answered: yes}\n", ""), ("per_night: 12", "per_night: 0"), ("panels: sides,", "")
)
"""The hayloft with no recalls, and no panels asked for."""


@pytest.mark.parametrize(
    "reports",
    [
        ((60, LensReport(moving=False, preset="tall")),),
        ((20, LensReport(moving=True, preset="tall")), (90, LensReport(moving=False, preset=None))),
        (
            (20, LensReport(moving=True, preset="tall")),
            (22, Resumed()),
            (40, LensReport(moving=False, preset="tall")),
        ),
        (
            (20, LensReport(moving=False, preset="broad")),
            (21, LensReport(moving=True, preset="tall", id="a")),
            (22, Resumed()),
            (23, LensReport(moving=True, preset="tall", id="b")),
            (40, LensReport(moving=False, preset="tall")),
            (41, LensReport(moving=True, preset="tall")),
        ),
    ],
)
def test_a_travel_of_the_recorded_rules_is_none_of_other_rules_however_it_ended(
    reports: tuple[tuple[float, Event], ...],
) -> None:
    """Late, lost, or with a restart in between."""
    entries = at(*TALL_ENOUGH, *reports, (100, BlackSeen()))
    _, engine = otherwise(NEVER_MOVES, UNANSWERED, entries)
    core = engine.state.core
    assert (core.lens, core.preset, core.override) == ("resting", "broad", "rules")
    assert engine.state.tally.travels == ()


def test_a_travel_by_hand_that_turns_elsewhere_is_an_override_under_other_rules_too() -> None:
    entries = at(
        *TALL_ENOUGH,
        (20, LensReport(moving=True, preset="tall")),
        (25, LensReport(moving=True, preset="broad")),
        (40, LensReport(moving=False, preset="broad")),
        (300, LensReport(moving=True, preset="tall")),
        (315, LensReport(moving=False, preset="tall")),
    )
    _, engine = otherwise(NEVER_MOVES, UNANSWERED, entries)
    assert (engine.state.core.preset, engine.state.core.override) == ("tall", "person")


def test_panels_that_were_fitted_because_a_prompt_asked_are_not_fitted_under_other_rules() -> None:
    """The report stood for an answer, and so did the next that said the same."""
    entries = at(
        *TALL_ENOUGH,
        (20, LensReport(moving=True, preset="tall")),
        (32, LensReport(moving=False, preset="tall")),
        (90, PanelReport(panels="sides")),
        (95, PanelReport(panels="sides")),
        (100, BlackSeen()),
    )
    _, engine = otherwise(NEVER_MOVES, UNANSWERED, entries)
    assert engine.state.core.arrangement == "open"


def test_panels_that_somebody_fitted_unasked_are_fitted_under_any_rules() -> None:
    entries = at(*BEGUN, (90, PanelReport(panels="sides")), (100, BlackSeen()))
    _, engine = otherwise(NEVER_MOVES, UNANSWERED, entries)
    assert engine.state.core.arrangement == "sides"


def test_under_its_own_rules_a_restart_is_what_it_was() -> None:
    """What fell due while nobody was there gives no orders at times that are over."""
    entries = at(*BEGUN, (6.5, shape(2.39)), (30, shape(1.78)), (300, Resumed()))
    made, _ = otherwise(UNANSWERED, UNANSWERED, entries)
    plain = [*replay(RoomEngine(UNANSWERED), entries)]
    assert told(made) == told(plain)
    assert told(made)[-1].at == START + 300_000


def test_a_recorded_decision_says_that_the_engine_was_there_before_a_restart() -> None:
    entries = at(*BEGUN, (6.5, shape(2.39)), (30, shape(1.78)))
    made = told(otherwise(UNANSWERED, UNANSWERED, entries, 31)[0])
    entries.append(NightEntry(9, START + 30_500, None, made[-1]))
    entries += at((300, Resumed()))
    assert made[-1].at == START + 30_500
    assert made[-1] in told(otherwise(UNANSWERED, UNANSWERED, entries)[0])


def test_time_passes_up_to_the_end_that_was_asked_for_though_no_line_follows() -> None:
    made, _ = otherwise(UNANSWERED, UNANSWERED, at(*TALL_ENOUGH), 60)
    assert [one.preset for one in told(made) if isinstance(one, RecallOrder)] == ["tall"]
    assert max(one.at for one in told(made)) > START + 20_000
    assert told(otherwise(UNANSWERED, UNANSWERED, at(*TALL_ENOUGH), 10)[0]) == [
        one for one in told(made) if one.at <= START + 10_000
    ]


def test_no_bad_line_is_lost_wherever_it_stands() -> None:
    bad: list[NightEntry | BadLine] = [BadLine(2, "one"), BadLine(3, "two")]
    assert otherwise(HAYLOFT, HAYLOFT, bad)[0] == bad
    made, _ = otherwise(HAYLOFT, HAYLOFT, [*at(*BEGUN), *bad])
    assert [one for one in made if isinstance(one, BadLine)] == bad
