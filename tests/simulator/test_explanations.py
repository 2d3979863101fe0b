"""Broken promises are explained: the evening on which they break, what did it, and what to do.

Each room has one fault, planted where it is hard to see.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pytest
from typer.testing import CliRunner

from adapters.cli import check_commands
from adapters.cli.command_group import app
from adapters.render.proof_text import counterexample_text, reported
from engine import RoomEngine
from engine.events import (
    Event,
    LensReport,
    Playback,
    RatioSeen,
    Resumed,
    SourceChosen,
    Title,
)
from engine.room import Room
from rules.room.load import load
from simulator.nights.invention import BEGINS
from simulator.nights.promises import PromiseWatch, judge_of
from simulator.nights.stand_in_hub import TimedEvent
from simulator.proof import counterexample
from simulator.proof.blame import blame
from simulator.proof.counterexample import Counterexample, played_again
from simulator.proof.faults import Fault
from simulator.proof.proof import prove
from tests.simulator.proofs import FLAT, WITH_PANELS, known_proof, promised, proven, study

Change = tuple[str, str]

IN_A_PAUSE: Final[tuple[Change, ...]] = (
    ("sources:\n", "told: {guests: yes or no}\nsources:\n"),
    ('case: {aspect: "[2.10..2.30)"}', 'case: {aspect: "[2.10..2.30)", guests: not(yes)}'),
    promised("{guests: yes, picture: gentle, override: rules}"),
)
"""Guests shall see no stretched picture, but a pause keeps one while they come in."""

A_LENS_LOST: Final[tuple[Change, ...]] = (
    ("reports: yes", "reports: no"),
    ("show: {picture: whole}", "show: {picture: whole, lift: 0 %}"),
    ("show: {picture: plain, preset: broad", "show: {picture: plain, lift: 0 %, preset: broad"),
    ("show: {picture: gentle, preset", "show: {picture: gentle, lift: 4 %, preset"),
    ("otherwise: {picture: plain}", "otherwise: {picture: plain, lift: 0 %}"),
    (
        "    - name: scope\n",
        (
            "    - name: lost\n      case: {preset: null, playback: playing}\n"
            "      show: {picture: plain}\n      because: This is safe anywhere.\n"
            "    - name: scope\n"
        ),
    ),
    (
        "  otherwise: {picture: plain, lift: 0 %}\n",
        (
            "  otherwise: {picture: plain, lift: 0 %}\npromises:\n  - name: mine\n"
            "    never: {preset: null, lift: '> 0 %', override: rules}\n    because: It is so.\n"
        ),
    ),
)
"""Where nobody knows the lens's place nothing shall be raised, but one row forgets the lift.

A report that nobody knows where the lens is loses it, and so does a restart in mid-travel.
"""

WITHOUT_DELAY: Final[tuple[Change, ...]] = (
    *A_LENS_LOST,
    ("sources:\n", "pace: {linger: 0 s}\nsources:\n"),
)
"""The same fault where the lens is sent without delay: a report that loses it is enough."""

UNDER_AN_OVERRIDE: Final[tuple[Change, ...]] = (promised("{aspect: scope, picture: gentle}"),)
"""No row stretches a scope film, but a person may."""

PLANTED: Final[dict[str, tuple[Change, ...]]] = {
    "in a pause": IN_A_PAUSE,
    "where the lens is lost": WITHOUT_DELAY,
    "where a lens that lingers is lost": A_LENS_LOST,
    "under an override": UNDER_AN_OVERRIDE,
    "by a picture left out": (("show: {picture: whole}", "show: {preset: broad}"),),
    "by a lens that waits": (
        promised("{source: disc, aspect: scope, preset: tall, override: rules, playback: playing}"),
    ),
    "by a row": (("show: {picture: whole}", "show: {picture: gentle}"),),
    "by panels fitted during a travel": (
        WITH_PANELS,
        promised("{panels: sides, travelling: yes, override: rules}"),
    ),
}


def planted(where: str) -> str:
    """Write the room file with the fault."""
    return study(*PLANTED[where])


def explained(where: str) -> tuple[Room, Fault]:
    """Prove a room with a planted fault; gives the room and the one promise that breaks."""
    room, proof = proven(planted(where))
    (fault,) = proof.faults
    return room, fault


def told(where: str) -> list[str]:
    """Tell the evening as `check` does, from its second line to the last but one."""
    room, fault = explained(where)
    return [line.strip() for line in counterexample_text(room, reported(fault))][1:]


def broken_on(room: Room, fault: Fault, events: tuple[TimedEvent, ...]) -> bool:
    """Play events on a fresh engine up to the evening's end; tells whether the promise breaks."""
    assert fault.counterexample is not None
    engine = RoomEngine(room)
    watch, broken = PromiseWatch(engine), False
    moments = [*((one.now, one.event) for one in events), (fault.counterexample.ends, None)]
    for now, event in moments:
        while engine.deadline is not None and engine.is_due_before(event, now):
            made = engine.receive(None, engine.deadline).decisions
            broken |= fault.promise in {one.label for one in watch.see(made)}
        made = engine.receive(event, now).decisions
        broken |= fault.promise in {one.label for one in watch.see(made)}
    return broken


def test_a_fault_in_a_pause_is_laid_at_the_pause_and_the_row_before_it() -> None:
    _, fault = explained("in a pause")
    assert fault.suggestion == (
        "A pause holds 'gentle', which nearly (line 30) had chosen, while 'guests' is told yes. "
        "A pause moves nothing: say `playback: playing` in the promise, or let nearly (line 30) "
        "show what may stay."
    )
    assert told("in a pause") == [
        "19:30:01  source: disc",
        "19:30:01    picture whole for 1.78, 3034 x 1706 pixels at 531, 227",
        "19:30:02  playing",
        "19:30:03  reading: 2.20",
        "19:30:03    take back order 1",
        "19:30:03    picture plain for 2.20, 3754 x 1706 pixels at 171, 227",
        "19:30:04  told: guests is no",
        "19:30:04    take back order 2",
        "19:30:04    picture gentle for 2.20, 4096 x 1706 pixels at 0, 227",
        "19:30:05  paused",
        "19:30:06  told: guests is yes",
        "19:30:06  here it breaks",
    ]


LENS_LOST = [
    "19:30:01  source: disc",
    "19:30:01    picture whole for 1.78, 3034 x 1706 pixels at 531, 227",
    "19:30:02  playing",
    "19:30:03  reading: 2.20",
    "19:30:03    take back order 1",
    "19:30:03    picture plain for 2.20, 3754 x 1706 pixels at 171, 227",
    "19:30:04  lens: rests at broad",
    "19:30:04    take back order 2",
    "19:30:04    picture gentle for 2.20, raised 4 %, 4096 x 1706 pixels at 0, 159",
    "19:30:05  lens: not known where",
    "19:30:05    take back order 3",
    "19:30:05    picture plain for 2.20, raised 4 %, 3754 x 1706 pixels at 171, 159",
    "19:30:05  here it breaks",
]


def test_a_fault_where_the_lens_is_lost_is_laid_at_the_row_that_leaves_a_part_out() -> None:
    _, fault = explained("where the lens is lost")
    assert fault.suggestion == (
        "Under lost (line 26), which leaves the lift out, a lift of 4 % remains, which nearly "
        "(line 34) had chosen. Let lost (line 26) show a lift of its own, or say in the promise "
        "where it need not hold."
    )
    assert told("where the lens is lost") == LENS_LOST


def test_a_lens_that_lingers_is_lost_as_soon() -> None:
    _, fault = explained("where a lens that lingers is lost")
    assert fault.suggestion == (
        "Under lost (line 25), which leaves the lift out, a lift of 4 % remains, which nearly "
        "(line 33) had chosen. Let lost (line 25) show a lift of its own, or say in the promise "
        "where it need not hold."
    )
    assert told("where a lens that lingers is lost") == LENS_LOST


def test_a_fault_after_a_restart_is_said_to_come_after_it() -> None:
    """A restart in mid-travel loses the lens, on an evening that is not the shortest one."""
    room = load(planted("where a lens that lingers is lost"))
    events: tuple[Event, ...] = (
        SourceChosen(source="disc"),
        Playback(state="playing"),
        RatioSeen(ratio=2.20),
        LensReport(moving=True, preset="broad"),
        Title(begun=False),
        Resumed(),
    )
    timed = tuple(TimedEvent(BEGINS + second * 1_000, one) for second, one in enumerate(events, 1))
    walk = played_again(room, judge_of(room, "mine"), Counterexample(timed, timed[-1].now))
    assert walk is not None
    assert blame(room, "mine", walk).words == (
        "After a restart, under lost (line 25), which leaves the lift out, a lift of 4 % remains, "
        "which nearly (line 33) had chosen."
    )


@pytest.mark.parametrize(
    "never",
    [
        "{playback: playing, aspect: scope, picture: gentle}",
        "{playback: paused, aspect: scope, picture: gentle, override: rules}",
    ],
)
def test_an_evening_is_found_where_a_picture_fits_only_without_panels(never: str) -> None:
    """Somebody has to say first that the panels are off; then a shape has to be just right."""
    (fault,) = proven(study(WITH_PANELS, FLAT, promised(never)))[1].faults
    assert fault.counterexample is not None


def test_a_fault_under_an_override_is_laid_at_nobodys_rules() -> None:
    _, fault = explained("under an override")
    assert fault.suggestion == (
        "A person asks for picture 'gentle'. A person's wish goes before the rules: say "
        "`override: rules` in the promise."
    )
    assert told("under an override") == [
        "19:30:01  source: disc",
        "19:30:01    picture whole for 1.78, 3034 x 1706 pixels at 531, 227",
        "19:30:02  playing",
        "19:30:03  reading: 2.30",
        "19:30:04  a person takes over until session: picture gentle",
        "19:30:06    picture gentle for 2.30, 4096 x 1706 pixels at 0, 227",
        "19:30:06  here it breaks",
    ]


@pytest.mark.parametrize(
    ("where", "words"),
    [
        (
            "by a picture left out",
            (
                "Under menus (line 21), which leaves the picture out, 'gentle' remains, which a "
                "person had asked for. Let menus (line 21) show a picture of its own."
            ),
        ),
        (
            "by a lens that waits",
            (
                "Under scope (line 25) the lens should stand at 'broad', but stays at 'tall'. "
                "The wish for another preset or other panels must stand for a while first. "
                "What is wanted never stands at once: say in the promise where it need not hold."
            ),
        ),
        (
            "by a row",
            (
                "It breaks under menus (line 21): let it show plain or whole wherever playback is "
                "stopped or unknown."
            ),
        ),
    ],
)
def test_whatever_else_breaks_a_promise_is_named_with_what_to_do(where: str, words: str) -> None:
    _, fault = explained(where)
    assert fault.suggestion == words


@pytest.mark.parametrize("where", PLANTED)
def test_an_evening_breaks_its_promise_and_without_any_one_event_it_does_not(where: str) -> None:
    """Nothing in an evening is needless."""
    room, fault = explained(where)
    assert fault.counterexample is not None
    events = fault.counterexample.events
    assert broken_on(room, fault, events)
    for left_out in range(len(events)):
        rest = (*events[:left_out], *events[left_out + 1 :])
        assert not broken_on(room, fault, rest), events[left_out]


@pytest.mark.parametrize(
    "where",
    [
        "in a pause",
        "where the lens is lost",
        "where a lens that lingers is lost",
        "under an override",
    ],
)
def test_the_evening_is_replayed_by_the_command_and_judged_broken(
    where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(check_commands, "prove", known_proof)
    room = tmp_path / "study.yaml"
    room.write_text(planted(where))
    done = CliRunner().invoke(app, ["check", str(room), "--nights", str(tmp_path / "nights")])
    assert done.exit_code == 1
    (night,) = (tmp_path / "nights").iterdir()
    replayed = CliRunner().invoke(app, ["replay", str(night)])
    assert replayed.exit_code == 1
    assert "promise broken: mine - It is so." in replayed.output
    assert CliRunner().invoke(app, ["replay", str(night), "--verify"]).exit_code == 0


def test_a_promise_that_no_evening_breaks_is_said_to_be_broken_only_in_the_abstraction(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where the search has no steps left, the exploration's own path is told instead."""
    monkeypatch.setattr(counterexample, "BUDGET", 0)
    room = load(planted("in a pause"), "study.yaml")
    (fault,) = prove(room).faults
    assert fault.message == (
        "mine is broken only in the abstraction: no evening was found on which the engine breaks it"
    )
    assert fault.counterexample is None
    first, *steps = counterexample_text(room, reported(fault))
    assert first == (
        "mine is broken only in the abstraction, in which every duration is possible: no evening "
        "was found on which the engine breaks it. The way there:"
    )
    assert steps


def test_advice_never_names_a_fact_that_rows_may_not_test() -> None:
    """Rows cannot test the picture, the lift, a travel or an override."""
    text = study(promised("{playback: playing, picture: gentle, override: rules}"))
    (fault,) = proven(text)[1].faults
    assert fault.suggestion == (
        "It breaks under nearly (line 29): change what it shows there, narrow its case by "
        "playback, or say in the promise where it need not hold."
    )


def test_a_promise_that_breaks_is_not_also_said_to_say_nothing() -> None:
    for where in PLANTED:
        _, fault = explained(where)  # the only fault of its room
        assert fault.code == "broken"


@pytest.mark.parametrize(
    ("changes", "never"),
    [
        ((), "{playback: stopped, tallest: not(null)}"),
        (
            (
                ("disc: {}", "disc: {}\n  game: {leave_alone: yes}"),
                ("case: {aspect: scope}", "case: {source: disc, aspect: scope}"),
                ("case: {aspect: ", "case: {source: disc, aspect: "),
            ),
            "{source: game, picture: gentle}",
        ),
        (
            (
                ("sources:\n", "cues: {lamps: low or half}\nsources:\n"),
                ("{picture: whole}", "{picture: whole, cues: {lamps: low}}"),
                ("preset: broad, panels: open}", "preset: broad, cues: {lamps: low}}"),
                ("otherwise: {picture: plain}", "otherwise: {picture: plain, cues: {lamps: low}}"),
            ),
            "{cue lamps: half}",
        ),
        (
            (
                ("{picture: plain, preset: broad", "{picture: plain, lift: 6 %, preset: broad"),
                ("{picture: whole}", "{picture: whole, lift: 0 %}"),
                ("{picture: gentle, preset: broad", "{picture: gentle, lift: 0 %, preset: broad"),
                ("otherwise: {picture: plain}", "otherwise: {picture: plain, lift: 0 %}"),
            ),
            "{picture: gentle, lift: '> 0 %'}",
        ),
    ],
    ids=["gone on with in a long pause", "an odd frame", "a cue without light", "a lift by hand"],
)
def test_an_evening_is_found_that_no_plain_report_leads_to(
    changes: tuple[Change, ...], never: str
) -> None:
    proof = prove(load(study(promised(never), *changes)))
    (fault,) = [one for one in proof.faults if one.code == "broken"]
    assert fault.counterexample is not None, fault.message
