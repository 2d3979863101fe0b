"""`roomcue check` is never silent, can be broken off, and does not do the same work twice."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import pytest
from typer.testing import CliRunner, Result

from adapters.cli import check_commands, command_start, proof_progress
from adapters.cli.breaking_off import BreakOff
from adapters.cli.command_group import app
from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE
from adapters.cli.memory_folder import FOLDER_VARIABLE, OFF
from adapters.render.proof_text import progress_words
from engine.room import Room
from simulator.proof.faults import Fault
from simulator.proof.proof import prove
from simulator.shipped import CELLAR, DEMO_ROOM
from tests.house.tree import TOP
from tests.live.broker import PATIENCE
from tests.live.process import ROOMCUE

TERMINAL = {**os.environ, "TERM": "xterm", "COLUMNS": "200", FOLDER_VARIABLE: OFF}

Announce = Callable[[Fault], None]
Progress = Callable[[int, int], None]


def check(*words: object) -> Result:
    return CliRunner().invoke(app, ["check", *map(str, words)])


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Let checks be remembered in a folder of this story's own."""
    folder = tmp_path / "proofs"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


@pytest.fixture
def stretched(tmp_path: Path) -> Path:
    """Write the cellar with menus that are stretched."""
    text = CELLAR.read_text("utf-8")
    room = tmp_path / "cellar.yaml"
    room.write_text(text.replace("show: {picture: whole, lift: 0 %}", "show: {lift: 0 %}", 1))
    return room


def nobody_proves(*_given: object, **_named: object) -> NoReturn:
    raise AssertionError("it was to be remembered")


def nights_in(folder: Path) -> dict[str, bytes]:
    return {night.name: night.read_bytes() for night in folder.iterdir()}


# ------------------------------------------------------------------------------ remembered


@pytest.mark.usefixtures("memory")
def test_a_second_check_says_the_same_at_once(
    stretched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The report, the findings, the JSON, the nights and the status, without any proof."""
    first = check(stretched, "--nights", tmp_path / "first")
    monkeypatch.setattr(check_commands, "prove", nobody_proves)
    second = check(stretched, "--nights", tmp_path / "second")
    assert (first.exit_code, second.exit_code) == (PROBLEMS, PROBLEMS)
    assert second.stdout.replace("/second/", "/first/") == first.stdout
    assert "here it breaks" in second.stdout
    assert nights_in(tmp_path / "second") == nights_in(tmp_path / "first") != {}
    # The first may have said how far its proof had come: that depends on the machine's pace.
    known = first.stderr.splitlines(keepends=True)
    said_besides = "".join(x for x in second.stderr.splitlines(keepends=True) if x not in known)
    assert said_besides.startswith("proven before, on ")
    assert said_besides.endswith("; --again proves anew\n")


@pytest.mark.usefixtures("memory")
def test_machines_hear_the_same_and_when_it_was_proven(stretched: Path) -> None:
    first, second = (json.loads(check(stretched, "--json").stdout) for _ in range(2))
    assert first.pop("remembered") is None
    assert second.pop("remembered") is not None
    assert second == first
    assert first["proof"]["broken"]


@pytest.mark.usefixtures("memory")
def test_who_asks_for_it_gets_a_new_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    assert check(CELLAR).exit_code == OK
    monkeypatch.setattr(check_commands, "prove", nobody_proves)
    assert check(CELLAR).exit_code == OK
    assert isinstance(check(CELLAR, "--again").exception, AssertionError)


# ------------------------------------------------------------------------------ never silent


def test_a_fault_is_printed_as_soon_as_it_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Findings of the file come before the proof, and its first fault long before its end."""

    def breaks_down(_room: Room, *, announce: Announce, **_named: object) -> NoReturn:
        announce(Fault("broken", True, "mine", 3, "mine does not hold", "Mend it."))
        raise RuntimeError("the proof never came to its end")

    monkeypatch.setattr(check_commands, "prove", breaks_down)
    done = check(CELLAR)
    assert isinstance(done.exception, RuntimeError)
    assert "cellar loads: 2 sources" in done.stdout
    assert f"{CELLAR}:3:1: error: mine does not hold. Mend it." in done.stderr


def test_where_there_is_no_terminal_a_line_says_now_and_then_how_far_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = threading.Event()

    def words(*far: float) -> str:
        said.set()
        return progress_words(*far)  # type: ignore[arg-type]

    def waits(room: Room, *, progress: Progress, **named: Any) -> object:  # noqa: ANN401
        progress(10, 40)
        assert said.wait(PATIENCE)
        return prove(room, **named)

    monkeypatch.setattr(proof_progress, "SECONDS_BETWEEN_LINES", 0.01)
    monkeypatch.setattr(proof_progress, "progress_words", words)
    monkeypatch.setattr(check_commands, "prove", waits)
    done = check(CELLAR, "--json")
    assert "proving: 10 of 40 states known, " in done.stderr
    assert done.stdout.count("\n") == 1
    assert json.loads(done.stdout)["proof"]["complete"]


def test_on_a_terminal_a_bar_says_how_far_it_is() -> None:
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [*ROOMCUE, "check", CELLAR], stdout=theirs, stderr=theirs, cwd=TOP, env=TERMINAL
    ) as process:
        os.close(theirs)
        said = b"".join(iter(partial(read_from, ours), b"")).decode()
        os.close(ours)
    assert process.returncode == OK
    before, _, after = said.partition("proving: telling apart what the hub may report")
    assert "cellar loads" in before
    assert "Proven in every state" in after


def read_from(terminal: int) -> bytes:
    """Read what a terminal shows next; nothing once its last program has ended."""
    try:
        return os.read(terminal, 1 << 16)
    except OSError:  # so Linux says that nobody is there any more
        return b""


@pytest.mark.parametrize(
    ("far", "words"),
    [
        ((0, 0, 12, 0), "proving: telling apart what the hub may report, for 12 s"),
        ((0, 50, 20, 0), "proving: 0 of 50 states known, no telling how long"),
        ((3_200, 8_000, 40, 26.6), "proving: 3,200 of 8,000 states known, about 40 s left"),
        ((10, 8_000, 40, 1), "proving: 10 of 8,000 states known, about 13 min left"),
        ((999, 1_000, 40, 30), "proving: 999 of 1,000 states known, a few seconds left"),
        ((900, 900, 75, 70), "proving: 900 states done; looking at what follows, for 75 s"),
    ],
)
def test_how_far_a_proof_is_stands_in_words(far: tuple[int, int, int, float], words: str) -> None:
    assert progress_words(*far) == words


# ------------------------------------------------------------------------------- broken off


def test_a_proof_ends_in_time_and_says_how_far_each_promise_came(memory: Path) -> None:
    """What is not finished is no proof: its status is 1, and nobody remembers it."""
    done = check(DEMO_ROOM, "--within", "100 ms", "--json")
    assert done.exit_code == PROBLEMS
    proof = json.loads(done.stdout)["proof"]
    assert (proof["complete"], proof["stopped"]) == (False, True)
    assert proof["proven"] == proof["broken"] == []
    known = {one["promise"] for one in [*proof["searched"], *proof["untouched"]]}
    assert {"menus plain", "games keep their edges"} < known
    assert not memory.exists()


def test_a_proof_that_ends_in_time_is_a_proof() -> None:
    done = check(CELLAR, "--within", f"{PATIENCE:.0f} s")
    assert done.exit_code == OK
    assert "Proven in every state" in done.stdout


def test_the_time_in_which_a_command_is_loaded_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """So it ends in time on a machine that is slow to load it."""
    monkeypatch.setattr(command_start, "_began", [time.monotonic() - PATIENCE])
    done = check(CELLAR, "--again", "--within", f"{PATIENCE:.0f} s", "--json")
    assert done.exit_code == PROBLEMS
    assert json.loads(done.stdout)["proof"]["stopped"]


@pytest.mark.parametrize("typed", ["60", "soon", "0 s", "2 days"])
def test_a_time_limit_is_a_quantity_with_a_unit(typed: str) -> None:
    done = check(CELLAR, "--within", typed)
    assert done.exit_code == UNUSABLE
    assert "--within" in done.output


def test_ctrl_c_breaks_a_proof_off_which_says_what_is_known(tmp_path: Path) -> None:
    """The findings of the file and its tables stand there before the proof has begun."""
    with subprocess.Popen(
        [*ROOMCUE, "check", DEMO_ROOM],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=TOP,
        env={**os.environ, FOLDER_VARIABLE: str(tmp_path / "proofs")},
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert "this falls to otherwise" in process.stderr.readline() + process.stderr.readline()
        assert "hayloft loads" in process.stdout.readline()
        process.send_signal(signal.SIGINT)
        report, said = process.communicate(timeout=PATIENCE)
    assert process.returncode == PROBLEMS
    assert report.startswith("The proof is not finished: it was broken off.\n")
    assert "  menus plain - Menus are never stretched or cropped.\n" in report
    assert "Proven" not in report
    assert "Traceback" not in report + said
    assert not (tmp_path / "proofs").exists()


@pytest.fixture
def interruptible() -> Iterator[None]:
    """Let Ctrl-C interrupt, as at a terminal; a job in the background begins deaf to it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("interruptible")
def test_a_second_ctrl_c_does_not_wait() -> None:
    stop = BreakOff()
    with stop.at_ctrl_c():
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert stop.said
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
