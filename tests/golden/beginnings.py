"""Evenings of films whose first minutes mislead: scripts of golden nights."""

from __future__ import annotations

from engine.events import BlackSeen, Playback
from tests.golden.scenes import Script, disc_begins, disc_plays, shape, switched_off, switched_on


def idents() -> Script:
    """Idents of 1.78, 2.39 and 1.85 within 55 s, then scope to the end; nothing is named."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 1.778)
    for t, ratio in ((96, 2.39), (114, 1.85), (130, 2.39)):
        yield t, shape(ratio)
    yield 6_000, Playback(state="stopped", source="disc")
    yield 6_001, shape(1.778)
    yield from switched_off(6_100)


def black() -> Script:
    """A hundred seconds of black before a film of 1.78; five minutes before one of 2.39."""
    yield from switched_on("broad", "open")
    for t, event in disc_plays(45):
        yield t, BlackSeen() if event.kind == "bars" else event
    yield 175, shape(1.778)
    yield 6_000, Playback(state="stopped", source="disc")
    yield 6_001, shape(1.778)
    yield 6_100, Playback(state="playing", source="disc")
    yield 6_101, BlackSeen()
    yield 6_400, shape(2.39)
    yield 9_900, Playback(state="stopped", source="disc")
    yield from switched_off(10_000)
