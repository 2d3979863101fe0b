"""Give what is known of presets' wear to machines."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from zoneinfo import ZoneInfo

from adapters.render.margin_text import margin_data
from adapters.render.wear_text import preset_sentences
from engine.events import moment_of
from engine.room import Room
from simulator.wear.assessment import PresetWear
from simulator.wear.counts import cost_by_rule
from simulator.wear.disturbances import Disturbance
from simulator.wear.estimates import AXES, EdgeEstimate, OffsetEstimate
from simulator.wear.ledger import Ledger, per_month, per_night, per_title


def wear_data(room: Room, wears: Sequence[PresetWear], ledger: Ledger) -> dict[str, object]:
    """Give the whole report for machines."""
    return {
        "room": room.name,
        "presets": [_preset_data(room, one, ledger.ends) for one in wears],
        "rules": [one._asdict() for one in cost_by_rule(ledger)],
        "nights": per_night(ledger.travels),
        "months": per_month(ledger.travels, ZoneInfo(room.time_zone)),
        "titles": per_title(ledger.travels),
        "held": [{"night": night, "hold": hold} for night, hold in ledger.held],
        "holes": [{**one._asdict(), "after": _moment(one.after)} for one in ledger.holes],
        "travels": [{**one._asdict(), "at": _moment(one.at)} for one in ledger.travels],
    }


def _moment(now: int) -> str:
    return moment_of(now).isoformat(timespec="seconds")


def _preset_data(room: Room, one: PresetWear, now: int) -> dict[str, object]:
    counts = one.counts
    judged = one.repeatability
    return {
        **counts._asdict(),
        "words": [*preset_sentences(room, one, now)],
        "measured": one.measured,
        "aligned": None if one.aligned is None else _moment(one.aligned),
        "axes": [_offset_data(axis) for axis in one.axes],
        "edges": [_edge_data(edge) for edge in one.edges],
        "margins": margin_data(one.margins),
        "worst": None if one.worst is None else one.worst.name,
        "forecast": None if one.forecast is None else _finite(one.forecast._asdict()),
        "bears": one.bears,
        "chance_now": one.chance_now,
        "align": one.align,
        "by": None if one.by is None else one.by._asdict(),
        "beyond": None if one.beyond is None else one.beyond._asdict(),
        "due": one.due,
        "next_measurement": one.next_measurement,
        "disturbed": [_disturbance_data(one, found) for found in one.disturbed],
        "swings": dict(zip(AXES, one.swings, strict=True)) if one.swings else None,
        "quickens": one.quickens,
        "sides_differ_mm": one.sides_differ,
        "sides_told_mm": one.sides_told,
        "cold": one.cold,
        "focus": None if one.focus is None else {"at": _moment(one.focus[0]), "gone": one.focus[1]},
        "repeatability": None
        if judged is None
        else {**judged._asdict(), "pose": judged.pose._asdict()},
    }


def _finite(values: dict[str, float]) -> dict[str, float | None]:
    return {name: value if isfinite(value) else None for name, value in values.items()}


def _disturbance_data(one: PresetWear, found: Disturbance) -> dict[str, object]:
    return {
        "kind": found.kind,
        "read": _moment(one.read_at[found.reading]),
        "by": dict(zip(AXES, found.by, strict=True)),
        "side": found.side,
        "warmth": found.warmth,
    }


def _offset_data(one: OffsetEstimate) -> dict[str, object]:
    return {"name": one.name, "offset": one.offset, "creep": one.creep, "scatter": one.scatter}


def _edge_data(edge: EdgeEstimate) -> dict[str, object]:
    return {
        **_offset_data(edge.estimate),
        **_finite({"inwards": edge.inwards, "outwards": edge.outwards}),
        "chance_now": edge.chance_now,
    }
