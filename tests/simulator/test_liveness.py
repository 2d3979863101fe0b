"""From a title's beginning its look stands in time, or an evening shows that it does not."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import Final

import pytest

from engine import RoomEngine
from engine.facts import HELPER, Facts, facts_of
from engine.holds import HOLDS
from engine.room import Room, Show
from engine.settle import STANDARD
from engine.table import choose
from rules.room.load import load
from rules.table.boxes import BudgetSpent
from simulator.nights.invention import BEGINS
from simulator.proof import title_starts as starts_module
from simulator.proof.faults import late_look
from simulator.proof.liveness import Liveness, check_liveness, what_is_missing
from simulator.proof.proof import prove
from simulator.proof.stopping import never
from simulator.proof.title_starts import SETTLED, TitleStart, title_starts
from simulator.shipped import ROOMS
from tests.simulator.small import PARTS, SILENT, TALKING, TOLD, changed

NOBODY: Final = '{helper: "asked, refused"}'
PACED: Final = "pace: {linger: 12 s, prompts: {wait: 12 s}}\n"
"""How soon lens and people are sent for in these stories, where a room says nothing itself."""
SMALL: Final = {"talking": TALKING, "silent": SILENT, "parts": PARTS, "told": TOLD}


def promising(text: str, within: str, unless: str = "") -> Room:
    """A room that promises its looks within a time, unless something is so."""
    excuse = f", unless: {unless}" if unless else ""
    promise = f"  - {{name: soon, within: {within}{excuse}, because: Nobody waits.}}\n"
    text = text if "pace:" in text else text + PACED
    if "promises:\n" in text:
        return load(text.replace("promises:\n", f"promises:\n{promise}"), "room.yaml")
    return load(f"{text}promises:\n{promise}", "room.yaml")


def played(text: str, within: str, unless: str = "") -> Liveness:
    return check_liveness(promising(text, within, unless), never)


@pytest.mark.parametrize("path", ROOMS, ids=lambda path: path.stem)
def test_a_shipped_room_stands_right_soon_unless_people_are_in_its_way(path: Path) -> None:
    """Within a minute; later where the lens lingers for 45 s and travels for 25."""
    text = path.read_text("utf-8")
    found = played(text, "60 s" if "linger:" in text else "100 s", NOBODY)
    assert found.late == ()
    assert found.complete
    assert found.runs > 0


def test_a_time_shorter_than_the_travel_is_broken_and_told_with_the_time_that_it_takes() -> None:
    """By hand: a wish stands for 12 s, and the lens travels for 15 of its 18 s."""
    (late,) = played(TALKING, "20 s").late
    assert "the lens still travels, and" in late.missing
    assert late.stands_after is not None
    assert 27_000 <= late.stands_after <= 35_000
    assert late.takes == ("pace.linger is 12 s", "projector.lens.travel is 18 s")
    assert played(TALKING, "35 s").late == ()


def test_where_rows_contradict_each_other_the_default_look_is_waited_for() -> None:
    """After the first minutes two rows match that must not, and no lens travels in mid-title."""
    pace = "pace: {linger: 2 s, recalls: {first_minutes: 20 s}, prompts: {wait: 12 s}}\n"
    text = TALKING.replace("presets:", f"{pace}presets:", 1)
    assert played(text, "90 s").late == ()
    case = "{aspect: '>= 2.30', first_minutes: no}"
    late = f"    - {{name: late, case: {case}, show: {{lift: 3 %}}, because: So.}}"
    for old, new in (
        ("policy: first", "policy: unique"),
        ("  otherwise: {picture: plain,", f"{late}\n  otherwise: {{preset: tall, picture: plain,"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    (found,) = played(text, "90 s").late
    assert "tall is wanted" in found.missing


def test_the_evening_that_breaks_it_does_so_on_the_engine() -> None:
    room = promising(TALKING, "20 s")
    (late,) = check_liveness(room, never).late
    engine = RoomEngine(room)
    for now, event in late.events:
        assert engine.receive(event, now).refusal is None
    engine.receive(None, late.ends)
    assert late.ends == BEGINS + 20_000
    assert what_is_missing(engine.state.core) == late.missing


def test_who_is_away_keeps_a_look_from_standing_unless_the_promise_says_so() -> None:
    (late,) = played(SILENT, "40 s").late
    assert "panels are" in late.missing
    assert played(SILENT, "40 s", NOBODY).late == ()


def test_a_look_that_is_held_for_good_does_not_stand_within_an_hour() -> None:
    """No recall is left for a title."""
    text = f"{TALKING}pace: {{recalls: {{per_title: 0}}}}\n"
    (late,) = played(text, "80 s").late
    assert late.stands_after is None
    assert HOLDS["per_title"].rstrip(".") in late.missing
    assert late.missing.count(HOLDS["per_title"].rstrip(".")) == 1
    assert f"within an hour, for then {late.at_last}:" in late_look(load(text), late).suggestion


def test_a_refusal_earlier_in_the_session_counts_too() -> None:
    """While nobody is asked only those are excused who are asked now, not who has refused."""
    text = changed(
        SILENT, ('case: {aspect: "[1.70..1.95)", helper: not(refused)}', "case: {helper: refused}")
    ).text
    (late,) = played(text, "2 min", "{helper: asked, panels: sides}").late
    assert "panels are" in late.missing
    assert "Nobody is free to fit panels" in late.missing


def test_what_is_told_may_excuse_a_promise() -> None:
    assert played(TOLD, "5 s").late != ()
    assert played(TOLD, "5 s", '{guests: "yes, no, null"}').late == ()
    assert played(TOLD, "5 s", "{guests: yes}").late != ()


def test_a_test_between_two_whole_numbers_may_excuse_a_promise() -> None:
    """A hub tells whole numbers: none lies between 9.5 and 10."""
    assert played(TOLD, "5 s", '{noise: "<= 4.5, null"}').late != ()
    assert played(TOLD, "5 s", '{noise: "<= 9.5, 10, null"}').late == ()


# ------------------------------------------------------------------------- kinds of beginnings


def moves(room: Room, facts: Facts) -> object:
    """What is wanted at each place of the equipment under some facts."""
    places = product((None, *room.presets), (None, *room.panels), HELPER, (True, False))
    wanted = []
    for preset, panels, helper, first_minutes in places:
        stands = {
            "preset": preset,
            "panels": panels,
            "helper": helper,
            "first_minutes": first_minutes,
        }
        show = choose(room.rules.table, {**facts, **stands}).output or Show()
        wanted.append((show.preset, show.panels))
    return tuple(wanted)


def facts_after(room: Room, start: TitleStart) -> Facts:
    engine = RoomEngine(room)
    for event in (*start.before, *start.begins):
        assert engine.receive(event, BEGINS).refusal is None
    engine.receive(None, BEGINS + SETTLED)
    return facts_of(room, engine.state.core, engine.state.settling)


@pytest.mark.parametrize("name", [*SMALL, *(path.stem for path in ROOMS)])
def test_every_way_to_begin_a_title_has_one_of_its_kind_among_those_played(name: str) -> None:
    """Each film's shape, as it is read, for each source and each told fact."""
    shipped = {path.stem: path for path in ROOMS}
    text = SMALL.get(name) or shipped[name].read_text("utf-8")
    room = load(text, name)
    known = {moves(room, facts_after(room, start)) for start in title_starts(room)}
    told = [one.values or range(one.least or 0, (one.most or 0) + 1) for one in room.told.values()]
    for source in room.sources.values():
        if source.shape is not None or source.leave_alone:
            continue
        for shape, minute, *values in product(
            (None, *STANDARD), (None, 600, 1_380), *((None, *one) for one in told)
        ):
            ratio = None if shape is None else (shape + 50) // 100 * 100
            facts: Facts = {
                "source": source.name,
                "playback": "playing",
                "aspect": ratio,
                "declared": None,
                "tallest": ratio,
                "varies": False,
                "subtitles": False,
                "doubtful": False,
                "time": minute,
                "range": None,
                "three_d": None,
            }
            for fact, value in zip(room.told.values(), values, strict=True):
                facts[fact.name] = fact.default if value is None else value
            assert moves(room, facts) in known, facts


# ----------------------------------------------------------------------------------- the proof


GUESTS: Final = """\
room: small
time_zone: UTC
screen: {width: 3.2 m, aspect: 2.35, border: 150 mm}
projector: {raster: 4096 x 2160, lens: {travel: 20 s, reports: yes}}
presets: {long: {fits: 1.85}, wide: {fits: 2.35}}
sources: {disc: {declares: yes}}
told: {guests: yes or no}
cues: {lamps: low or full}
rules:
  policy: first
  rows:
    - case: {playback: playing, guests: yes}
      show: {picture: plain, lift: 5 %, preset: long, cues: {lamps: full}}
      because: Guests.
    - case: {playback: playing}
      show: {picture: whole, lift: 0 %, preset: long, cues: {lamps: low}}
      because: Films.
  otherwise: {picture: plain, lift: 0 %}
"""
"""Whoever is there, the lens has to travel; the rest of the look differs."""


@pytest.mark.parametrize("unless", ["{picture: whole}", "{lift: 0 %}", "{cue lamps: low}"])
def test_what_is_shown_excuses_those_beginnings_alone_that_show_it(unless: str) -> None:
    """With guests there the lens is late, and nothing excuses it."""
    (late,) = played(GUESTS, "5 s", unless).late
    assert "long is wanted" in late.missing
    assert late.row == 0


def test_a_picture_that_changes_when_the_first_minutes_are_over_may_be_late_by_itself() -> None:
    """No lens and no panels move. The hub takes 0.3 s for the raised picture that comes late."""
    pace = "orders: {answered: yes}\npace: {recalls: {first_minutes: 20 s}}\n"
    row = """\
    - case: {declared: 2.39, first_minutes: no}
      show: {lift: 5 %}
      because: So.
"""
    text = GUESTS.replace("presets: {long: {fits: 1.85}, wide: {fits: 2.35}}\n", pace)
    text = text.replace(", preset: long", "").replace("  rows:\n", f"  rows:\n{row}")
    for within, late in (("19 s", 0), ("20 s", 1), ("20200 ms", 1), ("21 s", 0)):
        assert len(played(text, within).late) == late


def test_a_proof_tells_which_promises_of_time_hold_and_how_the_others_break() -> None:
    late = prove(promising(SILENT, "40 s"))
    (fault,) = (one for one in late.faults if one.promise == "soon")
    assert (fault.code, fault.fatal) == ("broken", True)
    assert fault.message.startswith("soon does not hold: 40 s after a title's beginning ")
    assert "let within be longer" in fault.suggestion
    assert fault.counterexample is not None
    assert [one.status for one in late.verdicts if one.promise == "soon"] == ["broken"]
    kept = prove(promising(SILENT, "40 s", NOBODY))
    assert ("soon", "Nobody waits.") in kept.proven


def test_a_search_that_is_broken_off_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    room = promising(SILENT, "40 s", NOBODY)
    cut = prove(room, stop=lambda: True)
    assert "soon" not in {name for name, _ in cut.proven}
    assert not any("too many beginnings" in one.message for one in cut.faults)

    def spent(*_: object) -> object:
        raise BudgetSpent

    monkeypatch.setattr(starts_module, "_kinds", spent)
    proof = prove(room)
    assert "soon" not in {name for name, _ in proof.proven}
    assert [one.code for one in proof.faults if one.fatal] == ["not-proven"]


def test_a_room_without_such_promises_plays_nothing() -> None:
    assert check_liveness(load(SILENT, "room.yaml"), never) == Liveness(0, (), complete=True)


@pytest.mark.parametrize("questions", [0, 1, 10])
def test_whoever_breaks_off_need_not_wait_until_beginnings_are_listed(questions: int) -> None:
    left = iter(range(questions))
    room = promising(TALKING, "40 s")
    found = check_liveness(room, lambda: next(left, None) is None)
    assert (found.runs, found.complete) == (0, False)
