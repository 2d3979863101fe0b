"""A hub written from the contract's page alone: `hub.py BROKER ROOM EVENING [AUTHORITY]`."""

import asyncio
import json
import sys
import time
import uuid
from datetime import UTC, datetime
from pathlib import Path
from socket import IPPROTO_TCP, TCP_NODELAY
from typing import Any
from urllib.parse import unquote, urlsplit

from aiomqtt import Client, Message, MqttError, ProtocolVersion, TLSParameters
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

Json = dict[str, Any]
READINGS, REGULARLY = ("bars", "black", "ratio", "format"), "ten minutes"
# What is told when everything is told, in this order; of panels, without a sensor, people tell.
ALL = ("projector", "service", "source", "signal", "playback", "title", "lens", "told/", "outcome")


def show(**what: Any) -> None:
    print(json.dumps(what), flush=True)


class Hub:
    def __init__(self, room: str, tasks: asyncio.TaskGroup) -> None:
        self.room, self.replies = f"roomcue/{room}", f"replies/hub-{uuid.uuid4().hex}"
        self.tasks, self.answered = tasks, asyncio.Event()
        self.outbox: asyncio.Queue[tuple[str, Json]] = asyncio.Queue()
        self.facts: dict[str, tuple[str, Json]] = {}  # what is so, and outcomes not acknowledged
        self.ends: dict[int, float] = {}  # until when each order that came may be begun
        self.alive: tuple[str | None, float] | None = None  # since when, and how long it holds
        self.standings: asyncio.Queue[Json] = asyncio.Queue()

    def tell(self, kind: str, **what: Any) -> None:
        """Say how something is, since now; keep it for when everything is to be told."""
        fact = kind, {**what, "at": datetime.now(UTC).isoformat()}
        self.facts["reading" if kind in READINGS else f"{kind}{what.get('order', '')}"] = fact
        self.outbox.put_nowait(fact)
        if kind == "source" and (reading := self.facts.get("reading")):
            self.tell(reading[0], **reading[1])  # a change of source undoes it

    def tell_everything(self, why: str) -> None:
        """Tell it anew, with the moments since when it is so."""
        for name in [n for first in (*ALL, "reading") for n in self.facts if n.startswith(first)]:
            self.outbox.put_nowait(self.facts[name])
        show(told_everything=why)
        if why == REGULARLY:  # it does not compare `standing` with what it has told
            asyncio.get_running_loop().call_later(600, self.tell_everything, why)

    async def stay_connected(self, *at: Any, **own: Any) -> None:
        """Begin, send and listen; do so anew, with another client, whenever the line is cut."""
        topics = [f"{self.room}/out/{leaf}" for leaf in ("order", "ask", "standing", "alive")]
        while True:
            try:
                async with Client(*at, **own) as client, asyncio.TaskGroup() as line:
                    await client.subscribe([(topic, 1) for topic in (self.replies, *topics)])
                    self.alive, self.outbox = None, asyncio.Queue()
                    self.tell_everything("connected")
                    self.outbox.put_nowait(("state", {}))
                    line.create_task(self.send(client))
                    async for message in client.messages:
                        self.heard(message)
            except* MqttError as cut:
                show(cut=str(cut.exceptions[0]))
            await asyncio.sleep(1)

    async def send(self, client: Client) -> None:
        """Publish what waits, with new ids; a reading is worth nothing after 5 seconds."""
        while True:
            (kind, body), qos, more = await self.outbox.get(), 1, Properties(PacketTypes.PUBLISH)
            if kind in READINGS:
                qos, more.MessageExpiryInterval = 0, 5
            elif kind == "state":
                more.ResponseTopic = self.replies
            named = json.dumps({"contract": 1, "id": f"hub-{uuid.uuid4().hex}", **body})
            await client.publish(f"{self.room}/in/{kind}", named, qos, properties=more)
            self.facts.pop(f"outcome{body.get('order')}", None)

    def heard(self, message: Message) -> None:
        topic, data = str(message.topic), json.loads(message.payload)
        leaf, now, kind = topic.rsplit("/", 1)[1], time.monotonic(), data.get("kind")
        # Each order begins at once here: there is none that a withdrawal would stop.
        if leaf == "order" and kind != "withdrawn" and data["id"] not in self.ends:
            left = min(data["ends_in"], getattr(message.properties, "MessageExpiryInterval", 1e9))
            self.ends = {n: e for n, e in self.ends.items() if e > now} | {data["id"]: now + left}
            if left > 0:
                self.tasks.create_task(self.obey(data))
        elif leaf == "ask" and kind == "question":
            self.tell_everything("question")
        elif leaf == "alive":  # the first after connecting asks for nothing: everything is told
            since, holds = self.alive or (data.get("since"), now)
            self.alive = data.get("since"), now + data.get("holds_for", 0)
            if data["alive"] and (since != data["since"] or holds < now):
                self.tell_everything("alive")
        elif leaf == "standing":
            self.standings.put_nowait(data)
        elif topic == self.replies:
            show(state=data)
            self.answered.set()

    async def obey(self, order: Json) -> None:
        show(order=order["id"], kind=order["kind"])
        if order["kind"] == "recall":  # the report of the arrival is its outcome
            self.tell("lens", moving=True, preset=order["preset"])
            await asyncio.sleep(0.3)
            self.tell("lens", moving=False, preset=order["preset"])
        elif order["kind"] in {"picture", "cue"}:
            self.tell("outcome", order=order["id"], outcome="done")

    async def play(self, evening: list[Json]) -> None:
        standing: Json = {}
        await self.answered.wait()
        for step in evening:
            for kind, what in step["tell"].items():
                self.tell(kind, **what)
            while not fits(step["until"], standing):
                standing = await self.standings.get()
            show(stands=step["until"])
        self.answered.clear()
        self.outbox.put_nowait(("state", {}))
        await self.answered.wait()


def fits(wanted: Any, found: Any) -> bool:
    inside = isinstance(wanted, dict) and isinstance(found, dict)
    return all(fits(wanted[key], found.get(key)) for key in wanted) if inside else wanted == found


async def main(broker: str, room: str, evening: str, authority: str | None = None) -> None:
    at, kept = urlsplit(broker), Properties(PacketTypes.CONNECT)
    kept.SessionExpiryInterval = 600
    own: Json = {"identifier": f"hub-of-{room}", "properties": kept, "clean_start": False}
    own |= {"username": unquote(at.username or "") or None, "password": unquote(at.password or "")}
    own |= {"tls_params": TLSParameters(ca_certs=authority) if authority else None}
    own |= {"protocol": ProtocolVersion.V5, "socket_options": [(IPPROTO_TCP, TCP_NODELAY, 1)]}
    async with asyncio.TaskGroup() as tasks:
        hub = Hub(room, tasks)
        connection = tasks.create_task(hub.stay_connected(at.hostname, at.port or 1883, **own))
        asyncio.get_running_loop().call_later(600, hub.tell_everything, REGULARLY)
        await hub.play(json.loads(Path(evening).read_text("utf-8")))
        connection.cancel()


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
