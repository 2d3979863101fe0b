"""Which roomcue this is."""

from __future__ import annotations

import importlib.metadata

import typer

version = typer.Typer(rich_markup_mode=None)


def roomcue_version() -> str:
    """Say which version is installed."""
    return importlib.metadata.version("roomcue")


@version.command("version")
def print_version() -> None:
    """Print the version."""
    typer.echo(roomcue_version())
