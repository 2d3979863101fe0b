"""Who opens the page, and the proof that a form comes from a page of theirs.

On this machine alone a browser says the name that its person gave. On a network a person has a key,
which they got by a link that was meant for them; or a proxy that is trusted says who they are.
"""

from __future__ import annotations

import re
from contextlib import suppress
from hashlib import sha256
from hmac import compare_digest
from secrets import token_urlsafe
from typing import TYPE_CHECKING, Final, NamedTuple
from urllib.parse import quote, unquote

from engine.event_fields import PRINTABLE

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from adapters.page.invitations import Invitations

SEAT_COOKIE: Final = "roomcue-seat"
NAME_COOKIE: Final = "roomcue-name"
KEY_COOKIE: Final = "roomcue-key"
A_YEAR: Final = 365 * 86_400
MOST_NAME_LETTERS: Final = 40
GUESTS: Final = 9_000
"""How many numbers there are for guests: two in one house hardly ever get the same."""


class Visitor(NamedTuple):
    """Somebody who has opened the page."""

    seat: str
    """What only their browser knows."""
    who: str | None
    """Their name; None: they have given none."""
    may_rename: bool
    new_seat: bool = False
    """Whether the browser is still to be told its seat."""

    @property
    def proof(self) -> str:
        """What a form of a page of theirs carries, and nobody else can know."""
        return sha256(f"proof {self.seat}".encode()).hexdigest()

    @property
    def number(self) -> int:
        """A number of four figures, to tell guests without a name apart."""
        return 1_000 + int(sha256(f"guest {self.seat}".encode()).hexdigest(), 16) % GUESTS

    def shows(self, proof: str) -> bool:
        """Tell whether a form carries the right proof."""
        return compare_digest(proof.encode(), self.proof.encode())


class Door(NamedTuple):
    """How people are known; None of all: this machine alone, by the names that they give."""

    invitations: Invitations | None = None
    proxy_header: str | None = None
    proxies: frozenset[str] = frozenset()
    """The addresses whose `proxy_header` is believed."""


def visitor(
    door: Door, cookies: Mapping[str, str], headers: Callable[[str], Sequence[str]], peer: str
) -> Visitor | None:
    """Tell who somebody is; None: nobody who may come in."""
    seat = cookies.get(SEAT_COOKIE, "")
    new_seat = not re.fullmatch(r"[A-Za-z0-9_-]{32}", seat)
    if new_seat:
        seat = token_urlsafe(24)
    if door.proxy_header is not None:
        said = headers(door.proxy_header) if peer in door.proxies else ()
        # Said twice, one of them may be the caller's own word, which a proxy has let through.
        who = good_name(_in_utf_8(said[0])) if len(said) == 1 else None
        return None if who is None else Visitor(seat, who, may_rename=False, new_seat=new_seat)
    if door.invitations is not None:
        key = cookies.get(KEY_COOKIE, "")
        who = door.invitations.who_has(key)
        return None if who is None else Visitor(key, who, may_rename=False)
    name = good_name(unquote(cookies.get(NAME_COOKIE, "")))
    return Visitor(seat, name, may_rename=True, new_seat=new_seat)


def _in_utf_8(header: str) -> str:
    """Read a header, which comes letter by letter as Latin-1, as UTF-8 where it is that."""
    with suppress(UnicodeError):
        return header.encode("latin-1").decode()
    return header


def good_name(text: str) -> str | None:
    """Take a name that a person has given; None: it is none that can be shown."""
    name = " ".join(text.encode(errors="ignore").decode().split())[:MOST_NAME_LETTERS]
    return name if name and re.fullmatch(PRINTABLE, name) else None


def cookie(name: str, value: str, *, secure: bool, seconds: int = A_YEAR) -> str:
    """Write a cookie that no script reads and no other site's page sends."""
    ends = "; Secure" if secure else ""
    kept = quote(value, safe="")
    return f"{name}={kept}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{ends}"
