"""What went wrong in a night, each thing with the chain of causes that led to it and from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from simulator.nights.chains import ChainLink, Trouble, all_decisions, trouble
from simulator.nights.equipment_troubles import (
    cue_troubles,
    held_troubles,
    lens_troubles,
    picture_troubles,
)
from simulator.nights.lasting_troubles import lasting_troubles
from simulator.nights.left_standing import left_standing
from simulator.nights.marks import marks, worst_first
from simulator.nights.night_record import NightRecord
from simulator.nights.refusal_troubles import refusals
from simulator.nights.remedies import KINDS
from simulator.nights.told_troubles import (
    contradictions,
    gap_troubles,
    panels_lost,
    prompt_troubles,
)

LISTED: Final = 4
"""How many times of a trouble that happened again are listed."""


def troubles_of(record: NightRecord) -> tuple[Trouble, ...]:
    """Find everything that went wrong in a night, in order of time; what happened again, once."""
    found = _each_time(record)
    told = [_to_its_end(record, one) for one in _counted_once(found)]
    told += marks(record, found)
    return tuple(sorted(told, key=lambda one: (one.at, KINDS.index(one.kind))))


def _to_its_end(record: NightRecord, one: Trouble) -> Trouble:
    """Lead a trouble's chain up to its end, where nothing that is told lies so late.

    What somebody asked for in vain has none: it is told at the moment at which it was said.
    """
    if one.code == "wish_refused" or (one.causes and one.causes[-1].at >= one.until):
        return one
    over = "not over when the night ended" if one.until == record.ends else "it was over"
    return one._replace(causes=(*one.causes, ChainLink(one.until, over)))


def _each_time(record: NightRecord) -> list[Trouble]:
    """Find everything that went wrong, each time that it did."""
    found = [
        *_promises(record),
        *lens_troubles(record),
        *picture_troubles(record),
        *cue_troubles(record),
        *prompt_troubles(record),
        *gap_troubles(record),
        *panels_lost(record),
        *contradictions(record),
        *lasting_troubles(record),
        *left_standing(record),
        *refusals(record),
    ]
    return [*found, *held_troubles(record, found)]


def _counted_once(found: Iterable[Trouble]) -> Iterator[Trouble]:
    """Make one trouble of what has the same code and the same remedy, with what came later.

    What was only held back stays apart: each is a wish of its own.
    """
    groups: dict[object, list[Trouble]] = {}
    for number, one in enumerate(sorted(found)):
        key: object = number if one.kind == "held" else (one.code, one.remedy)
        if one.code in {"picture_refused", "picture_unanswered"}:
            key = one.code  # whichever picture it was
        groups.setdefault(key, []).append(one)
    for first, *later in groups.values():
        if not later:
            yield first
            continue
        again = [ChainLink(one.at, f"again: {one.words}") for one in later[:LISTED]]
        if len(later) > LISTED:
            again.append(ChainLink(later[-1].at, f"the last of {len(later) + 1}"))
        until = max(one.until for one in (first, *later))
        chain = tuple(sorted([*first.causes, *again]))
        yield first._replace(until=until, causes=chain, times=len(later) + 1)


def standing_troubles(record: NightRecord, now: int) -> list[Trouble]:
    """Give what had gone wrong by a moment and was not over yet, the worst first."""
    return worst_first(one for one in _each_time(record) if one.at <= now <= one.until)


def roots_at(record: NightRecord, now: int) -> tuple[ChainLink, ...]:
    """Say what led to how the room stands at a moment: chains that reach into it, or nothing."""
    return _joined(standing_troubles(record, now)[:2], now)


def _joined(troubles: Iterable[Trouble], now: int) -> tuple[ChainLink, ...]:
    causes = dict.fromkeys(cause for one in troubles for cause in one.causes if cause.at <= now)
    return tuple(sorted(causes, key=lambda cause: cause.at))


def _promises(record: NightRecord) -> Iterator[Trouble]:
    for step in record.steps:
        for promise in step.broken:
            at = step.entry.now
            words = f"The promise '{promise.label}' was broken: {promise.because}"
            led = [one for one in all_decisions(record) if one.at <= at][-1:]
            causes = [ChainLink(one.at, f"decided: {one.kind}, by {one.rule}") for one in led]
            causes.append(ChainLink(at, "the promise was broken"))
            yield trouble(at, at, "promise_broken", words, causes)
