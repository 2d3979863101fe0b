"""What takes long is done in a process of its own, and not for ever."""

from __future__ import annotations

from pathlib import Path

import pytest

from adapters import checking
from adapters.checking import due_lens, faults_of
from simulator.shipped import CELLAR

TEXT = CELLAR.read_text("utf-8")


async def test_a_file_without_a_fault_has_none_and_another_says_where() -> None:
    assert await faults_of(TEXT) == ()
    (fault,) = await faults_of(TEXT.replace("zone:", "zoen:", 1))
    assert "Did you mean zone?" in fault


async def test_a_command_that_does_not_end_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checking, "LONGEST", 0.01)
    (fault,) = await faults_of(TEXT)
    assert "has not ended" in fault
    assert await due_lens(TEXT, tmp_path / "journal", tmp_path / "book") == ()
