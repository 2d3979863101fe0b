"""How one room stands, as parts of a page that are made once for everybody who looks.

A part is made anew only when what it shows has changed, and its bytes are shared by all phones. Two
views are kept: of whoever is at the screen, and of all others.
"""

from __future__ import annotations

import asyncio
import json
from time import time
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from adapters.live.announcements import NOTHING_TAKEN
from adapters.live.messages import CONTRACT
from adapters.live.standing import file_mark
from adapters.page.page_templates import PARTS, part_html
from adapters.page.page_words import on_page
from adapters.page.room_view import RoomView, StandingHeard, room_view
from rules.room.load import load
from rules.text.findings import BadRoom

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from adapters.page.offers import Offer
    from engine.room import Room

AT_MOST_EVERY: Final = 0.05
"""Seconds between two makings of the parts, so that a flood of changes costs little."""
ASK_AGAIN: Final = 2.0
"""Seconds after which the text of a new room file is asked for once more, if none came."""
UNSAID: Final = 60.0
"""Seconds for which `alive` holds where it does not say so itself."""

SHAPE: Final = frozenset(
    {
        *("source", "playback", "projector", "signal", "title", "aspect", "region", "lens"),
        *("panels", "parts", "override", "override_until", "override_look", "told"),
        *("prompt", "holds", "why", "next", "wanted", "looks"),
        *("undo", "undo_words", "undo_since", "undo_by", "undo_who"),
        *("room_file", "room_text"),
    }
)
"""What the page reads of `standing`."""


class PagePart(NamedTuple):
    """One part of the page."""

    html: str
    line: bytes
    """The same as an event for the stream."""


class BoardView(NamedTuple):
    """What some people see."""

    offers: Mapping[str, Offer]
    """What they may say, by the value of its button."""
    parts: dict[str, PagePart]


class _Heard(NamedTuple):
    """How a room stands, as it was heard."""

    said: dict[str, Any]
    """The payload of `standing`."""
    at: int
    """When that came, by our clock (ms UTC)."""


class RoomBoard:
    """Hears how a room stands, and keeps the parts that show it."""

    def __init__(self, room: Room, ask: Callable[[], None] | None = None) -> None:
        """Call `ask` to ask the room for everything, the text of its file with it."""
        self.room = room
        self.file = file_mark(room.text)
        """The mark of the room file that is shown."""
        self.ask = ask
        self._unread: _Heard | None = None
        """How the room stands by a file that is not read yet."""
        self._unreadable: str | None = None
        """The mark of a file that cannot be read here."""
        self.learning: asyncio.Task[None] | None = None
        """Reads the text of another file; None: none is being read."""
        self._asking: asyncio.TimerHandle | None = None
        self.news = asyncio.Event()
        """Set, and replaced by a new one, when something has changed."""
        self._said: dict[str, Any] | None = None
        self._heard = 0
        self._alive = False
        self._broker = False
        self._silence: asyncio.TimerHandle | None = None
        self._due: asyncio.TimerHandle | None = None
        self._made = 0.0
        self._fault: str | None = None
        """Why roomcue takes nothing, though it is there, in a sentence."""
        self._views = {False: self._parts(None, None)}

    # ------------------------------------------------------------------------------- hearing

    def hear_standing(self, said: dict[str, Any]) -> None:
        """Take in how the room stands; what this page cannot read is passed over."""
        if said.get("contract") != CONTRACT or not said.keys() >= SHAPE:
            return
        self._broker = True
        self._take_in(_Heard(said, round(time() * 1_000)))

    def _take_in(self, heard: _Heard) -> None:
        """Show how the room stands, or learn first by which room file it does."""
        if heard.said["room_file"] != self.file:
            self._learn(heard)
            return
        self._unread = None
        before = self.owner()
        self._said, self._heard = heard
        if self.owner() == before:
            self._change()
        else:  # what others were offered may light somebody now: it waits for nothing
            self._make()

    def hear_alive(self, said: dict[str, Any], holds: float | None) -> None:
        """Take in whether roomcue is there; it counts as gone once that does not hold any more."""
        if self._silence is not None:
            self._silence.cancel()
        self._broker = True
        faults = said.get("faults") or ()
        kept_out = [one["words"] for one in faults if one["code"] in NOTHING_TAKEN]
        self._fault = kept_out[0] if kept_out else None
        self._alive = said.get("alive") is True and not kept_out
        if self._alive:
            seconds = holds if holds is not None else float(said.get("holds_for", UNSAID))
            self._silence = asyncio.get_running_loop().call_later(seconds, self._fall_silent)
        self._change()

    # ------------------------------------------------------------------------- another room file

    def _learn(self, heard: _Heard) -> None:
        """Follow a room whose file is another one now; nothing new is shown until that is read."""
        self._unread = heard
        mark, text = heard.said["room_file"], heard.said["room_text"]
        if mark != self._unreadable and self.learning is None:
            if text is not None:
                self.learning = asyncio.get_running_loop().create_task(self._read(mark, text))
            elif self._asking is None:
                self._ask_for_text()
        self._change()  # what is offered is of the file before: it cannot be pressed

    def _ask_for_text(self) -> None:
        """Ask for the text of the room file in force, and again until it has come."""
        self._asking = None
        unread = self._unread
        if unread is None or unread.said["room_file"] == self._unreadable or self.ask is None:
            return
        if self._broker and self.learning is None:
            self.ask()
        loop = asyncio.get_running_loop()
        self._asking = loop.call_later(ASK_AGAIN, self._ask_for_text)

    async def _read(self, mark: str, text: str) -> None:
        """Read a room file beside the loop, and show the room by it if it is in force still."""
        try:
            room = await asyncio.to_thread(load, text, "the room file in force")
        except BadRoom:  # of another version of roomcue
            self._unreadable = mark
        else:
            if self._unread is not None and self._unread.said["room_file"] == mark:
                self.room, self.file = room, mark
        finally:
            self.learning = None
        if self._unread is not None:
            self._take_in(self._unread)

    def lose_broker(self) -> None:
        """Take in that the broker is gone, and with it everything that holds."""
        self._broker = self._alive = False
        self._change()

    def _fall_silent(self) -> None:
        self._alive = False
        self._change()

    # ------------------------------------------------------------------------------- showing

    @property
    def answers(self) -> bool:
        """Whether roomcue is there, as far as anybody knows, and has said how the room stands."""
        known = self._said is not None and self._unread is None
        return self._alive and self._broker and known

    def _new_file(self) -> str | None:
        """Say that the room has a file that is not read, or cannot be; None: it has none."""
        if self._unread is None or not self._alive:
            return None
        unreadable = self._unread.said["room_file"] == self._unreadable
        return on_page(self.room.catalogue, "file_unreadable" if unreadable else "file_new")

    def owner(self) -> str | None:
        """Name who is at the screen, if anybody with a name is."""
        prompt = (self._said or {}).get("prompt")
        return prompt["who"] if prompt and prompt["at_screen"] else None

    def seen_by(self, who: str) -> BoardView:
        """Give what somebody sees."""
        return self._views.get(who == self.owner(), self._views[False])

    def _change(self) -> None:
        """Make the parts anew, at once or a moment after the last time."""
        if self._due is None:
            loop = asyncio.get_running_loop()
            wait = max(0.0, self._made + AT_MOST_EVERY - loop.time())
            self._due = loop.call_later(wait, self._make)

    def _make(self) -> None:
        if self._due is not None:
            self._due.cancel()
        self._due, self._made = None, asyncio.get_running_loop().time()
        if self._said is None:
            return
        fault = (self._fault or self._new_file()) if self._broker else None
        standing = StandingHeard(self.room, self._said, self._heard, not self.answers, fault)
        before = self._views
        shared = self._parts(room_view(standing, own=False), before.get(False))
        self._views = {False: shared}
        if self.owner() is not None:
            self._views[True] = self._parts(room_view(standing, own=True), before.get(True))
        news, self.news = self.news, asyncio.Event()
        news.set()

    def _parts(self, view: RoomView | None, before: BoardView | None) -> BoardView:
        parts = {}
        for name in PARTS:
            html = part_html(name, view, self.room)
            old = None if before is None else before.parts[name]
            if old is not None and old.html == html:
                parts[name] = old
                continue
            data = json.dumps({"part": name, "html": html}, ensure_ascii=False)
            parts[name] = PagePart(html, f"event: part\ndata: {data}\n\n".encode())
        return BoardView({} if view is None else view.offers, parts)
