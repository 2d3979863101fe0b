"""The project's own files, as git sees them."""

import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
FLOORS = ("engine", "rules", "simulator", "adapters")

_MADE_BY_TOOLS = frozenset({".git", "dist", "__pycache__"})


@cache
def project_files() -> tuple[Path, ...]:
    """Every file that is tracked, or would be by `git add .`; relative to the top, sorted."""
    git = shutil.which("git")
    if git and (TOP / ".git").exists():
        command = [git, "-C", str(TOP), "ls-files", "-z", "--cached", "--others"]
        listed = subprocess.run(
            [*command, "--exclude-standard"], capture_output=True, text=True, check=True
        )
        names = {Path(name) for name in listed.stdout.split("\0") if name}
        return tuple(sorted(name for name in names if (TOP / name).is_file()))
    return tuple(sorted(_walk()))  # unpacked from an archive


def _walk() -> list[Path]:
    ignored = text_of(Path(".gitignore")).split()
    made = _MADE_BY_TOOLS | {line.strip("/") for line in ignored}
    every = (path.relative_to(TOP) for path in TOP.rglob("*") if path.is_file())
    return [path for path in every if made.isdisjoint(path.parts)]


def text_of(path: Path) -> str:
    """What a file of the project says; bytes that are no text are shown as marks."""
    return (TOP / path).read_text(encoding="utf-8", errors="replace")


def beside(part: str, instead: str) -> Path:
    """Give a part of the folder `shared` that may lie beside the checkout.

    A clone by itself skips the test, and says what is checked `instead`; where the folder is there
    and the part is not, the test fails.
    """
    folder = TOP.parent / "shared"
    if not folder.is_dir():
        pytest.skip(f"no folder 'shared' lies beside this checkout; {instead}")
    place = folder / part
    assert place.exists(), f"the folder 'shared' lies beside this checkout, but has no {part}"
    return place
