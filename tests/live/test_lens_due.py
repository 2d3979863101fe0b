"""The owner hears through the hub that a preset is due."""

from __future__ import annotations

from pathlib import Path

from engine.events import LensReport, ProjectorReport
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.months import book
from tests.adapters.staging import staged
from tests.golden.evenings import BEGINS
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)


def test_a_preset_that_is_due_is_told_on_reason(tmp_path: Path) -> None:
    """By the room's own ledger and the book that lies beside its journal."""
    journal = tmp_path / "hayloft.journal"
    with staged(HAYLOFT, journal, BEGINS) as stage:
        stage.hear(ProjectorReport(state="lit"))
        for number in range(60):
            stage.clock.time = BEGINS + number * 3_600_000
            preset = ("tall", "broad")[number % 2]
            stage.hear(LensReport(moving=True, preset=preset))
            stage.hear(LensReport(moving=False, preset=preset))
    book(tmp_path / "hayloft.alignments.jsonl", {0: 0, 1: 12, 2: 24}, 1.5, "tall")
    with (
        Mosquitto(tmp_path / "b") as broker,
        Listener(broker.port, "roomcue/hayloft/out/reason") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        until(lambda: "lens is due" in room.said(), "it is found out")
        due = listener.wait_for(lambda one: one.data["kind"] == "wear", "it is told")
        assert due.data["preset"] == "tall"
        assert due.data["words"].startswith("The lens has moved many times")
        assert "it stands" in due.data["details"]
