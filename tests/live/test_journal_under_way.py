"""Whatever happens to the journal while a room lives is said at once, and nothing is lost."""

from __future__ import annotations

import os
import resource
import signal
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener, Message, publish, publish_all

IN = "roomcue/hayloft/in"
LIT = [(f"{IN}/projector", '{"state":"lit"}'), (f"{IN}/source", '{"source":"disc"}')]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", keeps=True) as one:
        yield one


@contextmanager
def full_disk(room: Roomcue, _journal: Path) -> Iterator[None]:
    """Let every file of the process be as long as it may ever be, as on a full disk."""
    assert room.process is not None
    pid = room.process.pid
    _, most = resource.prlimit(pid, resource.RLIMIT_FSIZE)
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (1, most))
    try:
        yield
    finally:
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (most, most))


@contextmanager
def read_only(_room: Roomcue, journal: Path) -> Iterator[None]:
    journal.chmod(0o444)
    yield
    journal.chmod(0o644)


@contextmanager
def moved_away(_room: Roomcue, journal: Path) -> Iterator[None]:
    """Something else lies in its place, so it cannot be written anew."""
    journal.rename(journal.with_name("moved"))
    journal.touch()
    yield
    journal.with_name("moved").rename(journal)


@pytest.mark.parametrize("harm", [full_disk, read_only, moved_away])
def test_what_cannot_be_written_is_said_waits_in_the_broker_and_is_taken_later(
    broker: Mosquitto,
    tmp_path: Path,
    harm: Callable[[Roomcue, Path], AbstractContextManager[None]],
) -> None:
    """`alive` says what is wrong and stays true; no last will takes that back."""
    journal = tmp_path / "hayloft.journal"
    with (
        Listener(broker.port, "roomcue/hayloft/out/#") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.subtopic == "order", "it lives")
        with harm(room, journal):
            publish(broker.port, f"{IN}/mark", '{"words":"meanwhile","id":"m"}')
            faulty = listener.wait_for(has_faults, "what is wrong")
            assert str(journal) in faulty.data["faults"][0]["details"]
            assert not [one for one in listener.of("reason") if "meanwhile" in one.payload]
        listener.wait_for(lambda one: "meanwhile" in one.payload, "it is taken in the end")
        with Listener(broker.port, "roomcue/hayloft/out/alive") as late:
            late.wait_for(lambda one: one.data.get("faults") == [], "nothing is wrong any more")
        assert all(one.data["alive"] for one in listener.of("alive"))
        assert room.stop() == OK
    assert run("export", "--journal", journal).stdout.count("meanwhile") == 2
    assert "Traceback" not in room.said()


def test_whoever_is_stopped_while_nothing_can_be_written_is_not_left_alive(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """It leaves the broker again and again then, and may be stopped between two connections."""
    journal = tmp_path / "hayloft.journal"
    with (
        Listener(broker.port, "roomcue/hayloft/out/alive") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
        moved_away(room, journal),
    ):
        publish(broker.port, f"{IN}/mark", '{"words":"meanwhile","id":"m"}')
        listener.wait_for(has_faults, "what is wrong")
        until(lambda: left_without_a_will(broker), "it leaves, to come again")
        assert room.stop() == OK
        listener.wait_for(lambda one: not one.data["alive"], "it has gone")
        with Listener(broker.port, "roomcue/hayloft/out/alive") as late:
            assert not late.wait_for(lambda _: True, "what is retained").data["alive"]
    assert "Traceback" not in room.said()


def left_without_a_will(broker: Mosquitto) -> bool:
    return "Received DISCONNECT from roomcue-hayloft" in broker.log.read_text()


def has_faults(one: Message) -> bool:
    return one.subtopic == "alive" and bool(one.data.get("faults"))


def removed(journal: Path) -> None:
    for one in journal.parent.glob(journal.name + "*"):
        one.unlink()


def cut_short(journal: Path) -> None:
    for one in (journal, Path(f"{journal}-wal")):
        os.truncate(one, 0)


@pytest.mark.parametrize("harm", [removed, cut_short])
def test_a_journal_that_is_removed_or_cut_short_is_said_and_written_anew(
    broker: Mosquitto, tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    """Even if nothing is to be written; the next start knows what was known."""
    journal = tmp_path / "hayloft.journal"
    with (
        Listener(broker.port, "roomcue/hayloft/out/#") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.subtopic == "order", "it lives")
        harm(journal)
        listener.wait_for(has_faults, "what is wrong")
        until(lambda: "journal can be written again" in room.said(), "it is written anew")
        second = Roomcue([DEMO_ROOM], journal, port=broker.port)
        second.log = tmp_path / "second.log"
        second.log.touch()
        assert second.start(ready=False).ended() == UNUSABLE
        assert "another roomcue is writing this journal" in " ".join(second.said().split())
        room.kill()
        room.start()
        with Listener(broker.port, "roomcue/hayloft/out/standing") as late:
            late.wait_for(lambda one: one.data["source"] == "disc", "it is still known")
    assert "Traceback" not in room.said()


def test_a_file_that_is_renamed_over_the_journal_stays_and_what_was_kept_is_named_at_the_end(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """It is a backup of the journal; the next start goes on from it, and nothing else is lost."""
    journal = tmp_path / "hayloft.journal"
    room = Roomcue([DEMO_ROOM], journal, port=broker.port)
    backup = tmp_path / "backup"
    with room, Listener(broker.port, "roomcue/hayloft/out/#") as listener:
        publish_all(broker.port, LIT)
        listener.wait_for(lambda one: one.subtopic == "order", "it lives")
        assert room.stop() == OK
        backup.write_bytes(journal.read_bytes())
        room.start()
        publish(broker.port, f"{IN}/mark", '{"words":"after the backup","id":"m"}')
        listener.wait_for(lambda one: "after the backup" in one.payload, "it is taken")
        before = backup.read_bytes()
        backup.rename(journal)
        assert room.stop() == OK
        kept = tmp_path / "hayloft.journal.kept"
        assert journal.read_bytes() == before
        assert f"what roomcue had is {kept}" in room.said()
        assert sorted(one.name for one in tmp_path.glob("*.journal*")) == [journal.name, kept.name]
        assert run("export", "--journal", kept).stdout.count("after the backup") == 2
    assert "Traceback" not in room.said()


def test_a_stop_that_can_leave_no_journal_says_so_and_ends_with_status_1(
    broker: Mosquitto, tmp_path: Path
) -> None:
    journal = tmp_path / "hayloft.journal"
    with (
        Listener(broker.port, "roomcue/hayloft/out/alive") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        removed(journal)
        journal.with_name(f"{journal.name}.part").mkdir()
        journal.with_name(f"{journal.name}.part").joinpath("somebody's").touch()
        faulty = listener.wait_for(
            lambda one: "cannot be written anew" in one.payload, "why it is not mended"
        )
        assert has_faults(faulty)
        assert room.stop() == PROBLEMS
        assert "roomcue has ended and left no whole journal" in room.said()
    assert "Traceback" not in room.said()


def test_whoever_stops_roomcue_again_and_again_loses_nothing_of_a_journal_that_was_removed(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """It is written anew as roomcue ends, which no signal may cut off."""
    journal = tmp_path / "hayloft.journal"
    with (
        Listener(broker.port, "roomcue/hayloft/out/reason") as listener,
        Roomcue([DEMO_ROOM], journal, port=broker.port) as room,
    ):
        publish(broker.port, f"{IN}/mark", '{"words":"the last word","id":"m"}')
        listener.wait_for(lambda one: "the last word" in one.payload, "it is taken")
        removed(journal)
        assert room.process is not None
        while room.lives():
            for one in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
                room.process.send_signal(one)
        assert room.ended() == OK
    assert run("export", "--journal", journal).stdout.count("the last word") == 2
    assert "Traceback" not in room.said()


def test_that_roomcue_is_there_holds_for_a_while_only(broker: Mosquitto, tmp_path: Path) -> None:
    """A process that stands still cannot say it again, and the broker forgets it then."""
    with (
        Listener(broker.port, "roomcue/hayloft/out/alive") as listener,
        Roomcue([DEMO_ROOM], tmp_path / "journal", port=broker.port),
    ):
        alive = listener.wait_for(lambda one: one.data["alive"], "it is there")
        assert alive.expiry == alive.data["holds_for"] == 60
        assert alive.data["faults"] == []
