"""The sheet for the half-yearly visit: what to measure, in which order, what it means."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from adapters.render.margin_text import margin_sentences
from engine.planning.margins import narrowest
from simulator.wear.measurements import WARM, Measured, in_force

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.room import Room
    from simulator.wear.measurements import Measurement

WIDTH: Final = 80
BLANK: Final = "______"
CAUTIONS: Final = (
    "Lens and lamp are hot, and never look into the lens. Stand on something that is made for it.",
    "Covers, wiring and mounts are for whoever is licensed for them; local codes come first.",
)
BETWEEN: Final = (
    "The lens comes to it from both sides, and may end at another place from each. How far apart "
    "these places are is told by one session of travels from both sides (roomcue align --session), "
    "or by readings from either side in turn."
)
SIGN: Final = "Right and down are positive, left and up are negative."


def visit_lines(room: Room, file: str, book: Sequence[Measurement]) -> Iterator[str]:
    """Write the sheet: one page, 80 columns, with blanks to fill in."""
    yield f"{room.name}: visit to the lens".ljust(WIDTH - 30) + "date __________  by __________"
    yield ""
    for words in CAUTIONS:
        yield from _said(words, "! ")
    yield from _steps(room)
    for preset in _order(room):
        yield from _preset(room, preset, book)
    yield ""
    yield "What it means"
    yield from _meanings(room)
    yield ""
    yield from _said(
        "Write it down, a line for each preset, and read what follows from it. On a later day give "
        "the moment as well: --at 2026-05-01T20:00:00+01:00.",
        "",
    )
    order = _order(room)
    side = "" if len(order) == 1 else f" --side {_side(order, order[0])}"
    yield f"    roomcue align {file} --preset {order[0]} \\"
    yield f'        --edges "LEFT TOP RIGHT BOTTOM mm"{side} --lit MINUTES'
    yield f"    roomcue wear {file}"


def _order(room: Room) -> list[str]:
    """Name the presets, the largest raster first: that is the shortest focal length."""
    return sorted(room.presets, key=lambda name: -room.presets[name].raster_width)


def _steps(room: Room) -> Iterator[str]:
    order = _order(room)
    steps = [f"Light the projector and wait {WARM} minutes: a lens moves until it is warm."]
    if len(order) > 1:
        steps.append(
            "Come to each preset from the side that is named, and always from the same: a lens "
            f"ends elsewhere when it comes from the other. From {order[-1]} to {order[0]} it comes "
            "from the longer side (--side longer), the other way from the shorter."
        )
    steps.append(
        "Show the test card (roomcue testcard) and read with a ruler how far each edge of the "
        f"picture has moved since the preset was last aligned, in mm. {SIGN}"
    )
    steps.append(
        "Read each edge twice, and write down the mean. If the two differ by more than 1 mm, read "
        "it a third time, and write down the middle one of the three."
    )
    for number, words in enumerate(steps, 1):
        yield from _said(words, f"{number}. ")


def _preset(room: Room, preset: str, book: Sequence[Measurement]) -> Iterator[str]:
    order = _order(room)
    side = "" if len(order) == 1 else f", come from {_from(order, preset)}"
    yield ""
    yield f"{preset}{side}" + _last(room, preset, book)
    for reading in ("first", "second", "third"):
        edges = "  ".join(f"{edge} {BLANK}" for edge in ("left", "top", "right", "bottom"))
        yield f"    {reading:<6}  {edges}  lit ____ min"
    for words in margin_sentences(narrowest(room, preset)):
        yield from _said(words, "    shows: ")
    if preset in order[1:-1]:
        yield from _said(BETWEEN, "    ")


def _from(order: list[str], preset: str) -> str:
    """Name the preset to come from, and the side that this is."""
    return f"{order[0] if preset == order[-1] else order[-1]} ({_side(order, preset)})"


def _side(order: list[str], preset: str) -> str:
    """Name the side to come from: the last preset has the longest focal length."""
    return "shorter" if preset == order[-1] else "longer"


def _last(room: Room, preset: str, book: Sequence[Measurement]) -> str:
    ours = [one for one in in_force(book) if one.preset == preset and isinstance(one, Measured)]
    if not ours:
        return "   (never read before)"
    at = ours[-1].at.astimezone(ZoneInfo(room.time_zone))
    return f"   (last read {at:%Y-%m-%d})"


def _meanings(room: Room) -> Iterator[str]:
    sides = ", stored anew, or come to from its other side"
    happened = "bumped" + (sides if len(room.presets) > 1 else ", or stored anew")
    strip = room.wear.strip / 1_000
    for result, words in (
        ("all within the error of reading (0.5 mm)", "it stands; write it down all the same"),
        ("both side edges one way", "the picture has shifted: lens shift, or the mount was moved"),
        ("side edges apart", "the picture has grown or shrunk: the zoom has crept"),
        ("one edge alone", "read it again; if it stays, the projector has turned: read corners"),
        (f"less than {strip:g} mm past what shows", "let it pass, and look again when told"),
        (f"{strip:g} mm or more past what shows", "align and store the preset again (--realigned)"),
        ("far more than last time", f"{happened}: read it once more before you align"),
    ):
        yield from _said(f"{result}: {words}.", "  - ")


def _said(words: str, first: str) -> Iterator[str]:
    yield from wrap(words, WIDTH, initial_indent=first, subsequent_indent=" " * len(first))
