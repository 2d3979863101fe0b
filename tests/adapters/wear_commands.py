"""The commands about wear, given for the hayloft."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from rules.room.load import load
from simulator.shipped import DEMO_ROOM

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)


def told(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(one) for one in arguments])


def align(folder: Path, *options: str) -> Result:
    return told("align", DEMO_ROOM, "--book", folder / "book", *options)
