"""Commands whose standard streams are closed, as those of some services are."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from simulator.shipped import DEMO_NIGHT


def status(command: str) -> tuple[int, bytes]:
    """Run a command in a shell; give its status and what went to standard error."""
    command = f"{sys.executable} -m adapters.cli {command}"
    done = subprocess.run(["bash", "-c", command], capture_output=True, check=False)
    return done.returncode, done.stderr


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_closed_stream_costs_neither_a_traceback_nor_a_file(tmp_path: Path, closed: str) -> None:
    page = tmp_path / "page.html"
    assert status(f"report {DEMO_NIGHT} --out {page} {closed}") == (0, b"")
    assert page.read_text("utf-8").endswith("</html>")


def test_the_status_is_as_ever_where_nobody_can_read_the_output() -> None:
    assert status(f"why {DEMO_NIGHT} --at 21:14 --expected broad >&-") == (1, b"")
    assert status("replay nowhere.jsonl >&- 2>&-") == (2, b"")
