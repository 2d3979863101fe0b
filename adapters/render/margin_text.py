"""Say how far the edges of a preset's picture may move before it shows, for plan and wear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.planning.alignment import Side
    from engine.planning.margins import Margin, PresetMargins


NO_BLEED: Final = 500
"""A raster that passes an edge by less than this (micrometres) counts as ending there."""


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
        else f"{_more_than(margin.inwards)} inwards leaves a strip dark"
    )
    out = "light on a panel" if margin.on_panel else "light beyond the border"
    return f"{dark}, {_more_than(margin.outwards)} outwards throws {out}"


def _more_than(micrometres: float) -> str:
    """Say which movement passes a limit."""
    said = f"{micrometres / 1_000:.0f}"
    return "any movement" if said == "0" else f"more than {said} mm"


def bleed_sentence(found: PresetMargins) -> str:
    """Say how far the raster passes the edges of what is free, or ends before them."""
    past = [(side, over) for side, over in found.bleed.items() if over >= NO_BLEED]
    past_said = ", ".join(f"{side} {over / 1_000:.0f} mm" for side, over in past)
    short = [
        f"{side} {-over / 1_000:.0f} mm" for side, over in found.bleed.items() if over <= -NO_BLEED
    ]
    words = (
        f"the raster passes what is free by {past_said}; within that, reading the corners "
        "anew puts right what has crept"
        if past
        else "the raster passes what is free nowhere"
    )
    if short:
        words += f"; it ends short of it by {', '.join(short)}"
    if len(past) < len(found.bleed):
        words += (
            "; at its other edges only the lens does"
            if past
            else "; everywhere only the lens puts right what has crept"
        )
    return f"{words}."


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
