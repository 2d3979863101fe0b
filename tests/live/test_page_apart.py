"""A room that shows no page loads nothing of one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.house.tree import TOP
from tests.live.broker import PATIENCE

OF_THE_PAGE = ("starlette", "uvicorn", "jinja2", "segno", "adapters.page")
RUN = """
import sys
from adapters.cli.main import main
try:
    main()
finally:
    print(*sorted(sys.modules), file=sys.stderr)
"""


def test_run_without_a_page_loads_nothing_of_it(tmp_path: Path) -> None:
    """It lives through one event from standard input, and ends with it."""
    room = TOP / "simulator/shipped/cellar.yaml"
    given = ["run", str(room), "--stdin", "--unproven", "--journal", str(tmp_path / "j")]
    done = subprocess.run(
        [sys.executable, "-c", RUN, *given],
        input='{"kind": "projector", "state": "lit"}\n',
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=True,
        cwd=TOP,
    )
    loaded = done.stderr.splitlines()[-1].split()
    assert "adapters.live.run_rooms" in loaded
    assert [one for one in loaded if one.startswith(OF_THE_PAGE)] == []
