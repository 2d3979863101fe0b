"""Who may open the page on a network: a file of people, with the hashes of their links and keys.

A link opens the page once; with it the browser gets a key of its own, and the link is worth
nothing any more. So neither the file, nor a link in somebody's history, opens anything.
"""

from __future__ import annotations

import fcntl
import json
import os
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from secrets import token_urlsafe
from time import time
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TextIO

from engine.errors import UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterator

LINK_LIVES: Final = 24 * 3_600
"""Seconds in which a link may be opened."""
MOST_KEYS: Final = 8
"""Browsers of one person; with a further one the oldest loses its key."""


class _Person(NamedTuple):
    links: dict[str, float]
    """Until when each link may be opened (s since 1970), by its hash."""
    keys: list[str]
    """The hashes of their browsers' keys, the oldest first."""


class Invitations:
    """The people of one file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._read_at: tuple[int, int] | None = None
        self._people: dict[str, _Person] = {}

    def names(self) -> list[str]:
        """Name everybody who is invited; raises `UnusableError`."""
        return sorted(self._read())

    def invite(self, who: str) -> str:
        """Make a link's secret for a person, who may be new; raises `UnusableError`."""
        link = token_urlsafe(24)
        with self._changing() as people:
            person = people.setdefault(who, _Person({}, []))
            person.links[_hashed(link)] = time() + LINK_LIVES
        return link

    def remove(self, who: str) -> bool:
        """Let a person in no longer, with any browser; False: there is none of that name."""
        with self._changing() as people:
            return people.pop(who, None) is not None

    def who_is_asked_in(self, link: str) -> str | None:
        """Name whose link it is, if it may still be opened."""
        self._look()
        hashed, now = _hashed(link), time()
        found = (who for who, it in self._people.items() if it.links.get(hashed, 0) > now)
        return next(found, None)

    def enter(self, link: str) -> str | None:
        """Give a browser its key for a link, which is used up by that; None: it is worth none.

        Raises `UnusableError` where that cannot be written down.
        """
        key = token_urlsafe(24)
        hashed, now = _hashed(link), time()
        with self._changing() as people:
            for person in people.values():
                if person.links.pop(hashed, 0) > now:
                    person.keys.append(_hashed(key))
                    del person.keys[:-MOST_KEYS]
                    return key
        return None

    def who_has(self, key: str) -> str | None:
        """Name who has a key; None: nobody."""
        if not key:
            return None
        self._look()
        hashed = _hashed(key)
        return next((who for who, it in self._people.items() if hashed in it.keys), None)

    # --------------------------------------------------------------------------- the file

    def _look(self) -> None:
        """Read the file if it has changed; while it cannot be read nobody is let in."""
        try:
            stat = self.path.stat()
        except OSError:
            self._people, self._read_at = {}, None
            return
        if (stat.st_mtime_ns, stat.st_ino) != self._read_at:
            self._read_at = stat.st_mtime_ns, stat.st_ino
            self._people = {}
            with suppress(UnusableError):
                self._people = self._read()

    def _read(self) -> dict[str, _Person]:
        try:
            data = json.loads(self.path.read_bytes())
            return {
                str(who): _Person({str(k): float(v) for k, v in it["links"].items()}, [*it["keys"]])
                for who, it in data["people"].items()
            }
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
            raise UnusableError(
                f"{self.path}: this is no list of people whom roomcue has invited: name another "
                "file, or move it away and invite them anew"
            ) from error

    @contextmanager
    def _changing(self) -> Iterator[dict[str, _Person]]:
        """Change the people while nobody else does; written whole, or not at all."""
        if not self.path.name:
            raise UnusableError(f"{self.path}: this is a folder; name a file in it")
        lock = self.path.with_name(f"{self.path.name}.lock")
        try:
            with _for_us_alone(lock, os.O_APPEND) as held:
                fcntl.flock(held, fcntl.LOCK_EX)
                people = self._read()
                yield people
                self._write(people)
        except OSError as error:
            raise UnusableError(f"{self.path}: it cannot be written: {error.strerror}") from error

    def _write(self, people: dict[str, _Person]) -> None:
        now = time()
        data: dict[str, Any] = {
            who: {"links": {k: v for k, v in it.links.items() if v > now}, "keys": it.keys}
            for who, it in people.items()
        }
        new = self.path.with_name(f"{self.path.name}.new")
        with _for_us_alone(new, os.O_TRUNC) as file:
            json.dump({"people": data}, file, ensure_ascii=False, indent=1)
            file.flush()
            os.fsync(file.fileno())
        new.replace(self.path)


def _for_us_alone(path: Path, how: int) -> TextIO:
    """Open a file for writing that nobody else on this machine may read."""
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | how, 0o600), "w", encoding="utf-8")


def _hashed(secret: str) -> str:
    """Hash a secret: it is drawn by chance and long, so that a plain hash is enough."""
    return sha256(secret.encode()).hexdigest()
