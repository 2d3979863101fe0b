"""All commands, as one group that loads a command once it is asked for.

Only the modules of the command that is called are loaded, so that a live room starts quickly after
a power cut.
"""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import typer
from typer.core import TyperGroup
from typer.main import get_group

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


_PLAIN_WORDS: Final = {
    "^Value error, ": "",
    "^Input should be greater than or equal to (.+)$": r"write \1 or more.",
    "^Input should be less than or equal to (.+)$": r"write \1 or less.",
    "^Input should be a valid integer.*": "write a whole number.",
    "^Input should be a valid number.*": "write a number.",
}


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
        command = super().get_command(ctx, cmd_name)
        if command is not None:  # The list of commands would cut a longer sentence off.
            command.short_help = (command.help or "").partition("\n\n")[0].replace("\n", " ")
        return command

    def make_context(self, *given: Any, **more: Any) -> Any:  # noqa: ANN401 - as above
        """Read the words of a call; those that follow the command are read in `invoke`."""
        context = super().make_context(*given, **more)
        context.obj = [word for word in context.args if word.startswith("-")]
        return context

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - as above
        """Run the command; say in plain words what an option cannot be, or how a file is named."""
        try:
            return super().invoke(ctx)
        except Exception as error:
            files = [word for word in ctx.obj if Path(word).is_file()]
            if files and hasattr(error, "option_name"):
                error.message += f". If the file is meant, write ./{files[0]}"  # type: ignore[attr-defined]
            elif hasattr(error, "message"):
                error.message = _in_plain_words(str(error.message))
            raise


def _in_plain_words(message: str) -> str:
    """Say what a value should have been without the words that the library has for programs."""
    for library, ours in _PLAIN_WORDS.items():
        message = re.sub(library, ours, message)
    return message


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
