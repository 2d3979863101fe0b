"""The page's addresses: what is opened, what is pressed, and what comes back."""

from __future__ import annotations

import asyncio
from collections import Counter
from contextlib import suppress
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, NamedTuple
from urllib.parse import parse_qsl

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from adapters.page.guard import RateLimit, address_of
from adapters.page.offers import Offer, number_typed
from adapters.page.page_templates import MEDIA, page_html, page_version, static_file, unfolded
from adapters.page.page_words import on_page
from adapters.page.part_stream import PartStream
from adapters.page.visitors import (
    KEY_COOKIE,
    NAME_COOKIE,
    SEAT_COOKIE,
    Door,
    Visitor,
    cookie,
    good_name,
    visitor,
)
from engine.errors import UnusableError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Mapping, Sequence

    from adapters.page.page_words import LabelCode, PageCode
    from adapters.page.room_board import RoomBoard

    Say = Callable[[str, str, dict[str, Any]], Awaitable[dict[str, Any] | None]]

MOST_STREAMS: Final = 200
"""Phones that follow at a time."""
MOST_STREAMS_EACH: Final = 8
"""Windows of one browser that follow at a time."""
MOST_FIELDS: Final = 40
FORM_WITHIN: Final = 10.0
"""Seconds within which a form must have come."""
SAID_FOR: Final = 20.0
"""Seconds for which an answer is shown to a browser without JavaScript."""
FOLLOWS_WITHIN: Final = 0.5
"""Seconds within which what follows from a word is seen, as a rule."""
WITH_WHO: Final = frozenset({"answer", "override", "undo", "find_lens", "helper", "mark"})
"""Words that carry who says them; so does every told fact."""


UNFOLDED: Final = "open"
"""The part of a room's address that shows everything unfolded."""


class _Said(NamedTuple):
    words: str
    ends: float


class PageApp:
    """Everything that the page's addresses share."""

    def __init__(self, boards: Sequence[RoomBoard], say: Say, door: Door, *, secure: bool) -> None:
        """Take people to come over TLS, which a proxy ends, where it is `secure`."""
        self._boards = {board.room.name: board for board in boards}
        self._first = boards[0]
        self._say, self._door, self._secure = say, door, secure
        self.closing = asyncio.Event()
        """Set once the server stops: every stream ends then."""
        self._streams: Counter[str] = Counter()
        self._words: dict[str, _Said] = {}
        self._presses = RateLimit(12, 2)
        self._links = RateLimit(10, 0.1)
        get = ["GET"]
        self.routes = Starlette(
            routes=[
                Route("/", self._rooms, methods=get),
                # First those of rooms, which may be called static or enter.
                Route("/{room}/stream", self._stream, methods=get),
                Route("/{room}/say", self._press, methods=["POST"]),
                Route("/static/{name}", self._static, methods=get),
                Route("/enter/{link}", self._ask_in, methods=get),
                Route("/enter", self._enter, methods=["POST"]),
                Route("/name", self._rename, methods=["POST"]),
                Route("/{room}", self._room, methods=get),
            ]
        )

    # -------------------------------------------------------------------------------- opened

    async def _rooms(self, request: Request) -> Response:
        known = self._known(request)
        if isinstance(known, Response):
            return known
        if len(self._boards) == 1:
            return self._seated(RedirectResponse(f"/{self._first.room.name}", 303), known)
        rooms = [(name, board.room.spoken(name)) for name, board in self._boards.items()]
        return self._seated(self._page("rooms.html", rooms=rooms), known)

    async def _room(self, request: Request) -> Response:
        known = self._known(request)
        if isinstance(known, Response):
            return known
        board = self._boards.get(request.path_params["room"])
        if board is None:
            return self._message("no_room", 404)
        who = self._who(known)
        said = self._words.pop(known.seat, _Said("", 0))
        parts = [(name, part.html) for name, part in board.seen_by(who).parts.items()]
        if UNFOLDED in request.query_params:
            parts = [(name, unfolded(html)) for name, html in parts]
        html = page_html(
            "room.html",
            board.room.catalogue,
            room=board.room.name,
            page_version=page_version(board.file),
            heading=board.room.spoken(board.room.name),
            who=who,
            named=known.who is not None,
            may_rename=known.may_rename,
            proof=known.proof,
            said=said.words if said.ends > monotonic() else "",
            parts=parts,
        )
        return self._seated(_fresh(HTMLResponse(html)), known)

    async def _stream(self, request: Request) -> Any:  # noqa: ANN401 - any ASGI answer
        known = self._known(request)
        board = self._boards.get(request.path_params["room"])
        if isinstance(known, Response) or board is None:
            return Response(status_code=204)  # which tells a browser to ask no more
        full = self._streams.total() >= MOST_STREAMS
        if full or self._streams[known.seat] >= MOST_STREAMS_EACH:
            return Response(status_code=503)
        who = self._who(known)
        stream = PartStream(board, who, self.closing, lambda: self._visitor(request) is not None)
        return _Counted(stream, self._streams, known.seat)

    async def _static(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name not in MEDIA:
            return self._message("no_room", 404)
        kept = {"cache-control": "public, max-age=31536000, immutable"}
        return Response(static_file(name), media_type=MEDIA[name], headers=kept)

    # ------------------------------------------------------------------------------- pressed

    async def _press(self, request: Request) -> Response:
        known = self._known(request)
        board = self._boards.get(request.path_params["room"])
        if isinstance(known, Response) or board is None:
            return known if isinstance(known, Response) else self._message("no_room", 404)
        form = await _form(request)
        if form is None or not known.shows(form.get("proof", "")):
            return self._message("not_allowed", 403)
        if not self._presses.allows(known.seat):
            return self._answer(request, board, known, self._sentence("too_often"), 429)
        news = board.news
        words = await self._said_to(board, form, self._who(known))
        if not _by_script(request):  # what follows is seen on the page that is opened next
            with suppress(TimeoutError):
                await asyncio.wait_for(news.wait(), FOLLOWS_WITHIN)
        return self._answer(request, board, known, words, 200)

    async def _said_to(self, board: RoomBoard, form: Mapping[str, str], who: str) -> str:
        """Say to the room what was pressed, and give its answer."""
        offer = board.seen_by(who).offers.get(form.get("do", ""))
        if not board.answers:
            return self._sentence("answer_missing")
        if offer is None:
            return board.room.catalogue.say("refusal", "not_open")
        fields = _fields(offer, form, who)
        if fields is None:
            return board.room.catalogue.say("refusal", "malformed")
        reply = await self._say(board.room.name, offer.subtopic, fields)
        if reply is None:
            return self._sentence("answer_missing")
        following = [one["words"] for one in reply.get("next", ())[:1] if reply.get("taken")]
        said = (reply.get("words"), reply.get("help"), *following)
        return " ".join(dict.fromkeys(filter(None, said)))

    def _answer(
        self, request: Request, board: RoomBoard, known: Visitor, words: str, status: int
    ) -> Response:
        """Give the words to a script, or else show them on the page, which is opened again.

        Without scripts nothing remembers what somebody had unfolded, so all of it is then.
        """
        if _by_script(request):
            return _fresh(JSONResponse({"words": words}, status))
        while len(self._words) > MOST_STREAMS:
            del self._words[next(iter(self._words))]
        self._words[known.seat] = _Said(words, monotonic() + SAID_FOR)
        return RedirectResponse(f"/{board.room.name}?{UNFOLDED}", 303)

    # ------------------------------------------------------------------------------ who it is

    async def _rename(self, request: Request) -> Response:
        known = self._known(request)
        form = await _form(request)
        if isinstance(known, Response):
            return known
        if form is None or not known.may_rename or not known.shows(form.get("proof", "")):
            return self._message("not_allowed", 403)
        room = form.get("room") if form.get("room") in self._boards else self._first.room.name
        answer = RedirectResponse(f"/{room}", 303)
        name = good_name(form.get("name", ""))
        # Whoever is at the screen keeps their name, or they could not say that they are done; and
        # nobody else takes it, or they could say so for them.
        at_screen = {board.owner() for board in self._boards.values()}
        if name is not None and at_screen.isdisjoint((name, self._who(known))):
            made = cookie(NAME_COOKIE, name, secure=self._secure)
            answer.headers.append("set-cookie", made)
        return answer

    async def _ask_in(self, request: Request) -> Response:
        """Ask whoever opens a link whether they mean it: a program may only look ahead."""
        invitations, link = self._door.invitations, request.path_params["link"]
        if not self._links.allows(_peer(request)):
            return self._message("too_often", 429)
        who = None if invitations is None else invitations.who_is_asked_in(link)
        if who is None:
            return self._message("link_used", 403)
        return self._page("enter.html", who=who, link=link)

    async def _enter(self, request: Request) -> Response:
        invitations, form = self._door.invitations, await _form(request)
        if not self._links.allows(_peer(request)):
            return self._message("too_often", 429)
        key = None
        if invitations is not None and form is not None:
            with suppress(UnusableError):
                key = invitations.enter(form.get("link", ""))
        if key is None:
            return self._message("link_used", 403)
        answer = RedirectResponse("/", 303)
        answer.headers.append("set-cookie", cookie(KEY_COOKIE, key, secure=self._secure))
        return answer

    def _known(self, request: Request) -> Visitor | Response:
        """Tell who asks, or give the answer to somebody who may not come in."""
        known = self._visitor(request)
        return self._message("not_allowed", 403) if known is None else known

    def _visitor(self, request: Request) -> Visitor | None:
        return visitor(self._door, request.cookies, request.headers.getlist, _peer(request))

    def _who(self, known: Visitor) -> str:
        return known.who or self._sentence("guest", number=str(known.number))

    def _seated(self, answer: Response, known: Visitor) -> Response:
        """Tell a browser its seat, if it has none yet."""
        if known.new_seat:
            seat = cookie(SEAT_COOKIE, known.seat, secure=self._secure)
            answer.headers.append("set-cookie", seat)
        return answer

    # ------------------------------------------------------------------------------- in words

    def _sentence(self, code: PageCode | LabelCode, **parameters: str | int) -> str:
        return on_page(self._first.room.catalogue, code, **parameters)

    def _page(self, name: str, status: int = 200, **values: Any) -> Response:  # noqa: ANN401 - for templates
        html = page_html(name, self._first.room.catalogue, **values)
        return _fresh(HTMLResponse(html, status))

    def _message(self, code: PageCode, status: int) -> Response:
        return self._page("message.html", status, words=self._sentence(code), link=None)


class _Counted:
    """An answer that is counted for as long as it lasts."""

    def __init__(self, stream: PartStream, counter: Counter[str], seat: str) -> None:
        self._stream, self._counter, self._seat = stream, counter, seat

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:  # noqa: ANN401 - ASGI
        self._counter[self._seat] += 1
        try:
            await self._stream(scope, receive, send)
        finally:
            self._counter[self._seat] -= 1
            if not self._counter[self._seat]:
                del self._counter[self._seat]


def _fields(offer: Offer, form: Mapping[str, str], who: str) -> dict[str, Any] | None:
    """Fill in who says it, and a number that was typed; None: that is no number."""
    fields = dict(offer.fields)
    if offer.subtopic in WITH_WHO or offer.subtopic.startswith("told/"):
        fields["who"] = who
    if offer.number is not None:
        number = number_typed(form.get(offer.number, ""))
        if number is None:
            return None
        fields["value"] = number
    return fields


async def _form(request: Request) -> dict[str, str] | None:
    """Read a form; None: it is none, it is too long, or it does not come."""
    try:
        async with asyncio.timeout(FORM_WITHIN):
            body = await request.body()
        return dict(parse_qsl(body.decode(), keep_blank_values=True, max_num_fields=MOST_FIELDS))
    except (ClientDisconnect, TimeoutError, ValueError):
        return None


def _by_script(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _peer(request: Request) -> str:
    return "" if request.client is None else address_of(request.client.host)


def _fresh(answer: Response) -> Response:
    """Let nobody keep an answer: it is of this moment, and of one person."""
    answer.headers["cache-control"] = "no-store"
    return answer
