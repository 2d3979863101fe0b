"""Find looks that a room can get into and that no rule ever leaves again.

What a row leaves out of its look stays as it stands. If rows only ever show one value of a part, it
is set once and stands from then on: a lift for subtitles, panels that nobody is asked to take off.
Cues are left out: what they drive has others who may set it back.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from typing import NamedTuple

from engine.choosing import OTHERWISE
from engine.optics import largest_preset, window
from engine.room import PLAIN, WHOLE, Room, Show
from rules.table.table_rows import TableRows
from rules.text.findings import Finding
from rules.text.quantity import show_share


class _Part(NamedTuple):
    """One part of a look, as far as this search needs to know it."""

    name: str
    key: str
    """The key of `show` under which it stands in the room file."""
    value: Callable[[Show], Hashable]
    """What a row shows of it; None where the row leaves it out."""
    home: Callable[[Hashable], bool]
    """Whether it may stand so for ever: it costs nothing, and every title can be shown."""
    advice: str


def lasting_findings(rows: TableRows) -> Iterator[Finding]:
    """Warn about each part of a look that is set by a row and never set otherwise."""
    numbers = (*range(len(rows.room.rules.rows)), OTHERWISE)
    for part in _parts(rows.room):
        shown = {row: part.value(rows.show(row)) for row in numbers}
        values = {value for value in shown.values() if value is not None}
        if len(values) != 1 or None not in shown.values() or part.home(*values):
            continue
        row = next(row for row, value in shown.items() if value is not None)
        value = next(iter(values))
        told = show_share(value) if isinstance(value, int) else value
        yield rows.warning(
            "never-left",
            (row, part.key),
            f"once {rows.label(row)} has set {part.name} to {told}, it stays so for good: no row "
            "shows another",
            part.advice,
        )


def _parts(room: Room) -> Iterator[_Part]:
    """List the parts of a look that can stay behind."""
    advice = "Show {} in the rows that follow, or in otherwise."
    yield _Part(
        "the picture",
        "picture",
        lambda show: show.picture,
        lambda value: value in {PLAIN, WHOLE},
        advice.format("picture: plain"),
    )
    yield _Part(
        "the lift",
        "lift",
        lambda show: show.lift,
        lambda value: value == 0,
        advice.format("lift: 0 %"),
    )
    if len(room.presets) > 1:
        largest = largest_preset(room)
        yield _Part(
            "the preset",
            "preset",
            lambda show: show.preset,
            lambda value: value == largest,
            advice.format(f"preset: {largest}"),
        )
    if len(room.panels) > 1:
        bare = (room.screen.width, room.screen.height)
        yield _Part(
            "the panels",
            "panels",
            lambda show: show.panels,
            lambda value: window(room, str(value)) == bare,
            advice.format("panels: open"),
        )
