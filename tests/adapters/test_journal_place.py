"""A journal that is removed, replaced, read-only or opened under another name loses nothing."""

from __future__ import annotations

import os
import resource
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.journal_place import LOG_BYTES
from engine.events import Mark, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))


def remove_all(path: Path) -> None:
    for one in path.parent.glob(path.name + "*"):
        one.unlink()


def remove_the_file(path: Path) -> None:
    path.unlink()


def remove_the_log(path: Path) -> None:
    Path(f"{path}-wal").unlink()


def move_away(path: Path) -> None:
    path.rename(path.with_name("moved"))


def remove_the_log_and_its_index(path: Path) -> None:
    for suffix in ("-wal", "-shm"):
        Path(f"{path}{suffix}").unlink()


HARM: tuple[Callable[[Path], None], ...] = (
    remove_all,
    remove_the_file,
    remove_the_log,
    remove_the_log_and_its_index,
    move_away,
)


@pytest.fixture(params=HARM)
def harmed(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Stage]:
    """A room that has heard how an evening begins; then harm is done to its journal."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT)
        request.param(path)
        yield stage


def test_a_journal_that_is_removed_is_refused_then_written_anew_with_all_it_held(
    harmed: Stage, tmp_path: Path
) -> None:
    """What came meanwhile was not taken, so it comes again, and the next start knows everything."""
    with pytest.raises(JournalError, match="nothing is taken until it is back"):
        harmed.hear(Mark(words="not yet"))
    assert harmed.journal.fault
    assert str(tmp_path / "journal") in harmed.journal.fault
    harmed.journal.look_after()
    assert not harmed.journal.fault
    harmed.hear(Mark(words="again"))
    known = harmed.lines()
    assert not differences(HAYLOFT, known)
    harmed.restart()
    assert harmed.durable.engine.state.core.source == "disc"
    assert harmed.lines()[: len(known)] == known


def test_what_was_removed_in_the_last_moment_is_there_at_the_next_start(harmed: Stage) -> None:
    harmed.restart()
    assert harmed.durable.engine.state.core.source == "disc"


def test_an_idle_room_finds_out_as_well(tmp_path: Path) -> None:
    """Nothing is written, and the journal is looked after all the same."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        remove_all(path)
        stage.journal.look_after()
        assert "no longer there" in str(stage.journal.fault)
        stage.journal.look_after()
        assert not stage.journal.fault
        assert path.exists()


def test_a_journal_that_was_put_back_serves_on(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        path.rename(tmp_path / "moved")
        stage.journal.look_after()
        assert stage.journal.fault
        (tmp_path / "moved").rename(path)
        stage.journal.look_after()
        assert not stage.journal.fault
        stage.hear(*LIT)


def test_another_file_in_its_place_is_left_alone(tmp_path: Path) -> None:
    """Nobody knows whose it is; once it is moved away, the journal is written anew."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        path.unlink()
        path.write_text("somebody's")
        for _ in range(2):
            stage.journal.look_after()
            assert "another file" in str(stage.journal.fault)
        with pytest.raises(JournalError, match="another file now; move that away"):
            stage.hear(*LIT)
        assert path.read_text() == "somebody's"
        path.unlink()
        stage.journal.look_after()
        assert not stage.journal.fault
        stage.hear(*LIT)


def test_a_read_only_journal_is_refused_at_the_start_and_while_it_runs(tmp_path: Path) -> None:
    """What the next start could not write to is not written to now."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        path.chmod(0o444)
        with pytest.raises(JournalError, match=r"read-only|Permission denied"):
            stage.hear(*LIT)
        path.chmod(0o644)
        stage.journal.look_after()
        assert not stage.journal.fault
        stage.hear(*LIT)
        path.chmod(0o444)
        stage.journal.close()
        with pytest.raises(JournalError, match=r"read-only|Permission denied"):
            Journal(path)
        path.chmod(0o644)
        stage.journal = Journal(path)


@pytest.mark.parametrize("link", [os.symlink, os.link])
def test_one_roomcue_writes_a_journal_whatever_name_it_is_given(
    tmp_path: Path, link: Callable[[Path, Path], None]
) -> None:
    """A link to the file, or no lock file beside it, lets no second one in."""
    with Journal(tmp_path / "journal"):
        link(tmp_path / "journal", tmp_path / "other")
        for beside in tmp_path.glob("*.lock"):
            beside.unlink()
        for name in ("journal", "other"):
            with pytest.raises(JournalError, match="another roomcue is writing this journal"):
                Journal(tmp_path / name)


def test_a_journal_behind_a_link_is_written_anew_where_the_link_leads(tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    (tmp_path / "journal").symlink_to(tmp_path / "disk" / "real")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        remove_all(tmp_path / "disk" / "real")
        stage.journal.look_after()
        stage.journal.look_after()
        assert not stage.journal.fault
        stage.restart()
        assert stage.durable.engine.state.core.source == "disc"
    assert (tmp_path / "journal").is_symlink()


@pytest.mark.parametrize("kind", ["folder", "pipe", "no folder"])
def test_what_is_no_file_cannot_be_a_journal(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "journal"
    match kind:
        case "folder":
            path.mkdir()
        case "pipe":
            os.mkfifo(path)
        case _:
            path = path / "none" / "journal"
    with pytest.raises(
        JournalError, match=r"cannot be made|is no plain file, and a journal is one"
    ):
        Journal(path)


def test_a_log_that_has_its_full_size_grows_no_more_and_loses_nothing(tmp_path: Path) -> None:
    """Not what was written before, nor what comes later, not even where the power fails."""
    path = tmp_path / "journal"
    log = Path(f"{path}-wal")
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT)
        before, lines = log.stat().st_size, stage.lines()
        assert before < LOG_BYTES
        stage.journal.make_room()
        assert log.stat().st_size == LOG_BYTES
        assert stage.lines() == lines
        for number in range(50):
            stage.hear(Mark(words=f"{number}"))
        stage.journal.make_room()
        assert log.stat().st_size == LOG_BYTES
        lines = stage.lines()
        left = tmp_path / "left"  # as a power cut leaves it
        left.mkdir()
        for suffix in ("", "-wal"):
            (left / f"journal{suffix}").write_bytes(Path(f"{path}{suffix}").read_bytes())
    with staged(HAYLOFT, left / "journal", BEGINS) as again:
        assert again.lines() == lines
        assert differences(HAYLOFT, lines) == []


def test_where_the_disk_has_no_room_for_a_long_log_it_stays_short(tmp_path: Path) -> None:
    """A limit on the size of files stands for the full disk; SIGXFSZ is ignored by Python."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT)
        limits = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 20, limits[1]))
        try:
            before = Path(f"{path}-wal").stat().st_size
            stage.journal.make_room()
            assert Path(f"{path}-wal").stat().st_size == before, "no room is taken either"
            stage.hear(Mark(words="it is taken all the same"))
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        assert stage.journal.fault is None
        assert differences(HAYLOFT, stage.lines()) == []
