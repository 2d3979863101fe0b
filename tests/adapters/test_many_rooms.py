"""Many rooms of one process cost little more than one: what they write at once is one commit."""

from __future__ import annotations

import io
from pathlib import Path
from unittest.mock import patch

from adapters.live.journal import Journal
from adapters.live.run_rooms import RunOptions, taken_up
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import VERSION

TEXT = DEMO_ROOM.read_text("utf-8")
ROOMS = tuple(load(TEXT.replace("hayloft", f"loft{number}"), "loft.yaml") for number in range(5))


def test_a_room_that_has_another_name_in_its_file_is_told_what_the_journal_keeps(
    tmp_path: Path,
) -> None:
    """It is said once: from then on the journal knows the room by its new name."""
    said = []
    for rooms in (ROOMS[:1], ROOMS[1:2], ROOMS[1:2]):
        log = io.BytesIO()
        with taken_up(RunOptions(rooms, tmp_path / "journal", VERSION, log_to=log)):
            said.append("'loft0' as well, which nobody runs" in log.getvalue().decode())
    assert said == [False, True, False]


def test_all_rooms_are_taken_up_in_one_transaction(tmp_path: Path) -> None:
    """A thousand rooms would otherwise wait for a thousand syncs before the first is there."""
    commits: list[object] = []
    commit = Journal.commit

    def counted(own: Journal) -> None:
        commits.append(own)
        commit(own)

    running = RunOptions(rooms=ROOMS, journal=tmp_path / "journal", version=VERSION)
    for _ in ("the first time", "again"):
        with patch.object(Journal, "commit", counted), taken_up(running) as (rooms, journal):
            assert len(rooms) == len(ROOMS)
            assert len(commits) == 1
            assert all(journal.kept(room.name) is not None for room in ROOMS)
        commits.clear()
