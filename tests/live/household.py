"""A house for one quick evening: its room file, what its hub tells, and its lens.

The evening is of our own making. Its hub is a stranger (npm's client); the lens and the person who
answers prompts act on what roomcue publishes, each order once however often it comes.
"""

from __future__ import annotations

import json
import random
import re
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any, Self

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from tests.brisk_hayloft import brisk_hayloft
from tests.live.broker import PATIENCE

TRAVEL = 0.15
"""Seconds that the lens travels."""
ANOTHER_MARK = 30.0
"""Seconds to wait for the note on a mark before another one is told: a note is said only once."""


def room_text(name: str) -> str:
    """Give the shipped room under another name and at a quick pace."""
    text = brisk_hayloft().replace("room: hayloft", f"room: {name}")
    for old, new in (
        (r"linger: \d+ s", "linger: 60 ms"),
        (r"taller: 500 ms, wider: 4 s", "taller: 40 ms, wider: 80 ms, odd: 80 ms"),
        (r"travel: 18 s", "travel: 60 s"),
        (r"per_title: 1, per_night: 12", "per_title: 9, per_night: 90"),
        (r"pause: 20 min", "pause: 20 min\n  order: 60 s"),
    ):
        text, changed = re.subn(old, new, text)
        assert changed == 1, old
    return text


def evening(seed: int) -> Iterator[tuple[float, str, dict[str, Any]]]:
    """Give an evening: seconds to wait, a topic, and what is told, each with an id of its own."""
    chance = random.Random(seed)
    count = 0

    def told(subtopic: str, wait: float, **what: Any) -> tuple[float, str, dict[str, Any]]:  # noqa: ANN401
        nonlocal count
        count += 1
        return wait, subtopic, {"id": f"hub-{count}", **what}

    yield told("projector", 0, state="lit")
    yield told("lens", 0, moving=False, preset="broad")
    yield told("panels", 0, panels="open")
    yield told("source", 0, source="disc")
    for ratio in chance.sample((1.85, 2.20, 2.39, 1.78, 2.00), 3):
        yield told("playback", 0.02, state="playing")
        yield told("title", 0.02, begun=True, name=f"title {count}")
        yield told("ratio", 0.02, ratio=ratio)
        for _ in range(chance.randrange(3)):
            match chance.randrange(4):
                case 0:
                    yield told("told/guests", 0.03, value=chance.random() < 0.5)
                case 1:
                    yield told("mark", 0.03, words="that was wrong")
                case 2:
                    yield told("signal", 0.03, locked=True, columns=3840, rows=2160)
                case _:
                    yield told("playback", 0.03, state="paused")
        yield told("playback", 0.1, state="stopped")
    # The session ends, and with it what was refused; another source, and no shape is known.
    yield told("projector", 0.05, state="off")
    yield told("source", 0, source="console")
    yield told("source", 0, source="disc")
    yield told("projector", 0.05, state="lit")
    yield told("told/guests", 0, value=False)
    yield told("playback", 0.02, state="playing")
    yield told("title", 0, begun=True, name="the last one")
    yield told("ratio", 0.02, ratio=2.39)


LAST = {"source": "disc", "playback": "playing", "aspect": 2.39, "preset": "broad"}
"""How the evening stands at its end, with the lens at rest and a plain picture."""


class Household:
    """Does what it is ordered, once an id, and says so."""

    def __init__(self, port: int, room: str) -> None:
        self._root = f"roomcue/{room}"
        self.travels: Counter[str] = Counter()
        self.orders: dict[int, dict[str, Any]] = {}
        """Each order as it came, by its id."""
        self.changed: list[int] = []
        """Ids under which two different orders came."""
        self.standing: dict[str, Any] = {}
        self.welcomed = threading.Event()
        """Set once roomcue has said that it is there, and so listens."""
        self._marks = self._heard_back = 0
        self._withdrawn: set[int] = set()
        self._moved = threading.Condition()
        self._timers: list[threading.Timer] = []
        self._client = Client(
            CallbackAPIVersion.VERSION2, f"house-{room}", protocol=MQTTProtocolVersion.MQTTv5
        )
        self._client.on_message = self._heard
        self._ready = threading.Event()
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._port = port

    def __enter__(self) -> Self:
        kept = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        kept.SessionExpiryInterval = 3_600
        self._client.connect("127.0.0.1", self._port, clean_start=False, properties=kept)
        self._client.subscribe(f"{self._root}/out/#", 1)
        self._client.loop_start()
        assert self._ready.wait(PATIENCE)
        return self

    def __exit__(self, *_: object) -> None:
        for timer in self._timers:
            timer.join()
        self._client.disconnect()
        self._client.loop_stop()

    def stands(self, wanted: dict[str, Any], patience: float) -> bool:
        """Wait until the room stands so, with its lens at rest and nothing held back."""
        wanted = {**wanted, "lens": "resting", "picture": "plain", "holds": []}
        with self._moved:
            return self._moved.wait_for(lambda: wanted.items() <= self.standing.items(), patience)

    def rests(self, wanted: dict[str, Any], lives: Callable[[], bool]) -> bool:
        """Tell whether the room stands so and has nothing more to do with what it was told.

        False as soon as it `lives` no longer: a note on a mark is lost with whoever would say it.
        """
        if not self.stands(wanted, 0.2):
            return False
        orders = len(self.orders)
        return self.hears(lives) and len(self.orders) == orders and self.stands(wanted, 0)

    def is_idle(self, lives: Callable[[], bool]) -> bool:
        """Tell whether the room has heard all and does nothing for a while if nobody speaks."""
        orders = len(self.orders)
        if not self.hears(lives) or len(self.orders) != orders:
            return False
        soon = datetime.now(UTC) + timedelta(minutes=5)
        return self.standing["lens"] != "travelling" and all(
            one["at"] is None or datetime.fromisoformat(one["at"]) > soon
            for one in self.standing["next"]
        )

    def hears(self, lives: Callable[[], bool]) -> bool:
        """Tell the room something, and wait for its note on it while it `lives`."""
        self._marks += 1
        self._say("mark", f"mark-{self._marks}", words=f"heard {self._marks}")
        ends = time.monotonic() + ANOTHER_MARK
        while not self._is_heard(0.1):
            if not lives() or time.monotonic() > ends:
                return False
        return True

    def _is_heard(self, patience: float) -> bool:
        """Wait for the room's note on the latest mark."""
        with self._moved:
            return self._moved.wait_for(lambda: self._heard_back == self._marks, patience)

    def _heard(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        subtopic, data = message.topic.rsplit("/", 1)[1], json.loads(message.payload)
        with self._moved:
            if subtopic == "alive" and data["alive"]:
                self.welcomed.set()
            elif subtopic == "standing":
                self.standing = data
                self._moved.notify_all()
            elif subtopic == "reason" and data["kind"] == "note" and "heard " in data["reason"]:
                self._heard_back = int(data["reason"].removeprefix("heard "))
                self._moved.notify_all()
            elif subtopic == "order":
                self._ordered(data)
            elif subtopic == "ask" and data["kind"] == "prompt" and data["id"] not in self.orders:
                self.orders[data["id"]] = data
                self._say("answer", f"answer-{data['id']}", prompt=data["id"], answer="no")

    def _ordered(self, data: dict[str, Any]) -> None:
        if data["kind"] == "withdrawn":
            self._withdrawn.add(data["order"])
            return
        number = data["id"]
        if number in self.orders:
            # A repeated order is the same one, with less time left.
            known = self.orders[number]
            same = {**known, "ends_in": 0} == {**data, "ends_in": 0}
            if not same or data["ends_in"] > known["ends_in"]:
                self.changed.append(number)
            return
        self.orders[number] = data
        if number in self._withdrawn:
            return
        if data["kind"] == "recall":
            self._recalled(number, data["preset"])
        else:
            self._say("outcome", f"outcome-{number}", order=number, outcome="done")

    def _recalled(self, number: int, preset: str) -> None:
        """Send the lens off; the order is done once it has arrived."""
        self.travels[preset] += 1
        self._say("lens", f"sets-off-{number}", moving=True, preset=preset)
        arrival = threading.Timer(TRAVEL, self._arrived, (number, preset))
        self._timers.append(arrival)
        arrival.start()

    def _arrived(self, number: int, preset: str) -> None:
        self._say("lens", f"arrives-{number}", moving=False, preset=preset)
        self._say("outcome", f"outcome-{number}", order=number, outcome="done")

    def _say(self, subtopic: str, id_: str, **what: Any) -> None:  # noqa: ANN401 - JSON
        body = json.dumps({"id": id_, **what})
        self._client.publish(f"{self._root}/in/{subtopic}", body, qos=1)
