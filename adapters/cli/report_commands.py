"""The command `report`: a night as one page that opens offline and prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from adapters.cli.exit_status import OK, PROBLEMS, errors_reported
from adapters.cli.files import write_text
from adapters.cli.version import roomcue_version
from adapters.safe_text import escaped
from engine.errors import UnusableError

report_commands = typer.Typer(rich_markup_mode=None)


@report_commands.command()
def report(
    night: Annotated[Path, typer.Argument(help="A night: JSON Lines, plain or gzip.")],
    out: Annotated[Path, typer.Option(help="Write the page here: one HTML file.")],
    room: Annotated[
        Path | None, typer.Option("--room", help="Say what this room file would have done.")
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="Say what differed from this other night.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
    skip_bad_lines: Annotated[
        bool, typer.Option("--skip-bad-lines", help="Go on past lines that cannot be read.")
    ] = False,
) -> None:
    """Write a night's report: what went wrong and why, the night over time, its sums."""
    from adapters.cli.night_records import report_input  # noqa: PLC0415 - not for --help
    from adapters.render.night_report import night_report  # noqa: PLC0415 - the same
    from adapters.render.trouble_text import first_remedy, headline_of  # noqa: PLC0415 - the same

    with errors_reported():
        if room is not None and against is not None:
            raise UnusableError("--room or --against: one thing can stand beside the night")
        told = report_input(night, room, against, roomcue_version(), skip=skip_bad_lines)
        write_text(out, night_report(told), replace=force)
        typer.echo(escaped(headline_of(told.record, told.troubles)))
        if remedy := first_remedy(told.troubles):
            typer.echo(escaped(f"To do: {remedy}"))
        typer.echo(f"written: {out}")
    raise typer.Exit(PROBLEMS if told.record.bad_lines else OK)
