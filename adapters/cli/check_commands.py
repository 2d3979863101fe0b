"""`roomcue check`: prove a room file, and say at once whatever is known."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from adapters.cli.breaking_off import BreakOff, read_time_limit
from adapters.cli.console import print_json
from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE, errors_reported, print_findings
from adapters.cli.files import text_of
from adapters.cli.options import AsJson, RoomArgument
from adapters.cli.proof_files import write_counterexamples
from adapters.cli.proof_progress import progress_shown
from adapters.cli.remembered_checks import recall, remember
from adapters.cli.version import roomcue_version
from adapters.render.columns import plural
from adapters.render.proof_report import ProofReport
from adapters.render.proof_text import (
    counterexample_text,
    fault_finding,
    proof_data,
    proof_lines,
    report_of,
    reported,
)
from adapters.safe_text import escaped
from engine.errors import UnusableError
from engine.room import BUILT_IN_PROMISES, Room
from rules.room.load import Loaded, defaults_shown, read_room
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, in_order
from simulator.proof.faults import Fault
from simulator.proof.proof import prove
from simulator.proof.worker_pool import processors

check_commands = typer.Typer(rich_markup_mode=None)


ShowDefaults = Annotated[
    bool, typer.Option("--show-defaults", help="Print the file with every default written out.")
]
Quick = Annotated[
    bool, typer.Option("--quick", help="Check the file and its table; explore no states.")
]
Within = Annotated[
    str | None, typer.Option(help="Break the proof off after this time: 60 s, 2 min.")
]
Again = Annotated[bool, typer.Option("--again", help="Prove anew what was proven before.")]
NightsFolder = Annotated[
    Path | None,
    typer.Option("--nights", help="Write the evening that breaks a promise into this folder."),
]


class _Checked(NamedTuple):
    """What was found, and what is proven."""

    findings: tuple[Finding, ...]
    """In the order in which they were found."""
    proof: ProofReport | None = None
    made: datetime | None = None
    """When the proof was made, if not just now."""


@check_commands.command()
def check(
    room: RoomArgument,
    show_defaults: ShowDefaults = False,
    as_json: AsJson = False,
    quick: Quick = False,
    within: Within = None,
    again: Again = False,
    nights: NightsFolder = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
) -> None:
    """Prove a room file: no gap, no contradiction, no state in which a promise breaks."""
    with errors_reported():
        _refuse_clashes(nights, show_defaults=show_defaults, as_json=as_json, quick=quick)
        stop = BreakOff(read_time_limit(within))
        loaded = read_room(text_of(room), str(room))
        proves = loaded.room is not None and not quick and not show_defaults
        checked = _recalled(loaded, str(room)) if proves and not again else None
        checked = checked or _Checked(in_order((*loaded.findings, *table_findings(loaded))))
        with stop.at_ctrl_c() if proves else nullcontext():
            if not as_json:
                print_findings(checked.findings)
                _say_what_loads(str(room), loaded.room, show_defaults=show_defaults)
            if proves and checked.proof is None and loaded.room is not None:
                checked = _proven(loaded.room, checked.findings, str(room), stop, quiet=as_json)
        written = _written(loaded.room, checked.proof, nights, replace=force)
        if as_json:
            print_json(_check_data(room, checked, written))
        elif show_defaults and loaded.room is not None:
            typer.echo(defaults_shown(loaded), nl=False)
        elif loaded.room is not None:
            _print_proof(loaded.room, checked, written)
        if loaded.room is None:
            raise typer.Exit(UNUSABLE)
    unfinished = checked.proof is not None and not checked.proof.complete
    rejected = unfinished or any(one.fatal for one in checked.findings)
    raise typer.Exit(PROBLEMS if rejected else OK)


def _refuse_clashes(
    nights: Path | None, *, show_defaults: bool, as_json: bool, quick: bool
) -> None:
    """Raise `UnusableError` for options of `check` that contradict each other."""
    if show_defaults and as_json:
        raise UnusableError("--show-defaults prints YAML and --json JSON: take one of them")
    if nights is not None and (quick or show_defaults):
        raise UnusableError("--nights needs the states: leave out --quick and --show-defaults")
    if nights is not None and nights.exists() and not nights.is_dir():
        raise UnusableError(f"--nights: {nights} is no folder; name another")


def _recalled(loaded: Loaded, file: str) -> _Checked | None:
    """Give what was found in the same file before; None: nobody remembers."""
    known = None if loaded.room is None else recall(loaded.room.text)
    return None if known is None else _Checked(known.findings_in(file), known.proof, known.made)


def _proven(
    room: Room, findings: tuple[Finding, ...], file: str, stop: BreakOff, *, quiet: bool
) -> _Checked:
    """Prove a room on all processors; unless `quiet`, print each fault as soon as it is known."""
    found = [*findings]
    with progress_shown() as progress:

        def take(fault: Fault) -> None:
            faults = in_order((fault_finding(reported(fault), file, room.text),))
            found.extend(faults)
            if not quiet:
                print_findings(faults, progress.err)

        proof = prove(
            room, progress=progress.report, workers=processors(), stop=stop, announce=take
        )
    report = report_of(proof, stopped=stop.said)
    remember(room.text, tuple(found), report)
    return _Checked(tuple(found), report)


def _written(
    room: Room | None, proof: ProofReport | None, nights: Path | None, *, replace: bool
) -> tuple[Path, ...]:
    """Write the evenings that break promises, if anybody asked for them."""
    if room is None or proof is None or nights is None:
        return ()
    return tuple(write_counterexamples(room, proof, nights, roomcue_version(), replace=replace))


def _check_data(room: Path, checked: _Checked, nights: tuple[Path, ...]) -> dict[str, object]:
    """Give what `check` found for machines."""
    return {
        "file": str(room),
        "findings": [
            {**one._asdict(), "severity": str(one.severity)} for one in in_order(checked.findings)
        ],
        "proof": None if checked.proof is None else proof_data(checked.proof),
        "remembered": None if checked.made is None else checked.made.isoformat(timespec="seconds"),
        "nights": [str(path) for path in nights],
    }


def _say_what_loads(name: str, room: Room | None, *, show_defaults: bool) -> None:
    """Say what a room has, before anything that takes long."""
    if room is not None and not show_defaults:
        typer.echo(
            f"{name}: {room.name} loads: {plural(len(room.sources), 'source')}, "
            f"{plural(len(room.presets), 'preset')}, {plural(len(room.rules.rows), 'rule')}, "
            f"{plural(len(room.promises) + len(room.timely), 'promise')} of its own and "
            f"{len(BUILT_IN_PROMISES) - len(room.waived)} built in."
        )
        sys.stdout.flush()


def _print_proof(room: Room, checked: _Checked, nights: tuple[Path, ...]) -> None:
    """Print the evenings that break promises, and what is proven."""
    if checked.proof is None:
        return
    for fault in checked.proof.faults:
        for line in counterexample_text(room, fault):
            typer.echo(escaped(line))
    for line in proof_lines(checked.proof):
        typer.echo(escaped(line))
    for path in nights:
        typer.echo(f"written: {path}")
    if checked.made is not None:
        day = f"{checked.made.astimezone():%d %B %Y}".lstrip("0")
        typer.echo(f"proven before, on {day}; --again proves anew", err=True)
