"""What makes true what a plan says of light, of black and of what the seats see."""

from __future__ import annotations

import re

from engine.planning.plan import Plan
from tests.adapters.plan_judges import Judge, near

LIGHT_OF_A_PRESET = (
    r"(?P<preset>\w+): (?P<white>[\d.]+) cd/m2, "
    r"(?P<verdict>right for a [\w ]+|\d+ (?:above|below) it)"
    r"(?:; (?P<change>same|[-+]\d+ %) light against (?P<base>\w+))?"
    r"(?:; the lens lets (?P<let>\d+) % through there)?(?P<metered>, from the meter's reading)?\."
)
BLACK = (
    r"Raster black at (?P<preset>\w+): (?P<black>[\d.]+) cd/m2 on the screen, "
    r"(?:(?P<wall>[\d.]+) on a dark wall beside it|none beside it, where .+ within the border); "
    r"a rested eye sees 0.005, (?P<verdict>.+)\."
)
SEATED = r"From row the whole screen is seen under (?P<angle>.+) degrees: 30 are .+"


def bright(found: Plan, match: re.Match[str]) -> bool:
    """White, how far it is from the reference, what a travel changes, and what the lens takes."""
    light, base = found.zoom(match["preset"]).light, found.zoom(found.fixed).light
    assert light is not None
    assert base is not None
    factor = light.luminance / base.luminance
    change = match["change"] or "same"
    said = 0 if change == "same" else int(change.removesuffix(" %"))
    return (
        near(match["white"], light.luminance, 0.051)
        and _against_the_reference(match["verdict"], light.luminance - 48)
        and (match["base"] is None) == (match["preset"] == found.fixed)
        and match["base"] in {None, found.fixed}
        and abs(said - (factor - 1) * 100) <= 0.51
        and (match["let"] is not None or light.transmission > 0.99)
        and near(match["let"] or "100", light.transmission * 100, 0.51)
        and (match["metered"] is not None) == light.metered
    )


def _against_the_reference(verdict: str, off: float) -> bool:
    far = re.fullmatch(r"(\d+) (above|below) it", verdict)
    if far is not None:
        sided = (far[2] == "above") == (off > 0)
        return sided and abs(off) > 10.2 and near(far[1], abs(off), 0.51)
    if verdict == "right for a review room":
        return abs(off) <= 3.5
    return verdict == "right for a theatre" and 3.5 < abs(off) <= 10.2


def black(found: Plan, match: re.Match[str]) -> bool:
    """Black is on the wall only past the border, and panels pay where black shows.

    What is said of it is on the side of what an eye sees that the verdict needs.
    """
    zoom = found.zoom(match["preset"])
    assert zoom.light is not None
    seen = zoom.light.black > 0.005
    told = (
        (match["wall"] is not None) == (zoom.on_wall > 0)
        and near(match["wall"] or f"{zoom.light.black_on_wall}", zoom.light.black_on_wall, 0.000051)
        and near(match["black"], zoom.light.black, 0.00051)
        and (float(match["black"]) > 0.005) == seen
    )
    left_beside = any(
        way.placement.grey > 0.005
        for shape in found.shapes
        for way in shape.ways
        if way.preset == zoom.preset
    )
    verdict = match["verdict"]
    if not seen:
        return told and verdict == "so that panels hardly pay"
    return told and (verdict == "so that panels pay") == left_beside


def seated(found: Plan, match: re.Match[str]) -> bool:
    (seat,) = found.seats
    said = 30 if match["angle"].startswith("just") else float(match["angle"])
    return (
        seat.angle < 30
        and abs(said - seat.angle) < 0.51
        and (said < 30 or match["angle"].startswith("just"))
    )


LIGHT_JUDGES: list[tuple[str, Judge]] = [
    (LIGHT_OF_A_PRESET, bright),
    (BLACK, black),
    (SEATED, seated),
]
