"""The folder in which commands remember what took them long, and what a memory rests on.

What is written here may be thrown away at any time: it only saves that it is worked out anew.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path
from typing import Final

FOLDER_VARIABLE: Final = "ROOMCUE_PROOFS"
"""The environment variable that names the folder; "off": nothing is remembered."""
OFF: Final = "off"


def memory_folder() -> Path | None:
    """Give the folder of the memory; None where there is none."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return None if named == OFF else Path(named)
    caches = os.environ.get("XDG_CACHE_HOME")
    if caches:
        return Path(caches) / "roomcue"
    try:
        return Path.home() / ".cache" / "roomcue"
    except RuntimeError:  # a user without a home, such as a service's
        return None


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, whoever else writes it meanwhile."""
    number, part = tempfile.mkstemp(dir=path.parent, suffix=".part")
    try:
        with os.fdopen(number, "wb") as file:
            file.write(data)
        Path(part).replace(path)
    finally:
        Path(part).unlink(missing_ok=True)


def hash_of_source(packages: Iterable[str]) -> str:
    """Give a hash of all that is written in some packages: changed code finds no old proof."""
    found = hashlib.sha256()
    for package in packages:
        spec = find_spec(package)
        for place in (spec.submodule_search_locations or ()) if spec is not None else ():
            for path in sorted([*Path(place).rglob("*.py"), *Path(place).rglob("*.ftl")]):
                found.update(f"{package}/{path.relative_to(place)}\n".encode())
                found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()
