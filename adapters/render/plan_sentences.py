"""What a plan says in sentences: what pays, what it costs, and what to take care of."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Final

from engine.aspect import ratio_text
from engine.planning.light import (
    REFERENCE_WHITE,
    REVIEW_TOLERANCE,
    THEATRE_TOLERANCE,
    VISIBLE_BLACK,
)
from engine.planning.plan import LEAST_ANGLE, LEAST_GAIN
from rules.text.findings import listed
from rules.text.quantity import show_duration

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.plan import Plan, PresetComparison, Trade, Zoom

SAME: Final = 0.01
"""Factors that differ from 1 by less than this count as no change."""

LETS_ALL: Final = 0.995
"""A lens that lets at least this share through is not said to hold light back."""

NO_BRIGHTER: Final = (
    "Scaling or stretching a picture lights more of the screen and makes nothing brighter: the "
    "light falls on the whole raster, whatever is shown in it. Only a smaller raster is brighter."
)
BEAM: Final = (
    "Keep out of the beam and never look into the lens (IEC 62471-5 risk groups): at long zoom the "
    "light is denser, and the distance that is safe for the eye grows."
)
BEFORE_DRILLING: Final = (
    "Before you drill: loads on the ceiling, fixed wiring and motors are for licensed trades under "
    "local codes, and whatever hangs needs a second retention."
)
ON_A_LADDER: Final = (
    "On a ladder: one climbs and one holds it; the projector's light off or the lens capped while "
    "hands are near it, lens and lamp cool before they are touched, nothing near the hot exhaust."
)
AT_THE_PANELS: Final = (
    "Large panels need two people and a second retention; whoever fits them stands dazzled in the "
    "dark, so make the picture dark first and never darken escape lighting."
)
AT_THE_SCREEN: Final = (
    "At the screen: face away from the projector, and let somebody else switch its light off "
    "before you reach to a corner."
)


def plan_sentences(plan: Plan) -> tuple[str, ...]:
    """Say in sentences what the figures mean for this room."""
    return (*_light(plan), *_trades(plan), *_panels(plan), *_seats(plan), *_steps(plan))


def cautions(plan: Plan) -> tuple[str, ...]:
    """Give the warnings that belong to what this plan asks people to do."""
    found = [BEAM]
    if plan.room.projector.throw is not None:
        found.append(BEFORE_DRILLING)
    if any(alignment.first for _, alignment in plan.aligned):
        found.append(ON_A_LADDER)
    if plan.maskings:
        found.append(AT_THE_PANELS)
    return tuple(found)


def _light(plan: Plan) -> Iterator[str]:
    """Say how bright each preset is, and what it costs in light to go there."""
    yield NO_BRIGHTER
    base = plan.zoom(plan.fixed).light
    if base is None:
        yield "The room file says nothing of light: give projector: light: lumens to have it here."
        return
    yield (
        f"White is held against {REFERENCE_WHITE:g} cd/m2, for standard range only: within "
        f"{REVIEW_TOLERANCE:g} in a review room, within "
        f"{THEATRE_TOLERANCE:g} in a theatre (ISO 26431-1)."
    )
    for zoom in plan.zooms:
        if zoom.light is not None:
            yield _preset_light(zoom, plan.fixed, base.luminance)


def _preset_light(zoom: Zoom, fixed: str, base: float) -> str:
    light = zoom.light
    assert light is not None  # noqa: S101 - the caller has seen it
    against = light.standard
    kind = "review room" if against.review else "theatre" if against.theatre else ""
    way = "above" if against.difference > 0 else "below"
    verdict = f"right for a {kind}" if kind else f"{abs(against.difference):.0f} {way} it"
    words_ = f"{zoom.preset}: {light.luminance:.1f} cd/m2, {verdict}"
    if zoom.preset != fixed:
        words_ += f"; {percent(light.luminance / base)} light against {fixed}"
    if light.transmission < LETS_ALL:
        words_ += f"; the lens lets {light.transmission * 100:.0f} % through there"
    return words_ + (", from the meter's reading." if light.metered else ".")


def _trades(plan: Plan) -> Iterator[str]:
    """Say for which ratios another preset is worth its travels."""
    moved = [trade for trade in plan.trades if trade.moves]
    for preset, run in groupby(moved, key=lambda trade: "" if trade.made else trade.best.preset):
        yield _gain(plan, preset, list(run))
    still = [trade for trade in plan.trades if not trade.moves]
    if not still:
        return
    where = f"For {spans(plan, [trade.ratio for trade in still])}" if moved else "For every ratio"
    yield f"{where} the lens may stay at {plan.fixed}: {_no_better(plan, still)}"


def _no_better(plan: Plan, still: list[Trade]) -> str:
    """Say what other presets would give where none shows the picture larger."""
    if len(plan.zooms) == 1:
        return "no preset that the lens reaches gives more at that size."
    gains = [
        f"{preset} would give {_listed_gains([one for one in found if one.preset == preset])}"
        for found in [[other for trade in still for other in trade.others]]
        for preset in dict.fromkeys(one.preset for one in found)
        if any(one.brighter_or_finer for one in found if one.preset == preset)
    ]
    if not gains:
        return "no other preset gives more."
    return f"no other preset shows it larger. {'; '.join(gains)}."


def _listed_gains(found: list[PresetComparison]) -> str:
    """Say what one preset gives for several ratios, and how wide it shows them."""
    light, pixels = [one.light or 1.0 for one in found], [one.pixels for one in found]
    gains = [
        f"{_range(factors)} {what}"
        for what, factors in (("light", light), ("pixels", pixels))
        if max(factors) > LEAST_GAIN
    ]
    return f"{listed(gains, 'and')}, and {_range([one.size for one in found])} width"


def _gain(plan: Plan, preset: str, trades: list[Trade]) -> str:
    """Sum up what one preset, real or supposed, gains for a run of ratios."""
    gains = [
        f"{_range(factors)} {what}"
        for what, factors in (
            ("light", [trade.light or 1.0 for trade in trades]),
            ("pixels", [trade.pixels for trade in trades]),
            ("width", [trade.size for trade in trades]),
        )
        if max(abs(factor - 1) for factor in factors) > SAME
    ]
    who = f"{preset} gives" if preset else "A preset made for each would give"
    pace, lens = plan.room.pace, plan.room.projector.lens
    return (
        f"{who} {listed(gains, 'and')} for {spans(plan, [trade.ratio for trade in trades])}, at "
        f"the price of a travel of up to {show_duration(lens.travel)} each way; the pace allows "
        f"{pace.per_title} for a title and {pace.per_night} for a night, and each one wears."
    )


def _panels(plan: Plan) -> Iterator[str]:
    """Say at each preset whether panels are worth fitting to hide raster black."""
    for zoom in plan.zooms:
        light = zoom.light
        if light is None:
            continue
        wall = (
            f"{light.black_on_wall:.4f} on a dark wall beside it"
            if zoom.on_wall
            else "none beside it, where the raster ends within the border"
        )
        yield (
            f"Raster black at {zoom.preset}: {_black(light.black)} cd/m2 on the screen, {wall}; a "
            f"rested eye sees {VISIBLE_BLACK:g}, {_pays(zoom)}."
        )


def _black(black: float) -> str:
    """Write a black with as many places as it takes to be seen above or below what an eye sees."""
    said = f"{black:.3f}"
    for places in range(4, 7):
        if (float(said) > VISIBLE_BLACK) == (black > VISIBLE_BLACK) and float(
            said
        ) != VISIBLE_BLACK:
            break
        said = f"{black:.{places}f}"
    return said


def _pays(zoom: Zoom) -> str:
    """Say whether panels hide black that is seen."""
    if zoom.light is None or not zoom.light.panels_pay:
        return "so that panels hardly pay"
    return "so that panels pay" if zoom.grey else "but every picture here covers the lit screen"


def _seats(plan: Plan) -> Iterator[str]:
    for seat in plan.seats:
        if seat.angle < LEAST_ANGLE:
            yield (
                f"From {seat.seat} the whole screen is seen under {_below_least(seat.angle)} "
                f"degrees: {LEAST_ANGLE:g} are the least that is wanted (SMPTE EG 18)."
            )


def _below_least(angle: float) -> str:
    """Write an angle below the least with as many places as it takes to be seen below it."""
    for places in range(3):
        said = f"{angle:.{places}f}"
        if float(said) < LEAST_ANGLE:
            return said
    return f"just under {LEAST_ANGLE:g}"


def _steps(plan: Plan) -> Iterator[str]:
    """Name the presets that are not measured, and say how to measure them."""
    bare = [zoom.preset for zoom in plan.zooms if not zoom.measured]
    if bare:
        yield (
            f"Not measured yet: {listed(bare, 'and')}. roomcue testcard draws the card from which "
            "the screen's corners are read, and presets: NAME: measured takes them."
        )


def percent(times: float) -> str:
    """Say a factor as a change: 1.46 is +46 %, and 1.001 is the same."""
    return change(times, unchanged="same")


def change(times: float, unchanged: str = "0 %") -> str:
    """Say a factor as a change, in no language: 1.46 is +46 %, and 1.001 is 0 %."""
    percents = round((times - 1) * 100)
    return f"{percents:+d} %" if percents else unchanged


def spans(plan: Plan, ratios: list[int]) -> str:
    """Say ratios as stretches of those that are planned: 1.33 to 1.90, 2.20."""
    known = [shape.ratio for shape in plan.shapes]
    places = [known.index(ratio) for ratio in ratios]
    parts = []
    for _, run in groupby(enumerate(places), key=lambda pair: pair[1] - pair[0]):
        found = [known[place] for _, place in run]
        parts.append(
            ratio_text(found[0])
            if len(found) == 1
            else f"{ratio_text(found[0])} to {ratio_text(found[-1])}"
        )
    return ", ".join(parts)


def _range(factors: list[float]) -> str:
    """Say one change, or the least and the greatest."""
    low, high = percent(min(factors)), percent(max(factors))
    return low if low == high else f"{low.removesuffix(' %')} to {high}"
