"""A small hub: it tells a room what happens, carries out orders, and tells everything when asked.

    python hub.py PORT AUTHORITY USER PASSWORD ROOM EVENING

It is written from `adapters/contract/README.md` alone. Its devices are pretended: pictures and cues
obey at once, the lens takes a moment. EVENING, a JSON file, has what happens, step by step, and how
the room shall stand before the next. What it does is printed, a JSON object a line.
"""

from __future__ import annotations

import asyncio
import json
import ssl
import sys
import uuid
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

Json = dict[str, Any]
TRAVEL = 0.3  # seconds that the pretended lens takes
LISTENS = ("order", "ask", "standing", "alive")
READINGS = ("bars", "black", "ratio", "format")
# What is told when everything is told, in this order.
STATES = ("projector", "source", "signal", "playback", "title", "lens", "panels", "told/")
EVERYTHING = (*STATES, *READINGS)


def show(**what: Any) -> None:
    print(json.dumps(what), flush=True)


class Hub:
    def __init__(self, client: aiomqtt.Client, room: str, tasks: asyncio.TaskGroup) -> None:
        self.client, self.tasks, self.replies = client, tasks, f"replies/hub-{uuid.uuid4().hex}"
        self.into, self.out = f"roomcue/{room}/in", f"roomcue/{room}/out"
        self.facts: dict[str, Json] = {}
        self.acted: set[int] = set()
        self.since: str | None = None
        self.standing: Json = {}
        self.news = asyncio.Event()
        self.responses: dict[bytes, asyncio.Future[Json]] = {}

    async def tell(self, kind: str, **what: Any) -> None:
        """Say how something is, since now; keep it for when everything is to be told."""
        body = {**what, "at": datetime.now(UTC).isoformat()}
        if kind.startswith(EVERYTHING):
            self.facts[kind] = body
        await self.publish(kind, body)

    async def publish(self, kind: str, body: Json) -> None:
        named = {"contract": 1, "id": f"hub-{uuid.uuid4().hex}", **body}
        retain = kind.startswith(STATES) and not body.get("moving")
        qos = 0 if kind in READINGS else 1
        await self.client.publish(f"{self.into}/{kind}", json.dumps(named), qos, retain)

    async def tell_everything(self, why: str) -> None:
        """Tell it anew, with the moments since when it is so."""
        for first in EVERYTHING:
            for kind in [one for one in self.facts if one.startswith(first)]:
                await self.publish(kind, self.facts[kind])
        show(told_everything=why)

    async def ask_state(self) -> Json:
        """Ask how everything stands, until a response comes."""
        while True:
            mark = uuid.uuid4().bytes
            self.responses[mark] = asyncio.get_running_loop().create_future()
            asking = Properties(PacketTypes.PUBLISH)
            asking.ResponseTopic, asking.CorrelationData = self.replies, mark
            await self.client.publish(f"{self.into}/state", "{}", 1, properties=asking)
            with suppress(TimeoutError):
                return await asyncio.wait_for(self.responses[mark], 20)

    async def listen(self) -> None:
        async for message in self.client.messages:
            data: Json = json.loads(message.payload)
            if message.topic.matches(self.replies):
                mark = getattr(message.properties, "CorrelationData", b"")
                waiting = self.responses.pop(mark, None)
                if waiting is not None and not waiting.done():
                    waiting.set_result(data)
                continue
            match str(message.topic).rsplit("/", 1)[1], data.get("kind"):
                # Each order begins at once here: there is none that a withdrawal would stop.
                case "order", kind if kind != "withdrawn" and data["id"] not in self.acted:
                    self.acted.add(data["id"])
                    self.tasks.create_task(self.obey(data))
                case "ask", "question":
                    await self.tell_everything("question")
                case "alive", _:
                    before, self.since = self.since, data.get("since")
                    if data["alive"] and self.since != before:
                        await self.tell_everything("alive")
                case "standing", _:
                    self.standing = data
                    self.news.set()

    async def obey(self, order: Json) -> None:
        show(order=order["id"], kind=order["kind"])
        if order["kind"] == "recall":  # the report of the arrival is its outcome
            await self.tell("lens", moving=True, preset=order["preset"])
            await asyncio.sleep(TRAVEL)
            await self.tell("lens", moving=False, preset=order["preset"])
        else:
            await self.publish("outcome", {"order": order["id"], "outcome": "done"})

    async def play(self, evening: list[Json]) -> None:
        for step in evening:
            for kind, what in step["tell"].items():
                await self.tell(kind, **what)
            while not fits(step["until"], self.standing):
                self.news.clear()
                await self.news.wait()
            show(stands=step["until"])


def fits(wanted: Any, found: Any) -> bool:
    if not isinstance(wanted, dict):
        return bool(wanted == found)
    return isinstance(found, dict) and all(fits(wanted[key], found.get(key)) for key in wanted)


async def main(port: str, authority: str, user: str, password: str, room: str, file: str) -> None:
    kept = Properties(PacketTypes.CONNECT)
    kept.SessionExpiryInterval = 600
    own: Json = {"identifier": f"hub-of-{room}", "username": user, "password": password}
    own |= {"clean_start": False, "properties": kept, "protocol": aiomqtt.ProtocolVersion.V5}
    own["tls_context"] = ssl.create_default_context(cafile=authority)
    client = aiomqtt.Client("localhost", int(port), **own)
    async with client, asyncio.TaskGroup() as tasks:
        hub = Hub(client, room, tasks)
        listening = tasks.create_task(hub.listen())
        await client.subscribe([(hub.replies, 1), *((f"{hub.out}/{leaf}", 1) for leaf in LISTENS)])
        show(state=await hub.ask_state())
        await hub.play(json.loads(Path(file).read_text("utf-8")))
        show(state=await hub.ask_state())
        listening.cancel()


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
