"""What is shipped: the four floors with their rooms, nights and pages, and one command."""

import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

from tests.house.tree import FLOORS, TOP, project_files


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The names inside a freshly built wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=TOP, check=True, capture_output=True)
    (built,) = folder.glob("roomcue-*.whl")
    with ZipFile(built) as archive:
        return set(archive.namelist())


def test_the_wheel_ships_every_file_of_the_four_floors(wheel: set[str]) -> None:
    ours = {path.as_posix() for path in project_files() if path.parts[0] in FLOORS}
    assert ours <= wheel


def test_the_wheel_ships_nothing_else(wheel: set[str]) -> None:
    tops = {Path(name).parts[0] for name in wheel}
    assert {top for top in tops if not top.endswith(".dist-info")} == set(FLOORS)
