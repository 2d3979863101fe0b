"""The command that writes a room's papers."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from adapters.cli.exit_status import errors_reported, read_room_file
from adapters.cli.files import make_folder, write_file
from adapters.cli.options import RoomArgument
from adapters.cli.plan_files import read_ratios
from adapters.cli.remembered_checks import recall
from adapters.cli.version import roomcue_version
from adapters.papers.papers import card_name, write_papers
from adapters.render.testcard import card_png
from engine.planning.plan import plan

papers_commands = typer.Typer(rich_markup_mode=None)


@papers_commands.command()
def papers(
    room: RoomArgument,
    out: Annotated[Path, typer.Option(help="The folder to write the papers into.")],
    ratio: Annotated[
        list[str] | None, typer.Option(help="Offer this film alone; may be given more than once.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
) -> None:
    """Write the papers of a room: for the client, the site, what was built, and the offer."""
    with errors_reported():
        planned = plan(read_room_file(room), read_ratios(ratio or ()))
        known = recall(planned.room.text)
        day = datetime.now(UTC).date().isoformat()
        written = write_papers(planned, known.proof if known else None, roomcue_version(), day)
        make_folder(out)
        for name, text in written.items():
            write_file(out / name, text.encode(), replace=force)
        for preset in planned.room.presets:
            card = card_png(planned.room, preset)
            write_file(out / card_name(preset), card, replace=force)
        for name in (*written, *map(card_name, planned.room.presets)):
            typer.echo(f"{out / name}")
