"""The engine decides from what it is handed and nothing else, in whole numbers.

Forbidden imports are the business of the import contracts; this looks for what comes without one.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.tree import project_files, text_of

BUILT_INS = frozenset({"open", "input", "print", "id", "hash", "eval", "exec", "__import__"})
WALL_CLOCK = frozenset({"now", "utcnow", "today"})  # a field `now` is the time handed in
CLOCKS = frozenset({"datetime", "date"})
FLOAT_LIBRARIES = frozenset({"math", "cmath", "statistics", "numpy"})
MAY_COMPUTE_WITH_FLOATS = frozenset({"alignment", "light", "placement", "pose"})

ENGINE = [path for path in project_files() if path.parts[0] == "engine" and path.suffix == ".py"]


def impurities(source: str, *, floats: bool) -> Iterator[str]:
    """Say, line by line, what in a module's source hangs on more than its arguments."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Name(id=name, ctx=ast.Load()) if name in BUILT_INS:
                yield f"{node.lineno}: {name}"
            case ast.Call(func=ast.Attribute(attr=name, value=clock)) if name in WALL_CLOCK:
                if ast.unparse(clock).split(".")[-1] not in CLOCKS:  # under another name
                    yield f"{node.lineno}: .{name}"
            case ast.Attribute(attr=name, value=clock) if name in WALL_CLOCK:
                if ast.unparse(clock).split(".")[-1] in CLOCKS:
                    yield f"{node.lineno}: .{name}"
            case ast.Import(names=modules) if not floats:
                roots = (module.name.split(".")[0] for module in modules)
                yield from (f"{node.lineno}: {root}" for root in roots if root in FLOAT_LIBRARIES)
            case ast.ImportFrom(module=str(module)) if not floats:
                if module.split(".")[0] in FLOAT_LIBRARIES:
                    yield f"{node.lineno}: {module}"


@pytest.mark.parametrize("path", ENGINE, ids=lambda path: str(path.stem))
def test_a_module_of_the_engine_is_pure(path: Path) -> None:
    floats = path.stem in MAY_COMPUTE_WITH_FLOATS
    assert list(impurities(text_of(path), floats=floats)) == []


@pytest.mark.parametrize(
    ("source", "finding"),
    [
        ("from datetime import datetime\nx = datetime.now()", "2: .now"),
        ("import datetime as d\nx = d.date.today", "2: .today"),
        ("from datetime import datetime as d\nx = d.now()", "2: .now"),
        ("print('here')", "1: print"),
        ("rows = sorted(rows, key=hash)", "1: hash"),
        ("from math import sqrt", "1: math"),
        ("import statistics", "1: statistics"),
    ],
)
def test_the_search_finds_an_impurity(source: str, finding: str) -> None:
    assert list(impurities(source, floats=False)) == [finding]


@pytest.mark.parametrize(
    "source",
    [
        "order.id == 3",
        "def now(now: int) -> int:\n    return now",
        "class Table: id: int = 1",
        "ends = turn.now + 1",
    ],
)
def test_the_search_leaves_fields_and_arguments_alone(source: str) -> None:
    assert list(impurities(source, floats=False)) == []


def test_the_optics_may_compute_with_floats() -> None:
    assert list(impurities("import math", floats=True)) == []
