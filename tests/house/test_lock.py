"""The lock lists: what is installed is what was looked at, wherever it is fetched from."""

import re
import tomllib
from typing import Any

import pytest

from tests.house.tree import TOP

LISTS = ("run", "dev")
PIN = re.compile(r"^(?P<name>[a-z0-9][a-z0-9.-]*)==(?P<version>[^ ;\\]+)")
NAME = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._-]*")


def read(name: str) -> str:
    return (TOP / ".requirements" / f"{name}.txt").read_text(encoding="utf-8")


def entries(name: str) -> list[str]:
    """Every requirement with its marker and hashes, comments left out, on one line each."""
    plain = "\n".join(line for line in read(name).splitlines() if not line.lstrip().startswith("#"))
    return [entry for entry in plain.replace("\\\n", " ").splitlines() if entry.strip()]


def pins(name: str) -> dict[str, str]:
    found = [PIN.match(entry) for entry in entries(name)]
    return {pin["name"]: pin["version"] for pin in found if pin}


def project() -> dict[str, Any]:
    return tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))


def names(requirements: list[Any]) -> set[str]:
    """The distributions that a list of requirements asks for, spelled as the lock spells them."""
    plain = (NAME.match(item) for item in requirements if isinstance(item, str))
    return {found.group().lower().replace("_", "-") for found in plain if found}


@pytest.mark.parametrize("name", LISTS)
def test_every_requirement_is_pinned_and_carries_a_hash(name: str) -> None:
    for entry in entries(name):
        assert PIN.match(entry), entry
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", entry), entry


@pytest.mark.parametrize("name", LISTS)
def test_the_lock_names_no_host(name: str) -> None:
    text = read(name)
    assert "://" not in text
    assert "--index-url" not in text
    assert "--find-links" not in text


def test_the_product_runs_on_the_versions_that_it_was_tested_with() -> None:
    assert pins("run").items() <= pins("dev").items()


def test_everything_that_the_project_asks_for_is_locked() -> None:
    asked, groups = project()["project"]["dependencies"], project()["dependency-groups"]
    assert names(asked) | names(groups["build"]) <= pins("run").keys()
    assert names(groups["dev"]) <= pins("dev").keys()


def test_the_build_backend_is_the_locked_one() -> None:
    assert project()["build-system"]["requires"] == project()["dependency-groups"]["build"]
