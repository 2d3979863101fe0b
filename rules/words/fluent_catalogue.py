"""Look up a sentence by its code, in the language of a room."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

from engine.catalogue import NOTHING_MORE

if TYPE_CHECKING:
    from fluent.runtime import FluentBundle

    from engine.catalogue import Group, Parameters

FOLDER: Final = Path(__file__).parent
DEFAULT_LANGUAGE: Final = "en"
_ENTRY: Final = re.compile(r"^(?P<name>[a-z][a-z_-]*[a-z]) =", re.MULTILINE)
SENTENCES_KEPT: Final = 1_024
"""How many sentences are kept ready: far more than a room says, unless they count something."""


@cache
def languages() -> tuple[str, ...]:
    """Give the code of every language that has a file."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.ftl")))


@cache
def catalogue_in(language: str) -> FluentCatalogue:
    """Give the catalogue of one of the `languages`."""
    return FluentCatalogue(language)


class FluentCatalogue:
    """The sentences of one language, read from its Fluent file."""

    __slots__ = ("_bundle", "_formatted", "_reading", "_unread", "language")

    def __init__(self, language: str) -> None:
        self.language = language
        self._bundle: FluentBundle | None = None
        self._unread = entries((FOLDER / f"{language}.ftl").read_text("utf-8"))
        self._formatted = lru_cache(SENTENCES_KEPT)(self._format)
        self._reading = Lock()

    def say(self, group: Group, code: str, parameters: Parameters = NOTHING_MORE) -> str:
        """Give the sentence of a code; KeyError for a code that the language does not have."""
        return self._formatted(f"{group}-{key(code)}", tuple(parameters.items()))

    def _format(self, name: str, parameters: tuple[tuple[str, str | int], ...]) -> str:
        # Reading all sentences would take longer than the rest of a start, so each is read when it
        # is said first, by whichever thread says it.
        with self._reading:
            bundle = self._bundle = self._bundle or _empty_bundle(self.language)
            unread = self._unread.pop(name, None)
            if unread is not None:
                from fluent.runtime import FluentResource  # noqa: PLC0415 - as below

                bundle.add_resource(FluentResource(unread))
        pattern = bundle.get_message(name).value
        if pattern is None:
            raise KeyError(name)
        words, _ = bundle.format_pattern(pattern, dict(parameters))
        return str(words)


def _empty_bundle(language: str) -> FluentBundle:
    from fluent.runtime import FluentBundle  # noqa: PLC0415 - a quarter of a start that says nothing

    # Marks that keep scripts of two directions apart would be seen as dirt on a plain display.
    return FluentBundle([language], use_isolating=False)


def entries(text: str) -> dict[str, str]:
    """Cut a Fluent file into its sentences, by their names; none of ours refers to another."""
    begins = [*_ENTRY.finditer(text)]
    ends = [*(each.start() for each in begins[1:]), len(text)]
    return {each["name"]: text[each.start() : end] for each, end in zip(begins, ends, strict=True)}


def key(code: str) -> str:
    """Write a code as the files do: their names have no spaces."""
    return code.replace(" ", "_")
