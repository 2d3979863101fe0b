"""A room goes live once it is proven, and one that `check` rejects only if somebody insists."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.cli.exit_status import OK, UNUSABLE
from adapters.cli.memory_folder import FOLDER_VARIABLE
from simulator.shipped import CELLAR, DEMO_ROOM
from tests.adapters.commands import run
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish

TEXT = CELLAR.read_text("utf-8")


class Unhurried(Roomcue):
    """Does not insist: whatever is not proven is proven first."""

    insists = ()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as started:
        yield started


def test_a_room_is_proven_before_its_first_evening_and_not_again(
    broker: Mosquitto, tmp_path: Path
) -> None:
    memory = {FOLDER_VARIABLE: str(tmp_path / "proofs")}
    room = Unhurried([CELLAR], tmp_path / "j", port=broker.port, env=memory)
    with Listener(broker.port, "roomcue/cellar/out/alive") as listener, room:
        assert "goes live once it is proven" in room.said()
        alive = listener.wait_for(lambda one: one.data["alive"], "it is there")
        assert alive.data["proven"] is True
        assert room.stop() == OK
        room.start()
        assert room.said().count("goes live once it is proven") == 1
        assert room.said().count("broker is there") == 2


def test_a_room_that_check_rejects_runs_only_if_somebody_insists(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """That nobody has proven it is said where it is alive, until a better file comes."""
    stretched = tmp_path / "cellar.yaml"
    stretched.write_text(TEXT.replace("picture: whole, lift: 0 %", "lift: 0 %", 1))
    refused = Unhurried([stretched], tmp_path / "r", port=broker.port)
    refused.start(ready=False)
    assert refused.ended() == UNUSABLE
    said = " ".join(refused.said().split())
    assert f"{stretched}:" in said
    assert "menus plain does not hold" in said
    assert "check rejects it" in said
    assert "--unproven starts it all the same" in said
    assert "broker is there" not in said
    assert "Traceback" not in said
    with (
        Listener(broker.port, "roomcue/cellar/out/alive") as listener,
        Roomcue([stretched], tmp_path / "j", port=broker.port) as room,
    ):
        alive = listener.wait_for(lambda one: one.data["alive"], "it is there")
        assert alive.data["proven"] is False
        assert "warning: not proven" in room.said()
        publish(broker.port, "roomcue/cellar/in/room", TEXT)
        until(lambda: "room file is taken" in room.said(), "the better file is taken")
        listener.wait_for(lambda one: one.data.get("proven"), "that it is proven")


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (("--broker", "http://localhost"), "is no broker"),
        (("--stdin", "--page", "8480"), "the page listens to a broker"),
        (("--broker", "mqtt://localhost:1", "--page", "elsewhere"), "no place for the page"),
    ],
)
def test_what_is_wrong_with_a_call_is_told_before_a_proof_of_minutes(
    call: tuple[str, ...], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, "off")
    done = run("run", DEMO_ROOM, *call)
    assert done.exit_code == UNUSABLE
    assert says in done.stderr
    assert "goes live once it is proven" not in done.output


def test_who_stops_a_room_before_it_is_proven_need_not_wait(
    broker: Mosquitto, tmp_path: Path
) -> None:
    room = Unhurried([], tmp_path / "j", port=broker.port)
    room.start(ready=False)
    until(lambda: "goes live once it is proven" in room.said(), "the proof begins")
    assert room.stop() == OK
    assert "Traceback" not in room.said()
