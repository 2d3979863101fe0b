"""Say what the lens's travels have cost: by night, month, title and rule; counts alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from adapters.render.columns import ColumnRow, plural, table
from engine.events import moment_of
from engine.planning.light import brightness
from engine.room import Room
from simulator.wear.counts import BY_HAND, PresetCounts, cost_by_rule
from simulator.wear.ledger import Ledger, MissingTravels, per_month, per_night, per_title

HOUR = 3_600_000
LEAST_SAID = 0.01
HOLES = 5
"""How many gaps are told one by one."""
MOST = 5
"""How many titles are named."""
COUNTED = ("travels", "ordered", "by hand", "a day")


def counts_table(counts: Sequence[PresetCounts]) -> Iterator[ColumnRow]:
    """Make the table of travels, with a row for each preset."""
    return table([["", *COUNTED], *([one.preset, *counted(one)] for one in counts)])


def counted(one: PresetCounts) -> Iterator[str]:
    """Write the counts of a preset, a cell for each of `COUNTED`."""
    yield from (f"{one.travels}", f"{one.ordered}", f"{one.by_hand}", f"{one.a_day:.1f}")


def share(part: float) -> str:
    """Write a probability."""
    return f"{part * 100:.0f} %" if part >= LEAST_SAID else "less than 1 %"


def ledger_sentences(room: Room, ledger: Ledger) -> Iterator[str]:
    """Say what travels have cost: by night, month, title and rule."""
    nights = per_night(ledger.travels)
    if nights:
        yield (
            f"{plural(len(ledger.travels), 'travel')}, in {plural(len(nights), 'night')}; at most "
            f"{max(nights.values())} in one night."
        )
    for month, counts in per_month(ledger.travels, ZoneInfo(room.time_zone)).items():
        each = ", ".join(f"{count} to {preset or 'no preset'}" for preset, count in counts.items())
        yield f"{month}: {each}."
    most = [f"{count} in {title}" for title, count in per_title(ledger.travels).items()]
    if most:
        more = f" and {len(most) - MOST} more" if len(most) > MOST else ""
        yield f"Travels by title: {', '.join(most[:MOST])}{more}."
    for one in cost_by_rule(ledger):
        waited = f"{one.waited / 1_000:.0f} s of waiting"
        who = "Moved by hand" if one.rule == BY_HAND else f"Ordered by {one.rule}"
        yield f"{who}: {plural(one.travels, 'travel')}, {waited}."
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
            costs.append(f"{share(less)} of the light for {watched / HOUR:.1f} h watched at {name}")
    yield said + (f", and cost {', '.join(costs)}." if costs else ".")
