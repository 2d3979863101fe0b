"""The version that is installed."""

from __future__ import annotations

import importlib.metadata

import typer

version = typer.Typer(rich_markup_mode=None)


def roomcue_version() -> str:
    """Give the version that is installed."""
    return importlib.metadata.version("roomcue")


@version.command("version")
def print_version() -> None:
    """Print the version."""
    typer.echo(roomcue_version())
