"""The project as a stranger finds it: what lies where, and what must not be in it."""

import re

import pytest

from tests.conftest import LONGEST
from tests.house.tree import FLOORS, TOP, project_files, text_of

PAGES = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE"}
BUILD = {"pyproject.toml", "Makefile"}
FOLDERS = {*FLOORS, "tests"}

# Written in pieces, so that this file is not its own first finding.
REGISTRIES = tuple(
    "".join(part)
    for part in (
        ("p", "yp", "i.o", "rg"),
        ("py", "th", "on", "ho", "sted.o", "rg"),
        ("n", "p", "m", "j", "s."),
        ("d", "eb", "ia", "n.o", "rg"),
    )
)
MACHINE_PATHS = ("/wo" + "rk", "/ro" + "ot", "/tm" + "p/v", "/opt" + "/pypi", "/opt" + "/wheels")
FORBIDDEN = re.compile(
    "|".join(
        [re.escape(host) for host in REGISTRIES]
        + [rf"(?<![\w.]){re.escape(path)}(?=/|\b)" for path in MACHINE_PATHS]
    )
)


def test_nothing_but_the_agreed_pages_and_folders_lies_at_the_top() -> None:
    top = {path.parts[0] for path in project_files()}
    shown = {name for name in top if not name.startswith(".")}
    assert shown <= PAGES | BUILD | FOLDERS


def test_every_agreed_page_and_folder_is_there() -> None:
    top = {path.parts[0] for path in project_files()}
    assert top >= PAGES | BUILD | FOLDERS | {".ci"}


def test_the_files_that_begin_first_are_there() -> None:
    assert [name for name in LONGEST if not (TOP / "tests" / name).is_file()] == []


def test_no_file_names_a_package_registry_or_a_path_of_one_machine() -> None:
    found = [
        f"{path}:{number}: {hit.group()}"
        for path in project_files()
        for number, line in enumerate(text_of(path).splitlines(), start=1)
        if (hit := FORBIDDEN.search(line))
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "see https://" + "py" + "pi.o" + "rg/simple",
        "open('/wo" + "rk/main/x')",
        "cd /wo" + "rk",
        "/ro" + "ot/.cache",
    ],
)
def test_the_search_finds_what_it_looks_for(line: str) -> None:
    assert FORBIDDEN.search(line)


@pytest.mark.parametrize("line", ["../shared/standards", "home/work", "a/rooted/tree", "/workshop"])
def test_the_search_leaves_innocent_paths_alone(line: str) -> None:
    assert not FORBIDDEN.search(line)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
@pytest.mark.parametrize("command", ["make demo", "make test"])
def test_both_pages_give_the_same_two_commands(page: str, command: str) -> None:
    assert command in (TOP / page).read_text(encoding="utf-8")


def test_continuous_integration_runs_the_command_that_people_run() -> None:
    lines = (TOP / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert "set -euo pipefail" in lines
    assert lines[-1] == "make test"
