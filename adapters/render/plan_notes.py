"""What stands beneath the ratios and panels of a plan, each sentence made from its figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from adapters.render.plan_sentences import percent, spans
from engine.aspect import ratio_text
from engine.planning.alignment import SIDES
from engine.planning.plan import SEEN
from engine.room import PLAIN, WHOLE
from rules.text.findings import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.planning.plan import Masking, Plan, ShapeWays, Way


def shape_notes(plan: Plan, shape: ShapeWays) -> Iterator[str]:
    """Say what the table cannot: what is lost, what falls on the wall, what panels cover."""
    yield from _idle(plan, shape)
    shown = [way for way in shape.ways if not way.as_plain and way.picture != WHOLE]
    short = [_short(way) for way in shown]
    if any(short):
        named = ", ".join(filter(None, short))
        yield f"these fill less of the unlit width than the file asks, so rules show plain: {named}"
    for way in shown:
        lost, spill = sides_said(way.placement.lost), sides_said(way.placement.spill)
        if lost:
            yield f"{way_name(way)}: lost in the border {lost}"
        if spill:
            yield f"{way_name(way)}: falls on the wall {spill}"
    for masking in plan.maskings:
        ways = [way for way in shape.ways if way in shown or _differs_between_panels(way, shown)]
        losses = {way_name(way): _loss(way, masking.panels) for way in ways}
        under = [f"{name} {loss}" for name, loss in losses.items() if loss]
        if under:
            yield f"{masking.panels} panels, fitted, make smaller {', '.join(under)}"


def _differs_between_panels(way: Way, shown: list[Way]) -> bool:
    """Tell whether a picture that is the plain one without panels lies elsewhere between them."""
    plain = (one for one in shown if (one.preset, one.picture) == (way.preset, PLAIN))
    return way.as_plain and all(one.left != way.left for one in plain)


def panels_sentence(plan: Plan, masking: Masking) -> str:
    """Say which pictures panels leave alone, and what they cost the others."""
    losses = {shape.ratio: _loss(shape.best, masking.panels) for shape in plan.shapes}
    whole = [ratio for ratio, loss in losses.items() if not loss]
    less = [f"{ratio_text(ratio)} {loss}" for ratio, loss in losses.items() if loss]
    sentence = f"{masking.panels}: fitted, they leave {spans(plan, whole) or 'nothing'} alone"
    return sentence + (f" and make smaller {', '.join(less)}" if less else "")


def way_name(way: Way) -> str:
    """Name a way by its preset and its picture."""
    return f"{way.preset} {way.picture}"


def sides_said(lengths: Sequence[int]) -> str:
    """Say a length for each side where there is one."""
    return ", ".join(
        f"{length / 1e3:.0f} mm {side}"
        for side, length in zip(SIDES, lengths, strict=True)
        if length >= SEEN
    )


def _loss(way: Way, panels: str) -> str:
    """Say by how much panels make a picture smaller; nothing if nobody sees it."""
    left = dict(way.left)[panels]
    lost = max((1 - left.across) * way.area.width, (1 - left.down) * way.area.height)
    if lost < SEEN:
        return ""
    change = percent(left.share)
    return f"-{lost / 1e3:.0f} mm" if change == "same" else change


def _idle(plan: Plan, shape: ShapeWays) -> Iterator[str]:
    """Name the pictures that are shown plain, with the presets where they are."""
    where: dict[tuple[str, ...], list[str]] = {}
    for picture in plan.room.pictures:
        same = (way.preset for way in shape.ways if way.picture == picture and way.as_plain)
        where.setdefault(tuple(same), []).append(picture)
    for presets, pictures in where.items():
        if presets:
            at = "" if len(presets) == len(plan.zooms) else f" at {listed(presets, 'and')}"
            yield f"{', '.join(pictures)}{at}: nothing to gain, shown plain"


def _short(way: Way) -> str:
    """Say how much a picture fills if it is less than was asked for, and what stops it."""
    enlarged = way.placement.enlarged
    if enlarged is None or enlarged.kept:
        return ""
    stops = "stopped where the raster ends" if enlarged.at_end else "stopped by its limits"
    return f"{way_name(way)} {int(enlarged.fill * 100)} % ({stops})"
