"""Print: in colour and to the width of a terminal, plainly to anything else; JSON."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable
from typing import Final

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from adapters.render.styled import Block, Indented

PLAIN_WIDTH: Final = 110
"""Columns of a line where neither a terminal nor the variable COLUMNS gives a width."""

INDENT: Final = " " * 10
"""As wide as a time of day and its gap, beneath which details stand."""


class _Console(Console):
    """A console that leaves it to the command what follows when its reader has gone."""

    def on_broken_pipe(self) -> None:
        """Raise the error on, where the library would end with status 1."""
        raise BrokenPipeError


def console(*, stderr: bool = False) -> Console:
    """Make a console; where there is no terminal it has no colour and a fixed width."""
    made = _Console(stderr=stderr, highlight=False)
    if made.is_terminal:
        return made
    return _Console(stderr=stderr, highlight=False, no_color=True, width=line_width())


def line_width() -> int:
    """Return how long a line may be."""
    return shutil.get_terminal_size((PLAIN_WIDTH, 0)).columns


def print_json(data: object) -> None:
    """Print a value as one line of JSON."""
    typer.echo(json.dumps(data, ensure_ascii=False))


def print_blocks(out: Console, blocks: Iterable[Block]) -> None:
    """Print styled text, wrapped to the console's width; no line ends in a space."""
    for block in blocks:
        if isinstance(block, Table):
            out.print(block)
            continue
        text, indent = (block.text, INDENT) if isinstance(block, Indented) else (block, "")
        for line in text.wrap(out, max(out.width - len(indent), len(INDENT))):
            line.rstrip()
            out.print(Text(indent) + line)
