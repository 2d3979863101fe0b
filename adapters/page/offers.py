"""What may be said on the page now: each button with the word that it stands for.

Only what is offered is taken: a press that comes from an older picture of the page, or from
somebody who made a form of their own, meets nothing here.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

MOST_NUMBER_LETTERS: Final = 12


class Offer(NamedTuple):
    """A person's word: the topic after `in/`, and its payload but for who says it."""

    subtopic: str
    fields: dict[str, Any]
    number: str | None = None
    """The field of the form that holds the number to be told, where one is typed."""


class Button(NamedTuple):
    """A button as the page shows it."""

    value: str
    label: str
    pressed: bool | None = None
    """Whether it is what stands now; None: it is no choice among several."""
    detail: str = ""


class Offers:
    """Collects what a page offers while it is put together."""

    def __init__(self) -> None:
        self.by_value: dict[str, Offer] = {}

    def button(  # noqa: PLR0913 - a button is all of these
        self,
        value: str,
        label: str,
        subtopic: str,
        fields: dict[str, Any],
        *,
        pressed: bool | None = None,
        detail: str = "",
    ) -> Button:
        """Offer a word under a value, and give its button."""
        self.by_value[value] = Offer(subtopic, fields)
        return Button(value, label, pressed, detail)

    def number(self, value: str, label: str, fact: str, field: str) -> Button:
        """Offer to tell a fact whose value is a number that is typed."""
        self.by_value[value] = Offer(f"told/{fact}", {}, field)
        return Button(value, label)


def number_typed(text: str) -> int | None:
    """Read a number that was typed; None: it is none."""
    text = text.strip()
    if len(text) > MOST_NUMBER_LETTERS:
        return None
    try:
        return int(text)
    except ValueError:
        return None
