"""The codes of the words that only the page says; the words stand in the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, get_args

if TYPE_CHECKING:
    from engine.catalogue import Catalogue

LabelCode = Literal[
    "as_made",
    "automatic",
    "cannot",
    "cropped",
    "default_part",
    "do_it_anyway",
    "facts",
    "find_lens",
    "free_again",
    "guest",
    "hands",
    "leave_title",
    "leave_tonight",
    "lens_at",
    "light_back_in",
    "lights",
    "lines_below",
    "link_enter",
    "look_again",
    "name_save",
    "name_yours",
    "no",
    "number_set",
    "panels_off",
    "rooms",
    "undo",
    "undo_since",
    "ways",
    "whole",
    "widened",
    "with_panels",
    "wrong",
    "yes",
]
"""What stands on a button, or above a part of the page."""
PageCode = Literal[
    "answer_missing",
    "at_screen_of",
    "at_screen_unnamed",
    "at_screen_yours",
    "cost_cut",
    "cost_lens",
    "cost_people",
    "cost_wider",
    "gone",
    "gone_faulty",
    "file_new",
    "file_unreadable",
    "is_paused",
    "is_playing",
    "is_stopped",
    "is_unknown",
    "link_ask",
    "link_used",
    "name_ask",
    "next",
    "no_light_from_here",
    "no_room",
    "no_word",
    "not_allowed",
    "only_if_you",
    "page_lost",
    "panels_free",
    "panels_on",
    "panels_unknown",
    "seen_dark",
    "seen_ends",
    "seen_fills",
    "seen_inside",
    "seen_moving",
    "seen_nobody_knows",
    "seen_ordered",
    "seen_sides",
    "too_often",
    "wait_for_dark",
    "why_not",
]
"""The sentences that the page itself says, beside those that come from the room."""
LABELS: Final = frozenset(get_args(LabelCode))


def on_page(catalogue: Catalogue, code: PageCode | LabelCode, **parameters: str | int) -> str:
    """Give a label or a sentence of the page in the language of a catalogue."""
    return catalogue.say("label" if code in LABELS else "page", code, parameters)
