"""Work out how bright the screen is, for people to read; no decision rests on it.

The light is spread over the whole projected raster, whatever picture is in it. So a picture that is
scaled up or stretched lights more of the screen but is no brighter. Only a smaller raster is
brighter: the one that a longer zoom projects, less the light that the lens then absorbs.

By hand: 2200 lm on gain 1.1 and a raster of 3.44 m by 1.814063 m (4096 x 2160) is
2200 x 1.1 / (pi x 6.240375) = 123.44 cd/m2, or 36.03 foot-lamberts.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import SCALE
from engine.plane import raster_seen

if TYPE_CHECKING:
    from engine.room import Light, Preset, Room

FOOT_LAMBERT: Final = 3.4262590996
"""Candelas per square metre in one foot-lambert: 1 / (pi x 0.3048 x 0.3048)."""

REFERENCE_WHITE: Final = 48.0
"""White at the screen's centre for standard range, cd/m2 (ISO 26431-1, SMPTE ST 431-1, both read
second-hand)."""
REVIEW_TOLERANCE: Final = 3.5
"""How far white may differ from the reference in a review room, cd/m2."""
THEATRE_TOLERANCE: Final = 10.2
"""How far white may differ from the reference in a theatre, cd/m2."""

WALL_REFLECTANCE: Final = 0.2
"""Share of the light that a dark painted wall reflects (common practice, no source)."""
VISIBLE_BLACK: Final = 0.005
"""The darkest black, cd/m2, that an eye used to the dark tells from no light at all (common
practice, no source)."""


class ReferenceComparison(NamedTuple):
    """How a luminance compares with the reference for standard range."""

    difference: float
    """How far it is above (positive) or below the reference, cd/m2."""
    review: bool
    """Whether it is within the tolerance of a review room."""
    theatre: bool
    """Whether it is within the tolerance of a theatre."""


class Brightness(NamedTuple):
    """The light of one preset."""

    luminance: float
    """White at the screen, cd/m2."""
    foot_lamberts: float
    """The same in foot-lamberts."""
    transmission: float
    """Share of the light that the zoom lets through: 1 at its short end, and if the throw is
    unknown."""
    metered: bool
    """Whether it is based on a meter's reading instead of the rated lumens."""
    standard: ReferenceComparison
    """White, compared with the reference for standard range."""
    black: float
    """Luminance of the screen where the raster is black, cd/m2."""
    black_on_wall: float
    """Luminance of the wall beside the screen where a black raster falls on it, cd/m2."""
    panels_pay: bool
    """Whether a black raster on the screen is bright enough to be seen, so that panels help."""


def luminance(lumens: float, gain: float, area: float) -> float:
    """Give the luminance, cd/m2, of a screen lit evenly over an area in square metres."""
    return lumens * gain / (pi * area)


def foot_lamberts(candelas: float) -> float:
    """Convert cd/m2 to foot-lamberts."""
    return candelas / FOOT_LAMBERT


def compare_to_reference(candelas: float) -> ReferenceComparison:
    """Compare a luminance in cd/m2 with the reference; the limits are within the tolerance."""
    difference = round(candelas - REFERENCE_WHITE, 6)
    return ReferenceComparison(
        difference, abs(difference) <= REVIEW_TOLERANCE, abs(difference) <= THEATRE_TOLERANCE
    )


def transmission(room: Room, preset: Preset) -> float:
    """Give the share of the light that the zoom lets through at a preset, 0 to 1.

    It falls evenly with the throw ratio from 1 at the short end to the lens's own figure at the
    long end (common practice: lenses state the ends only).
    """
    throw = room.projector.throw
    if throw is None or throw.longest <= throw.shortest:
        return 1.0
    ratio = throw.distance * SCALE / raster_seen(room, preset)[0]
    along = (ratio - throw.shortest) / (throw.longest - throw.shortest)
    end = room.projector.lens.transmission_at_long_end
    return 1 - min(1.0, max(0.0, along)) * (1 - end)


def brightness(room: Room, preset: str) -> Brightness | None:
    """Work out the light of a preset; None if the room file says nothing about light.

    A meter's reading without a preset counts as taken at the widest raster.
    """
    light = room.projector.light
    if light is None:
        return None
    white = _white(room, light, room.presets[preset])
    black = white / light.native_contrast
    on_wall = black * WALL_REFLECTANCE / room.screen.gain
    return Brightness(
        luminance=white,
        foot_lamberts=foot_lamberts(white),
        transmission=transmission(room, room.presets[preset]),
        metered=light.measured is not None,
        standard=compare_to_reference(white),
        black=black,
        black_on_wall=on_wall,
        panels_pay=black > VISIBLE_BLACK,
    )


def _white(room: Room, light: Light, preset: Preset) -> float:
    """Give white at a preset in cd/m2, from the meter's reading if there is one."""
    area, passed = _area(room, preset), transmission(room, preset)
    if light.measured is None:
        return luminance(light.lumens * light.remaining * passed, room.screen.gain, area)
    there = _metered(room, light)
    return light.measured * (_area(room, there) / area) * (passed / transmission(room, there))


def _metered(room: Room, light: Light) -> Preset:
    """Find the preset at which the meter was read."""
    if light.measured_preset is not None:
        return room.presets[light.measured_preset]
    return max(room.presets.values(), key=lambda one: _area(room, one))


def _area(room: Room, preset: Preset) -> float:
    """Give the area of the whole raster in the plane of the screen, in square metres."""
    width, height = raster_seen(room, preset)
    return width * height / 1e12
