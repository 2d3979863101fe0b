"""Whoever calls at the page without a browser: requests as they come, and streams as they go."""

from __future__ import annotations

import asyncio
import re
from typing import Any

from httpx import ASGITransport, AsyncClient, Response

from adapters.page.guard import Guard, RateLimit
from adapters.page.page_app import PageApp
from adapters.page.part_stream import PartStream
from adapters.page.room_board import RoomBoard
from adapters.page.visitors import Door
from engine.room import Room
from tests.adapters.page_scenes import film, said_of
from tests.engine.story import HAYLOFT, Story

HERE = "http://127.0.0.1:8480"
REPLY = {"taken": True, "words": "It is so.", "help": None, "next": []}
ALIVE = {"alive": True, "holds_for": 60, "faults": []}


class Served:
    """The page of one room in this process, with what people have said to the room."""

    def __init__(
        self, door: Door | None = None, *, loopback: bool = True, room: Room = HAYLOFT
    ) -> None:
        self.heard: list[tuple[str, dict[str, Any]]] = []
        self.board = RoomBoard(room)
        self.app = PageApp([self.board], self._say, door or Door(), secure=False)
        self._guard = Guard(
            self.app.routes, frozenset({"hall.lan"}), loopback=loopback, limit=RateLimit(1000, 100)
        )

    async def _say(self, _room: str, subtopic: str, fields: dict[str, Any]) -> dict[str, Any]:
        self.heard.append((subtopic, fields))
        return REPLY

    async def shows(self, story: Story, second: float = 20) -> None:
        """Let the room stand as at a second of a story, and roomcue be there."""
        self.board.hear_alive(ALIVE, None)
        await self.hears(said_of(story, second))

    async def hears(self, said: dict[str, Any]) -> None:
        """Let the page hear how the room stands, and make its parts."""
        news = self.board.news
        self.board.hear_standing(said)
        await news.wait()

    def caller(self, at: str = HERE, peer: str = "127.0.0.1") -> AsyncClient:
        """Give somebody who calls from an address."""
        transport = ASGITransport(self._guard, client=(peer, 50_000))
        return AsyncClient(transport=transport, base_url=at)


async def playing(door: Door | None = None) -> Served:
    """Give the page of a room in which a film plays."""
    served = Served(door)
    await served.shows(film(2.20))
    return served


def proof_on(page: Response) -> str:
    """Give the proof that the forms of a page carry."""
    found = re.search(r'name="proof" value="([0-9a-f]+)"', page.text)
    assert found is not None, page.text[:400]
    return found[1]


async def press(caller: AsyncClient, value: str, **more: Any) -> Response:  # noqa: ANN401 - headers and the like
    """Open the page and press a button as a browser without scripts does."""
    page = await caller.get("/hayloft")
    form = {"do": value, "proof": proof_on(page), **more.pop("fields", {})}
    headers = {"origin": str(caller.base_url).rstrip("/"), **more.pop("headers", {})}
    return await caller.post("/hayloft/say", data=form, headers=headers)


class Follower:
    """A phone that follows a room; it takes nothing while it is `held`."""

    def __init__(self, served: Served, who: str = "Ana") -> None:
        self.got = b""
        self._news = asyncio.Condition()
        self._room = asyncio.Event()
        self._room.set()
        self._gone = asyncio.Event()
        self.may_stay = True
        stream = PartStream(served.board, who, served.app.closing, lambda: self.may_stay)
        self.task = asyncio.create_task(stream({}, self._receive, self._send))

    async def _receive(self) -> dict[str, Any]:
        await self._gone.wait()
        return {"type": "http.disconnect"}

    async def _send(self, message: Any) -> None:  # noqa: ANN401 - ASGI
        await self._room.wait()
        async with self._news:
            self.got += message.get("body", b"")
            self._news.notify_all()

    def hold(self) -> None:
        """Take nothing from now on."""
        self._room.clear()

    def let_go(self) -> None:
        """Take everything again."""
        self._room.set()

    async def has(self, words: str) -> None:
        """Wait until some words have come."""
        async with asyncio.timeout(20), self._news:
            await self._news.wait_for(lambda: words.encode() in self.got)

    async def leave(self) -> None:
        """Go away."""
        self._gone.set()
        await self.task
