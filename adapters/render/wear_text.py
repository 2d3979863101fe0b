"""Report how far each preset has crept: as a table, in sentences, and for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from math import isfinite
from zoneinfo import ZoneInfo

from adapters.render.columns import in_columns, plural, widths
from engine.events import moment_of
from engine.planning.light import brightness
from engine.room import Room
from simulator.wear.assessment import AXIS_WORDS, OffsetEstimate, PresetWear, cost_by_rule
from simulator.wear.creep import ENOUGH, USED_UP
from simulator.wear.ledger import Ledger, MissingTravels, per_month, per_night, per_title
from simulator.wear.measurements import WARM

HOUR = 3_600_000
LEAST_SAID = 0.01
HOLES = 5
"""How many gaps are told one by one."""
MOST = 5
"""How many titles are named."""


def wear_lines(room: Room, wears: Sequence[PresetWear], ledger: Ledger) -> Iterator[str]:
    """Write the whole report: the table, sentences on each preset, what the ledger shows."""
    yield from wear_table(wears)
    yield ""
    for one in wears:
        yield from preset_sentences(one, ledger.ends)
    yield ""
    yield from ledger_sentences(room, ledger)


def wear_table(wears: Sequence[PresetWear]) -> list[str]:
    """Make the table, with a row for each preset."""
    head = ["", "travels", "ordered", "by hand", "a day", "offset, mm", "limit", "in 100", "due in"]
    rows = [[*_row(one)] for one in wears]
    wide = widths([head, *rows])
    return [in_columns(row, wide) for row in [head, *rows]]


def _row(one: PresetWear) -> Iterator[str]:
    yield from (one.preset, f"{one.travels}", f"{one.ordered}", f"{one.by_hand}")
    yield f"{one.a_day:.1f}"
    if one.worst is None:
        yield from ("not known", f"{one.limit.far:.0f}", "", "now" if one.due == 0 else "")
        return
    worst = one.worst
    yield f"{worst.offset:+.1f} +-{worst.offset_error:.1f} {worst.name}"
    yield f"{one.limit.far:.0f}"
    yield f"{worst.creep[1]:+.2f}"
    yield "never" if one.due is None else "now" if one.due == 0 else f"{one.due:.0f}"


def preset_sentences(one: PresetWear, now: int) -> Iterator[str]:
    """Say how far a preset has crept, and when to measure or align it."""
    if one.beyond is not None:
        edge, where = one.beyond
        yield (
            f"{one.preset}: align it now: it was last read {where:+.1f} mm "
            f"{AXIS_WORDS[edge]}, where it shows."
        )
    if one.limit.far <= 0:
        yield (
            f"{one.preset}: border and overfill leave no room to creep: any movement shows. "
            "A wider border, or less overfill, would leave some."
        )
    elif one.worst is None:
        yield (
            f"{one.preset}: not enough measurements ({one.measured} of {ENOUGH}) to say how far it "
            f"has crept. {_next(one)}"
        )
    else:
        yield from _foretold(one, one.worst, now)
    if one.by is not None:
        within = plural(round(one.by.travels), "travel")
        yield (
            f"{one.preset}: within {within} its worst edge shows with a probability of "
            f"{_share(one.by.chance)}."
        )
    if one.focus is not None:
        at, gone = one.focus
        yield f"{one.preset}: the focus had gone {gone:+g} on {moment_of(at):%Y-%m-%d}."
    if one.repeatability is not None:
        yield _repeated(one)
    if one.cold:
        yield (
            f"{one.preset}: {plural(one.cold, 'measurement')} read within {WARM} minutes of "
            "lighting, while the lens still moves."
        )
    if one.unconfirmed:
        yield (f"{one.preset}: {plural(one.unconfirmed, 'travel')} that the lens never confirmed.")


def _next(one: PresetWear) -> str:
    more = plural(one.next_measurement, "more travel")
    when = "now" if one.next_measurement == 0 else f"after {more}"
    session = (
        ""
        if one.repeatability
        else " One session of 30 travels (--session) would say more as well."
    )
    return f"Measure it {when}.{session}"


def _share(part: float) -> str:
    return f"{part * 100:.0f} %" if part >= LEAST_SAID else "less than 1 %"


def _foretold(one: PresetWear, worst: OffsetEstimate, now: int) -> Iterator[str]:
    low, middle, high = worst.creep
    where = AXIS_WORDS[worst.name]
    moved = ", ".join(f"{axis.offset:+.1f} mm {AXIS_WORDS[axis.name]}" for axis in one.axes)
    yield f"{one.preset}: it stands {moved}."
    yield (
        f"{one.preset}: {where} that is {worst.offset:+.1f} mm (+-{worst.offset_error:.1f}), "
        f"creeping {middle:+.2f} mm in a hundred travels (90 %: {low:+.2f} to {high:+.2f}). "
        f"At {one.limit.far:.0f} mm {one.limit.shows_as}."
    )
    if one.beyond is not None:
        return
    if worst.chance_now >= 0.05:  # noqa: PLR2004 - what the forecast calls its first point
        yield (
            f"{one.preset}: align it now: with {_share(worst.chance_now)} probability it shows "
            "already."
        )
        return
    first, half, last = worst.forecast
    if not isfinite(first):
        yield f"{one.preset}: as far as one can tell it never shows. {_next(one)}"
        return
    yield (
        f"{one.preset}: it shows with 5 % probability after {_ahead(first, one, now)}, with 50 % "
        f"after {_ahead(half, one, now)}, with 95 % after {_ahead(last, one, now)}."
    )
    if one.due == 0:
        yield f"{one.preset}: it is due: measure it, and align it if that does not help."
    elif one.due is not None:
        yield (
            f"{one.preset}: look at it within {_ahead(one.due, one, now)}, when "
            f"{USED_UP * 100:.0f} % of the way from its last measurement to the 5 % is used up. "
            f"{_next(one)}"
        )


def _ahead(travels: float, one: PresetWear, now: int) -> str:
    if not isfinite(travels):
        return "more travels than it will ever make"
    said = plural(round(travels), "travel")
    if one.a_day <= 0 or travels / one.a_day > 20 * 365:
        return said
    day = moment_of(now) + timedelta(days=travels / one.a_day)
    return f"{said} ({day:%Y-%m-%d} at {one.a_day:.1f} a day)"


def _repeated(one: PresetWear) -> str:
    judged = one.repeatability
    assert judged is not None  # noqa: S101 - asked before
    said = (
        f"{one.preset}: a session of {judged.travels} travels finds its place to "
        f"{judged.pose.repeatability:.1f} mm (ISO 9283 RP)"
    )
    if judged.two_sided is not None and judged.reversal is not None:
        said += (
            f"; from both sides to {judged.two_sided:.1f} mm (ISO 230-2 R), of which "
            f"{abs(judged.reversal):.1f} mm depend on where the lens comes from"
        )
    return said + "."


def ledger_sentences(room: Room, ledger: Ledger) -> Iterator[str]:
    """Say what travels have cost: by night, month, title and rule."""
    nights = per_night(ledger.travels)
    if nights:
        yield (
            f"{plural(len(ledger.travels), 'travel')} in {plural(len(nights), 'night')} with any, "
            f"at most {max(nights.values())} in one."
        )
    for month, counts in per_month(ledger.travels, ZoneInfo(room.time_zone)).items():
        each = ", ".join(f"{count} to {preset or 'no preset'}" for preset, count in counts.items())
        yield f"{month}: {each}."
    most = [f"{title} {count}" for title, count in per_title(ledger.travels).items()]
    if most:
        more = f" and {len(most) - MOST} more" if len(most) > MOST else ""
        yield f"Travels by title: {', '.join(most[:MOST])}{more}."
    for one in cost_by_rule(ledger):
        waited = f"{one.waited / 1_000:.0f} s of waiting"
        yield f"{one.rule}: {plural(one.travels, 'travel')}, {waited}."
    held: dict[str, int] = {}
    for _, hold in ledger.held:
        held[hold] = held.get(hold, 0) + 1
    for hold, times in sorted(held.items()):
        yield f"The pace ({hold}) kept back a recall {plural(times, 'time')}."
    yield from _one_zoom(room, ledger)
    for hole in ledger.holes[:HOLES]:
        yield _hole(hole, ZoneInfo(room.time_zone))
    if len(ledger.holes) > HOLES:
        yield f"And {len(ledger.holes) - HOLES} more such holes."


def _hole(hole: MissingTravels, zone: ZoneInfo) -> str:
    after = f"After {moment_of(hole.after).astimezone(zone):%Y-%m-%d %H:%M}"
    preset = hole.preset or "no preset"
    if hole.missing:
        return (
            f"{after} no line tells of {plural(hole.missing, 'travel')} to {preset}: nights are "
            "missing."
        )
    return (
        f"{after} the count of travels to {preset} begins anew: what went before is added, but "
        "what lies between is not known."
    )


def _one_zoom(room: Room, ledger: Ledger) -> Iterator[str]:
    """Say what a zoom that never moves would have saved, and cost in light."""
    ordered = [one for one in ledger.travels if one.ordered]
    if len(room.presets) < 2 or not ordered:  # noqa: PLR2004 - one preset is a fixed zoom
        return
    fixed = max(room.presets, key=lambda name: room.presets[name].raster_width)
    waited = sum(one.waited for one in ordered) / 60_000
    saved = f"{plural(len(ordered), 'travel')} and {waited:.1f} min of waiting"
    said = f"One zoom left at {fixed} would have saved {saved}"
    here = brightness(room, fixed)
    costs = []
    for name, watched in sorted(ledger.watched.items()):
        there = brightness(room, name) if name in room.presets else None
        if name != fixed and here is not None and there is not None and watched:
            less = 1 - here.luminance / there.luminance
            costs.append(
                f"{_share(less)} of the light for {watched / HOUR:.1f} h watched at {name}"
            )
    yield said + (f", and cost {', '.join(costs)}." if costs else ".")


def wear_data(room: Room, wears: Sequence[PresetWear], ledger: Ledger) -> dict[str, object]:
    """Give the whole report for machines."""
    return {
        "room": room.name,
        "presets": [_preset_data(one, ledger.ends) for one in wears],
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


def _preset_data(one: PresetWear, now: int) -> dict[str, object]:
    plain = one._asdict()
    plain["words"] = [*preset_sentences(one, now)]
    plain["aligned"] = None if one.aligned is None else _moment(one.aligned)
    plain["axes"] = [_axis_data(axis) for axis in one.axes]
    plain["edges"] = [_axis_data(edge) for edge in one.edges]
    plain["by"] = None if one.by is None else one.by._asdict()
    plain["focus"] = (
        None if one.focus is None else {"at": _moment(one.focus[0]), "gone": one.focus[1]}
    )
    plain["limit"] = one.limit._asdict()
    plain["worst"] = None if one.worst is None else one.worst.name
    judged = one.repeatability
    plain["repeatability"] = None
    if judged is not None:
        plain["repeatability"] = {**judged._asdict(), "pose": judged.pose._asdict()}
    return plain


def _axis_data(axis: OffsetEstimate) -> dict[str, object]:
    forecast = {
        name: (value if isfinite(value) else None)
        for name, value in axis.forecast._asdict().items()
    }
    return {
        "name": axis.name,
        "offset": axis.offset,
        "offset_error": axis.offset_error,
        "creep": axis.creep,
        "scatter": axis.scatter,
        "limit": axis.limit._asdict(),
        "chance_now": axis.chance_now,
        "forecast": forecast,
    }
