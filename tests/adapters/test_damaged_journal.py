"""A journal that is damaged anywhere is read as it is, or refused in a sentence."""

from __future__ import annotations

import io
from contextlib import suppress
from pathlib import Path
from random import Random

import pytest

from adapters.cli.night_export import export_night
from adapters.live.journal_file import PAGE_BYTES
from adapters.live.run_rooms import RunOptions, taken_up
from engine.errors import UnusableError
from engine.events import Mark, ProjectorReport, SourceChosen
from rules.room.load import load
from rules.text.findings import BadRoom
from simulator.shipped import CELLAR
from tests.adapters.staging import VERSION, staged
from tests.golden.evenings import BEGINS

ROOM = load(CELLAR.read_text("utf-8"), CELLAR.name)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Give the bytes of a small journal in which every part of a journal has something."""
    path = tmp_path_factory.mktemp("sound") / "journal"
    with staged(ROOM, path, BEGINS) as stage:
        stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
        for number in range(12):
            stage.clock.time += 1_000
            stage.hear(Mark(words=f"mark {number}"))
    return path.read_bytes()


def damaged(sound: bytes, chance: Random) -> bytes:
    """Turn a bit, write something else over a part or a page, or cut off the end."""
    at, new = chance.randrange(len(sound)), bytearray(sound)
    match chance.randrange(4):
        case 0:
            new[at] ^= 1 << chance.randrange(8)
        case 1:
            new[at : at + 64] = chance.randbytes(64)[: len(sound) - at]
        case 2:
            begin = at - at % PAGE_BYTES
            new[begin : begin + PAGE_BYTES] = bytes(PAGE_BYTES)
        case _:
            del new[at:]
    return bytes(new)


@pytest.mark.parametrize("seed", range(60))
def test_a_damaged_journal_is_read_or_refused_in_a_sentence(
    sound: bytes, tmp_path: Path, seed: int
) -> None:
    """Never with an error that nobody foresaw, neither by `export` nor by `run`."""
    path = tmp_path / "journal"
    for part in range(3):
        path.write_bytes(damaged(sound, Random(f"{seed} {part}")))
        for work in (exported, started):
            with suppress(UnusableError, BadRoom):  # printed as a sentence, or as findings
                work(path)
        for left in tmp_path.iterdir():
            left.unlink()


def exported(path: Path) -> None:
    export_night(path, None, "2000-01-01", None, without_titles=False)


def started(path: Path) -> None:
    wanted = RunOptions(rooms=(ROOM,), journal=path, version=VERSION, log_to=io.BytesIO())
    with taken_up(wanted) as (rooms, _):
        rooms[0].durable.resume()


def test_a_sound_journal_is_read(sound: bytes, tmp_path: Path) -> None:
    path = tmp_path / "journal"
    path.write_bytes(sound)
    exported(path)
    started(path)


def test_what_waits_for_the_broker_may_be_damaged(sound: bytes, tmp_path: Path) -> None:
    """What was ordered is not known then, and roomcue does not begin as if nothing had been."""
    path = tmp_path / "journal"
    assert b"[[" in sound
    path.write_bytes(sound.replace(b"[[", b"[("))
    with pytest.raises(UnusableError, match="what waits for the broker is damaged"):
        started(path)
