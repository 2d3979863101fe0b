"""Modules and functions are short, a public name means one thing, a package says what it holds.

A module of tests is as short. Each list of exceptions may only shrink: an entry that is no longer
needed fails its test, and an entry that stays gives its reason.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.house.tree import FLOORS, TOP, project_files, text_of

LONGEST_MODULE = 450
LONGEST_FUNCTION = 40

LONG_MODULES: dict[str, str] = {}
"""Modules that may be longer, and why."""

LONG_FUNCTIONS: dict[str, str] = {}
"""Functions that may be longer, as `module:name`, and why."""

SHARED_NAMES: dict[str, str] = {}
"""Public classes and functions that may be defined in two modules, and why."""

SHARED_MODULES: dict[str, str] = {}
"""File names that two modules may have, and why."""

PACKAGES = (
    *FLOORS,
    *(f"engine/{name}" for name in ("planning", "settle")),
    *(f"rules/{name}" for name in ("text", "words", "room", "table", "starter")),
    *(f"simulator/{name}" for name in ("nights", "proof", "readings", "wear", "shipped")),
    *(f"adapters/{name}" for name in ("cli", "live", "page", "papers", "render", "contract")),
)
"""Every room of the house."""

PYTHON = [path for path in project_files() if path.suffix == ".py"]
MODULES = [path for path in PYTHON if path.parts[0] in FLOORS]
TESTS = [path for path in PYTHON if path.parts[0] == "tests"]


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(text_of(path))


def long_functions(module: ast.Module) -> Iterator[tuple[str, int]]:
    """Give the functions of a module that are too long, each with its number of lines."""
    for node in ast.walk(module):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert node.end_lineno is not None
            lines = node.end_lineno - node.lineno + 1
            if lines > LONGEST_FUNCTION:
                yield node.name, lines


def public_names(module: ast.Module) -> Iterator[str]:
    """Give the public classes, functions and type aliases that a module defines."""
    for node in module.body:
        match node:
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name):
                yield name
            case ast.ClassDef(name=name):
                yield name
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                if name[:1].isupper() and not name.isupper():
                    yield name


def is_command(path: Path, name: str) -> bool:
    """Tell whether a name is a command's: those are called as the user types them."""
    return path.stem.endswith("_commands") and name.islower()


def shared(pairs: Iterator[tuple[str, Path]]) -> dict[str, list[str]]:
    """Give what stands in two modules or more, with the modules."""
    found = defaultdict(list)
    for name, path in pairs:
        found[name].append(path.as_posix())
    return {name: paths for name, paths in found.items() if len(paths) > 1}


def test_no_module_is_long() -> None:
    """A module of tests neither."""
    lengths = {path.as_posix(): len(text_of(path).splitlines()) for path in (*MODULES, *TESTS)}
    long = {path: lines for path, lines in lengths.items() if lines > LONGEST_MODULE}
    assert long.keys() == LONG_MODULES.keys(), long


def test_no_function_is_long() -> None:
    long = {
        f"{path.as_posix()}:{name}": lines
        for path in MODULES
        for name, lines in long_functions(tree_of(path))
    }
    assert long.keys() == LONG_FUNCTIONS.keys(), long


def test_a_public_name_means_one_thing() -> None:
    found = shared(
        (name, path)
        for path in MODULES
        for name in public_names(tree_of(path))
        if not name.startswith("_") and not is_command(path, name)
    )
    assert found.keys() == SHARED_NAMES.keys(), found


def test_a_modules_name_is_its_own() -> None:
    found = shared(
        (path.name, path) for path in MODULES if path.name not in {"__init__.py", "__main__.py"}
    )
    assert found.keys() == SHARED_MODULES.keys(), found


def test_every_exception_has_a_reason() -> None:
    for exceptions in (LONG_MODULES, LONG_FUNCTIONS, SHARED_NAMES, SHARED_MODULES):
        assert all(len(reason.split()) > 3 for reason in exceptions.values()), exceptions


def test_the_rooms_of_the_house_are_these() -> None:
    """A new package is entered here, in the import contracts and in DEVELOPERS.md."""
    found = {path.parent.as_posix() for path in MODULES}
    assert found == set(PACKAGES)


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_says_what_lives_there(package: str) -> None:
    words = ast.get_docstring(tree_of(Path(package, "__init__.py")))
    assert words


@pytest.mark.parametrize("floor", FLOORS)
def test_a_floor_tells_type_checkers_that_it_has_types(floor: str) -> None:
    """PEP 561."""
    assert (TOP / floor / "py.typed").is_file()


def test_the_searches_find_what_they_look_for() -> None:
    body = "".join(f"    x{number} = {number}\n" for number in range(LONGEST_FUNCTION))
    module = ast.parse(
        "class A:\n    def short(self): ...\n"
        f"def long():\n{body}\n"
        "Both = int | str\nsome: int = 1\nLIMIT = 3\n"
    )
    assert list(long_functions(module)) == [("long", LONGEST_FUNCTION + 1)]
    assert list(public_names(module)) == ["A", "long", "Both"]
