"""The commands around the lens's wear: write down what was measured, say what it comes to."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Final
from zoneinfo import ZoneInfo

import typer
from pydantic import ValidationError

from adapters.cli.exit_status import OK, PROBLEMS, errors_reported, read_room_file
from adapters.cli.files import make_folder, text_of, write_file
from adapters.cli.live_commands import JOURNAL
from adapters.cli.moments import read_day
from adapters.cli.options import RoomArgument
from adapters.cli.wear_files import append_measurement, book_of, ledger_of_journal, ledger_of_nights
from adapters.live.messages import BOOK
from adapters.safe_text import escaped
from engine.errors import UnusableError
from engine.events import milliseconds, moment_of
from engine.malformed import sentence
from engine.room import Room
from engine.state import DAY
from simulator.wear.ledger import Ledger
from simulator.wear.measurements import ENTRIES, BookError, Measured, Measurement, in_force, remarks

NUMBERS: Final = 4
LONGEST_COUNT: Final = 6
"""A number of more digits than that is a date."""
MISSING: Final = "forecasts need numpy and scipy, the extra `wear`: pip install numpy scipy"

wear_commands = typer.Typer(rich_markup_mode=None)
Book = Annotated[
    Path | None, typer.Option(help=f"The book of measurements; ROOM{BOOK} if none is named.")
]


@wear_commands.command()
def align(
    room: RoomArgument,
    preset: Annotated[str | None, typer.Option(help="Which preset was measured.")] = None,
    edges: Annotated[
        str | None,
        typer.Option(help='How far its left, top, right, bottom edge moved: "1.5 0 1.2 0.4 mm".'),
    ] = None,
    error: Annotated[str, typer.Option(help="How far an edge may be misread.")] = "",
    lit: Annotated[
        float | None, typer.Option(help="Minutes since the lamp was lit; 60 if none are named.")
    ] = None,
    side: Annotated[
        str | None, typer.Option(help="Where the lens came from: shorter or longer.")
    ] = None,
    realigned: Annotated[
        bool | None,
        typer.Option("--realigned/--not-realigned", help="Read right after it was aligned anew."),
    ] = None,
    focus: Annotated[float | None, typer.Option(help="How far the focus has gone.")] = None,
    session: Annotated[
        Path | None,
        typer.Option(help="Places after each of many travels, a line each: longer 0.4 -0.1"),
    ] = None,
    unit: Annotated[str, typer.Option(help="The session's: mm or px.")] = "mm",
    at: Annotated[str | None, typer.Option(help="When, if not now (RFC 3339).")] = None,
    corrects: Annotated[
        int | None, typer.Option(help="The number of the line that this one corrects.")
    ] = None,
    book: Book = None,
) -> None:
    """Write down what was measured with the test card; without --preset, print the book."""
    with errors_reported():
        loaded = read_room_file(room)
        path = book or Path(f"{loaded.name}{BOOK}")
        if preset is None:
            if edges is not None or session is not None:
                raise UnusableError("say with --preset what was measured")
            _print_book(_entries(path), ZoneInfo(loaded.zone))
            raise typer.Exit(OK)
        data: dict[str, object] = {
            "at": datetime.now(UTC).isoformat(),
            "lit": 60.0,
            **_corrected(path, corrects, measured=edges is not None),
            "id": 1,  # the book gives it the next one
            "preset": preset,
            "corrects": corrects,
        }
        data |= {name: one for name, one in (("at", at), ("lit", lit)) if one is not None}
        if (edges is None) is (session is None):
            raise UnusableError("say either --edges or --session")
        if edges is not None:
            said = {"side": side, "aligned": realigned, "focus": focus}
            data |= {"kind": "measured", **_edges(edges, error)}
            data |= {name: one for name, one in said.items() if one is not None}
        else:
            data |= {"kind": "repeated", **_places(session or Path()), "unit": unit}
            data["error"] = _quantity(error or f"0.5 {unit}", unit)
        entry = append_measurement(loaded, path, _entry(data))
        typer.echo(f"{path}: line {entry.id} is written")
        for words in remarks(loaded, entry, milliseconds(datetime.now(UTC))):
            typer.echo(f"note: {words}", err=True)
    raise typer.Exit(OK)


@wear_commands.command()
def wear(
    room: RoomArgument,
    journal: Annotated[
        Path | None, typer.Option(help=f"The journal, in use or not; {JOURNAL} if none is named.")
    ] = None,
    night: Annotated[
        list[Path] | None,
        typer.Option(help="Nights in its place, or a folder of them; may be given more than once."),
    ] = None,
    book: Book = None,
    by: Annotated[
        str | None,
        typer.Option(help="How likely is it to show by then? A date, or '200 travels'."),
    ] = None,
    charts: Annotated[Path | None, typer.Option(help="Draw each preset into this folder.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="JSON for machines.")] = False,
) -> None:
    """Say how far each preset has crept, how sure that is, and when it will show."""
    with errors_reported():
        try:
            from adapters.render import wear_drawing, wear_text  # noqa: PLC0415 - an extra
            from simulator.wear.assessment import assess  # noqa: PLC0415 - the same
        except ImportError as error:
            raise UnusableError(MISSING) from error
        loaded = read_room_file(room)
        if night and journal is not None:
            raise UnusableError("say --journal or --night, not both")
        if night:
            ledger, said = ledger_of_nights(_nights_in(night), loaded.name)
        else:
            ledger, said = ledger_of_journal(journal or JOURNAL, loaded.name)
        if book is not None and not book.exists():
            raise UnusableError(f"{book}: there is no such book of measurements")
        entries = _entries(book or Path(f"{loaded.name}{BOOK}"))
        said = (*said, *_uncovered(entries, ledger))
        wears = assess(loaded, ledger, entries, _ahead(by, ledger, loaded))
        if as_json:
            typer.echo(json.dumps(wear_text.wear_data(loaded, wears, ledger), ensure_ascii=False))
        else:
            for line in wear_text.wear_lines(loaded, wears, ledger):
                typer.echo(escaped(line))
        for words in said:
            typer.echo(f"note: {words}", err=True)
        if charts is not None:
            make_folder(charts)
            for one in wears:
                path = charts / f"{loaded.name}-{one.preset}.svg"
                write_file(
                    path, wear_drawing.wear_drawing(loaded.name, one).encode(), replace=force
                )
                typer.echo(f"drawn: {path}", err=True)
    raise typer.Exit(PROBLEMS if any(one.due == 0 for one in wears) else OK)


def _nights_in(paths: list[Path]) -> list[Path]:
    """Put the nights in a folder in its place."""
    found = []
    for path in paths:
        within = sorted(path.glob("*.jsonl*")) if path.is_dir() else [path]
        found += [one for one in within if not one.name.endswith(".decisions.jsonl")]
    return found


def _uncovered(entries: list[Measurement], ledger: Ledger) -> Iterator[str]:
    """Say where measurements are older than what is known of the lens."""
    old = [one for one in in_force(entries) if milliseconds(one.at) < ledger.begins]
    if old:
        yield (
            f"{len(old)} measurements are older than the first line that is known of the lens, of "
            f"{moment_of(ledger.begins):%Y-%m-%d %H:%M}: the travels between them are not known, "
            "and no forecast that leans on them is worth anything"
        )


def _ahead(by: str | None, ledger: Ledger, room: Room) -> Callable[[float], float] | None:
    """Read within how many travels it is asked whether a preset shows, given those of a day."""
    if by is None:
        return None
    count, _, unit = by.strip().partition(" ")
    if count.isdecimal() and len(count) <= LONGEST_COUNT and unit in ("", "travel", "travels"):
        return lambda _: float(count)
    at = read_day(by, room.zone)
    if at is None:
        raise UnusableError(
            f"--by {by} is neither a count nor a date: write '200 travels' or a day"
        )
    days = (at - ledger.ends) / DAY
    if days < 0:
        raise UnusableError(f"--by {by} lies before the last line that is known of the lens")
    return lambda a_day: a_day * days


def _entries(path: Path) -> list[Measurement]:
    try:
        return book_of(path)
    except BookError as error:
        raise UnusableError(str(error)) from error


def _entry(data: dict[str, object]) -> Measurement:
    try:
        return ENTRIES.validate_json(json.dumps(data))
    except ValidationError as error:
        raise UnusableError(f"this cannot be written down: {sentence(error)}") from error


def _corrected(path: Path, corrects: int | None, *, measured: bool) -> dict[str, object]:
    """Give what a correction has from the line that it corrects, unless it says otherwise."""
    for one in _entries(path) if corrects is not None else ():
        if one.id == corrects:
            kept: dict[str, object] = {"at": one.at.isoformat(), "lit": one.lit}
            if measured and isinstance(one, Measured):
                kept |= {"side": one.side, "aligned": one.aligned, "focus": one.focus}
            return kept
    return {}


def _edges(text: str, error: str) -> dict[str, object]:
    """Read four numbers and their unit."""
    *numbers, unit = text.split() or [""]
    if len(numbers) != NUMBERS or unit not in ("mm", "px"):
        raise UnusableError(
            f'--edges "{text}" is not four offsets and a unit: left, top, right, bottom, such as '
            '"1.5 0 1.2 0.4 mm" (right and down are positive)'
        )
    try:
        left, top, right, bottom = map(float, numbers)
    except ValueError:
        raise UnusableError(f'--edges "{text}": these are not four numbers') from None
    misread = _quantity(error or f"0.5 {unit}", unit)
    return {
        "left": left,
        "top": top,
        "right": right,
        "bottom": bottom,
        "unit": unit,
        "error": misread,
    }


def _quantity(text: str, unit: str) -> float:
    """Read a number in the same unit as the rest."""
    number, _, given = text.strip().partition(" ")
    if given not in ("", unit):
        raise UnusableError(f"--error {text} is in {given}, the rest in {unit}: use one unit")
    try:
        return float(number)
    except ValueError:
        raise UnusableError(f"--error {text} is no number") from None


def _places(path: Path) -> dict[str, object]:
    """Read a session: a side and two numbers a line."""
    sides: dict[str, list[tuple[float, float]]] = {"shorter": [], "longer": []}
    wrong = []
    for number, line in enumerate(text_of(path).splitlines(), 1):
        if not line.strip():
            continue
        try:
            side, right, down = line.split()
            sides[side].append((float(right), float(down)))
        except (KeyError, ValueError):
            wrong.append(f"{number}")
    if wrong:
        raise UnusableError(
            f"{path}, line {', '.join(wrong)}: write a side and two numbers, such as: "
            "longer 0.4 -0.1"
        )
    return dict(sides)


def _print_book(entries: list[Measurement], zone: ZoneInfo) -> None:
    if not entries:
        typer.echo("Nothing has been measured yet: --preset and --edges write a line.", err=True)
    valid = {one.id for one in in_force(entries)}
    for one in entries:
        mark = "" if one.id in valid else " (corrected since)"
        if isinstance(one, Measured):
            what = f"{one.left:g} {one.top:g} {one.right:g} {one.bottom:g} {one.unit}"
            what += f" +-{one.error:g}, lit for {one.lit:g} min"
            what += ", after a realignment" if one.aligned else ""
            what += f", from a {one.side} focal length" if one.side else ""
            what += f", focus {one.focus:+g}" if one.focus is not None else ""
        else:
            what = f"a session of {len(one.shorter) + len(one.longer)} travels"
        typer.echo(
            f"{one.id:4}  {one.at.astimezone(zone):%Y-%m-%d %H:%M}  {one.preset}: {what}{mark}"
        )
