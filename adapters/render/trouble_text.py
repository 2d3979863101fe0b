"""What went wrong in a night, in sentences: the first one, the list, the chain of each thing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from rich.text import Text

from adapters.render.columns import plural
from adapters.render.night_text import clock
from adapters.render.styled import EMPTY_LINE, Block, Indented
from adapters.safe_text import escaped
from simulator.nights.marks import worst_first

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from simulator.nights.chains import Trouble
    from simulator.nights.night_record import NightRecord
    from simulator.nights.remedies import TroubleKind

SIGNS: Final[dict[TroubleKind, str]] = {
    "broken": "promise broken",
    "refused": "refused",
    "lost": "lost",
    "expired": "ran out",
    "unanswered": "unanswered",
    "contradicted": "contradicted",
    "forgotten": "left standing",
    "marked": "marked",
    "due": "to look at",
    "held": "held back",
}
"""What each kind of trouble is called in a list."""


def faults_of(troubles: Sequence[Trouble]) -> list[Trouble]:
    """Leave out what was only held back, as the room file says."""
    return [one for one in troubles if one.kind != "held"]


def headline(troubles: Sequence[Trouble], zone: ZoneInfo) -> str:
    """Say in one or two sentences what went wrong in a night."""
    faults, held = faults_of(troubles), len(troubles) - len(faults_of(troubles))
    if not faults:
        more = f" {held} {'wish' if held == 1 else 'wishes'} had to wait" if held else ""
        return f"Nothing went wrong.{more}{', as the room file says.' if held else ''}"
    worst = worst_first(faults)[0]
    others = len(_separate(faults)) - 1
    more = "" if not others else f" Besides that, {plural(others, 'more thing')} below."
    return f"{clock(worst.at, zone)}: {worst.words}{more}"


def first_remedy(troubles: Sequence[Trouble]) -> str:
    """Say what to do about what the headline tells; "" where nothing went wrong."""
    faults = faults_of(troubles)
    return worst_first(faults)[0].remedy if faults else ""


def said_of(one: Trouble) -> str:
    """Say what went wrong, and how often it did."""
    if one.times == 1:
        return one.words
    return f"{one.words} This happened {one.times} times."


def remedies_of(troubles: Sequence[Trouble]) -> list[str]:
    """Say for each trouble what to do about it; "" where that has just been said."""
    said, found = set[str](), list[str]()
    for one in troubles:
        found.append("" if one.remedy in said else one.remedy)
        said.add(one.remedy)
    return found


def count_words(troubles: Sequence[Trouble]) -> str:
    """Say how many things went wrong, as the list's heading; "" where none did."""
    faults = faults_of(troubles)
    separate = _separate(faults)
    if not faults:
        return ""
    if all(one.kind == "marked" for one in separate):
        return f"{plural(len(separate), 'thing')} said to be wrong"
    said = ", and somebody said so" if len(separate) < len(faults) else ""
    return f"{plural(len(separate), 'thing')} went wrong{said}"


def _separate(faults: Sequence[Trouble]) -> list[Trouble]:
    """Leave out what somebody marked where that very trouble is listed, so that it counts once."""
    others = [one for one in faults if one.kind != "marked"]
    return [
        one
        for one in faults
        if one.kind != "marked" or not any(_is_of(one, other) for other in others)
    ]


def _is_of(marked: Trouble, other: Trouble) -> bool:
    """Tell whether somebody marked this trouble; of one that happened again, any of its times."""
    again = other.times > 1 and other.code == marked.code and other.at <= marked.at
    return again or other.words in marked.words


def headline_of(record: NightRecord, troubles: Sequence[Trouble]) -> str:
    """Say the headline in the clock of the night's room."""
    return headline(troubles, ZoneInfo(record.room.time_zone))


def trouble_blocks(troubles: Sequence[Trouble], zone: ZoneInfo) -> Iterator[Block]:
    """Show the headline, and each thing that went wrong with its chain of causes and its remedy."""
    yield Text(escaped(headline(troubles, zone)), "bold")
    for one, remedy in zip(troubles, remedies_of(troubles), strict=True):
        yield EMPTY_LINE
        line = Text(f"{clock(one.at, zone)}  ")
        line.append(f"{SIGNS[one.kind]}: ", "bold red" if one.kind != "held" else "bold")
        yield line.append(escaped(said_of(one)))
        for cause in one.causes:
            yield Indented(Text(escaped(f"{clock(cause.at, zone)}  {cause.words}"), "dim"))
        if remedy:
            yield Indented(Text.assemble(("To do: ", "bold"), escaped(remedy)))


def trouble_data(one: Trouble, start: int) -> dict[str, object]:
    """Give a trouble for machines, with times in seconds from the night's beginning."""
    return {
        "t": (one.at - start) / 1_000,
        "until": (one.until - start) / 1_000,
        "kind": one.kind,
        "code": one.code,
        "words": one.words,
        "times": one.times,
        "to_do": one.remedy,
        "causes": [{"t": (cause.at - start) / 1_000, "words": cause.words} for cause in one.causes],
    }
