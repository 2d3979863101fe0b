"""Say how far the edges of a preset's picture may move before it shows, for plan and wear."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.planning.alignment import Side
    from engine.planning.margins import Margin, PresetMargins


def margin_sentences(margins: Mapping[Side, Margin]) -> Iterator[str]:
    """Say it in sentences; edges that are alike are told together."""
    told: dict[str, list[str]] = {}
    for side, margin in margins.items():
        told.setdefault(_margin(margin), []).append(side)
    for words, sides in told.items():
        *first, last = sides
        edges = f"{', '.join(first)} and {last} edges" if first else f"{last} edge"
        yield f"{edges}: {words}."


def _margin(margin: Margin) -> str:
    dark = (
        "it ends inside, so nothing more stays dark"
        if margin.inwards is None
        else f"{margin.inwards / 1_000:.0f} mm inwards a strip stays dark"
    )
    out = "light falls on a panel" if margin.on_panel else "light falls beyond the border"
    return f"{dark}, {margin.outwards / 1_000:.0f} mm outwards {out}"


def bleed_sentence(found: PresetMargins) -> str:
    """Say how far the raster passes the edges of what is free."""
    past = ", ".join(f"{side} {over / 1_000:.0f} mm" for side, over in found.bleed.items())
    return (
        f"the raster passes what is free by {past}: within that, corners read anew put right what "
        "has crept, and where it is 0 or less only the lens does."
    )


def margin_data(margins: Mapping[Side, Margin]) -> dict[str, dict[str, float | bool | None]]:
    """Give it for machines."""
    return {
        side: {
            "inwards_mm": None if one.inwards is None else round(one.inwards / 1_000, 1),
            "outwards_mm": round(one.outwards / 1_000, 1),
            "on_panel": one.on_panel,
        }
        for side, one in margins.items()
    }
