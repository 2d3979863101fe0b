"""Render gives strings: nothing in it prints, opens or writes."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.house.tree import TOP

MODULES = sorted((TOP / "adapters" / "render").glob("*.py"))
CALLS = {"open", "print", "input", "write_text", "write_bytes", "read_text", "read_bytes"}
MODULES_THAT_PRINT = {"rich", "rich.console", "rich.progress", "rich.live"}


def effects_of(source: str) -> list[str]:
    """Name the calls and imports by which a module would print, read or write."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            called = node.func
            name = called.id if isinstance(called, ast.Name) else getattr(called, "attr", "")
            found += [name] if name in CALLS else []
        elif isinstance(node, ast.ImportFrom) and node.module in MODULES_THAT_PRINT:
            found.append(node.module or "")
        elif isinstance(node, ast.Import):
            found += [one.name for one in node.names if one.name in MODULES_THAT_PRINT]
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_a_module_that_renders_touches_nothing(module: Path) -> None:
    assert effects_of(module.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "source",
    ["print(1)", "from rich.console import Console", "import rich", "path.write_text('x')"],
)
def test_what_touches_something_is_found(source: str) -> None:
    assert effects_of(source)
