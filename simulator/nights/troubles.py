"""What went wrong in a night, each thing with the chain of causes that led to it and from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine.decisions import Decision, Note
from engine.events import Mark
from simulator.nights.chains import KINDS, ChainLink, Trouble, all_decisions, value_at
from simulator.nights.equipment_troubles import (
    cue_troubles,
    held_troubles,
    lens_troubles,
    picture_troubles,
)
from simulator.nights.night_record import NightRecord
from simulator.nights.told_troubles import (
    contradictions,
    gap_troubles,
    panels_lost,
    prompt_troubles,
    refusals,
    signal_troubles,
)


def troubles_of(record: NightRecord) -> tuple[Trouble, ...]:
    """Find everything that went wrong in a night, in order of time."""
    found = [
        *_promises(record),
        *lens_troubles(record),
        *picture_troubles(record),
        *cue_troubles(record),
        *prompt_troubles(record),
        *gap_troubles(record),
        *panels_lost(record),
        *signal_troubles(record),
        *contradictions(record),
        *refusals(record),
    ]
    found += held_troubles(record, found)
    found += _marks(record, found)
    return tuple(sorted(found, key=lambda one: (one.at, KINDS.index(one.kind))))


def worst_first(troubles: Iterable[Trouble]) -> list[Trouble]:
    """Order troubles by how bad they are, what somebody marked first of all."""
    return sorted(troubles, key=lambda one: (one.kind != "marked", KINDS.index(one.kind), one.at))


def standing_troubles(record: NightRecord, now: int) -> list[Trouble]:
    """Give what had gone wrong by a moment and was not over yet, the worst first."""
    return worst_first(
        one for one in troubles_of(record) if one.at <= now <= one.until and one.kind != "marked"
    )


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
            yield Trouble(
                at, at, "broken", words, (*causes, ChainLink(at, "the promise was broken"))
            )


def _marks(record: NightRecord, found: list[Trouble]) -> Iterator[Trouble]:
    """Tell of what somebody marked, with the chain that led there."""
    for step in record.steps:
        event, at = step.entry.event, step.entry.now
        if not isinstance(event, Mark):
            continue
        standing = [one for one in found if one.at <= at <= one.until]
        said = f'Somebody said "{event.words or "that was wrong"}"'
        causes: tuple[ChainLink, ...]
        if standing:
            worst = worst_first(standing)[0]
            words = f"{said}. {worst.words}"
            causes = _joined([worst], at)
        else:
            last = [
                one for one in all_decisions(record) if one.at <= at and not isinstance(one, Note)
            ]
            causes = tuple(ChainLink(one.at, _stood_by(one)) for one in last[-2:])
            now = value_at(record, "picture", at) or "no picture"
            words = f"{said}. Nothing had failed: the picture was {now}, as the rules want it."
        yield Trouble(at, at, "marked", words, (*causes, ChainLink(at, "marked")))


def _stood_by(decision: Decision) -> str:
    what = getattr(decision, "picture", None) or getattr(decision, "preset", None)
    what = what or getattr(decision, "cue", None) or getattr(decision, "panels", "")
    return f"{decision.kind} {what} by {decision.rule}".replace("  ", " ")
