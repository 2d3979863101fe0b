"""Rooms that count as proven, for stories about something else."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters.cli.memory_folder import FOLDER_VARIABLE
from adapters.cli.remembered_checks import remember
from adapters.render.proof_report import ProofReport, ReportedPromise

PROVEN = ProofReport(
    complete=True,
    stopped=False,
    done=7,
    known=7,
    steps=70,
    worlds=3,
    claims=2,
    runs=5,
    faults=(),
    promises=(ReportedPromise("menus plain", "Menus are never stretched.", "proven"),),
)
"""A finished proof that found nothing wrong."""


def vouch_for(text: str, folder: Path) -> dict[str, str]:
    """Remember in a folder that a room file is proven; gives the environment that knows of it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER_VARIABLE, str(folder))
        remember(text, (), PROVEN)
    return {FOLDER_VARIABLE: str(folder)}
