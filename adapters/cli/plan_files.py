"""What the commands `plan` and `testcard` hand out: text, drawings, and how a card is read."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Final

from adapters.cli.files import make_folder, write_file
from adapters.render.place_drawing import places_sheet
from adapters.render.plan_sentences import AT_THE_SCREEN, BEAM, ON_A_LADDER
from adapters.render.stretch_drawing import stretch_sheet
from engine.aspect import NARROWEST, WIDEST, meant
from engine.errors import UnusableError
from engine.optics import largest_preset
from engine.planning.plan import RATIOS
from rules.text.findings import instead, listed
from rules.text.quantity import QuantityError, read_ratio

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from engine.planning.plan import Plan
    from engine.room import Room

WIDTH: Final = 100
CORNERS: Final = 4


def read_ratios(texts: Sequence[str]) -> tuple[int, ...]:
    """Read the ratios to plan for, or take those of the trade where none is given."""
    if not texts:
        return RATIOS
    try:
        found = {meant(read_ratio(text, NARROWEST, WIDEST)) for text in texts}
    except QuantityError as error:
        raise UnusableError(f"--ratio: {error}") from error
    return tuple(sorted(found))


def write_drawings(plan: Plan, folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write a sheet for each preset and for each named picture; say which files they are."""
    sheets = {f"places-{zoom.preset}.svg": places_sheet(plan, zoom) for zoom in plan.zooms}
    for picture in plan.room.pictures:
        sheets[f"stretch-{picture}.svg"] = stretch_sheet(plan, picture)
    make_folder(folder)
    for name, sheet in sheets.items():
        write_file(folder / name, sheet.encode(), replace=replace)
    return tuple(folder / name for name in sheets)


def write_card(room: Room, preset: str | None, out: Path, *, replace: bool) -> Iterator[str]:
    """Write a preset's test card, and say how it is read and what becomes of it."""
    from adapters.render.testcard import card_png  # noqa: PLC0415 - no other command draws pixels

    name = largest_preset(room) if preset is None else preset
    if name not in room.presets:
        raise UnusableError(f"--preset: {name} is no preset. {instead(name, tuple(room.presets))}")
    write_file(out, card_png(room, name), replace=replace)
    columns, rows = room.projector.columns, room.projector.rows
    yield f"{out}: {columns} x {rows} pixels, for preset {name}. Show it unscaled."
    for sentence in _reading(room, name):
        yield from wrap(sentence, WIDTH)
    for caution in (BEAM, AT_THE_SCREEN, ON_A_LADDER):
        yield from wrap(f"! {caution}", WIDTH, subsequent_indent="  ")


def _reading(room: Room, preset: str) -> Iterator[str]:
    """Say where corners are expected, where they are typed, and what to do beyond the card."""
    from adapters.render.testcard import expected, inside  # noqa: PLC0415 - the same

    corners = expected(room, preset)[:CORNERS]
    places = ", ".join(f"{place.name}: {place.x} x {place.y}" for place in corners)
    yield "Recall the preset, read where the corners of the white screen lie, and type them."
    yield f"Expected: presets: {{{preset}: {{measured: {{{places}}}}}}}"
    beyond = [place.name for place in corners if not inside(room, place)]
    if beyond:
        across = abs(corners[1].x - corners[0].x) / (room.screen.width / 1_000)
        yield (
            f"{listed(beyond, 'and')} lie outside the raster, which is smaller than the screen "
            f"here: measure on from its edge, at {across:.3f} pixels to the millimetre. Left of "
            "the raster and above it numbers are negative."
        )
