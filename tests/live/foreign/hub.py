"""A small hub: it tells a room what happens, carries out orders, and tells everything when asked.

    python hub.py BROKER ROOM EVENING [AUTHORITY]

It is written from `adapters/contract/README.md` alone. Its devices are pretended: pictures and cues
obey at once, the lens takes a moment, no sensor looks at panels. EVENING, a JSON file, has what
happens, step by step, and how the room shall stand before the next. It prints what it does.
"""

import json
import socket
import sys
import time
import uuid
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, Timer
from typing import Any
from urllib.parse import unquote, urlsplit

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

Json = dict[str, Any]
READINGS = ("bars", "black", "ratio", "format")
# What is told when everything is told, in this order; of panels, without a sensor, people tell.
STATES = ("projector", "service", "source", "signal", "playback", "title", "lens", "told/")


def show(**what: Any) -> None:
    print(json.dumps(what), flush=True)


class Hub:
    def __init__(self, client: Client, room: str) -> None:
        self.client, self.room, self.answered = client, f"roomcue/{room}", Event()
        self.replies = f"replies/hub-{uuid.uuid4().hex}"
        self.facts: dict[str, tuple[str, Json]] = {}  # what was told last, of readings the latest
        self.ends: dict[int, float] = {}  # until when each order that came may be begun
        self.alive: tuple[str | None, float] | None = None  # since when, and how long it holds
        self.standing: Json = {}
        client.on_connect, client.on_message = self.connected, self.heard

    def publish(self, kind: str, body: Json) -> None:
        """Publish with a new id; a reading is worth nothing after 5 seconds."""
        qos, more = 0 if kind in READINGS else 1, Properties(PacketTypes.PUBLISH)
        if kind in READINGS:
            more.MessageExpiryInterval = 5
        elif kind == "state":
            more.ResponseTopic = self.replies
        named = json.dumps({"contract": 1, "id": f"hub-{uuid.uuid4().hex}", **body})
        self.client.publish(f"{self.room}/in/{kind}", named, qos, properties=more)

    def tell(self, kind: str, **what: Any) -> None:
        """Say how something is, since now; keep it for when everything is to be told."""
        fact = kind, {**what, "at": datetime.now(UTC).isoformat()}
        self.facts["reading" if kind in READINGS else kind] = fact
        if self.client.is_connected():  # else it is told with everything
            self.publish(*fact)

    def tell_everything(self, why: str) -> None:
        """Tell it anew, with the moments since when it is so."""
        for first in (*STATES, "reading"):
            for name in [one for one in [*self.facts] if one.startswith(first)]:
                self.publish(*self.facts[name])
        show(told_everything=why)

    def connected(self, _client: Client, _data: Any, _: Any, reason: ReasonCode, *__: Any) -> None:
        """Begin, each time: subscribe, tell everything, ask how everything stands."""
        show(connected=str(reason))
        if not reason.is_failure:
            topics = [f"{self.room}/out/{leaf}" for leaf in ("order", "ask", "standing", "alive")]
            self.alive = None
            self.client.subscribe([(topic, 1) for topic in (self.replies, *topics)])
            self.tell_everything("connected")
            self.publish("state", {})

    def heard(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        leaf, data = message.topic.rsplit("/", 1)[1], json.loads(message.payload)
        now, kind = time.monotonic(), data.get("kind")
        # Each order begins at once here: there is none that a withdrawal would stop.
        if leaf == "order" and kind != "withdrawn" and data["id"] not in self.ends:
            left = min(data["ends_in"], getattr(message.properties, "MessageExpiryInterval", 1e9))
            self.ends = {n: end for n, end in self.ends.items() if end > now}
            self.ends[data["id"]] = now + left
            if left > 0:
                self.obey(data)
        elif leaf == "ask" and kind == "question":
            self.tell_everything("question")
        elif leaf == "alive":  # the first after connecting asks for nothing: everything is told
            since, holds = self.alive or (data.get("since"), now)
            self.alive = data.get("since"), now + data.get("holds_for", 0)
            if data["alive"] and (since != data["since"] or holds < now):
                self.tell_everything("alive")
        elif leaf == "standing":
            self.standing = data
        elif message.topic == self.replies:
            show(state=data)
            self.answered.set()

    def obey(self, order: Json) -> None:
        show(order=order["id"], kind=order["kind"])
        if order["kind"] == "recall":  # the report of the arrival is its outcome
            self.tell("lens", moving=True, preset=order["preset"])
            Timer(0.3, lambda: self.tell("lens", moving=False, preset=order["preset"])).start()
        elif order["kind"] in {"picture", "cue"}:
            self.publish("outcome", {"order": order["id"], "outcome": "done"})

    def play(self, evening: list[Json]) -> None:
        self.answered.wait()
        for step in evening:
            for kind, what in step["tell"].items():
                self.tell(kind, **what)
            while not fits(step["until"], self.standing):
                time.sleep(0.02)
            show(stands=step["until"])
        self.answered.clear()
        self.publish("state", {})
        self.answered.wait()


def fits(wanted: Any, found: Any) -> bool:
    inside = isinstance(wanted, dict) and isinstance(found, dict)
    return all(fits(wanted[key], found.get(key)) for key in wanted) if inside else wanted == found


def main(broker: str, room: str, evening: str, authority: str | None = None) -> None:
    at, kept = urlsplit(broker), Properties(PacketTypes.CONNECT)
    kept.SessionExpiryInterval = 600
    v5 = MQTTProtocolVersion.MQTTv5
    client = Client(CallbackAPIVersion.VERSION2, f"hub-of-{room}", protocol=v5)
    client.reconnect_delay_set(1, 10)  # s; then it sends again what was not acknowledged
    client.on_socket_open = lambda *on: on[2].setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    client.username_pw_set(unquote(at.username or "") or None, unquote(at.password or "") or None)
    if authority:
        client.tls_set(authority)
    hub = Hub(client, room)
    client.connect_async(at.hostname or "", at.port or 1883, clean_start=False, properties=kept)
    client.loop_start()
    hub.play(json.loads(Path(evening).read_text("utf-8")))
    client.disconnect()
    client.loop_stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
