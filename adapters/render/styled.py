"""What a text with styles is made of, until a console prints it."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

from rich.table import Table
from rich.text import Text


class Indented(NamedTuple):
    """A text to be set in beneath the line before it, every line of it once it is wrapped."""

    text: Text


Block: TypeAlias = Text | Table | Indented
"""What is printed by itself, from the left edge on."""

EMPTY_LINE = Text("")
