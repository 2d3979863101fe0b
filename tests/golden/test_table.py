"""The table of evenings names nights and tests that exist, and no evening is left out of it."""

from __future__ import annotations

import re
from pathlib import Path

from simulator.shipped import NIGHTS
from tests.golden.evenings import ENGLISH

HERE = Path(__file__).parent
OF_TROUBLES = {"evening", "refused-recall", "false-word", "silent-lens"}
"""What `evening` shows is in the other rows; the rest is about what the report finds in them."""


def test_each_row_of_the_table_names_its_nights_and_its_tests() -> None:
    rows = [line.split("|") for line in (HERE / "README.md").read_text("utf-8").splitlines()]
    rows = [row for row in rows if len(row) == 5 and "`" in row[2]]
    tests = "".join(path.read_text("utf-8") for path in HERE.glob("test_*.py"))
    named: set[str] = set()
    for _, evening, nights, wanted, _ in rows:
        of_row = re.findall("`([^`]+)`", nights)
        asserted = re.findall("`(test_[^`]+)`", wanted)
        assert of_row, evening
        assert asserted, evening
        assert all((NIGHTS / f"{night}.decisions.jsonl").exists() for night in of_row), evening
        assert all(f"def {test}(" in tests for test in asserted), evening
        named |= {*of_row}
    assert named == {*ENGLISH} - OF_TROUBLES
