"""What a live room costs, as ratios of one run: latency, processor time, start-up.

Latency is that of an event that leads to one order through mosquitto, against a bare relay (a
client of the same library on the same loop that answers each message with one as large as an order)
and a measured commit of SQLite. The journal lies on the file system of this checkout, which is
named; on tmpfs a sync costs nothing, and the figures would mean nothing. A relay that commits
before it answers, and does nothing else, shows how much of that any durable answer costs. The
broker does not log every packet: its log would wait for the journal's disk. All are timed at two
paces, each with its limit for the median: 4 ms apart, as events come in an evening at most, it is
the relay's time plus one commit, and a quarter more; back to back it is 1.5 times a relay that
commits. Processor time is that of 200 rooms with 24 readings a second each, against a bare
subscriber of the same messages.
"""

from __future__ import annotations

import json
import os
import queue
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median, quantiles

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.house.tree import TOP
from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue

ROOM = """
room: bench{number}
time_zone: Europe/Lisbon
screen: {{width: 3.0 m, aspect: 2.40}}
projector: {{raster: 3840 x 2160}}
sources: {{player: {{}}}}
told: {{guests: yes or no}}
cues: {{lamps: full or low}}
rules:
  policy: first
  rows:
    - case: {{guests: yes}}
      show: {{picture: plain, cues: {{lamps: full}}}}
      because: Guests want light.
  otherwise: {{picture: plain, cues: {{lamps: low}}, because: Nobody else does.}}
"""
ORDER_BYTES = 220
"""How large an order of such a room is, without its topic."""
RELAY = """
import asyncio, socket, sqlite3, sys
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

_, port, what, topic, qos, path, size = sys.argv
base = sqlite3.connect(path, isolation_level=None)
base.execute("PRAGMA journal_mode = WAL")
base.execute("PRAGMA synchronous = FULL")
base.execute("CREATE TABLE IF NOT EXISTS t (b BLOB)")

def answer(client, _, message):
    if what == "commit":
        base.execute("BEGIN IMMEDIATE")
        base.execute("INSERT INTO t VALUES (?)", (message.payload + b"x" * 300,))
        base.execute("COMMIT")
    if what == "listen" and message.topic.endswith("guests"):
        client.publish("listen/answer", message.payload, 1)
    if what in ("answer", "commit"):
        ends = Properties(PacketTypes.PUBLISH)
        ends.MessageExpiryInterval = 10
        client.publish(f"{topic}/answer", message.payload.ljust(int(size)), 1, properties=ends)

async def main():
    loop = asyncio.get_running_loop()
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.on_socket_open = lambda c, d, s: s.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    client.on_message = answer
    client.connect("127.0.0.1", int(port))
    def read():
        client.loop_read()
        while client.want_write():
            client.loop_write()
    loop.add_reader(client.socket(), read)
    client.subscribe(topic, int(qos))
    client.loop_write()
    print("ready", flush=True)
    while True:
        await asyncio.sleep(1)
        client.loop_misc()

asyncio.run(main())
"""
TIMES = 1_500
A_TURN = 150
EVENING_PACE = 0.004
"""Seconds between two events."""
ROOMS = 200
A_SECOND = 24
SECONDS = 10


@contextmanager
def relay(
    port: int, what: str, topic: str, qos: int, path: Path | str = ":memory:"
) -> Iterator[subprocess.Popen[str]]:
    """Run a bare client: one that shall `answer`, or `commit` first, or only `listen`.

    One that listens answers only what is told of guests, on `listen/answer`.
    """
    told = (str(port), what, topic, str(qos), str(path), str(ORDER_BYTES))
    command = [sys.executable, "-c", RELAY, *told]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.stdout.readline()
        yield process
        process.kill()


class Asker:
    """Publishes and waits for the answer."""

    def __init__(self, port: int, answers: str) -> None:
        self._heard: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self.client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self.client.on_message = self._on_message
        ready: queue.SimpleQueue[int] = queue.SimpleQueue()
        self.client.on_subscribe = lambda *_: ready.put(1)
        self.client.on_socket_open = lambda _c, _d, sock: sock.setsockopt(6, 1, 1)  # type: ignore[attr-defined]
        self.client.connect("127.0.0.1", port)
        self.client.subscribe(answers, 1)
        self.client.loop_start()
        ready.get(timeout=10)

    def _on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        self._heard.put(bytes(message.payload))

    def ask(self, topic: str, payload: str, fits: bytes, pause: float) -> float:
        """Wait a while, then give the microseconds from a publish to the answer that fits."""
        time.sleep(pause)
        begins = time.perf_counter()
        self.client.publish(topic, payload, 1)
        while fits not in self._heard.get(timeout=10):
            pass
        return (time.perf_counter() - begins) * 1e6

    def close(self) -> None:
        """Leave."""
        self.client.disconnect()
        self.client.loop_stop()


def p50_p99(figures: list[float]) -> tuple[float, float]:
    """Give the median and the 99th percentile."""
    return median(figures), quantiles(figures, n=100)[98]


class Committer:
    """Commits small rows to SQLite, as durably as the journal."""

    def __init__(self, path: Path) -> None:
        self._base = sqlite3.connect(path, isolation_level=None)
        self._base.execute("PRAGMA journal_mode = WAL")
        self._base.execute("PRAGMA synchronous = FULL")
        self._base.execute("CREATE TABLE t (a INTEGER, b BLOB)")

    def commit(self, number: int, pause: float) -> float:
        """Wait a while, then give the microseconds that a commit takes."""
        time.sleep(pause)
        begins = time.perf_counter()
        self._base.execute("BEGIN IMMEDIATE")
        self._base.execute("INSERT INTO t VALUES (?, ?)", (number, b"x" * 300))
        self._base.execute("COMMIT")
        return (time.perf_counter() - begins) * 1e6

    def close(self) -> None:
        """Close the file."""
        self._base.close()


def latency(broker: Mosquitto, folder: Path, words: str, pause: float) -> None:
    """Print the latency of an order against a bare relay and a commit.

    They take turns: a machine that is busy with something else is so for all of them.
    """
    room = folder / "bench.yaml"
    room.write_text(ROOM.format(number=0))
    bare, durable, least, live = [], [], [], []
    with (
        relay(broker.port, "answer", "question", 1),
        closing(Asker(broker.port, "question/answer")) as other,
        relay(broker.port, "commit", "plea", 1, folder / f"pleas{pause}"),
        closing(Asker(broker.port, "plea/answer")) as third,
        closing(Committer(folder / f"commits{pause}")) as committer,
        Roomcue([room], folder / f"journal{pause}", "--log", "json", port=broker.port),
        closing(Asker(broker.port, "roomcue/bench0/out/order")) as one,
    ):
        told = "roomcue/bench0/in"
        one.client.publish(f"{told}/projector", '{"state":"lit"}', 1)
        one.client.publish(f"{told}/source", '{"source":"player"}', 1)
        for begins in range(0, TIMES, A_TURN):
            numbers = range(begins, begins + A_TURN)
            bare += [other.ask("question", f"{n} end", f"{n} end".encode(), pause) for n in numbers]
            least += [third.ask("plea", f"{n} end", f"{n} end".encode(), pause) for n in numbers]
            durable += [committer.commit(number, pause) for number in numbers]
            for number in numbers:
                guests = number % 2 == 0
                wanted = b'"value":"full"' if guests else b'"value":"low"'
                payload = json.dumps({"value": guests})
                live.append(one.ask(f"{told}/told/guests", payload, wanted, pause))
    for index, name in enumerate(("p50", "p99")):
        got, alone, commit, floor = (
            p50_p99(figures)[index] for figures in (live, bare, durable, least)
        )
        if pause:
            limit, said = 1.25 * (alone + commit), "a relay, a commit and a quarter"
        else:
            limit, said = 1.5 * floor, "1.5 relays that commit"
        print(
            f"{words}, {name}: order {got:.0f} us, relay {alone:.0f} us, commit {commit:.0f} us, "
            f"a relay that commits {floor:.0f} us; {got / limit:.2f} of {said}"
        )
    print(f"{words}, longest {max(live):6.0f} us, relay {max(bare):6.0f} us")


def spent(process: subprocess.Popen[bytes] | subprocess.Popen[str]) -> float:
    """Give the processor seconds that a process has used."""
    fields = Path(f"/proc/{process.pid}/stat").read_text().rsplit(") ", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def publish_readings(port: int, seconds: int) -> None:
    """Publish readings to all rooms, so many a second; one of twelve is another one."""
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.connect("127.0.0.1", port)
    client.loop_start()
    begins = time.monotonic()
    for tick in range(seconds * A_SECOND):
        top = 138 + (tick % 12 == 0)
        body = {"top": top, "bottom": 138, "left": 0, "right": 0, "columns": 1920, "rows": 1080}
        payload = json.dumps(body)
        for number in range(ROOMS):
            client.publish(f"roomcue/bench{number}/in/bars", payload, 0)
        time.sleep(max(0.0, begins + (tick + 1) / A_SECOND - time.monotonic()))
    until(lambda: not client.want_write(), "all is written")
    client.disconnect()
    client.loop_stop()


def processor(broker: Mosquitto, folder: Path) -> None:
    """Print the processor time of many rooms against that of a bare subscriber."""
    with relay(broker.port, "listen", "roomcue/+/in/bars", 0) as bare:
        before = spent(bare)
        publish_readings(broker.port, SECONDS)
        alone = spent(bare) - before
    rooms = []
    for number in range(ROOMS):
        rooms.append(folder / f"bench{number}.yaml")
        rooms[-1].write_text(ROOM.format(number=number))
    room = Roomcue(rooms, folder / "many", "--log", "json", port=broker.port)
    with closing(room):
        room.start(ready=False)
        until(lambda: room.said().count("broker is there") == ROOMS, "all rooms", 60)
        assert room.process is not None
        before = spent(room.process)
        publish_readings(broker.port, SECONDS)
        live = spent(room.process) - before
        idle = spent(room.process)
        time.sleep(SECONDS)
        idle = spent(room.process) - idle
    print(
        f"{ROOMS} rooms, {A_SECOND} readings a second each, {SECONDS} s: {live:.2f} s of processor "
        f"time against {alone:.2f} s of a bare subscriber: {live / alone:.2f}; "
        f"with nothing heard {idle:.2f} s"
    )


def startup(broker: Mosquitto, folder: Path) -> None:
    """Print how long one room takes from its start to its place at the broker."""
    room = folder / "one.yaml"
    room.write_text(ROOM.format(number="_start"))
    took = []
    for _ in range(5):
        begins = time.perf_counter()
        with Roomcue([room], folder / "start", port=broker.port):
            took.append(time.perf_counter() - begins)
    bare = []
    for _ in range(5):
        begins = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import pydantic, typer"], check=True, cwd=TOP)
        bare.append(time.perf_counter() - begins)
    print(
        f"start of one room {median(took):.2f} s, "
        f"{median(took) / median(bare):.1f} times an interpreter with its largest two libraries"
    )


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory(dir=TOP, prefix=".bench-") as name:
        folder = Path(name)
        kind = subprocess.run(
            ["stat", "-f", "-c", "%T", name], capture_output=True, text=True, check=True
        )
        print(f"the journal's file system: {kind.stdout.strip()}")
        lines = ("allow_anonymous true", "set_tcp_nodelay true", "max_connections -1")
        with Mosquitto(folder / "broker", lines, traces=False) as broker:
            latency(broker, folder, "back to back", 0.0)
            latency(broker, folder, "4 ms apart", EVENING_PACE)
            processor(broker, folder)
            startup(broker, folder)


if __name__ == "__main__":
    main()
