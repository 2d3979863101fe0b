"""Prove a room with a progress bar, and write the evenings on which its promises break."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from rich.progress import Progress

from adapters.cli.console import console
from adapters.cli.files import make_folder, write_lines
from adapters.render.proof_text import counterexample_night
from engine.room import Room
from simulator.proof.proof import Proof, prove
from simulator.proof.worker_pool import processors


def prove_with_progress(room: Room) -> Proof:
    """Prove a room on all processors; a terminal shows how far the proof is."""
    err = console(stderr=True)
    if not err.is_terminal:
        return prove(room, workers=processors())
    with Progress(console=err, transient=True) as bar:
        task = bar.add_task("proving")

        def report(done: int, known: int) -> None:
            words = f"proving, {done:,} of {known:,} states"
            bar.update(task, completed=done, total=known, description=words)

        return prove(room, progress=report, workers=processors())


def write_counterexamples(
    room: Room, proof: Proof, folder: Path, version: str, *, replace: bool
) -> Iterator[Path]:
    """Write each evening that breaks a promise into a folder, in a file named after the promise.

    Gives each path once its file is there; raises `UnusableError` for what cannot be written.
    """
    make_folder(folder)
    for fault in proof.faults:
        if fault.counterexample is not None:
            name = re.sub(r"[^a-z0-9]+", "-", fault.promise.lower()).strip("-") or "promise"
            path = folder / f"{name}.jsonl"
            lines = counterexample_night(room, fault, fault.counterexample, version)
            write_lines(path, lines, replace=replace)
            yield path
