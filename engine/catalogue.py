"""What the engine asks of a catalogue of sentences: words for a code, in the room's language.

The engine decides codes and their parameters. The sentences stand in files above it, in
`rules.words`, and a compiled room carries the catalogue of its own language.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal, Protocol, TypeAlias

Group = Literal[
    "task",
    "prompt",
    "caution",
    "choice",
    "reason",
    "note",
    "hold",
    "refusal",
    "reply",
    "help",
    "next",
    "label",
    "page",
    "undo",
    "paper",
    "heading",
    "fault",
]
"""What kind of sentence a code stands for; a code means one thing within its group."""

Parameters: TypeAlias = Mapping[str, str | int]
"""What a sentence tells of the moment, by name."""
NOTHING_MORE: Final[Parameters] = {}
NOTHING_NAMED: Final[Parameters] = {"named": "no", "what": "", "value": ""}
"""For a sentence that names a cue or a fact, where the room file gives that no label."""


class Catalogue(Protocol):
    """The sentences for people in one language: equal codes and parameters give equal words."""

    @property
    def language(self) -> str:
        """The language's code, such as en."""

    def say(self, group: Group, code: str, parameters: Parameters = NOTHING_MORE) -> str:
        """Give the sentence of a code."""
