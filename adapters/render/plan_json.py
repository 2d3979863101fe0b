"""A plan for machines: plain dictionaries; lengths in millimetres, light in cd/m2, shares of 1."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from adapters.render.margin_text import margin_data
from adapters.render.plan_sentences import cautions, plan_sentences
from engine.aspect import number_of
from engine.planning.alignment import SIDES
from engine.planning.margins import margins, narrowest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.planning.alignment import Alignment
    from engine.planning.light import Brightness
    from engine.planning.placement import Area, Reach
    from engine.planning.plan import Masking, Plan, Seat, ShapeWays, Trade, Way, Zoom
    from engine.planning.pose import Estimate, ProjectorPose
    from engine.room import Room

Data = dict[str, Any]


def plan_data(plan: Plan) -> Data:
    """Give the whole plan."""
    return {
        "room": plan.room.name,
        **_physics(plan.room),
        "fixed": plan.fixed,
        "presets": [_zoom(zoom) for zoom in plan.zooms],
        "ratios": [_shape(plan, shape) for shape in plan.shapes],
        "zoom": [_trade(trade) for trade in plan.trades],
        "panels": [_masking(masking) for masking in plan.maskings],
        "seats": [_seat(seat) for seat in plan.seats],
        "margins": {
            preset: margin_data(narrowest(plan.room, preset)) for preset in plan.room.presets
        },
        "bleed": [
            {"preset": preset, "panels": one.panels, "mm": _sides([*one.bleed.values()])}
            for preset in plan.room.presets
            for one in margins(plan.room, preset)
        ],
        "alignment": [_alignment(preset, found) for preset, found in plan.aligned],
        "says": plan_sentences(plan),
        "cautions": cautions(plan),
    }


def _physics(room: Room) -> Data:
    screen, projector = room.screen, room.projector
    return {
        "screen": {
            "width_mm": _mm(screen.width),
            "height_mm": _mm(screen.height),
            "aspect": number_of(screen.aspect),
            "border_mm": _mm(screen.border),
            "overfill": screen.overfill / 10_000,
            "gain": screen.gain,
        },
        "raster": {"columns": projector.columns, "rows": projector.rows},
    }


def _zoom(zoom: Zoom) -> Data:
    return {
        "preset": zoom.preset,
        "fits": number_of(zoom.fits),
        "raster_mm": {"width": _mm(zoom.width), "height": _mm(zoom.height)},
        "measured": zoom.measured,
        "past_border_mm": _mm(zoom.on_wall),
        "light": None if zoom.light is None else _light(zoom.light, on_wall=zoom.on_wall > 0),
        "reach": None if zoom.reach is None else _reach(zoom.reach),
    }


def _light(light: Brightness, *, on_wall: bool) -> Data:
    return {
        "white": round(light.luminance, 3),
        "foot_lamberts": round(light.foot_lamberts, 3),
        "transmission": round(light.transmission, 4),
        "metered": light.metered,
        "above_reference": round(light.standard.difference, 3),
        "review_room": light.standard.review,
        "theatre": light.standard.theatre,
        "black": round(light.black, 5),
        "black_on_wall": round(light.black_on_wall, 5) if on_wall else None,
        "panels_pay": light.panels_pay,
    }


def _reach(reach: Reach) -> Data:
    return {
        "throw_ratio": number_of(reach.throw_ratio),
        "in_range": reach.in_range,
        "shift_up": reach.shift_up / 10_000,
        "shift_across": reach.shift_across / 10_000,
        "shift": reach.shift,
    }


def _shape(plan: Plan, shape: ShapeWays) -> Data:
    return {
        "ratio": number_of(shape.ratio),
        "best": shape.best.preset,
        "ways": [_way(plan, way) for way in shape.ways],
    }


def _way(plan: Plan, way: Way) -> Data:
    found, light = way.placement, plan.zoom(way.preset).light
    lines, sampling = found.subtitles, found.sampling
    return {
        "preset": way.preset,
        "picture": way.picture,
        "as_plain": way.as_plain,
        "region": found.rect._asdict(),
        "pixels": {"columns": way.columns, "rows": way.rows},
        "screen_mm": _area(way.area),
        "unlit_mm": {"width": _mm(way.unlit_width), "height": _mm(way.unlit_height)},
        "lost_mm": _sides(found.lost),
        "spill_mm": _sides(found.spill),
        "grey": round(found.grey, 5),
        "raster_used": round(found.raster_used, 5),
        "white": None if light is None else round(light.luminance, 3),
        "scale": None if sampling is None else round(sampling.across, 5),
        "stretch": _bent(way),
        "lines": None if lines is None else {**lines._asdict(), "lift": lines.lift / 10_000},
        "covered_by": way.covered,
        "left_with_panels": {panels: round(left.share, 5) for panels, left in way.left},
    }


def _bent(way: Way) -> Data | None:
    enlarged = way.placement.enlarged
    if enlarged is None:
        return None
    return {
        "middle_circle": round(enlarged.widening.curve.middle, 5),
        "edge_circle": round(enlarged.widening.curve.edge, 5),
        "even_middle": round(enlarged.widening.curve.even, 5),
        "rows_lost": round(enlarged.widening.rows_lost, 5),
        "fill": round(enlarged.fill, 5),
        "kept": enlarged.kept,
    }


def _trade(trade: Trade) -> Data:
    return {
        "ratio": number_of(trade.ratio),
        "preset": trade.best.preset,
        "moves": trade.moves,
        "made_up": trade.made,
        "light": None if trade.light is None else round(trade.light, 5),
        "pixels": round(trade.pixels, 5),
        "width": round(trade.size, 5),
        "travel_s": trade.travel / 1_000,
        "others": [
            {
                "preset": one.preset,
                "light": None if one.light is None else round(one.light, 5),
                "pixels": round(one.pixels, 5),
                "width": round(one.size, 5),
            }
            for one in trade.others
        ],
    }


def _masking(masking: Masking) -> Data:
    return {
        "panels": masking.panels,
        "opening": number_of(masking.opening),
        "side_mm": _mm(masking.side),
        "end_mm": _mm(masking.end),
        "kept": [
            {"ratio": number_of(ratio), "width": round(share, 5)} for ratio, share in masking.kept
        ],
    }


def _seat(seat: Seat) -> Data:
    return {
        "seat": seat.seat,
        "distance_mm": _mm(seat.distance),
        "screen_degrees": round(seat.angle, 3),
        "screen_degrees_up": round(seat.upright, 3),
        "seen": [
            {
                "ratio": number_of(one.ratio),
                "degrees": round(one.angle, 3),
                "degrees_up": round(one.upright, 3),
                "pixels_per_degree": round(one.pixels, 2),
            }
            for one in seat.seen
        ],
    }


def _alignment(preset: str, found: Alignment) -> Data:
    left, top, right, bottom = found.box
    split = found.split
    return {
        "preset": preset,
        "region": {"left": left, "top": top, "width": right - left, "height": bottom - top},
        "short_mm": _sides(found.short),
        "spill_mm": _sides(found.spill),
        "beyond_border": found.beyond,
        "middle": [round(place, 2) for place in split.middle],
        "screen_pixels": [round(split.width, 2), round(split.height, 2)],
        "pose": _pose(found.pose),
        "trapezoid": {"across": round(split.across, 5), "down": round(split.down, 5)},
        "bow": None
        if split.bow is None
        else {edge: round(pixels, 2) for edge, pixels in split.bow._asdict().items()},
        "first": None
        if found.first is None
        else {**found.first._asdict(), "pixels": round(found.first.pixels, 2)},
    }


def _pose(pose: ProjectorPose) -> Data:
    angles = {"yaw": pose.yaw, "pitch": pose.pitch, "roll": pose.roll}
    shifts = {"shift_up": pose.shift_up, "shift_across": pose.shift_across}
    return {
        **{f"{name}_degrees": _estimate(one) for name, one in angles.items()},
        **{name: _estimate(one) for name, one in shifts.items()},
        "misfit_pixels": round(pose.misfit, 2),
        "distance_known": pose.distance_known,
    }


def _estimate(found: Estimate) -> Data:
    return {"value": round(found.value, 4), "standard_deviation": round(found.error, 4)}


def _area(area: Area) -> Data:
    return {
        "left": _mm(area.left),
        "top": _mm(area.top),
        "width": _mm(area.width),
        "height": _mm(area.height),
    }


def _sides(lengths: Sequence[int]) -> Data:
    return {side: _mm(length) for side, length in zip(SIDES, lengths, strict=True)}


def _mm(micrometres: float) -> float:
    return round(micrometres / 1_000, 3)
