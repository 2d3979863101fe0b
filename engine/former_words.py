"""Words that have been renamed, so that whoever still writes one is told the new one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Collection

NEW_WORDS: Final = {
    "hand": "override",
    "hands": "helper",
    "opening": "first_minutes",
    "ordinary": "standard",
    "stereo": "three_d",
    "zone": "time_zone",
}
"""The new word by the former one, of room files, events and told values alike."""


def new_word(word: str, known: Collection[str]) -> str | None:
    """Give the new word for a former one; None if it is none, or if the new one does not fit."""
    new = NEW_WORDS.get(word)
    return new if new in known else None
