"""The list of modules in DEVELOPERS.md: each package and module with its docstring's first lines.

`python -m tests.house.module_map` writes it there anew; a test holds the page to it.
"""

from __future__ import annotations

import ast
import textwrap
from pathlib import Path
from typing import Final

from tests.house.tree import FLOORS, TOP

PAGE: Final = TOP / "DEVELOPERS.md"
BEGIN: Final = "<!-- modules -->\n"
END: Final = "<!-- /modules -->"
WIDTH: Final = 110
NAMES: Final = 22


def summary(path: Path) -> str:
    """Give the first paragraph of a module's docstring, on one line."""
    docstring = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
    return " ".join(docstring.split("\n\n")[0].split())


def packages() -> list[Path]:
    """List every package, each floor before its rooms, highest floor first."""
    return [
        folder.parent
        for floor in reversed(FLOORS)
        for folder in sorted((TOP / floor).rglob("__init__.py"))
        if "__pycache__" not in folder.parts
    ]


def module_map() -> str:
    """Write the list, a heading a package and a line or two a module."""
    lines: list[str] = []
    for package in packages():
        name = package.relative_to(TOP).as_posix()
        lines += [*textwrap.wrap(f"{name}/  {summary(package / '__init__.py')}", WIDTH)]
        for module in sorted(package.glob("*.py")):
            if module.stem not in ("__init__", "__main__"):
                lines += textwrap.wrap(
                    summary(module),
                    WIDTH,
                    initial_indent=f"    {module.stem:<{NAMES}}",
                    subsequent_indent=" " * (4 + NAMES),
                )
        lines.append("")
    return "```\n" + "\n".join(lines).rstrip() + "\n```\n"


def main() -> None:
    """Write the list into the page."""
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    PAGE.write_text(f"{before}{BEGIN}{module_map()}{END}{after}", "utf-8")


if __name__ == "__main__":
    main()
