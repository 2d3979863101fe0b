"""What strangers and their brokers may do to live rooms: megabytes, floods, readers that stand."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from adapters.cli.exit_status import UNUSABLE
from tests.house.tree import TOP
from tests.live.broker import PATIENCE, SMALL, Mosquitto, until
from tests.live.household import Household, room_text
from tests.live.process import ROOMCUE, Roomcue
from tests.live.strangers import Hub, Listener, publish, publish_all
from tests.live.test_flood import memory_of
from tests.soak import sample

NAME = "beset"
IN = f"roomcue/{NAME}/in"
RETAINED = sample(2_000, 10_000)
UNLIMITED = (*SMALL, "max_queued_messages 0", "max_inflight_messages 0")


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker", UNLIMITED) as one:
        yield one


@pytest.fixture
def room(broker: Mosquitto, tmp_path: Path) -> Roomcue:
    """A room that is not running yet."""
    file = tmp_path / "room.yaml"
    file.write_text(room_text(NAME))
    return Roomcue([file], tmp_path / "journal", port=broker.port)


def hears(broker: Mosquitto, room: Roomcue) -> None:
    """Hold that the room takes a word and decides upon it."""
    publish_all(broker.port, [(f"{IN}/projector", '{"state":"lit"}')])
    publish_all(broker.port, [(f"{IN}/source", '{"source":"disc"}')])
    until(lambda: ": picture " in room.said(), f"it decides:\n{room.said()[-2_000:]}")


def refusals_told(room: Roomcue) -> int:
    """Count what was refused, by the log's lines and by what it says is missing from it."""
    missing = re.findall(r"(\d+) lines of the log are missing", room.said())
    return room.said().count("code=unknown_topic") + sum(map(int, missing))


def test_thousands_of_retained_topics_keep_no_room_from_its_evening(
    broker: Mosquitto, room: Roomcue
) -> None:
    """Somebody has retained rubbish for years: each is refused, and what counts is heard."""
    with Hub(broker.port) as hub:
        for number in range(RETAINED):
            hub.publish(f"{IN}/old/{number}", '{"x":1}', retain=True)
        assert len(hub.done()) == RETAINED
    with room:
        hears(broker, room)
        until(lambda: refusals_told(room) == RETAINED, "all are refused")
        assert memory_of(room) < 120
        assert room.stop() == 0
    assert "Traceback" not in room.said()


def test_a_message_of_a_megabyte_stops_nobody(broker: Mosquitto, room: Roomcue) -> None:
    """The broker keeps it from the room, which has said how large a message may be."""
    with room, Hub(broker.port) as hub:
        for kind in ("mark", "room", "ratio"):
            hub.publish(f"{IN}/{kind}", "x" * 1_000_000)
        hears(broker, room)
        assert len(hub.done()) == 3
        assert room.said().count("broker is there") == 1
        assert room.stop() == 0


def test_a_reader_that_takes_nothing_holds_nobody_up(broker: Mosquitto, room: Roomcue) -> None:
    """An onlooker at QoS 1 stands still with full pipes; the house hears all the same."""
    with (
        Listener(broker.port, f"roomcue/{NAME}/out/#") as onlooker,
        room,
        Household(broker.port, NAME) as house,
    ):
        onlooker.stand_still()
        marks = [json.dumps({"words": "x" * 400, "id": str(number)}) for number in range(500)]
        publish_all(broker.port, [(f"{IN}/mark", mark) for mark in marks])
        hears(broker, room)
        until(lambda: house.is_idle(room.lives), "the house has heard it all")
        assert house.orders
        assert room.stop() == 0


MAY_MOUNT = os.geteuid() == 0
READ_ONLY = (
    'mount -t tmpfs none "$0" && cp "$1" "$0/journal" && mount -o remount,ro "$0" && shift'
    ' && exec "$@"'
)


@pytest.mark.skipif(not MAY_MOUNT, reason="only root may mount a file system to try it on")
@pytest.mark.parametrize("there", [True, False], ids=["a journal", "no journal"])
def test_a_journal_on_a_read_only_mount_is_refused_in_a_sentence(
    *, there: bool, room: Roomcue, tmp_path: Path
) -> None:
    with room:
        assert room.stop() == 0
    mount, journal = tmp_path / "mount", tmp_path / "journal"
    mount.mkdir()
    name = mount / ("journal" if there else "other")
    command = [*ROOMCUE, "run", str(tmp_path / "room.yaml"), "--journal", str(name), "--stdin"]
    command.append("--unproven")
    ended = subprocess.run(
        [
            "unshare",
            "-m",
            "sh",
            "-c",
            READ_ONLY,
            str(mount),
            str(journal),
            *command,
            "--unproven",
        ],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
        cwd=TOP,
        input="",
    )
    said = " ".join(ended.stderr.split())
    assert ended.returncode == UNUSABLE, said
    assert str(name) in said.replace(" ", "") or "cannot be made or written" in said
    assert "Traceback" not in said
    assert sys.executable not in said


def more_than(known: int, asked: Listener) -> bool:
    return len(asked.questions()) > known


def said(room: Roomcue, words: str) -> bool:
    return words in room.said()


def test_a_broker_that_forgets_sessions_at_random_loses_no_evening(
    broker: Mosquitto, room: Roomcue
) -> None:
    """Each time somebody takes the session and lets it end: the room asks, and lives on."""
    with room, Listener(broker.port, f"roomcue/{NAME}/out/ask") as asked:
        for number in range(3):
            thief = ["mosquitto_sub", "-V", "mqttv5", "-p", str(broker.port), "-E", "-t", "none"]
            known = len(asked.questions())
            subprocess.run([*thief, "-i", broker.client_id(NAME)], check=True, timeout=PATIENCE)
            until(partial(more_than, known, asked), "the hub is asked")
            publish(broker.port, f"{IN}/mark", f'{{"words":"word {number}"}}')
            until(partial(said, room, f"word {number}"), "it hears")
        assert room.stop() == 0
