"""What the evenings of the golden nights are made of: readings, a source chosen, a title begun."""

from __future__ import annotations

from collections.abc import Iterator

from engine.events import (
    BarsSeen,
    BlackSeen,
    Event,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
)
from engine.formats import Raster, bars_for

HALF_PAST_SEVEN = 19 * 60 + 30
NEXT_EVENING = 86_400
"""Seconds from the beginning of an evening to that of the next one."""
RASTER = Raster(3_840, 2_160)

Script = Iterator[tuple[float, Event]]


def shape(ratio: float, *, bottom: int = 0, top: int = 0) -> BarsSeen:
    """Read a shape in the shipped raster, with rows of its bars eaten by text or signs."""
    bars = bars_for(round(ratio * 10_000), RASTER)
    return window(bars.top - top, bars.bottom - bottom, bars.left, bars.right)


def window(top: int, bottom: int, left: int, right: int) -> BarsSeen:
    """Read black on four sides."""
    return BarsSeen(top=top, bottom=bottom, left=left, right=right, columns=3_840, rows=2_160)


def switched_on(preset: str, panels: str, t: float = 0) -> Script:
    """Begin an evening: the lens and the panels are known, the projector warms and is lit."""
    yield t, TimeOfDay(minute=HALF_PAST_SEVEN)
    yield t, LensReport(moving=False, preset=preset)
    yield t, PanelReport(panels=panels)
    yield t + 1, ProjectorReport(state="warming")
    yield t + 38, ProjectorReport(state="lit")


def switched_off(t: float) -> Script:
    """End an evening."""
    yield t, ProjectorReport(state="cooling")
    yield t + 90, ProjectorReport(state="off")


def streamer_begins(t: float) -> Script:
    """Choose the streamer and rest in its menu."""
    yield t, SourceChosen(source="streamer")
    yield t + 1, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
    yield t + 2, shape(1.778)


def disc_plays(t: float) -> Script:
    """Choose the disc player; after half a minute in its menu it says that it plays."""
    yield t, SourceChosen(source="disc")
    yield t + 1, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
    yield t + 1.5, shape(1.778)
    yield t + 30, Playback(state="playing", source="disc")


def streamer_plays(t: float, title: Title, ratio: float) -> Script:
    """Begin a title on the streamer; half a second later it plays, then its shape is read."""
    yield t, title
    yield t + 0.5, Playback(state="playing", source="streamer")
    yield t + 1, shape(ratio)


def streamer_ends(t: float) -> Script:
    """End the streamer's title, and rest in the menu."""
    yield t, Title(begun=False)
    yield t, Playback(state="stopped", source="streamer")


def episode_begins(t: float, name: str) -> Script:
    """Begin an episode of a series with an ident, or a picture, of 1.78."""
    title = Title(begun=True, name=f"{name} episode", series="a series")
    yield from streamer_plays(t, title, 1.778)


def disc_begins(t: float, ratio: float) -> Script:
    """Choose the disc player, rest in its menu for half a minute, start a title."""
    yield from disc_plays(t)
    yield t + 31, BlackSeen()
    yield t + 33, shape(ratio)


def episodes(ratio: float) -> Script:
    """Four episodes of a shape behind idents of 1.78, eight seconds from one to the next."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    for number, name in enumerate(("first", "second", "third", "fourth")):
        begins = 90 + number * 1_500
        yield from episode_begins(begins, name)
        yield begins + 31, shape(ratio)
        yield begins + 1_492, Title(begun=False)
        yield begins + 1_492, Playback(state="stopped", source="streamer")
        yield begins + 1_493, shape(1.778)
    yield from switched_off(6_200)
