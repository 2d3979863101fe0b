"""The judge itself: it sees each kind of promise break, and reads cells and places rightly."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from engine.decisions import RecallOrder
from engine.events import (
    Event,
    LensReport,
    Mark,
    Override,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    SourceChosen,
    Title,
    ToldFact,
)
from engine.facts import facts_of, room_columns, standing_columns, standing_of
from engine.state import Core, State
from engine.value_set import Kind
from rules import load_room
from rules.text.unary import parse_test
from tests.soundness.cell_reading import Value, reading_of
from tests.soundness.independent_judge import IndependentJudge, Seen
from tests.soundness.known_rooms import BASE
from tests.soundness.random_cells import RULE_FACTS, STANDING, is_truth, random_cell, told_words
from tests.soundness.random_evenings import START, Invented, Moment, Relived, live
from tests.soundness.random_rooms import RandomRoom, Section, random_room, written
from tests.soundness.screen_plane import Point, ScreenPlane, unprojected

ROW = {"case": {"playback": "stopped"}, "show": {"picture": "gentle"}, "because": "It is so."}
PRESETS = {"broad": {"fits": "2.40"}, "tall": {"fits": "1.78"}}
PANELS = {"open": {}, "sides": {"opening": "1.78"}}


def room_with(never: Section, *rows: Section, **sections: Any) -> RandomRoom:  # noqa: ANN401
    file = {**BASE, **sections}
    file["rules"] = {**file["rules"], "rows": [*rows, *file["rules"]["rows"]]}
    file["promises"] = [{"name": "mine", "never": never, "because": "It is so."}]
    text = written(file)
    return RandomRoom(0, text, file, load_room(text, "judged"))


def lived(made: RandomRoom, *events: Event, wait: int = 10_000) -> list[Seen]:
    moments = [Moment(START + wait * at, event) for at, event in enumerate(events)]
    return [*live(made.room, Relived(moments))]


def judged(made: RandomRoom, *events: Event, wait: int = 10_000) -> set[str]:
    judge = IndependentJudge(made.file)
    return {name for seen in lived(made, *events, wait=wait) for name in judge.see(seen)}


def changed(seen: Seen, **core: object) -> Seen:
    """Forge what the engine would never let be."""
    state = seen.after
    forged: Core = replace(state.core, **core)  # type: ignore[arg-type]
    return seen._replace(after=State(forged, state.settling, state.tally, state.due))


USUAL = (ProjectorReport(state="lit"), SourceChosen(source="disc"), Playback(state="playing"))


def test_a_menu_that_is_stretched_is_seen() -> None:
    stopped = (*USUAL, RatioSeen(ratio=2.25), Playback(state="stopped"))
    assert judged(room_with({"picture": "cropped"}), *stopped) == set()
    assert judged(room_with({"picture": "cropped"}, ROW), *stopped) == {"menus plain"}


@pytest.mark.parametrize(("first_minutes", "broken"), [(START * 2, set()), (None, {True})])
def test_a_travel_in_mid_title_is_seen(first_minutes: int | None, broken: set[bool]) -> None:
    made = room_with({"picture": "cropped"}, presets=PRESETS)
    seen = lived(made, *USUAL)[-1]
    order = RecallOrder(
        at=0, rule="r", code="row", reason="r", facts={}, id=1, ends=2, preset="tall"
    )
    timers = seen.after.core.timers._replace(first_minutes=first_minutes)
    judge = IndependentJudge(made.file)
    for event in USUAL:
        judge.see(seen._replace(event=event, decisions=()))
    found = judge.see(changed(seen, timers=timers)._replace(decisions=(order,)))
    assert {"no travel in mid-title" in found} - {False} == broken


def test_a_picture_on_panels_is_seen_wherever_the_lens_may_be() -> None:
    made = room_with({"picture": "cropped"}, presets=PRESETS, panels=PANELS)
    known = (PanelReport(panels="open"), LensReport(moving=False, preset="tall"), *USUAL)
    judge, steps = IndependentJudge(made.file), lived(made, *known, RatioSeen(ratio=1.7778))
    assert [name for seen in steps for name in judge.see(seen)] == []
    last = steps[-1]
    assert judge.see(changed(last, arrangement="sides")) == set()
    for elsewhere in (
        {"preset": "broad"},
        {"lens": "unknown", "preset": None},
        {"lens": "travelling", "origin": "tall", "preset": "broad"},
        {"lens": "travelling", "origin": None, "preset": "tall"},
    ):
        assert "no picture on panels" not in judge.see(changed(last, **elsewhere))
        for panels in ("sides", None):
            on_panels = changed(last, arrangement=panels, **elsewhere)
            assert "no picture on panels" in judge.see(on_panels)
            assert judge.see(changed(on_panels, failed=True)) == set()


def test_promises_of_facts_and_of_standing_are_seen_to_break() -> None:
    for never, last in (
        ({"source": "disc", "playback": "paused"}, Playback(state="paused")),
        ({"override": "person", "picture": "whole"}, Override(taken=True)),
        ({"aspect": "[2.10..2.30)", "picture": "gentle"}, RatioSeen(ratio=2.25)),
        ({"declared": "> 2"}, Title(begun=True, declared=2.2)),
        ({"noise": "> 2.5"}, ToldFact(fact="noise", value=3)),
    ):
        menus = {"case": {"helper": "free", "first_minutes": "no"}, "show": {"picture": "whole"}}
        if "whole" in never.values():
            made = room_with(never, {**menus, "because": "So."}, told={"noise": "0 to 12"})
            start: tuple[Event, ...] = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
        else:
            made, start = room_with(never, told={"noise": "0 to 12"}), USUAL
        assert judged(made, *start) == set()
        assert judged(made, *start, last, ProjectorReport(state="lit")) == {"mine"}


def test_a_pause_that_has_lasted_long_counts_as_a_stop() -> None:
    made = room_with({"playback": "stopped"})
    paused = (*USUAL, Playback(state="paused"))
    assert judged(made, *paused, PanelReport(panels="open")) == set()
    assert judged(made, *paused, PanelReport(panels="open"), wait=60_000) == {"mine"}


@pytest.mark.parametrize(
    ("cell", "passing", "failing"),
    [
        ("-", [None, Fraction(1)], []),
        ("2.39", [Fraction("2.39")], [Fraction("2.4"), None]),
        ("!= 2.39", [Fraction(2)], [Fraction("2.39"), None]),
        ("(2.5..3.5]", [Fraction(3), Fraction("3.5")], [Fraction("2.5"), None]),
        ("[1.85..2.20)", [Fraction("1.85")], [Fraction("2.2"), Fraction("1.84")]),
        ("< -1.5, > 2", [Fraction(-2), Fraction(3)], [Fraction(0), Fraction("-1.5")]),
        ("not([1..2], 4)", [Fraction(3)], [Fraction(1), Fraction(4), None]),
        ("null, >= 2", [None, Fraction(2)], [Fraction(1)]),
        ("not(null)", ["disc"], [None]),
        ('not("disc")', ["other"], ["disc", None]),
        (">= 22:00, < 7:00", [Fraction(1_320), Fraction(0)], [Fraction(420)]),
        ("[22:00..24:00)", [Fraction(1_439)], [Fraction(1_319)]),
        ("> 2.5 %", [Fraction("0.03")], [Fraction("0.025"), None]),
        ("scope, 2", [Fraction("2.3"), Fraction(2)], [Fraction("2.29")]),
    ],
)
def test_a_cell_accepts_what_the_standard_says(
    cell: str, passing: list[Value], failing: list[Value]
) -> None:
    test = reading_of(cell, shapes={"scope": ">= 2.30"})
    assert [value for value in passing if not test(value)] == []
    assert [value for value in failing if test(value)] == []


def test_both_readings_of_every_random_cell_agree() -> None:
    rng = Random(5)
    for seed in range(25):
        made = random_room(seed)
        columns = (*room_columns(made.room), *standing_columns(("plain", "whole", "dark")))
        known = {column.name: column for column in columns if column.name != "picture"}
        scales = {Kind.RATIO: 10_000, Kind.SHARE: 10_000}
        for fact in (*RULE_FACTS, *STANDING, *told_words(made.file)):
            if fact not in known or not (known[fact].kind in scales or fact == "noise"):
                continue
            cell, scale = random_cell(rng, made.file, fact), scales.get(known[fact].kind, 1)
            shapes = {
                name: parse_test(text, known["aspect"]).region
                for name, text in made.file["shapes"].items()
            }
            theirs = parse_test(cell, known[fact], shapes).region
            ours = reading_of(cell, truth=is_truth(made.file, fact), shapes=made.file["shapes"])
            for number in [rng.randint(-5, 12) if scale == 1 else rng.randint(0, 400) * 100]:
                assert ours(Fraction(number, scale)) == theirs.accepts(number), (cell, number)
            assert ours(None) == theirs.accepts(None), cell


def test_the_facts_that_the_judge_has_heard_are_those_that_rules_see() -> None:
    for seed in range(15):
        made = random_room(seed)
        judge = IndependentJudge(made.file)
        for seen in live(made.room, Invented(made, seed)):
            judge.see(seen)
            state = seen.after
            theirs = facts_of(made.room, state.core, state.settling) | standing_of(
                made.room, state.core
            )
            for fact, value in judge.facts(state, seen.now).items():
                scale = 10_000 if fact in {"aspect", "declared", "tallest", "lift"} else 1
                plain = value * scale if isinstance(value, Fraction) else value
                assert plain == theirs[fact], (seed, fact, seen)


def test_light_falls_where_a_ruler_says() -> None:
    """By hand: 4096 x 2160 for 1.78 on 3.4 m by 1.41667 m is 2.68642 m wide and as high."""
    plane = ScreenPlane(BASE | {"presets": PRESETS, "panels": PANELS})
    size = plane.raster_on_screen(Fraction(16, 9))
    assert float(size.width) == pytest.approx(2.68642, abs=2e-4)
    assert float(size.height) == pytest.approx(1.41667, abs=1e-5)
    side = round(1.41667 * 16 / 9 / 3.4 * 4_096)  # the opening at the preset that fills the screen
    left = (4_096 - side) // 2
    assert not plane.spill((left, 0, side, 2_160), "broad", "sides")
    assert not plane.spill((left, 0, side, 2_160), "broad", "open")
    assert plane.spill((left - 3, 0, side, 2_160), "broad", "sides")
    assert plane.spill((left, 0, side + 3, 2_160), "broad", "sides")


def test_room_for_lines_is_looked_for_on_the_screen_off_panels_and_in_the_raster() -> None:
    """Of a scope picture a tenth smaller than the screen, then of one that stands lower."""
    bars = {**PANELS, "letter": {"opening": "2.76"}}
    made = room_with({"lift": "> 0 %"}, presets=PRESETS, panels=bars)
    plane, tenth = ScreenPlane(made.file), Fraction(1, 10)
    # The screen has 1,707 of 2,160 rows at broad, from 226.5 on, and all of them at tall.
    assert plane.room_fits((400, 227, 3_296, 1_550), tenth, "broad", "open")
    assert not plane.room_fits((400, 233, 3_296, 1_550), tenth, "broad", "open")
    assert not plane.room_fits((400, 227, 3_296, 1_550), tenth, "broad", "letter")
    assert plane.room_fits((400, 227, 3_296, 1_300), tenth, "broad", "letter")
    assert plane.room_fits((400, 400, 3_296, 1_600), tenth, "tall", "open")
    assert not plane.room_fits((400, 405, 3_296, 1_600), tenth, "tall", "open")


def test_a_picture_whose_lines_have_no_room_is_seen_where_lens_and_panels_stand() -> None:
    pictures = {**BASE["pictures"], "lines": {"room_below": "11 %"}}
    films = {
        "case": {"playback": "playing", "aspect": "> 2.0"},
        "show": {"picture": "lines", "lift": "0 %"},
        "because": "It is so.",
    }
    made = room_with({"lift": "> 0 %"}, films, presets=PRESETS, panels=PANELS, pictures=pictures)
    known = (PanelReport(panels="open"), LensReport(moving=False, preset="broad"), *USUAL)
    judge, steps = IndependentJudge(made.file), lived(made, *known, RatioSeen(ratio=2.39), Mark())
    assert [name for seen in steps for name in judge.see(seen)] == []
    last = steps[-1]
    shown = last.after.core.shown
    assert shown is not None
    assert shown.picture == "lines"
    lower = shown._replace(region=shown.region._replace(top=shown.region.top + 5))
    assert judge.see(changed(last, shown=lower)) == {"room for lines"}
    for elsewhere in (
        {"lens": "unknown", "preset": None},
        {"lens": "travelling", "origin": "broad", "preset": "tall"},
        {"arrangement": None},
        {"override": "person"},
    ):
        assert "room for lines" not in judge.see(changed(last, shown=lower, **elsewhere))


def test_corners_off_square_lead_back_to_the_screens_corners() -> None:
    corners: list[Point] = [
        (Fraction(x), Fraction(y))
        for x, y in ((60, 260), (4_050, 236), (4_040, 1_920), (44, 1_922))
    ]
    found = [unprojected(corners, corner) for corner in corners]
    assert [(int(across), int(down)) for across, down in found] == [(0, 0), (1, 0), (1, 1), (0, 1)]
    assert all(part.denominator == 1 for place in found for part in place)
