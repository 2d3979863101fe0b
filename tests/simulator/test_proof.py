"""What a proof says of a room, and the shortest evening on which a promise breaks."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from engine import RoomEngine
from engine.room import BUILT_IN_PROMISES, Room
from rules.room.load import load
from simulator.nights.promises import judge_of
from simulator.proof.proof import Proof, prove
from simulator.shipped import CELLAR
from tests.simulator.proofs import STUDY, WITH_PANELS, promised, proven, study


def replayed(room: Room, proof: Proof, promise: str) -> bool:
    """Play an evening on a fresh engine; tells whether the promise breaks in its very last step."""
    fault = next(fault for fault in proof.faults if fault.promise == promise)
    evening = fault.counterexample
    assert evening is not None
    judge, engine, broke = judge_of(room, promise), RoomEngine(room), []
    events = [*evening.events]
    while events or (engine.deadline is not None and engine.deadline <= evening.ends):
        before = engine.state
        now = events[0].now if events else evening.ends
        if engine.deadline is not None and engine.deadline <= now:
            now = engine.deadline
            made = engine.receive(None, now).decisions
        else:
            made = engine.receive(events.pop(0).event, now).decisions
        broke.append((now, judge(before, made, engine.state)))
    assert [now for now, broken in broke[:-1] if broken and now < evening.ends] == []
    return broke[-1][1]


def test_a_promise_about_panels_breaks_where_somebody_fits_them_during_a_travel() -> None:
    without_a_travel = promised("{panels: sides, travelling: yes, override: rules}")
    room, proof = proven(study(WITH_PANELS, without_a_travel))
    assert {fault.promise for fault in proof.faults} == {"mine"}
    assert replayed(room, proof, "mine")


def test_a_clean_room_is_proven_and_says_what_it_promises() -> None:
    _, proof = proven(STUDY)
    assert proof.faults == ()
    assert proof.exploration.complete
    assert dict(proof.proven) == dict(BUILT_IN_PROMISES)
    assert proof.convergence.runs > 0
    assert proof.convergence.cycles == ()


@pytest.mark.parametrize(
    ("change", "promise"),
    [
        (("show: {picture: whole}", "show: {picture: gentle}"), "menus plain"),
        (("show: {picture: whole}", "show: {preset: broad}"), "menus plain"),
        (("stopped, unknown", "stopped"), "menus plain"),
        (promised("{playback: playing, aspect: scope, preset: tall}"), "mine"),
        (promised("{playback: stopped, picture: plain}"), "mine"),
    ],
)
def test_a_broken_promise_comes_with_an_evening_that_breaks_it_in_its_last_step(
    change: tuple[str, str], promise: str
) -> None:
    room, proof = proven(study(change))
    assert promise in {fault.promise for fault in proof.faults if fault.fatal}
    assert promise not in dict(proof.proven)
    assert replayed(room, proof, promise)


def test_no_shorter_evening_breaks_the_promise() -> None:
    """A menu that a rule stretches needs a source and a shape, and nothing else."""
    _, proof = proven(study(("show: {picture: whole}", "show: {picture: gentle}")))
    (fault,) = [fault for fault in proof.faults if fault.promise == "menus plain"]
    assert fault.counterexample is not None
    assert len(fault.counterexample.events) == 2
    assert fault.line == 21
    assert "menus (line 21)" in fault.suggestion


def test_a_waived_promise_is_not_judged() -> None:
    text = study(
        ("show: {picture: whole}", "show: {picture: gentle}"),
        (
            "sources:\n",
            "waived: [{promise: menus plain, because: They are pictures.}]\nsources:\n",
        ),
    )
    _, proof = proven(text)
    assert proof.faults == ()
    assert proof.waived == (("menus plain", "They are pictures."),)
    assert "menus plain" not in dict(proof.proven)


def test_rules_that_lead_round_in_a_circle_are_named() -> None:
    text = study(
        (
            "case: {aspect: scope}\n      show: {picture: plain, preset: broad, panels: open}",
            "case: {aspect: scope, preset: broad}\n      show: {picture: plain, preset: tall}",
        ),
        (
            'case: {aspect: "[2.10..2.30)"}',
            "case: {aspect: scope, preset: tall}",
        ),
    )
    (fault,) = [fault for fault in proven(text)[1].faults if fault.code == "circle"]
    assert "scope (line" in fault.message
    assert "nearly (line" in fault.message
    assert fault.fatal


def test_rows_that_never_come_and_promises_that_say_nothing_are_warned_of() -> None:
    text = study(
        (
            'case: {aspect: "[2.10..2.30)"}',
            'case: {aspect: "[2.10..2.30)", source: disc, playback: stopped}',
        ),
        promised("{playback: playing, override: rules, lift: '> 5 %'}"),
    )
    found = {(fault.code, fault.fatal) for fault in proven(text)[1].faults}
    assert found == {("row-never-chosen", False), ("never-met", False)}


def test_where_the_pace_gives_no_first_minutes_none_ever_run() -> None:
    none = ("sources:\n", "pace: {linger: 0 s, recalls: {first_minutes: 0 s}}\nsources:\n")
    proof = proven(study(none, promised("{first_minutes: yes}")))[1]
    assert ("mine", "It is so.") in proof.proven


def test_what_is_cut_off_is_not_proven() -> None:
    proof = prove(load(STUDY, "study.yaml"), limit=3)
    assert not proof.exploration.complete
    assert [fault.code for fault in proof.faults] == ["not-proven"]
    assert proof.proven == ()


def test_a_proof_is_the_same_twice() -> None:
    assert prove(load(STUDY, "study.yaml")) == proven(STUDY)[1]


# ------------------------------------------------------------------------------- the command


def check(*words: object) -> Result:
    return CliRunner().invoke(app, ["check", *map(str, words)])


@pytest.fixture(scope="module")
def stretched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the cellar with menus that are stretched."""
    text = CELLAR.read_text("utf-8")
    room = tmp_path_factory.mktemp("stretched") / "cellar.yaml"
    room.write_text(text.replace("show: {picture: whole, lift: 0 %}", "show: {lift: 0 %}", 1))
    return room


@pytest.fixture(scope="module")
def told(stretched: Path) -> tuple[Result, Path]:
    """Check that room once for all; give what is told, and the folder of the nights."""
    folder = stretched.parent / "nights"
    return check(stretched, "--nights", folder), folder


def test_check_tells_what_is_proven_and_what_is_not() -> None:
    done = check(CELLAR)
    assert done.exit_code == 0
    assert "Proven in every state that the room can reach:" in done.stdout
    assert "menus plain - Menus are never stretched or cropped." in done.stdout
    assert "nothing was cut off." in done.stdout
    assert "Not proven:\n  how readings settle" in done.stdout


def test_check_tells_the_evening_that_breaks_a_promise(told: tuple[Result, Path]) -> None:
    done, _ = told
    assert done.exit_code == 1
    assert "error: menus plain does not hold: a menu is shown as" in done.output
    assert "The shortest evening on which menus plain breaks:" in done.stdout
    assert "here it breaks" in done.stdout


def test_a_quick_check_explores_nothing(stretched: Path) -> None:
    done = check(stretched, "--quick")
    assert done.exit_code == 0
    assert "Proven" not in done.output


def test_check_speaks_json_with_stable_codes(stretched: Path) -> None:
    done = check(stretched, "--json")
    assert done.exit_code == 1
    said = json.loads(done.stdout)
    broken = next(one for one in said["findings"] if one["code"] == "promise-broken")
    assert broken["severity"] == "error"
    assert broken["line"] > 1
    assert "source: disc" in broken["example"]
    assert said["proof"]["complete"] is True
    assert said["proof"]["states"] > 5
    assert "no travel in mid-title" in {one["promise"] for one in said["proof"]["proven"]}


def test_the_evening_is_written_as_a_night_that_replays_byte_for_byte(
    told: tuple[Result, Path],
) -> None:
    done, folder = told
    assert done.exit_code == 1
    nights = sorted(folder.iterdir())
    assert "menus-plain.jsonl" in {night.name for night in nights}
    for night in nights:
        verified = CliRunner().invoke(app, ["replay", str(night), "--verify"])
        assert verified.exit_code == 0
        asked = CliRunner().invoke(app, ["why", str(night), "--at", "5s"])
        assert asked.exit_code == 0
    own = next(night for night in nights if night.name != "menus-plain.jsonl")
    assert "promise broken:" in CliRunner().invoke(app, ["replay", str(own)]).output


def test_nights_need_the_states(stretched: Path, tmp_path: Path) -> None:
    done = check(stretched, "--nights", tmp_path / "x", "--quick")
    assert done.exit_code == 2
    assert "leave out --quick" in done.output


def test_a_promise_without_a_name_is_not_taken_for_one_that_is_called_like_it() -> None:
    """Promises without a name are numbered; a name that looks like such a number is another's."""
    text = study(
        (
            "  otherwise: {picture: plain}\n",
            (
                "  otherwise: {picture: plain}\npromises:\n"
                "  - never: {picture: gentle, aspect: scope}\n    because: It is so.\n"
                "  - name: promise 1\n    never: {lift: '> 5 %'}\n    because: It is so too.\n"
            ),
        )
    )
    room = load(text, "study.yaml")
    assert [one.label for one in room.promises] == ["promise at line 35", "promise 1"]
