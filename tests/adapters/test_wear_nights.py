"""Nights that cannot be read are named, and the others are counted."""

from __future__ import annotations

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from engine.events import LensReport
from engine.snapshot import VERSION
from simulator.shipped import DEMO_ROOM
from tests.adapters.months import A_DAY, months
from tests.adapters.staging import staged
from tests.adapters.wear_commands import HAYLOFT, told
from tests.golden.evenings import BEGINS


@pytest.fixture(scope="module")
def nights(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Four nights of the hayloft."""
    return months(HAYLOFT, tmp_path_factory.mktemp("nights"), 4)


@pytest.mark.parametrize("damage", ["no night", "another room", "cut off", "twice", "bad room"])
def test_one_bad_night_in_a_folder_is_named_and_the_others_are_counted(
    damage: str, nights: list[Path], tmp_path: Path
) -> None:
    """The status says that something is missing: 1, and not 2, for there is a report."""
    folder, good = tmp_path / "nights", nights[:3]
    folder.mkdir()
    for night in good:
        (folder / night.name).write_bytes(night.read_bytes())
    alone = told("wear", DEMO_ROOM, "--night", folder, "--json")
    assert alone.exit_code == 0, alone.output
    bad, text = folder / "0-bad.jsonl.gz", nights[3].read_bytes()
    named_room = text.replace(b'"room":"hayloft"', b'"room":"cellar"', 1)
    bad_room = text.replace(b"presets:", b"presents:", 1)
    content, words = {
        "no night": (b"{", "line 1"),
        "another room": (named_room, "a night of room 'cellar', not of 'hayloft'"),
        "cut off": (gzip.compress(text)[:-200], "it was cut off; copy it anew. What comes after"),
        "twice": (good[0].read_bytes(), "begin at the same moment"),
        "bad room": (bad_room, "presents"),
    }[damage]
    bad.write_bytes(content)
    found = told("wear", DEMO_ROOM, "--night", folder, "--json")
    assert found.exit_code == 1, found.output
    said = " ".join(found.stderr.split())
    assert str(bad) in said
    assert words in said
    if damage != "cut off":
        assert found.stdout == alone.stdout


def test_a_night_in_a_journal_that_an_older_roomcue_began_is_told_to_be_missing(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(LensReport(moving=False, preset="tall"))
        stage.clock.time += 2 * A_DAY
        stage.hear(LensReport(moving=False, preset="broad"))
    with closing(sqlite3.connect(tmp_path / "journal")) as base, base:
        base.execute("UPDATE nights SET state = ?", (f"[{VERSION - 1},[]]".encode(),))
    read = told("wear", DEMO_ROOM, "--journal", tmp_path / "journal")
    words = " ".join(read.output.split())
    assert f"is passed over: a snapshot of version {VERSION - 1}, {VERSION} is needed. " in words
    assert "Count it with the roomcue that wrote it, version" in words
    assert "the lens may have travelled more than is said here" in words
    assert read.exit_code == 1
