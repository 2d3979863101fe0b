"""The room file that a journal keeps: compiled, or refused in one sentence."""

from __future__ import annotations

from pathlib import Path

from adapters.live.journal_file import JournalError
from engine.room import Room
from rules.room.load import load
from rules.text.findings import BadRoom, Finding


def kept_room(text: str, name: str, path: Path, advice: str) -> Room:
    """Compile the room file of a room that the journal at a path keeps.

    Raises `JournalError` in one sentence, with `advice`, where it is damaged or too old.
    """
    try:
        return load(text, f"{name} (in the journal)")
    except BadRoom as error:
        fatal = [one for one in error.findings if one.fatal] or [*error.findings]
        raise JournalError(
            f"{path}: the room file of '{name}' in this journal cannot be used: "
            f"{_located(fatal[0])}{_more(len(fatal) - 1)}. {advice}"
        ) from error


def _located(one: Finding) -> str:
    return f"line {one.line}, column {one.column}: {one.message}"


def _more(count: int) -> str:
    return f" (and {count} more)" if count > 0 else ""
