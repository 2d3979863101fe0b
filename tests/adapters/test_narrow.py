"""Reports keep to the width of the terminal, and lose nothing by it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from adapters.cli.wear_files import ledger_of_nights
from simulator.shipped import DEMO_ROOM
from simulator.wear.ledger import count_at
from tests.adapters.months import A_DAY, book, months
from tests.adapters.wear_commands import HAYLOFT, told
from tests.golden.evenings import BEGINS

DAYS = 8


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> list[str | Path]:
    """Name the nights of a week and a book of four measurements."""
    nights = months(HAYLOFT, tmp_path_factory.mktemp("nights"), DAYS)
    ledger = ledger_of_nights(nights, "hayloft")[0]
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in (0, 2, 4, DAYS - 1)}
    path = nights[0].parent.parent / "book"
    book(path, days, 0.02, "tall")
    return ["--book", path, "--night", nights[0].parent]


@pytest.mark.parametrize("width", [40, 60, 80])
def test_wear_keeps_to_the_width_of_the_terminal(
    width: int, measured: list[str | Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    held_together(width, monkeypatch, "wear", DEMO_ROOM, *measured)


@pytest.mark.parametrize("width", [40, 60, 80])
def test_a_plan_keeps_to_the_width_of_the_terminal(
    width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_together(width, monkeypatch, "plan", DEMO_ROOM)


def held_together(width: int, monkeypatch: pytest.MonkeyPatch, *arguments: str | Path) -> None:
    """A table that does not fit is told row by row: every figure of the wide report is there."""
    monkeypatch.setenv("COLUMNS", "200")
    wide = told(*arguments).stdout
    monkeypatch.setenv("COLUMNS", f"{width}")
    narrow = told(*arguments).stdout
    assert max(map(len, narrow.splitlines())) <= width
    assert figures(wide) == figures(narrow)


def figures(text: str) -> list[str]:
    return sorted(set(re.findall(r"[-+\d.,x%]*\d", text)))
