"""What `check` says of cases without a row, and with which status."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from simulator.shipped import DEMO_ROOM


def run(*words: object) -> Result:
    """Run a command in this process."""
    return CliRunner().invoke(app, [str(word) for word in words])


def test_a_case_without_a_row_fails_the_check_unless_the_file_accepts_it(tmp_path: Path) -> None:
    room = tmp_path / "room.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    otherwise, after = text.index("  otherwise:"), text.index("\npromises:")
    room.write_text(text[:otherwise] + text[after:], "utf-8")
    gap = run("check", room, "--quick")
    assert (gap.exit_code, "no row covers this" in gap.stderr) == (1, True)
    accepted = "  gaps_accepted: {because: Plain is right for the rest.}\n"
    room.write_text(text[:otherwise] + accepted + text[after:], "utf-8")
    assert run("check", room, "--quick").exit_code == 0
