"""Where words go: a terminal with its colours and width, or a plain file with neither; JSON."""

from __future__ import annotations

import json
import shutil
from typing import Final

import typer
from rich.console import Console

PLAIN_WIDTH: Final = 110
"""How wide lines may be where neither a terminal nor COLUMNS says so."""


def console(*, stderr: bool = False) -> Console:
    """Make a console: colour and width from the terminal, neither where there is none."""
    made = Console(stderr=stderr, highlight=False)
    if made.is_terminal:
        return made
    width = shutil.get_terminal_size((PLAIN_WIDTH, 0)).columns
    return Console(stderr=stderr, highlight=False, no_color=True, width=width)


def print_json(data: object) -> None:
    """Print a line for machines."""
    typer.echo(json.dumps(data, ensure_ascii=False))


def plural(number: int, name: str) -> str:
    """Say how many there are: 1 rule, 2 rules."""
    return f"{number} {name}" + ("" if number == 1 else "s")
