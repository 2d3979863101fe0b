"""Read what is written in one place of a room file: yes and no, names, sentences, words, places."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final, NamedTuple
from unicodedata import category, normalize

from rules.text import quantity
from rules.text.cell_mistakes import TRUTHS
from rules.text.findings import advice_for_unknown
from rules.text.quantity import QuantityError

RESERVED_WORDS: Final = frozenset({"null", "yes", "no", "true", "false", "not", "or", "to"})
"""Words with a meaning in the file's own grammar; none of them may be a name."""
NAME_PATTERN: Final = r"[a-z][a-z0-9_]{0,39}"
NAME_RULE: Final = "A name is up to 40 lowercase letters, digits and _, a letter first."
MOST_CHOICES: Final = 32
"""A told fact or a cue has at most this many words to choose from."""
UNREADABLE: Final = frozenset({"Cc", "Cs"})
"""Of a sentence for people: the categories of characters that nobody can read."""
MOST_TEXT_CHARACTERS: Final = 300
"""A label or a reason is at most this long."""

_PIXELS: Final = r"(-?[0-9]{1,5}(?:\.[0-9]+)?)"
_PLACE: Final = re.compile(rf"{_PIXELS}\s*[xX\u00d7]\s*{_PIXELS}")
_NEARLY_TRUTHS: Final = {
    **dict.fromkeys(("on", "y", "1", "t"), "yes"),
    **dict.fromkeys(("off", "n", "0", "f"), "no"),
}


class Choices(NamedTuple):
    """The values that a told fact may have: words, yes and no, or a range of whole numbers."""

    values: tuple[str | bool, ...]
    """Empty for a range of numbers."""
    least: int | None = None
    most: int | None = None


def read_truth(text: str) -> bool:
    """Read yes or no; raises QuantityError."""
    body = text.strip()
    if body in TRUTHS:
        return TRUTHS[body]
    meant = body.lower() if body.lower() in TRUTHS else _NEARLY_TRUTHS.get(body.lower(), "")
    raise QuantityError(
        "bad-value",
        f"{body} is neither yes nor no" if body else "yes or no is missing here",
        f"Write {meant or 'yes or no'}.",
    )


def read_name(text: str, taken: frozenset[str] = frozenset()) -> str:
    """Read a name that the room file gives; raises QuantityError.

    `taken` are names that are built in and may not be given again.
    """
    if text in RESERVED_WORDS:
        raise QuantityError(
            "name-taken", f"{text} has a meaning of its own and names nothing", "Choose another."
        )
    if text in taken:
        raise QuantityError(
            "name-taken", f"{text} is built in and cannot be given again", "Choose another name."
        )
    if not re.fullmatch(NAME_PATTERN, text):
        plain = normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
        better = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")
        good = re.fullmatch(NAME_PATTERN, better) and better not in RESERVED_WORDS | taken
        raise QuantityError(
            "bad-name",
            f"{text[:60]!r} is no name" if text else "a name is missing here",
            NAME_RULE + (f" Write {better}." if good else ""),
        )
    return text


def read_text_line(text: str, what: str = "text") -> str:
    """Read a sentence for people and join its lines; raises QuantityError.

    `what` says in the error what the sentence is, such as "reason".
    """
    body, advice = " ".join(text.split()), "Say it in a sentence that people will read."
    if not body:
        raise QuantityError("missing", f"a {what} is missing here", advice)
    control = next((one for one in body if category(one) in UNREADABLE), None)
    if control is not None:
        message = f"this {what} holds U+{ord(control):04X}, which nobody can read"
        raise QuantityError("bad-value", message, "Leave that character out.")
    if len(body) > MOST_TEXT_CHARACTERS:
        raise QuantityError(
            "too-long",
            f"this {what} has {len(body)} characters",
            f"Write at most {MOST_TEXT_CHARACTERS}.",
        )
    return body


def read_choices(text: str) -> Choices:
    """Read "yes or no", "calm or bright or off" or "0 to 12"; raises QuantityError."""
    body = " ".join(text.split())
    if numbers := re.fullmatch(r"(-?[0-9]{1,6}) to (-?[0-9]{1,6})", body):
        least, most = int(numbers[1]), int(numbers[2])
        if least < most:
            return Choices((), least, most)
        raise QuantityError("bad-value", f"{body} runs downwards", f"Write {most} to {least}.")
    found = read_closed_words(body)
    if frozenset(found) & TRUTHS.keys():
        if frozenset(found) in {frozenset({"yes", "no"}), frozenset({"true", "false"})}:
            return Choices((True, False))
        raise QuantityError(
            "bad-value", f"{body} mixes yes and no with other words", "Write yes or no."
        )
    return Choices(found)


def read_closed_words(text: str) -> tuple[str, ...]:
    """Read at least two words joined by "or"; raises QuantityError."""
    body = " ".join(text.split())
    parts = tuple(body.split(" or "))
    if any(not re.fullmatch(NAME_PATTERN, part) for part in parts) or len(parts) == 1:
        meant = [part for part in re.split(r"[\s,|/]+(?:or[\s,|/]+)?", body) if part]
        near = len(meant) > 1 and all(re.fullmatch(NAME_PATTERN, part) for part in meant)
        raise QuantityError(
            "bad-value",
            f"{body[:60]} is no choice of words" if body else "a choice of words is missing here",
            f"Write {' or '.join(meant)}."
            if near
            else "Write yes or no, low or half or full, or a range such as 0 to 12.",
        )
    twice = next((part for part in parts if parts.count(part) > 1), None)
    taken = next((part for part in parts if part in RESERVED_WORDS - TRUTHS.keys()), None)
    if twice or taken or len(parts) > MOST_CHOICES:
        raise QuantityError(
            "bad-value",
            f"{twice} stands twice"
            if twice
            else f"{taken} has a meaning of its own"
            if taken
            else f"there are {len(parts)} words",
            f"Name up to {MOST_CHOICES} different words.",
        )
    return parts


def read_corner(text: str) -> tuple[int, int]:
    """Read "128.5 x 96" as a place in 1/100 pixels from the raster's top left.

    Places to the left of the raster or above it are negative. Raises QuantityError.
    """
    found = _PLACE.fullmatch(text.strip())
    if not found:
        raise QuantityError(
            "bad-value",
            f"{text[:60] or 'nothing'} is no place in the raster",
            "Write columns x rows from its top left, such as 128.5 x 96.",
        )
    across, down = (int((Decimal(part) * 100).to_integral_value()) for part in found.groups())
    return across, down


def one_of(text: str, known: tuple[str, ...]) -> str:
    """Read one of the known words; raises QuantityError, which suggests the most similar one."""
    body = text.strip()
    if body in known:
        return body
    raise QuantityError(
        "bad-value", f"{body[:60] or 'nothing'} is not known here", advice_for_unknown(body, known)
    )


def read_contrast(text: str) -> float:
    """Read "2000" or "2000:1" as a number from 100 to 1,000,000; raises QuantityError."""
    return quantity.read_number(re.sub(r"\s*:\s*1\s*$", "", text), 100, 1_000_000)
