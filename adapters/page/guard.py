"""What stands before the page: which names it is opened by, who may post, how much and how often.

Every answer carries the headers that keep a browser from running or framing anything foreign.
"""

from __future__ import annotations

import ipaddress
from time import monotonic
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, MutableMapping

    Scope = MutableMapping[str, Any]
    Message = MutableMapping[str, Any]
    Receive = Callable[[], Awaitable[Message]]
    Send = Callable[[Message], Awaitable[None]]
    App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BODY: Final = 8_192
"""Bytes of a form, at most."""
MOST_KNOWN: Final = 4_096
"""How many addresses are counted at a time; the one heard longest ago is forgotten first."""
METHODS: Final = frozenset({"GET", "POST"})
HEADERS: Final = (
    (
        b"content-security-policy",
        (
            b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
            b"connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        ),
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)


class RateLimit:
    """Counts how often each of many does something, and says when it is too often."""

    def __init__(self, most: float, a_second: float) -> None:
        """Allow `most` at once, and so many more `a_second`."""
        self._most, self._a_second = most, a_second
        self._left: dict[str, tuple[float, float]] = {}

    def allows(self, who: str) -> bool:
        """Count one more, unless that is too often."""
        now = monotonic()
        left, since = self._left.pop(who, (self._most, now))
        left = min(self._most, left + (now - since) * self._a_second)
        allowed = left >= 1
        self._left[who] = (left - 1 if allowed else left, now)
        if len(self._left) > MOST_KNOWN:
            del self._left[next(iter(self._left))]
        return allowed


class Guard:
    """Lets through what may come to the page; refuses the rest in a few words."""

    def __init__(
        self,
        app: App,
        hosts: frozenset[str],
        *,
        loopback: bool,
        limit: RateLimit,
        proxies: frozenset[str] = frozenset(),
    ) -> None:
        """Let the page be opened by the names `hosts` as well."""
        self._app, self._hosts, self._loopback, self._limit = app, hosts, loopback, limit
        self.proxies = proxies
        """From whose addresses everybody comes."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at one request."""
        if scope["type"] != "http":
            return
        headers = {name.decode("latin-1"): value for name, value in reversed(scope["headers"])}
        refused = self._refusal(scope, {k: v.decode("latin-1") for k, v in headers.items()})
        if refused is not None:
            await _refuse(send, *refused)
            return
        await self._app(scope, _limited(receive), _with_headers(send))

    def _refusal(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        """Say why a request is not let through; None: it is."""
        host, length = headers.get("host", ""), headers.get("content-length", "0")
        posts = scope["method"] == "POST"
        peer = address_of((scope.get("client") or ("",))[0])
        findings = (
            (not self._is_ours(host), 421, "This page is not opened by that name."),
            (scope["method"] not in METHODS, 405, "This page knows GET and POST alone."),
            (posts and not _own_origin(headers, host), 403, "This comes from another page."),
            (not length.isdecimal(), 400, "That was not understood."),
            (length.isdecimal() and int(length[:9]) > MOST_BODY, 413, "That was too long."),
            (not self._limit.allows(peer), 429, "That was too often: wait a moment."),
        )
        return next(((status, words) for wrong, status, words in findings if wrong), None)

    def _is_ours(self, host: str) -> bool:
        """Tell whether the page may be opened by a name.

        An address written as figures cannot be another site's name that was made to lead here.
        """
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name == "localhost" or name in self._hosts:
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return address.is_loopback or not self._loopback


def address_of(peer: str) -> str:
    """Write the address of whoever connects in one way.

    Over a socket of IPv6, one of IPv4 comes as ::ffff:192.0.2.7.
    """
    try:
        found = ipaddress.ip_address(peer)
    except ValueError:
        return peer
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return str(mapped or found)


def _own_origin(headers: dict[str, str], host: str) -> bool:
    """Tell whether a form was sent by one of our own pages, as its browser says."""
    origin = headers.get("origin")
    if origin is None:
        return headers.get("sec-fetch-site") == "same-origin"
    return origin in (f"http://{host}", f"https://{host}")


def _limited(receive: Receive) -> Receive:
    """Read no more of a body than a form may have."""
    read = 0

    async def limited() -> Message:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        return {"type": "http.disconnect"} if read > MOST_BODY else message

    return limited


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
        await send(message)

    return sending


async def _refuse(send: Send, status: int, words: str) -> None:
    body = f"{words}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
        *HEADERS,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
