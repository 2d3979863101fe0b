"""The command that lists what rooms remember of titles, out of a journal."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from adapters.cli.console import print_json
from adapters.cli.exit_status import OK, errors_reported
from adapters.cli.files import require_kind
from adapters.cli.live_commands import JOURNAL
from adapters.cli.options import AsJson
from adapters.live.journal_reader import JournalReader
from adapters.live.later_lines import state_of
from adapters.live.standing import remembered_data
from adapters.render.remembered_text import remembered_lines
from engine.errors import UnusableError

memory_commands = typer.Typer(rich_markup_mode=None)


@memory_commands.command()
def remembered(
    journal: Annotated[Path, typer.Option(help="The journal, in use or not.")] = JOURNAL,
    room: Annotated[str | None, typer.Option(help="Of this room alone.")] = None,
    as_json: AsJson = False,
) -> None:
    """List what is remembered of titles and series, and how to forget it."""
    with errors_reported():
        require_kind(journal, "a journal")
        with closing(JournalReader(journal)) as past:
            rooms = past.rooms()
            if room is not None and room not in rooms:
                there = ", ".join(rooms) or "none"
                raise UnusableError(f"{journal}: --room names one of its rooms: {there}")
            chosen = rooms if room is None else [room]
            titles = {name: state_of(past.state(name)).core.titles for name in chosen}
        if as_json:
            print_json({name: remembered_data(kept) for name, kept in titles.items()})
        else:
            for name, kept in titles.items():
                typer.echo("\n".join(remembered_lines(name, kept)))
    raise typer.Exit(OK)
