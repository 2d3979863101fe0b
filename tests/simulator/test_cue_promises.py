"""Promises may speak of cues as last ordered: nights are judged by them, proofs try any before."""

from __future__ import annotations

from typing import Final

import pytest

from engine import RoomEngine
from engine.events import (
    Event,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
)
from engine.facts import standing_of
from engine.room import Room
from rules.room.load import load, read_room
from simulator.nights.promises import PromiseWatch
from simulator.proof.proof import prove
from tests.simulator.proofs import WITH_PANELS, study

TEXT: Final = """\
room: den
time_zone: Europe/Lisbon
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 3840 x 2160}
orders: {answered: yes}
sources: {disc: {}}
cues: {lamps: full or low, curtain: drawn or shut}
rules:
  policy: first
  rows:
    - name: film
      case: {playback: playing}
      show: {picture: plain, cues: {lamps: low}}
      because: It is dark in a film.
  otherwise: {picture: whole, cues: {lamps: full}}
promises:
  - name: dark in films
    never: {playback: playing, override: rules, cue lamps: full}
    because: Nobody wants light in a film.
  - name: whole in menus
    never: {playback: stopped, override: rules, picture: "not(whole, plain, dark)"}
    because: Menus are shown as they are.
"""
START: Final = 1_795_375_800_000


def room(*changes: tuple[str, str]) -> Room:
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return load(text, "den.yaml")


def broken(den: Room, *events: Event) -> list[str]:
    """Which promises an evening breaks, an event each second."""
    engine = RoomEngine(den)
    watch = PromiseWatch(engine)
    labels = []
    for second, event in enumerate(events):
        reply = engine.receive(event, START + second * 1_000)
        assert reply.refusal is None
        labels += [one.label for one in watch.see(reply.decisions)]
    return labels


MENU: Final = (
    ProjectorReport(state="lit"),
    SourceChosen(source="disc"),
    Playback(state="stopped"),
)


def test_a_night_is_judged_by_the_cues_that_were_ordered() -> None:
    den = room(("show: {picture: plain, cues: {lamps: low}}", "show: {picture: plain}"))
    assert broken(den, *MENU, Playback(state="playing")) == ["dark in films"]
    assert broken(room(), *MENU, Playback(state="playing")) == []


def test_what_rules_say_of_cues_holds_while_a_person_has_the_picture() -> None:
    overridden = (*MENU, Override(taken=True), Playback(state="playing"))
    everybody = room(("override: rules, cue lamps: full", "cue lamps: full"))
    assert broken(everybody, *overridden) == []


def test_of_lamps_that_a_person_has_set_nothing_is_promised() -> None:
    everybody = room(("override: rules, cue lamps: full", "cue lamps: full"))
    own = Override(taken=True, look=OverrideLook(cues={"lamps": "full"}))
    assert broken(everybody, *MENU, own, Playback(state="playing")) == []


def test_an_order_counts_at_once_and_a_cue_that_was_never_ordered_is_not_known() -> None:
    den = room()
    engine = RoomEngine(den)
    for event in MENU:
        engine.receive(event, START)
    (order,) = engine.state.core.open_cues
    standing = standing_of(den, engine.state.core)
    assert (standing["cue lamps"], standing["cue curtain"]) == ("full", None)
    engine.receive(Outcome(order=order.id, outcome="done"), START + 100)
    assert engine.state.core.open_cues == ()
    assert standing_of(den, engine.state.core) == standing


def test_a_proof_tries_whatever_may_have_been_ordered_of_a_cue() -> None:
    lit = room(
        ("override: rules, cue lamps: full", "override: rules, picture: plain, cue lamps: full")
    )
    proof = prove(lit)
    assert [one for one in proof.faults if one.fatal] == []
    assert {one.status for one in proof.verdicts} == {"proven"}


def test_without_light_no_row_orders_a_cue_anew() -> None:
    (fault,) = (one for one in prove(room()).faults if one.fatal)
    assert (fault.code, fault.promise) == ("broken", "dark in films")


def test_a_cue_that_a_row_leaves_out_stands_as_it_was_ordered_before() -> None:
    den = room(("show: {picture: plain, cues: {lamps: low}}", "show: {picture: plain}"))
    (fault,) = (one for one in prove(den).faults if one.fatal)
    assert (fault.code, fault.promise) == ("broken", "dark in films")
    assert fault.counterexample is not None


def advice(*changes: tuple[str, str]) -> str:
    """What is told of the one promise that breaks."""
    (fault,) = (one for one in prove(room(*changes)).faults if one.fatal)
    assert fault.counterexample is not None
    return fault.suggestion


def test_of_a_cue_the_row_is_blamed_that_leaves_it_out_and_who_set_it_is_told() -> None:
    by_row = ("show: {picture: plain, cues: {lamps: low}}", "show: {picture: plain}")
    assert advice(by_row) == (
        "Under film (line 11), which leaves lamps out, 'full' remains, which otherwise (line 15) "
        "had set. Let film (line 11) set lamps, or say in the promise where it need not hold."
    )


def test_a_cue_that_only_a_person_ever_sets_stands_on_when_they_give_the_room_back() -> None:
    assert advice(
        ("override: rules, cue lamps: full", "override: rules, cue curtain: drawn"),
    ) == (
        "Under film (line 11), which leaves curtain out, 'drawn' remains, which a person had set. "
        "Let film (line 11) set curtain, or say in the promise where it need not hold."
    )


def test_a_cue_that_waits_is_told_to_wait() -> None:
    waits = ("cues: {lamps: low}}", "cues: {lamps: low}, after: 10 s}")
    assert advice(waits) == (
        "Under film (line 11) lamps becomes 'low' only after a while; 'full' remains. Let film "
        "(line 11) set lamps at once: leave its `after` out, or say in the promise where it need "
        "not hold."
    )


def test_a_cue_stands_on_under_an_override() -> None:
    den = room(("override: rules, cue lamps: full", "cue lamps: full"))
    (fault,) = (one for one in prove(den).faults if one.fatal)
    assert (fault.code, fault.promise) == ("broken", "dark in films")


def test_of_cues_that_are_ordered_to_and_fro_the_rules_are_accused_and_not_roomcue() -> None:
    rows = "".join(
        f"    - {{case: {{helper: {seen}}}, show: {{panels: {panels}, cues: {{lamps: {lamps}}}}}, "
        "because: So.}\n"
        for seen, panels, lamps in (("free", "sides", "low"), ("asked", "open", "full"))
    )
    cues = ("sources:\n", "cues: {lamps: low or full}\nsources:\n")
    faults = prove(load(study(WITH_PANELS, cues, ("  rows:\n", f"  rows:\n{rows}")))).faults
    codes = {one.code for one in faults if one.fatal}
    assert ("circle" in codes, "engine" in codes) == (True, False)


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("cue lamps: bright", "It takes full, low"),
        ("cue lamp: full", "Did you mean cue lamps?"),
        ("lamps: full", "lamps is no fact"),
    ],
)
def test_a_cue_or_a_value_that_is_not_declared_is_told_at_its_place(
    written: str, says: str
) -> None:
    text = TEXT.replace("cue lamps: full}", f"{written}}}")
    (finding,) = read_room(text, "den.yaml").findings
    assert finding.line == 18
    assert says in str(finding)
