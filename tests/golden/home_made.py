"""Evenings on which what is seen, or wanted, is not what the rules of films are made for."""

from __future__ import annotations

from engine.events import Override, OverrideLook, Playback
from tests.golden.scenes import Script, disc_plays, shape, switched_off, switched_on, window

UPRIGHT = window(0, 0, 1_312, 1_312)
"""Camera footage that was taken upright."""
NAME = window(900, 900, 1_300, 1_300)
"""A name in the middle of the black raster."""


def upright() -> Script:
    """A quarter of an hour of upright footage; then a flat film behind two minutes of credits."""
    yield from switched_on("broad", "open")
    yield from disc_plays(45)
    yield 78, UPRIGHT
    yield 980, Playback(state="stopped", source="disc")
    yield 981, shape(1.778)
    yield 1_080, Playback(state="playing", source="disc")
    yield 1_083, NAME
    yield 1_203, shape(1.85)
    for number in range(5):  # It is a dark film.
        yield 1_230 + 40 * number, window(300, 500, 700, 200)
        yield 1_238 + 40 * number, shape(1.85)
    yield 6_000, Playback(state="stopped", source="disc")
    yield 6_001, shape(1.778)
    yield from switched_off(6_100)


def own_lens() -> Script:
    """A raised scope film, for which somebody wants the lens so; its menu, and a flat film."""
    yield from switched_on("broad", "open")
    yield from disc_plays(45)
    yield 78, shape(2.39)
    for line in range(30):
        yield 300 + line * 9, shape(2.39, bottom=150)
        yield 304 + line * 9, shape(2.39)
    look = OverrideLook(preset="broad")
    yield 600, Override(taken=True, until="session", look=look, who="Ana")
    yield 3_000, Playback(state="stopped", source="disc")
    yield 3_020, shape(1.778)
    yield 3_100, Playback(state="playing", source="disc")
    yield 3_102, shape(1.85)
    yield (
        3_400,
        Override(taken=True, until="session", look=OverrideLook(picture="cropped"), who="Rui"),
    )
    yield 6_000, Playback(state="stopped", source="disc")
    yield 6_020, shape(1.778)
    yield 6_090, Override(taken=False, who="Ana")
    yield from switched_off(6_100)
