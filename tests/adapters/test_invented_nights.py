"""Invented nights keep to the room's equipment, and go on from one another."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from adapters.cli.invented_nights import write_invented_nights
from adapters.cli.wear_files import ledger_of_nights
from engine.events import moment_of
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.months import PLAN
from tests.adapters.wear_commands import told
from tests.golden.evenings import BEGINS

CELLAR = DEMO_ROOM.with_name("cellar.yaml")


def test_a_lens_that_is_fixed_is_never_moved(tmp_path: Path) -> None:
    room = load(CELLAR.read_text("utf-8"), CELLAR.name)
    assert len(room.presets) == 1
    paths = write_invented_nights(room, 5, PLAN, "0.1.0", BEGINS, 6, tmp_path)
    assert not any(b'"moving":true' in path.read_bytes() for path in paths)


@pytest.mark.parametrize("zone", ["America/Toronto", "Australia/Sydney", "Asia/Kathmandu"])
@pytest.mark.parametrize("dated", [(), ("--begins", "2026-11-22")])
def test_an_invented_evening_begins_at_half_past_seven_where_the_room_is(
    zone: str, dated: tuple[str, ...], tmp_path: Path
) -> None:
    """In Toronto it began at half past two in the afternoon, and no `why --at 21:14` found it."""
    room, out = tmp_path / "room.yaml", tmp_path / "out"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace("Europe/Lisbon", zone), "utf-8")
    assert told("invent", room, *dated, "--out", out).exit_code == 0
    night = out / "night-001.jsonl" if dated else out
    begins = datetime.fromisoformat(json.loads(night.read_text("utf-8").splitlines()[0])["begins"])
    assert f"{begins.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}" == "2026-11-22 19:30"


def test_invented_nights_go_on_from_one_another(tmp_path: Path) -> None:
    out = tmp_path / "nights"
    options = ("--nights", "4", "--begins", "2026-05-01", "--out", out)
    assert told("invent", DEMO_ROOM, *options).exit_code == 0
    ledger, said = ledger_of_nights(sorted(out.iterdir()), "hayloft")
    assert (ledger.holes, said) == ((), ())
    assert moment_of(ledger.begins).isoformat() == "2026-05-01T18:30:00+00:00"
    assert len(list(out.iterdir())) == 4
    again = told("invent", DEMO_ROOM, *options)
    assert again.exit_code == 2
    assert "is there already" in " ".join(again.output.split())
    assert told("invent", DEMO_ROOM, *options, "--force").exit_code == 0
    undated = told("invent", DEMO_ROOM, "--begins", "soon", "--out", out)
    assert "is no date" in " ".join(undated.output.split())
