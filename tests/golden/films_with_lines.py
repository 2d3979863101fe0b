"""Evenings of films with lines below the picture: scripts of golden nights."""

from __future__ import annotations

from engine.events import Playback
from tests.golden.scenes import Script, disc_begins, shape, switched_off, switched_on


def subtitles() -> Script:
    """Two lines, half in the bar, every few seconds."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.39)
    for line in range(120):
        yield 300 + line * 7, shape(2.39, bottom=150)
        yield 303 + line * 7, shape(2.39)
    yield 3_000, Playback(state="stopped", source="disc")
    yield from switched_off(3_100)


def lines_and_heads() -> Script:
    """A scope film in another language in the long room; before its lines a short overlay."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.39)
    yield 200, shape(2.39, bottom=150)
    yield 201.5, shape(2.39)
    for line in range(60):
        yield 600 + line * 9, shape(2.39, bottom=150)
        yield 604 + line * 9, shape(2.39)
    yield 3_000, Playback(state="stopped", source="disc")
    yield from switched_off(3_100)
