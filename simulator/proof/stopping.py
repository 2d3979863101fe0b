"""Break a proof off: each part of it asks a function `stop` again and again whether to go on."""

from __future__ import annotations

from collections.abc import Callable


class BrokenOff(Exception):  # noqa: N818 - nothing went wrong
    """Somebody wants no more of it."""


def never() -> bool:
    """Never break off."""
    return False


def go_on(stop: Callable[[], bool]) -> None:
    """Raise `BrokenOff` once `stop` says so."""
    if stop():
        raise BrokenOff
