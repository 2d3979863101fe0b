"""Write the evenings on which promises break."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from adapters.cli.files import make_folder, write_lines
from adapters.render.proof_report import ProofReport
from adapters.render.proof_text import counterexample_night
from engine.room import Room


def write_counterexamples(
    room: Room, proof: ProofReport, folder: Path, version: str, *, replace: bool
) -> Iterator[Path]:
    """Write each evening that breaks a promise into a folder, in a file named after the promise.

    Gives each path once its file is there; raises `UnusableError` for what cannot be written.
    """
    for fault in proof.faults:
        if fault.evening is not None:
            make_folder(folder)
            name = re.sub(r"[^a-z0-9]+", "-", fault.promise.lower()).strip("-") or "promise"
            path = folder / f"{name}.jsonl"
            lines = counterexample_night(room, fault, fault.evening, version)
            write_lines(path, lines, replace=replace)
            yield path
