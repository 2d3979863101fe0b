"""The drawing of the states in the docs is the table's own."""

from __future__ import annotations

from pathlib import Path

from engine.transition_table import MACHINES, TABLE, diagram


def test_the_docs_show_the_table_as_it_is(repository: Path) -> None:
    """`roomcue states` prints what stands between the marks."""
    text = (repository / "DEVELOPERS.md").read_text("utf-8")
    drawn = text.split("<!-- states -->\n")[1].split("\n<!-- /states -->")[0]
    assert drawn == f"```mermaid\n{diagram()}```"


def test_the_drawing_has_every_row_of_the_table() -> None:
    """One arrow a row, one beginning a machine."""
    lines = diagram().splitlines()
    assert sum(" --> " in line and "[*]" not in line for line in lines) == len(TABLE)
    assert sum("[*] -->" in line for line in lines) == len(MACHINES)
