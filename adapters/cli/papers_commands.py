"""The command that writes a room's papers."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Final
from zoneinfo import ZoneInfo

import typer

from adapters.cli.book_files import book_at, read_measurements
from adapters.cli.exit_status import errors_reported, read_room_file
from adapters.cli.files import make_folder, write_file, write_text
from adapters.cli.options import RoomArgument
from adapters.cli.plan_files import read_ratios
from adapters.cli.remembered_checks import recall
from adapters.cli.version import roomcue_version
from adapters.live.messages import BOOK_SUFFIX
from adapters.papers.as_built_paper import Built, KeptBook
from adapters.papers.papers import card_name, write_papers
from adapters.render.book_text import book_rows
from adapters.render.testcard import card_png
from engine.planning.plan import plan
from engine.room import Room

PRINTED: Final = 20
"""How many measurements of a book are printed: the latest."""

papers_commands = typer.Typer(rich_markup_mode=None)


@papers_commands.command()
def papers(
    room: RoomArgument,
    out: Annotated[Path, typer.Option(help="The folder to write the papers into.")],
    ratio: Annotated[
        list[str] | None, typer.Option(help="Offer this film alone; may be given more than once.")
    ] = None,
    book: Annotated[
        Path | None,
        typer.Option(
            help=f"The book of measurements; else ROOM{BOOK_SUFFIX} beside the room file, or here."
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
) -> None:
    """Write the papers of a room: for the client, the site, what was built, and the offer."""
    with errors_reported():
        planned = plan(read_room_file(room), read_ratios(ratio or ()))
        known = recall(planned.room.text)
        built = Built(known.proof if known else None, _kept_book(planned.room, room, book))
        day = datetime.now(UTC).date().isoformat()
        written = write_papers(planned, built, roomcue_version(), day)
        make_folder(out)
        for name, text in written.items():
            write_text(out / name, text, replace=force)
        for preset in planned.room.presets:
            card = card_png(planned.room, preset)
            write_file(out / card_name(preset), card, replace=force)
        for name in (*written, *map(card_name, planned.room.presets)):
            typer.echo(f"{out / name}")
        if built.book is not None:
            typer.echo(f"measurements: {built.book.name}")


def _kept_book(room: Room, file: Path, named: Path | None) -> KeptBook | None:
    """Read the book that is named, or lies beside the room file or here; None: there is none.

    Raises `UnusableError` for one that is named and not there.
    """
    here = Path(f"{room.name}{BOOK_SUFFIX}")
    beside = file.parent / here
    path = book_at(named, beside if beside.exists() else here)
    if not path.exists():
        return None
    kept = read_measurements(path)
    for words in kept.notes(path):
        typer.echo(f"note: {words}", err=True)
    rows = book_rows(kept.entries, ZoneInfo(room.time_zone))
    return KeptBook(path.name, tuple(rows[:PRINTED]))
