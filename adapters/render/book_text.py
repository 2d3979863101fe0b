"""A book of measurements as text: a line for each measurement."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from simulator.wear.measurements import Measured, Measurement, in_force


def book_lines(entries: Sequence[Measurement], zone: ZoneInfo) -> Iterator[str]:
    """List the measurements in the order in which they were written, with local times."""
    valid = {one.id for one in in_force(list(entries))}
    for one in entries:
        mark = "" if one.id in valid else " (corrected since)"
        when = f"{one.at.astimezone(zone):%Y-%m-%d %H:%M}"
        yield f"{one.id:4}  {when}  {one.preset}: {_measurement(one)}{mark}"


def _measurement(one: Measurement) -> str:
    if not isinstance(one, Measured):
        return f"a session of {len(one.shorter) + len(one.longer)} travels"
    parts = [f"{one.left:g} {one.top:g} {one.right:g} {one.bottom:g} {one.unit} +-{one.error:g}"]
    parts.append(f"lit for {one.lit:g} min")
    if one.aligned:
        parts.append("after a realignment")
    if one.side:
        parts.append(f"from a {one.side} focal length")
    if one.focus is not None:
        parts.append(f"focus {one.focus:+g}")
    return ", ".join(parts)
