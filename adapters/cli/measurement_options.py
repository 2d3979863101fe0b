"""Measurements as the options of `align` give them, and the books that hold them."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, NamedTuple

from pydantic import ValidationError

from adapters.cli.book_files import MOST_SAID, read_measurements
from adapters.cli.files import lines_of, open_input
from adapters.cli.moments import read_absolute
from engine.errors import UnusableError
from engine.malformed import describe_mistakes
from simulator.wear.measurements import ENTRIES, Measured, Measurement

NUMBERS: Final = 4


class MeasurementOptions(NamedTuple):
    """What was typed; None and empty texts are options that were not given."""

    preset: str | None = None
    edges: str | None = None
    error: str = ""
    lit: float | None = None
    side: str | None = None
    realigned: bool | None = None
    focus: float | None = None
    session: Path | None = None
    unit: str = "mm"
    at: str | None = None
    corrects: int | None = None


def measurement_from(options: MeasurementOptions, book: Path) -> Measurement:
    """Make a line of a book out of options; raises `UnusableError` for what cannot be read.

    A correction takes what no option gives from the line that it corrects. The line has number 1:
    the book gives it the next one.
    """
    _require_fitting(options)
    edges, session, unit = options.edges, options.session, options.unit
    old = _corrected(book, options.corrects, edges=edges is not None, session=session is not None)
    if edges is None and session is None and "kind" not in old:
        raise UnusableError("say what was measured: give --edges or --session")
    data: dict[str, object] = {
        "at": datetime.now(UTC).isoformat(),
        "lit": 60.0,
        **old,
        "id": 1,
        "preset": options.preset,
        "corrects": options.corrects,
    }
    data |= _given({"at": options.at, "lit": options.lit})
    if edges is not None:
        data |= {"kind": "measured", **_edges(edges, options.error, old)}
    elif session is not None:
        data |= {"kind": "repeated", **_places(session), "unit": unit}
        data["error"] = _quantity(options.error or f"0.5 {unit}", unit)
    elif options.error:
        data["error"] = _quantity(options.error, str(old["unit"]))
    if data["kind"] == "measured":
        data |= _given({"side": options.side, "aligned": options.realigned, "focus": options.focus})
    try:
        return ENTRIES.validate_json(json.dumps(data))
    except ValidationError as error:
        wrong = describe_mistakes(error, inside=1)
        raise UnusableError(f"this cannot be written down: {wrong}") from error


def _require_fitting(options: MeasurementOptions) -> None:
    """Raise `UnusableError` for options that do not go together."""
    if options.preset is None:
        raise UnusableError("name with --preset the preset that was measured")
    if options.session is None and options.unit != "mm":
        raise UnusableError("--unit goes with --session; --edges and --error name their own")
    if options.at is not None and read_absolute(options.at) is None:
        raise UnusableError(f"--at {options.at} is no moment: write 2026-05-01T20:00:00+01:00")
    if options.edges is not None and options.session is not None:
        raise UnusableError("--edges is one measurement and --session many: give one of the two")


def _given(options: dict[str, object]) -> dict[str, object]:
    """Leave out the options that were not given."""
    return {name: value for name, value in options.items() if value is not None}


def _corrected(
    path: Path, corrects: int | None, *, edges: bool, session: bool
) -> dict[str, object]:
    """Give what a correction takes over from the line that it corrects.

    All of it if neither edges nor a session are given: then only an option was wrong.
    """
    for one in read_measurements(path).entries if corrects is not None else ():
        if one.id != corrects:
            continue
        kept: dict[str, object] = ENTRIES.dump_python(one, mode="json")
        if not edges and not session:
            return kept
        alike = isinstance(one, Measured) is edges
        gone = {"kind", "left", "top", "right", "bottom", "shorter", "longer"}
        if not alike:
            gone |= {"unit", "error", "side", "aligned", "focus"}
        return {name: value for name, value in kept.items() if name not in gone}
    if corrects is not None and not edges and not session:
        raise UnusableError(f"there is no line {corrects} to correct")
    return {}


def _edges(text: str, error: str, old: dict[str, object]) -> dict[str, object]:
    """Read four offsets and their unit; `error` is how far an edge may be misread.

    A correction keeps the error of the line that it corrects, if that is in the same unit.
    """
    *numbers, unit = text.split() or [""]
    if len(numbers) != NUMBERS or unit not in ("mm", "px"):
        raise UnusableError(
            f'--edges "{text}" is not four offsets and a unit. Write left, top, right, bottom and '
            'mm or px, such as "1.5 0 1.2 0.4 mm"; right and down are positive. Read all four: do '
            "not write 0 for an edge that nobody read"
        )
    try:
        left, top, right, bottom = map(float, numbers)
    except ValueError:
        comma = ": write a decimal point" if "," in text else ""
        raise UnusableError(f'--edges "{text}": these are not four numbers{comma}') from None
    usual = old["error"] if old.get("unit") == unit else 0.5
    misread = _quantity(error or f"{usual} {unit}", unit)
    return {
        "left": left,
        "top": top,
        "right": right,
        "bottom": bottom,
        "unit": unit,
        "error": misread,
    }


def _quantity(text: str, unit: str) -> float:
    """Read a number that is in `unit`, or names no unit."""
    number, _, given = text.strip().partition(" ")
    if given not in ("", unit):
        raise UnusableError(f"--error {text} is in {given}, the offsets in {unit}: use one unit")
    try:
        return float(number)
    except ValueError:
        raise UnusableError(f"--error {text} is no length: write one such as 0.5 {unit}") from None


def _places(path: Path) -> dict[str, object]:
    """Read the places of a session: each line gives a side and two numbers."""
    sides: dict[str, list[tuple[float, float]]] = {"shorter": [], "longer": []}
    wrong = []
    with open_input(path) as file:
        for number, line in enumerate(lines_of(file, path), 1):
            if not line.strip():
                continue
            try:
                side, right, down = line.decode().split()
                sides[side].append((float(right), float(down)))
            except (KeyError, ValueError):
                wrong.append(f"{number}")
    if wrong:
        more = f" and {len(wrong) - MOST_SAID} more" if len(wrong) > MOST_SAID else ""
        which = f"{'lines' if len(wrong) > 1 else 'line'} {', '.join(wrong[:MOST_SAID])}{more}"
        raise UnusableError(
            f"{path}, {which}: write a side and two numbers, such as: longer 0.4 -0.1"
        )
    return dict(sides)
