"""The stream of one phone: the parts of the page that changed since it was last sent any.

Nothing queues up for a phone that reads slowly: it gets the newest parts once it has taken the
former ones, and holds up nobody else.
"""

from __future__ import annotations

import asyncio
import json
from time import time
from typing import TYPE_CHECKING, Final

from adapters.page.page_templates import PARTS, page_version

if TYPE_CHECKING:
    from collections.abc import Callable

    from adapters.page.guard import Receive, Scope, Send
    from adapters.page.room_board import PagePart, RoomBoard

STILL_THERE: Final = 15.0
"""Seconds after which something is said even if nothing has changed."""
HEADERS: Final = [
    (b"content-type", b"text/event-stream; charset=utf-8"),
    (b"cache-control", b"no-store"),
    (b"x-accel-buffering", b"no"),
]


class PartStream:
    """The answer that goes on for as long as a phone looks."""

    def __init__(
        self, board: RoomBoard, who: str, closing: asyncio.Event, may_stay: Callable[[], bool]
    ) -> None:
        """Ask `may_stay` whether they may look any longer: they may be shut out meanwhile."""
        self._board, self._who, self._closing = board, who, closing
        self._may_stay = may_stay
        self._sent: dict[str, PagePart] = {}

    async def __call__(self, _scope: Scope, receive: Receive, send: Send) -> None:
        """Send parts until the phone is gone or the server closes."""
        gone = asyncio.ensure_future(_until_gone(receive))
        closing = asyncio.ensure_future(self._closing.wait())
        try:
            await send({"type": "http.response.start", "status": 200, "headers": HEADERS})
            version = page_version(self._board.file)
            await _write(send, _hello(version))
            while not gone.done() and not closing.done() and self._may_stay():
                news = self._board.news
                if page_version(self._board.file) != version:
                    version = page_version(self._board.file)
                    await _write(send, _hello(version))  # with which the phone opens it anew
                lines = self._lines()
                if lines:
                    await _write(send, lines)
                    continue  # what has changed while the phone was reading comes next
                coming = asyncio.ensure_future(news.wait())
                done, _ = await asyncio.wait(
                    (coming, gone, closing), timeout=STILL_THERE, return_when="FIRST_COMPLETED"
                )
                coming.cancel()
                if not done:
                    await _write(send, b"event: still\ndata: \n\n")
            await send({"type": "http.response.body", "body": b""})
        finally:
            gone.cancel()
            closing.cancel()

    def _lines(self) -> bytes:
        """Give what this phone has not been sent yet, as bytes that all phones share."""
        parts = self._board.seen_by(self._who).parts
        news = [parts[name] for name in PARTS if self._sent.get(name) is not parts[name]]
        self._sent = parts
        return b"".join(part.line for part in news)


def _hello(version: str) -> bytes:
    data = json.dumps({"now": round(time() * 1_000), "version": version})
    return f"retry: 1000\nevent: hello\ndata: {data}\n\n".encode()


async def _write(send: Send, body: bytes) -> None:
    await send({"type": "http.response.body", "body": body, "more_body": True})


async def _until_gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
