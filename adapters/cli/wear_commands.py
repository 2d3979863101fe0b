"""Commands for the lens's wear: write down measurements, report how far presets have crept."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo

import typer

from adapters.cli.book_files import (
    WrittenBook,
    append_measurement,
    book_at,
    read_measurements,
)
from adapters.cli.console import line_width, print_json
from adapters.cli.exit_status import OK, PROBLEMS, errors_reported, read_room_file
from adapters.cli.files import make_folder, require_kind, write_text
from adapters.cli.live_commands import JOURNAL
from adapters.cli.measurement_options import MeasurementOptions, measurement_from
from adapters.cli.moments import read_day
from adapters.cli.options import RoomArgument
from adapters.cli.wear_files import NightsRead, ledger_of_journal, ledger_of_nights
from adapters.live.messages import BOOK_SUFFIX
from adapters.render.book_text import book_lines
from adapters.render.columns import ColumnRow, TextLine, laid_out, plural
from adapters.render.ledger_text import counts_table, ledger_sentences
from adapters.render.visit_text import visit_lines
from adapters.safe_text import escaped
from engine.errors import UnusableError
from engine.events import milliseconds, moment_of
from engine.room import Room
from engine.state import DAY
from simulator.wear.counts import count_presets
from simulator.wear.ledger import Ledger
from simulator.wear.measurements import Measurement, covered, in_force, remarks

if TYPE_CHECKING:
    from simulator.wear.assessment import PresetWear

LONGEST_COUNT: Final = 6
"""More digits than this are a date, not a count of travels."""
NOT_ALL: Final = (
    "what is passed over is not counted: the lens may have travelled more than is said here"
)
MISSING: Final = (
    "counts alone: how far presets have crept is worked out with the extra `wear`, which is not "
    f"installed here: {sys.executable} -m pip install numpy scipy"
)

wear_commands = typer.Typer(rich_markup_mode=None)
Book = Annotated[
    Path | None,
    typer.Option(help=f"The book of measurements; else ROOM{BOOK_SUFFIX} in this folder."),
]
MeasuredPreset = Annotated[str | None, typer.Option(help="Which preset was measured.")]
Edges = Annotated[
    str | None,
    typer.Option(help='How far its left, top, right, bottom edge moved: "1.5 0 1.2 0.4 mm".'),
]
EdgeError = Annotated[str, typer.Option(help='How far an edge may be misread: "0.5 mm".')]
Lit = Annotated[float | None, typer.Option(help="Minutes since the lamp was lit; 60 if left out.")]
CameFrom = Annotated[
    str | None, typer.Option("--side", help="Where the lens came from: shorter or longer.")
]
Realigned = Annotated[
    bool | None,
    typer.Option("--realigned/--not-realigned", help="Measured right after it was aligned again."),
]
Focus = Annotated[
    float | None, typer.Option(help="How far the focus has gone, in any unit that you keep to.")
]
SessionFile = Annotated[
    Path | None,
    typer.Option(
        "--session", help="A file with the place after each of many travels: longer 0.4 -0.1"
    ),
]
SessionUnit = Annotated[str, typer.Option("--unit", help="The unit of the session: mm or px.")]
MeasuredAt = Annotated[
    str | None, typer.Option("--at", help="When it was measured, if not now (RFC 3339).")
]
Corrects = Annotated[
    int | None, typer.Option(help="The number of the line that this one corrects.")
]
OneJournal = Annotated[
    Path | None,
    typer.Option("--journal", help=f"The journal, in use or not; {JOURNAL} if none is named."),
]
Nights = Annotated[
    list[Path] | None,
    typer.Option(
        "--night", help="Nights instead of a journal, or a folder of them; may be repeated."
    ),
]
By = Annotated[
    str | None, typer.Option(help='Say how likely it shows by this date, or within "200 travels".')
]


@wear_commands.command()
def align(
    room: RoomArgument,
    preset: MeasuredPreset = None,
    edges: Edges = None,
    error: EdgeError = "",
    lit: Lit = None,
    side: CameFrom = None,
    realigned: Realigned = None,
    focus: Focus = None,
    session: SessionFile = None,
    unit: SessionUnit = "mm",
    at: MeasuredAt = None,
    corrects: Corrects = None,
    book: Book = None,
) -> None:
    """Write down what was measured with the test card; without --preset, print the book."""
    with errors_reported():
        loaded = read_room_file(room)
        path = book or Path(f"{loaded.name}{BOOK_SUFFIX}")
        options = MeasurementOptions(
            preset, edges, error, lit, side, realigned, focus, session, unit, at, corrects
        )
        if options == MeasurementOptions():
            kept = read_measurements(book_at(book, path))
            _print_book(kept, ZoneInfo(loaded.time_zone))
            for words in kept.notes(path):
                typer.echo(f"note: {words}", err=True)
            raise typer.Exit(PROBLEMS if kept.bad else OK)
        entry = append_measurement(loaded, path, measurement_from(options, path))
        typer.echo(f"{path}: line {entry.id} is written")
        for words in remarks(loaded, entry, milliseconds(datetime.now(UTC))):
            typer.echo(f"note: {words}", err=True)
    raise typer.Exit(OK)


@wear_commands.command()
def wear(
    room: RoomArgument,
    journal: OneJournal = None,
    night: Nights = None,
    book: Book = None,
    by: By = None,
    charts: Annotated[Path | None, typer.Option(help="Draw each preset into this folder.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="JSON for machines.")] = False,
) -> None:
    """Say how far each preset has crept, how sure that is, and when it will show."""
    with errors_reported():
        loaded = read_room_file(room)
        ledger, missing = _ledger(loaded, journal, night or [])
        notes = (*missing, NOT_ALL) if missing else ()
        path = book_at(book, Path(f"{loaded.name}{BOOK_SUFFIX}"))
        kept = read_measurements(path)
        entries, early = covered(kept.entries, ledger.begins)
        try:
            found = _assess(loaded, ledger, entries, by)
        except ImportError:
            found = None
        if found is None:
            _say_counts(loaded, ledger, as_json=as_json)
            notes = (*notes, MISSING)
        else:
            _say_wear(loaded, found, ledger, as_json=as_json)
        for words in (*notes, *kept.notes(path), *_uncovered(early, entries, ledger)):
            typer.echo(f"note: {words}", err=True)
        if charts is not None and found is not None:
            _write_charts(loaded, found, charts, replace=force)
    due = any(one.due == 0 for one in found or ())
    raise typer.Exit(PROBLEMS if due or missing or kept.bad else OK)


@wear_commands.command()
def visit(room: RoomArgument, book: Book = None) -> None:
    """Print the sheet for a visit to the lens: what to measure, in which order, what it means."""
    with errors_reported():
        loaded = read_room_file(room)
        path = book_at(book, Path(f"{loaded.name}{BOOK_SUFFIX}"))
        kept = read_measurements(path)
        for line in visit_lines(loaded, str(room), kept.entries):
            typer.echo(escaped(line))
        for words in kept.notes(path):
            typer.echo(f"note: {words}", err=True)
    raise typer.Exit(PROBLEMS if kept.bad else OK)


def _assess(
    room: Room, ledger: Ledger, entries: list[Measurement], by: str | None
) -> tuple[PresetWear, ...]:
    """Say how each preset stands; raises ImportError where the extra is missing."""
    from simulator.wear.assessment import assess  # noqa: PLC0415 - an extra

    return assess(room, ledger, entries, _ahead(by, ledger, room))


def _say_wear(room: Room, wears: tuple[PresetWear, ...], ledger: Ledger, *, as_json: bool) -> None:
    from adapters.render import wear_data, wear_text  # noqa: PLC0415 - an extra

    if as_json:
        print_json(wear_data.wear_data(room, wears, ledger))
        return
    _print_lines(wear_text.wear_lines(room, wears, ledger))


def _say_counts(room: Room, ledger: Ledger, *, as_json: bool) -> None:
    """Print the counts, which need no extra."""
    counts = count_presets(room, ledger)
    if as_json:
        print_json({"room": room.name, "presets": [one._asdict() for one in counts]})
        return
    said = map(TextLine, ["", *ledger_sentences(room, ledger)])
    _print_lines([*counts_table(counts), *said])


def _print_lines(lines: Iterable[TextLine | ColumnRow]) -> None:
    """Print a report to the width of the terminal."""
    for line in laid_out(lines, line_width()):
        typer.echo(escaped(line.text))


def _ledger(room: Room, journal: Path | None, nights: list[Path]) -> NightsRead:
    """Read the ledger out of nights or a journal; give what could not be read as well."""
    if nights and journal is not None:
        raise UnusableError("give either --journal or --night, not both")
    if nights:
        return ledger_of_nights(_nights_in(nights), room.name)
    require_kind(journal or JOURNAL, "a journal")
    return ledger_of_journal(journal or JOURNAL, room.name)


def _write_charts(room: Room, wears: Iterable[PresetWear], folder: Path, *, replace: bool) -> None:
    """Draw each preset into a file of its own."""
    from adapters.render.wear_drawing import wear_drawing  # noqa: PLC0415 - an extra

    make_folder(folder)
    for one in wears:
        path = folder / f"{room.name}-{one.preset}.svg"
        write_text(path, wear_drawing(room, one), replace=replace)
        typer.echo(f"drawn: {path}", err=True)


def _print_book(book: WrittenBook, zone: ZoneInfo) -> None:
    if not book.entries and not book.bad:
        typer.echo("Nothing has been measured yet: --preset and --edges write a line.", err=True)
    for line in book_lines(book.entries, zone):
        typer.echo(line)


def _nights_in(paths: list[Path]) -> list[Path]:
    """Replace each folder by the nights in it, in the order of their names."""
    found = []
    for path in paths:
        within = sorted(path.glob("*.jsonl*")) if path.is_dir() else [path]
        nights = [one for one in within if not one.name.endswith(".decisions.jsonl")]
        if not nights:
            raise UnusableError(f"{path}: there is no night in this folder (*.jsonl)")
        found += nights
    return found


def _uncovered(early: int, entries: list[Measurement], ledger: Ledger) -> Iterator[str]:
    """Tell of measurements that lie outside the time of which the ledger knows."""
    if not ledger.ends:
        yield "no night can be read that tells how the lens has travelled: no travels are counted"
        return
    if early:
        verb, them = ("is", "it is") if early == 1 else ("are", "they are")
        yield (
            f"{plural(early, 'measurement')} {verb} older than the first line that is known of the "
            f"lens, of {moment_of(ledger.begins):%Y-%m-%d %H:%M}: the travels since are not known, "
            f"so {them} left out"
        )
    late = [one for one in in_force(entries) if milliseconds(one.at) > ledger.ends]
    if late:
        yield (
            f"{plural(len(late), 'measurement')} {'is' if len(late) == 1 else 'are'} later than "
            "the last line that is known of the lens, of "
            f"{moment_of(ledger.ends):%Y-%m-%d %H:%M}: travels since then are not counted"
        )


def _ahead(by: str | None, ledger: Ledger, room: Room) -> Callable[[float], float] | None:
    """Read --by as a function: from travels a day to the travels until then; None without --by."""
    if by is None:
        return None
    count, _, unit = by.strip().partition(" ")
    if count.isdecimal() and len(count) <= LONGEST_COUNT and unit in ("", "travel", "travels"):
        return lambda _: float(count)
    at = read_day(by, room.time_zone)
    if at is None:
        raise UnusableError(
            f"--by {by} is neither a count nor a date: write it like '200 travels' or 2026-05-01"
        )
    days = (at - ledger.ends) / DAY
    if days < 0:
        raise UnusableError(
            f"--by {by} lies before the last line that is known of the lens, of "
            f"{moment_of(ledger.ends):%Y-%m-%d}: name a later day"
        )
    return lambda a_day: a_day * days
