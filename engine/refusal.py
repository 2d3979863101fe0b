"""Why an event is not taken: an error with a stable code, and a sentence for whoever sent it."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, Final, Literal

from engine.former_words import new_word

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable


RefusalCode = Literal[
    "at_screen",
    "bad_room",
    "beyond_frame",
    "contract",
    "format",
    "malformed",
    "no_more_time",
    "not_asked",
    "not_lost",
    "not_open",
    "not_remembered",
    "not_shown",
    "nothing_to_undo",
    "out_of_range",
    "redelivered",
    "repeated",
    "replaced",
    "retained",
    "stale",
    "too_long",
    "unknown_name",
    "unknown_topic",
]
"""Why something was not taken. They are counted, so a code is never renamed."""


OF_ANOTHER_JOURNAL: Final = (
    "it is of another journal of this room, which this one knows nothing of; tell how things stand"
)
"""Why something is not open whose id this journal can never have given."""


NEVER_GIVEN: Final = "this room has never given that number"
"""Why something is not open whose id is still to come."""


class Refused(ValueError):
    """An event that cannot be taken; nothing has changed.

    `code` is stable for counting, the words say what is wrong and what would be right.
    """

    def __init__(self, code: RefusalCode, words: str) -> None:
        super().__init__(words)
        self.code = code
        self.words = words


def suggest(name: str, names: Iterable[str]) -> str:
    """Ask whether the new or nearest of some names was meant; give "" if none is near."""
    meant = nearest_name(name, tuple(names))
    return f"did you mean '{meant}'?" if meant else ""


def nearest_name(name: str, names: Collection[str]) -> str | None:
    """Find the name that a former or mistyped one means; None if none is near."""
    return new_word(name, names) or next(iter(get_close_matches(name, names, 1)), None)


def require_known(name: str, names: Iterable[str], what: str) -> None:
    """Refuse a name that the room does not know, with the nearest that it does."""
    names = tuple(names)
    if name in names:
        return
    hint = suggest(name, names) or "it knows " + (", ".join(names) or "none") + "."
    raise Refused("unknown_name", f"this room has no {what} '{name}': {hint}")
