"""Commands for room files: begin one, prove it, plan what it shows, draw its test card."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from adapters.cli import plan_files as on_paper
from adapters.cli.console import print_json
from adapters.cli.exit_status import (
    OK,
    PROBLEMS,
    UNUSABLE,
    errors_reported,
    print_findings,
    read_room_file,
)
from adapters.cli.files import text_of, write_file
from adapters.cli.options import AsJson, RoomArgument
from adapters.cli.proof_files import prove_with_progress, write_counterexamples
from adapters.cli.version import roomcue_version
from adapters.render.columns import plural
from adapters.render.plan_json import plan_data
from adapters.render.plan_text import plan_lines
from adapters.render.proof_text import (
    counterexample_text,
    proof_data,
    proof_findings,
    proof_lines,
)
from adapters.safe_text import escaped
from engine.errors import UnusableError
from engine.planning import plan as planning
from engine.room import BUILT_IN_PROMISES, Room
from engine.transition_table import diagram
from rules.room.load import defaults_shown, read_room
from rules.room.schema_json import schema_text
from rules.starter.request import DEFAULT_ZONE, Wishes
from rules.starter.room_text import starter
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, in_order
from simulator.proof.proof import Proof

room_commands = typer.Typer(rich_markup_mode=None)


ShowDefaults = Annotated[
    bool, typer.Option("--show-defaults", help="Print the file with every default written out.")
]
Quick = Annotated[
    bool, typer.Option("--quick", help="Check the file and its table; explore no states.")
]
NightsFolder = Annotated[
    Path | None,
    typer.Option("--nights", help="Write the evening that breaks a promise into this folder."),
]


@room_commands.command()
def check(
    room: RoomArgument,
    show_defaults: ShowDefaults = False,
    as_json: AsJson = False,
    quick: Quick = False,
    nights: NightsFolder = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
) -> None:
    """Prove a room file: no gap, no contradiction, no state in which a promise breaks."""
    with errors_reported():
        _refuse_clashes(nights, show_defaults=show_defaults, as_json=as_json, quick=quick)
        text = text_of(room)
        loaded = read_room(text, str(room))
        found = in_order((*loaded.findings, *table_findings(loaded)))
        proof = None
        if loaded.room is not None and not quick and not show_defaults:
            proof = prove_with_progress(loaded.room)
            found = in_order((*found, *proof_findings(proof, str(room), text)))
        drawn: tuple[Path, ...] = ()
        if proof is not None and loaded.room is not None and nights is not None:
            version = roomcue_version()
            drawn = tuple(write_counterexamples(loaded.room, proof, nights, version, replace=force))
        if as_json:
            print_json(_check_data(room, found, proof, drawn))
        else:
            print_findings(found)
        if loaded.room is None:
            raise typer.Exit(UNUSABLE)
        if show_defaults:
            typer.echo(defaults_shown(loaded), nl=False)
        elif not as_json:
            _print_check(str(room), loaded.room, proof, drawn)
    raise typer.Exit(PROBLEMS if any(one.fatal for one in found) else OK)


def _refuse_clashes(
    nights: Path | None, *, show_defaults: bool, as_json: bool, quick: bool
) -> None:
    """Raise `UnusableError` for options of `check` that contradict each other."""
    if show_defaults and as_json:
        raise UnusableError("--show-defaults prints YAML and --json JSON: take one of them")
    if nights is not None and (quick or show_defaults):
        raise UnusableError("--nights needs the states: leave out --quick and --show-defaults")


def _check_data(
    room: Path, found: Iterable[Finding], proof: Proof | None, nights: Iterable[Path]
) -> dict[str, object]:
    """Give what `check` found for machines."""
    return {
        "file": str(room),
        "findings": [_finding(one) for one in found],
        "proof": None if proof is None else proof_data(proof),
        "nights": [str(path) for path in nights],
    }


def _print_check(name: str, room: Room, proof: Proof | None, nights: tuple[Path, ...]) -> None:
    """Print what a room has, and what is proven of it."""
    typer.echo(
        f"{name}: {room.name} loads: {plural(len(room.sources), 'source')}, "
        f"{plural(len(room.presets), 'preset')}, {plural(len(room.rules.rows), 'rule')}, "
        f"{plural(len(room.promises), 'promise')} of its own and "
        f"{len(BUILT_IN_PROMISES) - len(room.waived)} built in."
    )
    if proof is None:
        return
    for fault in proof.faults:
        for line in counterexample_text(room, fault):
            typer.echo(escaped(line))
    for line in proof_lines(proof):
        typer.echo(escaped(line))
    for path in nights:
        typer.echo(f"written: {path}")


@room_commands.command()
def new(
    name: Annotated[str, typer.Argument(help="What the room is called: parlour.")],
    screen: Annotated[str, typer.Option(help='Its width and ratio: "3.4 m x 2.40".')],
    raster: Annotated[str, typer.Option(help='The projector\'s pixels: "4096 x 2160".')],
    sources: Annotated[str, typer.Option(help='What sends pictures: "disc, console".')],
    presets: Annotated[
        str, typer.Option(help='The ratios that the zoom\'s presets fit: "2.40, 1.78".')
    ] = "",
    panels: Annotated[str, typer.Option(help='The ratios that panels leave free: "1.78".')] = "",
    zone: Annotated[str, typer.Option(help="Its time zone: Europe/Lisbon.")] = DEFAULT_ZONE,
    out: Annotated[Path | None, typer.Option(help="Write it here, not to the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Write a commented room file to start from, in which `check` finds no fault."""
    with errors_reported():
        text = starter(Wishes(name, screen, raster, sources, presets, panels, zone))
        if out is None:
            typer.echo(text, nl=False)
        else:
            write_file(out, text.encode(), replace=force)
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
        ratios = on_paper.read_ratios(ratio or ())
        planned = planning.plan(read_room_file(room), ratios)
        drawn = on_paper.write_drawings(planned, pictures, replace=force) if pictures else ()
        if as_json:
            print_json({**plan_data(planned), "drawings": [str(path) for path in drawn]})
        else:
            for line in plan_lines(planned):
                typer.echo(typer.style(line.text, bold=True) if line.heading else line.text)
            for path in drawn:
                typer.echo(f"drawn: {path}")


@room_commands.command("testcard")
def draw_testcard(
    room: RoomArgument,
    out: Annotated[Path, typer.Option(help="The PNG file to write.")],
    preset: Annotated[
        str | None, typer.Option(help="Draw for it; else for the one with the largest raster.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Draw a test card of the raster's size, from which the screen's corners are read."""
    with errors_reported():
        for line in on_paper.write_card(read_room_file(room), preset, out, replace=force):
            typer.echo(line)


@room_commands.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of room files, for editors."""
    with errors_reported():
        typer.echo(schema_text(), nl=False)


@room_commands.command()
def states() -> None:
    """Draw the transition table of lens, panels and hand as a Mermaid diagram."""
    typer.echo(diagram(), nl=False)


def _finding(finding: Finding) -> dict[str, object]:
    return {**finding._asdict(), "severity": str(finding.severity)}
