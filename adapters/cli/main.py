"""The command line. Status 0: all is well; 1: problems were found; 2: the input is unusable.

What a command stands on is loaded when it is called: a live room that comes back after a power cut
does not wait for proofs and plans.
"""

from __future__ import annotations

import io
import sys
from importlib import import_module
from typing import Any, Final

import typer
from typer.core import TyperGroup
from typer.main import get_group

from adapters.cli.exit_status import INTERRUPTED

COMMANDS: Final = {
    "night_commands": ("demo", "replay", "why", "settle", "invent"),
    "room_commands": ("new", "check", "plan", "testcard", "schema", "states"),
    "live_commands": ("run", "tell", "topics", "export"),
    "wear_commands": ("align", "wear"),
    "version": ("version",),
}
"""Where each command is; help shows them in this order."""


class _Commands(TyperGroup):
    """Knows the names of all commands, and loads those that are asked for."""

    def list_commands(self, _ctx: object) -> list[str]:
        """Name all commands."""
        return [name for names in COMMANDS.values() for name in names]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ANN401 - the library hides both
        """Load one command; for a slip all, or nobody could say which one was meant."""
        slip = cmd_name not in self.list_commands(ctx)
        for place, names in COMMANDS.items():
            if slip or cmd_name in names:
                commands = getattr(import_module(f"adapters.cli.{place}"), place)
                self.commands.update(get_group(commands).commands)
        return super().get_command(ctx, cmd_name)


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


@app.callback()
def roomcue() -> None:
    """Rules for a projection room: replay its nights, ask why, check its rules."""


def main() -> None:
    """Run the command line; every mistake of a user ends in one sentence, never in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal may know few letters
    try:
        app()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
