"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

RoomArgument = Annotated[Path, typer.Argument(help="A room file.")]
AsJson = Annotated[bool, typer.Option("--json", help="JSON for machines instead of text.")]
