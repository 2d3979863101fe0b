"""What a power cut must not undo is on the disk before anybody is told of it."""

from __future__ import annotations

import os
import re
import shutil
import signal
from pathlib import Path

from simulator.shipped import DEMO_ROOM
from tests.live.broker import Mosquitto, until
from tests.live.process import ROOMCUE, Roomcue
from tests.live.strangers import Listener, publish

STRACE = shutil.which("strace") or "/usr/bin/strace"
SYNC, ACKNOWLEDGED, ORDERED = "sync", "acknowledged", "ordered"


def told(line: str) -> str | None:
    """Say what a system call does: PUBACK begins with 0x40, PUBLISH with 0x3 (MQTT 5.0, 2.1.2)."""
    if re.search(r"\bf(data)?sync\(", line):
        return SYNC
    if re.search(r'send(to)?\(\d+, "@\\2', line):
        return ACKNOWLEDGED
    if re.search(r'send(to)?\(\d+, "2.*out/order', line):
        return ORDERED
    return None


def _stop_traced(room: Roomcue) -> None:
    """Stop the one that is watched, for whoever watches does not hand signals on."""
    assert room.process is not None
    pid = room.process.pid
    (child,) = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    os.kill(int(child), signal.SIGTERM)
    assert room.ended() == 0


def test_the_journal_is_synced_before_the_order_and_this_leaves_before_the_acknowledgement(
    tmp_path: Path,
) -> None:
    """Seen in the system calls of one live run, from the message that leads to an order on."""
    calls = tmp_path / "calls"
    traced = (STRACE, "-f", "-s", "96", "-e", "trace=fdatasync,fsync,sendto,recvfrom", "-o")
    with (
        Mosquitto(tmp_path / "broker") as broker,
        Roomcue(
            [DEMO_ROOM],
            tmp_path / "journal",
            port=broker.port,
            program=(*traced, str(calls), *ROOMCUE),
        ) as room,
        Listener(broker.port, "roomcue/hayloft/out/order") as listener,
    ):
        publish(broker.port, "roomcue/hayloft/in/projector", '{"state":"lit"}')
        publish(broker.port, "roomcue/hayloft/in/source", '{"source":"disc"}')
        listener.wait_for(lambda one: one.data["kind"] == "picture", "an order")
        until(lambda: "out/order" in calls.read_text(), "the calls are written down")
        _stop_traced(room)
    lines = calls.read_text().splitlines()
    came = next(i for i, line in enumerate(lines) if "in/source" in line and "recv" in line)
    order = [what for line in lines[came:] if (what := told(line)) is not None]
    first = [order.index(what) for what in (SYNC, ORDERED, ACKNOWLEDGED)]
    assert first == sorted(first), order
