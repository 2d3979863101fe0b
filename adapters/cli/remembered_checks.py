"""Remember what `check` found in a room file, so that nobody waits for the same proof twice.

A check is remembered by the room file's text, roomcue's version and the code that a proof rests
on; with any other of these it is another check. Nothing here raises: without a folder that can be
written to there is no memory, and a file that is not ours counts as none.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from adapters.cli.memory_folder import hash_of_source, memory_folder, write_whole
from adapters.cli.version import roomcue_version
from adapters.render.proof_report import ProofReport
from rules.text.findings import Finding

MOST_REMEMBERED: Final = 200
"""How many checks are remembered; the oldest are forgotten first."""

CODE: Final = ("engine", "rules", "simulator", "adapters.render")
"""The packages whose source a remembered check rests on."""


@dataclass(frozen=True, slots=True)
class RememberedCheck:
    """What `check` found in a room file whose proof was finished."""

    made: datetime
    findings: tuple[Finding, ...]
    """In the order in which they were found; their file may have another name now."""
    proof: ProofReport

    def findings_in(self, file: str) -> tuple[Finding, ...]:
        """Give the findings as those of a file of this name."""
        return tuple(one._replace(file=file) for one in self.findings)


@dataclass(frozen=True, slots=True)
class _Page:
    """What one file of the folder holds."""

    key: str
    check: RememberedCheck


def recall(text: str) -> RememberedCheck | None:
    """Give what is remembered of a room file with this text; None: nothing."""
    return recall_all([text])[0]


def recall_all(texts: Sequence[str]) -> list[RememberedCheck | None]:
    """Give what is remembered of each of some room files; the code is looked at once for all."""
    folder = memory_folder()
    if folder is None:
        return [None] * len(texts)
    code = _code()
    return [_page(folder, _key(text, code)) for text in texts]


def _page(folder: Path, key: str) -> RememberedCheck | None:
    try:
        page = _pages().validate_json((folder / _name(key)).read_bytes())
    except (OSError, ValidationError):
        return None
    return page.check if page.key == key else None


def remember(text: str, findings: tuple[Finding, ...], proof: ProofReport) -> None:
    """Remember a finished check of a room file with this text, if there is a place for it."""
    folder = memory_folder()
    if folder is None or not proof.complete:
        return
    key = _key(text, _code())
    page = _Page(key, RememberedCheck(datetime.now(UTC), findings, proof))
    with suppress(OSError):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_whole(folder / _name(key), _pages().dump_json(page))
        _forget_oldest(folder)


def _forget_oldest(folder: Path) -> None:
    pages = sorted(folder.glob("*.json"), key=lambda page: page.stat().st_mtime)
    for page in pages[:-MOST_REMEMBERED]:
        page.unlink(missing_ok=True)


@cache
def _pages() -> TypeAdapter[_Page]:
    return TypeAdapter(_Page)


def _name(key: str) -> str:
    return f"{key[:32]}.json"


def _code() -> str:
    """Tell apart the code that proofs rest on."""
    return f"{roomcue_version()}\n{hash_of_source(CODE)}"


def _key(text: str, code: str) -> str:
    """Tell apart what must not be taken for the same check."""
    parts = (code, hashlib.sha256(text.encode()).hexdigest())
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()
