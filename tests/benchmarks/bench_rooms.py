"""Many rooms in one process: how far they fall behind, what they cost, how they find their broker.

200 rooms hear 24 readings a second each. Meanwhile one room after another is told something that
makes it give an order, and the time until that order comes is how far behind it is. Processor time
is held against that of a bare subscriber of the same messages, in the same run. Then 1,000 rooms
that hear nothing: how long until all of them are connected, and how much memory they take. The
broker runs with the limits of the shipped configuration.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from itertools import count
from multiprocessing import Process
from pathlib import Path
from statistics import median
from typing import Final

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.benchmarks.bench_live import (
    A_SECOND,
    ROOM,
    ROOMS,
    Asker,
    publish_readings,
    relay,
    spent,
)
from tests.house.tree import TOP
from tests.live.broker import SMALL, Mosquitto, until
from tests.live.process import Roomcue

SECONDS: Final = 20
IDLE_ROOMS: Final = 1_000
PROBES_A_SECOND: Final = 8


def client_of(port: int) -> Client:
    """Connect a client with a thread of its own."""
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.on_socket_open = lambda _c, _d, sock: sock.setsockopt(6, 1, 1)  # type: ignore[attr-defined]
    client.connect("127.0.0.1", port)
    client.loop_start()
    return client


def tell_all(port: int) -> None:
    """Light every room's projector, so that it gives orders."""
    hub = client_of(port)
    for number in range(ROOMS):
        root = f"roomcue/bench{number}/in"
        hub.publish(f"{root}/projector", '{"state":"lit"}', 1)
        hub.publish(f"{root}/source", '{"source":"player"}', 1)
        hub.publish(f"{root}/told/guests", '{"value":false}', 1).wait_for_publish(60)
    hub.disconnect()
    hub.loop_stop()


def probe(port: int, rooms: list[str], answers: str, *fits: bytes) -> list[float]:
    """While readings are published, tell one room after another that guests come, later go.

    Give the seconds until each answer that `fits`.
    """
    took: list[float] = []
    readings = Process(target=publish_readings, args=(port, SECONDS))
    with closing(Asker(port, answers)) as asker:
        readings.start()
        for number in count():
            if not readings.is_alive():
                return took
            topic = rooms[number * 37 % len(rooms)]
            guests = number // len(rooms) % 2 == 0
            payload, wanted = json.dumps({"value": guests}), fits[0 if guests else 1]
            took.append(asker.ask(topic, payload, wanted, 1 / PROBES_A_SECOND) / 1e6)
    return took


@contextmanager
def many_rooms(broker: Mosquitto, folder: Path, count: int) -> Iterator[tuple[Roomcue, float]]:
    """Start so many rooms; gives them and the seconds until the last one had its broker."""
    rooms = []
    for number in range(count):
        rooms.append(folder / f"bench{number}.yaml")
        rooms[-1].write_text(ROOM.format(number=number))
    room = Roomcue(rooms, folder / f"journal{count}", "--log", "json", port=broker.port)
    begins = time.monotonic()
    with closing(room):
        room.start(ready=False)
        until(lambda: room.said().count("broker is there") >= count, "all rooms", 600)
        yield room, time.monotonic() - begins
        assert room.lives(), room.said()[-2_000:]


def memory(room: Roomcue) -> tuple[int, int]:
    """Give the MB that a process takes now, and the most that it took."""
    assert room.process is not None
    lines = Path(f"/proc/{room.process.pid}/status").read_text().splitlines()
    said = {line.split(":")[0]: line.split(":")[1].split()[0] for line in lines if "kB" in line}
    return int(said["VmRSS"]) // 1_024, int(said["VmHWM"]) // 1_024


def busy_rooms(broker: Mosquitto, folder: Path) -> None:
    """Print how 200 busy rooms do."""
    rooms = [f"roomcue/bench{number}/in/told/guests" for number in range(ROOMS)]
    with relay(broker.port, "listen", "roomcue/+/in/#", 1) as bare:
        before = spent(bare)
        waits = sorted(probe(broker.port, rooms, "listen/answer", b"true", b"false"))
        alone = spent(bare) - before
    with many_rooms(broker, folder, ROOMS) as (room, took):
        assert room.process is not None
        tell_all(broker.port)
        until(lambda: room.said().count('"code":"row"') >= ROOMS, "all rooms are lit", 600)
        before = spent(room.process)
        behind = sorted(probe(broker.port, rooms, "roomcue/+/out/order", b'"full"', b'"low"'))
        live = spent(room.process) - before
        log = room.said()
    print(
        f"{ROOMS} rooms with {A_SECOND} readings a second each, {SECONDS} s: connected after "
        f"{took:.1f} s, lost connections {lost(log)}; orders came after "
        f"{median(behind):.3f} s (p50), {behind[-1]:.3f} s at most, those of a bare subscriber "
        f"after {median(waits):.3f} s and {waits[-1]:.3f} s; {live:.2f} s of processor time "
        f"against its {alone:.2f} s: {live / alone:.2f}"
    )


def lost(log: str) -> int:
    """Count the connections that a log says were lost."""
    return log.count("broker is gone") + log.count("broker does not answer")


def idle_rooms(broker: Mosquitto, folder: Path) -> None:
    """Print how 1,000 rooms come to their broker, and what they take."""
    with many_rooms(broker, folder, IDLE_ROOMS) as (room, took):
        assert room.process is not None
        processor = spent(room.process)
        now, most = memory(room)
        time.sleep(SECONDS)
        later, _ = memory(room)
        idle = spent(room.process) - processor
        log = room.said()
    print(
        f"{IDLE_ROOMS} rooms: all connected after {took:.1f} s and {processor:.1f} s of processor "
        f"time; {now} MB, {later} MB {SECONDS} s later, {most} MB at most; processor time of "
        f"{SECONDS} s at rest {idle:.2f} s; lost connections {lost(log)}"
    )


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory(dir=TOP, prefix=".bench-") as name:
        folder = Path(name)
        lines = (*SMALL, "max_connections -1")
        with Mosquitto(folder / "broker", lines, traces=False) as broker:
            for work in (busy_rooms, idle_rooms):
                if not sys.argv[1:] or work.__name__ in sys.argv:
                    work(broker, folder)


if __name__ == "__main__":
    main()
