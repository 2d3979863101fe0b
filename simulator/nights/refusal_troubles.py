"""What was sent and not taken: names that nobody knows, old news, clocks that go behind."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from engine.events import Answer, Event, milliseconds
from rules.words.fluent_catalogue import catalogue_in
from simulator.nights.chains import ChainLink, Trouble, duration_words, trouble
from simulator.nights.night_record import NightRecord
from simulator.nights.remedies import TroubleCode

LISTED: Final = 5
"""How many refusals of one reason a chain lists."""
A_WHILE: Final = 120_000
"""How long (ms) a refused word of a person counts as a trouble that stands."""
STEADY: Final = 60_000
"""By how much (ms) the ages of reports may differ if all come from one wrong clock."""
WISHES: Final = frozenset({"answer", "override", "undo", "find_lens", "forget", "helper"})
"""Kinds of events that people send."""


class _NotTaken(NamedTuple):
    at: int
    event: Event
    words: str


def refusals(record: NightRecord) -> Iterator[Trouble]:
    """Find what was sent and not taken, each kind of reason once."""
    by_reason: dict[tuple[str, str], list[_NotTaken]] = {}
    for step in record.steps:
        event, refused = step.entry.event, step.refused
        if refused is not None and event is not None:
            of = "" if _is_told_together(event, refused.code) else event.kind
            told = _NotTaken(step.entry.now, event, refused.words)
            by_reason.setdefault((of, refused.code), []).append(told)
    for (kind, code), every in by_reason.items():
        if kind:
            yield _refused(record, kind, code, every)
        else:
            yield _stale(record, every) if code == "stale" else _heard_before(every)


def _is_told_together(event: Event, code: str) -> bool:
    """Tell whether such refusals are told as one, whatever kinds of events they are of."""
    return code == "stale" or (code == "repeated" and event.kind not in WISHES)


def _heard_before(told: list[_NotTaken]) -> Trouble:
    kinds = ", ".join(dict.fromkeys(one.event.kind for one in told))
    words = f"What had been heard before was sent again, with the same id ({kinds}): it was left "
    words += "out, and changed nothing."
    return trouble(told[0].at, told[-1].at, "heard_before", words, _links(told))


def _refused(record: NightRecord, kind: str, code: str, told: list[_NotTaken]) -> Trouble:
    of: TroubleCode = "name_not_known" if code == "unknown_name" else "report_refused"
    if kind in WISHES and code != "unknown_name":
        of, did = "wish_refused", "answered" if kind == "answer" else "asked for"
        times = "" if len(told) == 1 else f", {len(told)} times"
        why = catalogue_in("en").say("refusal", code)  # as they were told themselves
        words = f"What somebody {did} was not taken{times}: {why}"
    else:
        times = "" if len(told) == 1 else f", and {len(told) - 1} more like it"
        first = told[0].words.rstrip(".") + times
        words = f"What was sent ({kind}) was not taken: {first}{'' if first[-1] == '?' else '.'}"
    last = told[-1].at
    until = last + A_WHILE if kind in WISHES else _taken_again(record, kind, last)
    return trouble(told[0].at, min(until, record.ends), of, words, _links(told), about=kind)


def _stale(record: NightRecord, told: list[_NotTaken]) -> Trouble:
    kinds = ", ".join(dict.fromkeys(one.event.kind for one in told))
    behind = [one.at - milliseconds(when) for one in told if (when := one.event.at) is not None]
    last = {one.event.kind: one for one in told}
    until = max(_taken_again(record, kind, one.at) for kind, one in last.items())
    if len(behind) > 1 and min(behind) >= STEADY and max(behind) - min(behind) <= STEADY:
        long = duration_words(min(behind))
        words = f"The clock of what sends {kinds} reports is {long} behind: {len(told)} of them "
        words += "were taken for old news and left out."
        return trouble(told[0].at, until, "sender_clock_behind", words, _dated_links(record, told))
    reports, were = ("report", "was") if len(told) == 1 else ("reports", "were")
    most = "" if len(behind) == 1 else "up to "
    old = f", {most}{duration_words(max(behind))} old," if behind else ""
    words = f"Old news was sent: {len(told)} {kinds} {reports}{old} {were} left out, for something "
    words += "newer was known."
    return trouble(told[0].at, until, "old_news", words, _dated_links(record, told))


def _taken_again(record: NightRecord, kind: str, at: int) -> int:
    """Say when an event of this kind was taken again after a moment, or when the night ends."""
    return next(
        (
            step.entry.now
            for step in record.steps
            if step.entry.now > at
            and step.refused is None
            and step.entry.event is not None
            and step.entry.event.kind == kind
        ),
        record.ends,
    )


def _links(told: list[_NotTaken]) -> tuple[ChainLink, ...]:
    return tuple(ChainLink(one.at, f"{_said(one.event)}: {one.words}") for one in told[:LISTED])


def _dated_links(record: NightRecord, told: list[_NotTaken]) -> tuple[ChainLink, ...]:
    """Tell of old news by when it was so: its age would be another beside what was known."""
    zone = ZoneInfo(record.room.time_zone)
    return tuple(
        ChainLink(
            one.at, f"{one.event.kind}, as it was at {one.event.at.astimezone(zone):%H:%M:%S}"
        )
        if one.event.at is not None
        else ChainLink(one.at, f"{one.event.kind}: {one.words}")
        for one in told[:LISTED]
    )


def _said(event: Event) -> str:
    """Say what was sent; of an answer, whose it was and which."""
    if not isinstance(event, Answer):
        return event.kind
    who = "somebody" if event.who is None else f"'{event.who}'"
    return f"{who} answered '{event.answer}'"
