"""A book of measurements as text: a line for each measurement."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from engine.planning.alignment import SIDES
from simulator.wear.measurements import Measured, Measurement, in_force


def book_lines(entries: Sequence[Measurement], zone: ZoneInfo) -> Iterator[str]:
    """List the measurements in the order in which they were written, with local times."""
    valid = {one.id for one in in_force(list(entries))}
    for one in entries:
        mark = "" if one.id in valid else " (corrected since)"
        when = f"{one.at.astimezone(zone):%Y-%m-%d %H:%M}"
        yield f"{one.id:4}  {when}  {one.preset}: {_measurement(one)}{mark}"


def book_rows(entries: Sequence[Measurement], zone: ZoneInfo) -> list[tuple[str, str, str]]:
    """Give what is in force as rows, the latest first: when, preset, what was measured."""
    latest = sorted(in_force(list(entries)), key=lambda one: (one.at, one.id), reverse=True)
    return [
        (f"{one.at.astimezone(zone):%Y-%m-%d %H:%M}", one.preset, _by_edge(one)) for one in latest
    ]


def _by_edge(one: Measurement) -> str:
    """Say a measurement with each edge by its name, for whoever reads it on paper."""
    if not isinstance(one, Measured):
        return _measurement(one)
    return _offsets(one) + (", after a realignment" if one.aligned else "")


def _offsets(one: Measured) -> str:
    edges = ", ".join(f"{side} {getattr(one, side):+g}" for side in SIDES)
    return f"{edges} {one.unit}, each read to {one.error:g} {one.unit}"


def _measurement(one: Measurement) -> str:
    if not isinstance(one, Measured):
        return f"a session of {len(one.shorter) + len(one.longer)} travels"
    parts = [_offsets(one), f"lit for {one.lit:g} min"]
    if one.aligned:
        parts.append("after a realignment")
    if one.side:
        parts.append(f"from a {one.side} focal length")
    if one.focus is not None:
        parts.append(f"focus {one.focus:+g}")
    return ", ".join(parts)
