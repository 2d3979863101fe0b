"""Break a proof off: each part of it asks a function `stop` again and again whether to go on."""

from __future__ import annotations

from collections.abc import Callable

Stop = Callable[[], bool]


class BrokenOff(Exception):  # noqa: N818 - nothing went wrong
    """Somebody wants no more of it."""


def never() -> bool:
    """Never break off."""
    return False


def share_of(stop: Stop, parts: int) -> Stop:
    """Give what stops after one of so many equal parts of the time that is left.

    Only what knows its end can be shared, by a method `share`; any other is given whole.
    """
    share: Callable[[int], Stop] | None = getattr(stop, "share", None)
    return stop if share is None else share(parts)


def go_on(stop: Stop) -> None:
    """Raise `BrokenOff` once `stop` says so."""
    if stop():
        raise BrokenOff
