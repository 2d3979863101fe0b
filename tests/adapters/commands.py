"""Run roomcue's commands in the tests' own process."""

from __future__ import annotations

from typer.testing import CliRunner, Result

from adapters.cli.command_group import app


def run(*words: object) -> Result:
    """Run a command in this process."""
    return CliRunner().invoke(app, [str(word) for word in words])
