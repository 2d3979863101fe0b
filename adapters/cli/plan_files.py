"""The files that `plan` and `testcard` write, and the ratios that `plan` is asked for."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from adapters.cli.files import make_folder, write_file, write_text
from adapters.render.place_drawing import places_sheet
from adapters.render.stretch_drawing import stretch_sheet
from engine.aspect import NARROWEST, WIDEST, meant
from engine.errors import UnusableError
from engine.optics import largest_preset
from engine.planning.plan import RATIOS
from engine.room import RoomBelow
from rules.text.findings import advice_for_unknown
from rules.text.quantity import QuantityError, read_ratio

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from engine.planning.plan import Plan
    from engine.room import Room

SEVERAL: Final = re.compile(r"[.:].*,|,.*\.")
"""Ratios in one word. The comma of `2,39:1` is a decimal one, which has advice of its own."""


def read_ratios(texts: Sequence[str]) -> tuple[int, ...]:
    """Read the ratios to plan for, in 1/10,000; without any, give the usual ones."""
    if not texts:
        return RATIOS
    for text in texts:
        if SEVERAL.search(text):
            each = " ".join(f"--ratio {one.strip()}" for one in text.split(",") if one.strip())
            raise UnusableError(f"--ratio {text}: each ratio has an option of its own: {each}")
    try:
        found = {meant(read_ratio(text, NARROWEST, WIDEST)) for text in texts}
    except QuantityError as error:
        raise UnusableError(f"--ratio: {error}") from error
    return tuple(sorted(found))


def write_drawings(plan: Plan, folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Draw a sheet for each preset and each enlarged picture into a folder; give the paths."""
    sheets = {f"places-{zoom.preset}.svg": places_sheet(plan, zoom) for zoom in plan.zooms}
    for picture, shape in plan.room.pictures.items():
        if isinstance(shape, RoomBelow):
            continue
        sheets[f"stretch-{picture}.svg"] = stretch_sheet(plan, picture)
    make_folder(folder)
    for name, sheet in sheets.items():
        write_text(folder / name, sheet, replace=replace)
    return tuple(folder / name for name in sheets)


def write_card(room: Room, preset: str | None, out: Path, *, replace: bool) -> Iterator[str]:
    """Write the test card of a preset, by default of the one with the largest raster.

    Gives the lines that say how the card is read; raises `UnusableError`.
    """
    from adapters.render.card_text import card_lines  # noqa: PLC0415 - no other command draws pixels
    from adapters.render.testcard import card_png  # noqa: PLC0415 - the same

    if out.suffix.lower() != ".png":
        named = out / "card.png" if out.is_dir() else out.with_suffix(".png")
        raise UnusableError(f"{out}: a card is a PNG file; name it {named}")
    name = largest_preset(room) if preset is None else preset
    if name not in room.presets:
        raise UnusableError(
            f"--preset: {name} is no preset. {advice_for_unknown(name, tuple(room.presets))}"
        )
    write_file(out, card_png(room, name), replace=replace)
    columns, rows = room.projector.columns, room.projector.rows
    yield f"{out}: {columns} x {rows} pixels, for preset {name}. Show it unscaled."
    yield from card_lines(room, name)
