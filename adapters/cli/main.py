"""The command line. Status 0: all is well; 1: problems were found; 2: the input is unusable.

Only the modules of the command that is called are loaded, so that a live room starts quickly after
a power cut.
"""

from __future__ import annotations

import io
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import FrameType
from typing import Any, Final

import typer
from typer.core import TyperGroup
from typer.main import get_group

from adapters.cli.exit_status import INTERRUPTED

COMMANDS: Final = {
    "night_commands": ("demo", "replay", "why", "settle", "invent"),
    "report_commands": ("report",),
    "check_commands": ("check",),
    "room_commands": ("new", "plan", "testcard", "schema", "states"),
    "papers_commands": ("papers",),
    "live_commands": ("run", "tell", "topics", "export"),
    "memory_commands": ("remembered",),
    "page_commands": ("page", "invite"),
    "rehearsal_commands": ("rehearse",),
    "wear_commands": ("align", "wear", "visit"),
    "version": ("version",),
}
"""The commands of each module, in the order in which help lists them."""


class _Commands(TyperGroup):
    """Lists all commands, and loads a command once it is asked for."""

    def list_commands(self, _ctx: object) -> list[str]:
        """Name all commands."""
        return [name for names in COMMANDS.values() for name in names]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ANN401 - the library hides both
        """Load one command; for an unknown name load all, to suggest a similar one."""
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
    """Run the command line."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # the output may not know every letter
    with _interruptible():
        app()


@contextmanager
def _interruptible() -> Iterator[None]:
    """End with the status of an interrupt after Ctrl-C, whatever it was turned into on its way.

    A library that runs our code, or is run by it, may raise an error of its own where it is
    interrupted.
    """
    interrupted = False

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        nonlocal interrupted
        interrupted = True
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, interrupt)
    try:
        yield
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception:
        if not interrupted:
            raise
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
