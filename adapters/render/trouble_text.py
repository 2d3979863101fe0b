"""What went wrong in a night, in sentences: the first one, the list, the chain of each thing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from rich.text import Text

from adapters.render.columns import plural
from adapters.render.night_text import clock
from adapters.render.styled import EMPTY_LINE, Block, Indented
from adapters.safe_text import escaped
from simulator.nights.troubles import worst_first

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from simulator.nights.chains import Trouble, TroubleKind
    from simulator.nights.night_record import NightRecord

SIGNS: Final[dict[TroubleKind, str]] = {
    "broken": "promise broken",
    "refused": "refused",
    "lost": "lost",
    "expired": "ran out",
    "unanswered": "unanswered",
    "contradicted": "contradicted",
    "marked": "marked",
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
    others = sum(one is not worst and not _told_in(worst, one) for one in faults)
    more = "" if not others else f" Besides that, {plural(others, 'more thing')} below."
    return f"{clock(worst.at, zone)}: {worst.words}{more}"


def _told_in(worst: Trouble, other: Trouble) -> bool:
    """Tell whether what somebody marked is this very trouble, so that it counts once."""
    return worst.kind == "marked" and other.kind != "marked" and other.words in worst.words


def headline_of(record: NightRecord, troubles: Sequence[Trouble]) -> str:
    """Say the headline in the clock of the night's room."""
    return headline(troubles, ZoneInfo(record.room.time_zone))


def trouble_blocks(troubles: Sequence[Trouble], zone: ZoneInfo) -> Iterator[Block]:
    """Show the headline, and each thing that went wrong with its chain of causes."""
    yield Text(escaped(headline(troubles, zone)), "bold")
    for one in troubles:
        yield EMPTY_LINE
        line = Text(f"{clock(one.at, zone)}  ")
        line.append(f"{SIGNS[one.kind]}: ", "bold red" if one.kind != "held" else "bold")
        yield line.append(escaped(one.words))
        for cause in one.causes:
            yield Indented(Text(escaped(f"{clock(cause.at, zone)}  {cause.words}"), "dim"))
