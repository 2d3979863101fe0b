"""Commands for room files: begin one, plan what it shows, draw its test card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from adapters.cli import plan_files
from adapters.cli.console import line_width, print_json
from adapters.cli.exit_status import errors_reported, read_room_file
from adapters.cli.files import write_text
from adapters.cli.options import AsJson, RoomArgument
from adapters.render.plan_json import plan_data
from adapters.render.plan_text import plan_lines
from engine.planning import plan as planning
from engine.transition_table import diagram
from rules.room.schema_json import schema_text
from rules.starter.request import DEFAULT_ZONE, Wishes
from rules.starter.room_text import starter

room_commands = typer.Typer(rich_markup_mode=None)


@room_commands.command()
def new(
    name: Annotated[str, typer.Argument(help="What the room is called: parlour.")],
    screen: Annotated[str, typer.Option(help='Its width and ratio: "3.4 m x 2.40".')],
    raster: Annotated[str, typer.Option(help='The projector\'s pixels: "4096 x 2160".')],
    sources: Annotated[str, typer.Option(help='What sends pictures: "disc, console".')],
    presets: Annotated[
        str, typer.Option(help='The ratios that the zoom\'s presets fit: "2.40, 1.78".')
    ] = "",
    panels: Annotated[
        str, typer.Option(help='What panels leave free, as ratios or widths: "1.78", "2.52 m".')
    ] = "",
    time_zone: Annotated[str, typer.Option(help="Its time zone: Europe/Lisbon.")] = DEFAULT_ZONE,
    out: Annotated[Path | None, typer.Option(help="Write it here, not to the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Write a commented room file to start from, in which `check` finds no fault."""
    with errors_reported():
        text = starter(Wishes(name, screen, raster, sources, presets, panels, time_zone))
        if out is None:
            typer.echo(text, nl=False)
        else:
            write_text(out, text, replace=force)
            typer.echo(f"{out}: a room to start from; next: roomcue check {out}")


@room_commands.command()
def plan(
    room: RoomArgument,
    ratio: Annotated[
        list[str] | None, typer.Option(help="Plan this ratio alone; may be given more than once.")
    ] = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Draw sheets to scale into this folder, as SVG.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say what each way to show each ratio does: place, size, light, pixels, stretch."""
    with errors_reported():
        ratios = plan_files.read_ratios(ratio or ())
        planned = planning.plan(read_room_file(room), ratios)
        drawn = plan_files.write_drawings(planned, pictures, replace=force) if pictures else ()
        if as_json:
            print_json({**plan_data(planned), "drawings": [str(path) for path in drawn]})
        else:
            for line in plan_lines(planned, line_width()):
                typer.echo(typer.style(line.text, bold=True) if line.heading else line.text)
            for path in drawn:
                typer.echo(f"drawn: {path}")


@room_commands.command("testcard")
def draw_testcard(
    room: RoomArgument,
    out: Annotated[Path, typer.Option(help="The PNG file to write.")],
    preset: Annotated[
        str | None,
        typer.Option(help="The preset to draw for; else the one with the largest raster."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Draw a test card of the raster's size, from which the screen's corners are read."""
    with errors_reported():
        for line in plan_files.write_card(read_room_file(room), preset, out, replace=force):
            typer.echo(line)


@room_commands.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of room files, for editors."""
    with errors_reported():
        typer.echo(schema_text(), nl=False)


@room_commands.command()
def states() -> None:
    """Draw the transition table of lens, panels and override as a Mermaid diagram."""
    typer.echo(diagram(), nl=False)
