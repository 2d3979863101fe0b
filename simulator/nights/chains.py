"""Chains of causes: what a trouble of a night is made of, and look-ups in the night's record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple, TypeVar

from engine.decisions import Decision, Note
from engine.room import SlowPart
from simulator.nights.night_record import LaneSpan, NightRecord, Wish
from simulator.nights.remedies import REMEDIES, TroubleCode, TroubleKind

Made = TypeVar("Made", bound=Decision)
CLOSE: Final = 1_500
"""How near (ms) to a decision the wish begins that belongs to it."""


class ChainLink(NamedTuple):
    """One link of a chain: a moment, ms UTC, and what happened then."""

    at: int
    words: str


class Trouble(NamedTuple):
    """One thing that went wrong."""

    at: int
    until: int
    """When it was over, or the night's end; ms UTC."""
    kind: TroubleKind
    code: TroubleCode
    """What went wrong; of a mark what had gone wrong when somebody said it."""
    words: str
    """What went wrong, in one sentence or two."""
    remedy: str
    """What a technician should do about it."""
    causes: tuple[ChainLink, ...]
    """In order of time."""
    times: int = 1
    """How often it happened in the night."""


def trouble(  # noqa: PLR0913 - a trouble's own fields
    at: int,
    until: int,
    code: TroubleCode,
    words: str,
    causes: Iterable[ChainLink],
    *,
    about: str = "",
) -> Trouble:
    """Make a trouble; its remedy names what it is about."""
    kind, remedy = REMEDIES[code]
    return Trouble(at, until, kind, code, words, remedy.format(about=about), tuple(causes))


def all_decisions(record: NightRecord) -> Iterator[Decision]:
    """Give every decision of a night, in order."""
    for moment in record.moments:
        yield from moment.decisions


def notes_of(record: NightRecord, codes: Iterable[str]) -> list[Note]:
    """Give the notes with one of these codes."""
    wanted = set(codes)
    return [one for one in all_decisions(record) if isinstance(one, Note) and one.code in wanted]


def decisions_of(record: NightRecord, kind: type[Made]) -> list[Made]:
    """Give the decisions of one kind."""
    return [one for one in all_decisions(record) if isinstance(one, kind)]


def last_before(record: NightRecord, kind: type[Made], at: int) -> Made | None:
    """Give the latest decision of a kind up to a moment."""
    return next((one for one in reversed(decisions_of(record, kind)) if one.at <= at), None)


def span_at(record: NightRecord, lane: str, at: int) -> LaneSpan | None:
    """Give what stood in a lane at a moment."""
    return next((one for one in record.lanes[lane] if one.start <= at < one.end), None)


def stands_at(record: NightRecord, lane: str, at: int) -> str:
    """Say what stands in a lane at a moment; "" for nothing, and outside the night."""
    span = span_at(record, lane, at)
    return "" if span is None else span.value


def value_at(record: NightRecord, lane: str, at: int) -> str:
    """Say what stood last in a lane up to a moment; "" for nothing."""
    spans = [one for one in record.lanes[lane] if one.start <= at]
    return spans[-1].value if spans else ""


def reached_at(record: NightRecord, lane: str, value: str, since: int) -> int | None:
    """Say when something was confirmed to stand again after a moment; None: never."""
    spans = record.lanes[lane]
    return next(
        (one.start for one in spans if one.start > since and one.known and one.value == value), None
    )


def wish_at(record: NightRecord, part: SlowPart, at: int) -> Wish | None:
    """Give the wish that led to what was decided at a moment; it may just have ended."""
    wishes = [one for one in record.wishes if one.part == part and one.start <= at + CLOSE]
    return wishes[-1] if wishes else None


def wish_causes(wish: Wish | None) -> list[ChainLink]:
    """Tell of a wish as the first link of a chain."""
    if wish is None:
        return []
    shape = "" if wish.row == "a person" else f" for {wish.shape}"
    by = wish.row if wish.row == "a person" else f"rule '{wish.row}'"
    what = f"panels {wish.value}" if wish.part == "panels" else wish.value
    return [ChainLink(wish.start, f"{what} wanted by {by}{shape}")]


class Together(NamedTuple):
    """A while in which a title played and something else stood, ms UTC."""

    start: int
    end: int
    value: str
    title: LaneSpan
    """The while in which it played."""


def playing_with(record: NightRecord, lane: str) -> Iterator[Together]:
    """Give each while in which something played while one thing stood in a lane."""
    for played in record.lanes["playback"]:
        if played.value != "playing":
            continue
        for one in record.lanes[lane]:
            start, end = max(one.start, played.start), min(one.end, played.end)
            if start < end:
                yield Together(start, end, one.value, played)


def title_end(record: NightRecord, at: int) -> int:
    """Say when playing ended after a moment; at the latest with the night."""
    spans = record.lanes["playback"]
    return next(
        (one.start for one in spans if one.start > at and one.value == "stopped"), record.ends
    )


def duration_words(ms: int) -> str:
    """Say a duration of some milliseconds in seconds or minutes."""
    seconds = round(ms / 1_000)
    if seconds >= 7_200:  # noqa: PLR2004 - two hours and more are told in hours
        return f"{seconds // 3_600} h {seconds % 3_600 // 60:02} min"
    if seconds < 120:  # noqa: PLR2004 - two minutes and more are told in minutes
        return f"{seconds} s"
    return f"{seconds // 60} min {seconds % 60:02} s" if seconds % 60 else f"{seconds // 60} min"
