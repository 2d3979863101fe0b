"""What went wrong with lens, pictures and cues: refused, lost, never answered, held back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.decisions import CueOrder, Decision, PictureOrder, RecallOrder
from engine.events import Outcome
from engine.wording import HOLDS, NOTED
from simulator.nights.chains import (
    CLOSE,
    ChainLink,
    Trouble,
    TroubleKind,
    decisions_of,
    last_before,
    notes_of,
    reached_at,
    span_at,
    value_at,
    wish_at,
    wish_causes,
)
from simulator.nights.night_record import NightRecord, Wish

A_WHILE: Final = 60_000
"""A wish that is held back for less (ms) is no trouble."""
_LENS_FAULTS: Final[dict[str, tuple[TroubleKind, str, str]]] = {
    "recall_refused": ("refused", "its recall was refused", "refused"),
    "lens_lost": ("lost", "nobody said that it arrived", "its time was over without a report"),
    "lens_elsewhere": ("lost", "it came to rest elsewhere", "it came to rest elsewhere"),
}
_HOLDS_FOR: Final = {
    "preset": {
        *("first_minutes", "per_title", "per_night", "put_back", "unreached"),
        *("lens_unknown", "lens_nowhere", "panels", "circle"),
    },
    "panels": {"helper", "mid_title", "circle"},
}


def lens_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find recalls that were refused, got lost or ended elsewhere."""
    for note in notes_of(record, _LENS_FAULTS):
        kind, why, short = _LENS_FAULTS[note.code]
        if any(
            gap.start <= note.at <= gap.end and "recall" in gap.event.unsent for gap in record.gaps
        ):
            continue  # That trouble tells of it.
        order = last_before(record, RecallOrder, note.at)
        if order is None:
            words = f"The lens was moved by hand, and {why}."
            yield Trouble(note.at, note.at, kind, words, (ChainLink(note.at, short),))
        else:
            yield _recall_trouble(record, note.at, order, (kind, why, short))


def _recall_trouble(
    record: NightRecord, at: int, order: RecallOrder, what: tuple[TroubleKind, str, str]
) -> Trouble:
    """Tell of a recall that did not bring the lens where it should go, and what came of that."""
    kind, why, short = what
    wish = wish_at(record, "preset", at)
    reached = reached_at(record, "preset", order.preset, at)
    until = min(reached or record.ends, record.ends if wish is None else wish.end)
    held = _holds(record, at, until)
    causes = [*wish_causes(wish), ChainLink(order.at, f"recall #{order.id} to {order.preset}")]
    causes += [ChainLink(at, short), *held]
    where = value_at(record, "preset", at) or "where nobody knows"
    if reached is not None and reached <= until:
        causes.append(ChainLink(reached, f"the lens stood at {order.preset} after all"))
        words = f"The lens reached {order.preset} late: {why} at first."
    else:
        ended = f"still at {where}" if until == record.ends else f"{order.preset} no longer wanted"
        causes.append(ChainLink(until, ended))
        stands = span_at(record, "preset", at)
        if stands is not None and not stands.value and stands.end > until:
            until = stands.end
            known = "known again" if until < record.ends else "still not known at the end"
            causes.append(ChainLink(until, f"where the lens stands: {known}"))
        if kind == "lost":
            words = f"The lens was sent to {order.preset} and {why}: where it stood is not known."
        else:
            words = f"The lens stayed at {where} and never went to {order.preset}: {why}."
            words += f" Then: {held[-1].words}" if held else ""
    return Trouble(at, until, kind, words, tuple(dict.fromkeys(causes)))


def _holds(record: NightRecord, since: int, until: int) -> list[ChainLink]:
    """Say what held the lens back between two moments, each thing once."""
    codes: dict[str, int] = {}
    for moment in record.moments:
        if since <= moment.at <= until:
            for code in moment.state.core.holds:
                if code in NOTED and NOTED[code] in {"pace", "lens"}:
                    codes.setdefault(code, moment.at)
    return [ChainLink(at, HOLDS[code]) for code, at in codes.items()]


def held_troubles(record: NightRecord, found: list[Trouble]) -> Iterator[Trouble]:
    """Find wishes for a preset or for panels that a limit of the room file held back for long."""
    for wish in record.wishes:
        if wish.end - wish.start < A_WHILE or _stood(record, wish):
            continue
        if any(one.at <= wish.end and wish.start <= one.until for one in found):
            continue
        notes = [
            note
            for note in notes_of(record, NOTED)
            if wish.start - CLOSE <= note.at <= wish.end and note.code in _HOLDS_FOR[wish.part]
        ]
        if notes:
            held = HOLDS[notes[-1].code]
            what = "The lens" if wish.part == "preset" else "The panels"
            words = f"{what} did not come to {wish.value}. {held}"
            causes = (*wish_causes(wish), *(ChainLink(one.at, HOLDS[one.code]) for one in notes))
            yield Trouble(notes[0].at, wish.end, "held", words, causes)


def _stood(record: NightRecord, wish: Wish) -> bool:
    return any(
        span.known and span.value == wish.value
        for span in record.lanes[wish.part]
        if span.start <= wish.end and wish.start <= span.end
    )


def picture_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find pictures that were ordered and not shown."""
    spans = record.lanes["picture"]
    for number, span in enumerate(spans):
        if not span.failed or (number and spans[number - 1].failed):
            continue
        order = last_before(record, PictureOrder, span.start)
        if order is None:
            continue
        said = _outcome(record, order.id) or "no answer"
        until = next((one.start for one in spans[number:] if not one.failed and one.known), None)
        kind: TroubleKind = "refused" if said == "refused" else "unanswered"
        became = "refused" if said == "refused" else "never answered"
        causes = [
            ChainLink(order.at, f"picture #{order.id}, {order.picture}, ordered by {order.rule}"),
            ChainLink(span.start, became),
        ]
        tries = [one for one in decisions_of(record, PictureOrder) if span.start < one.at]
        causes += [
            ChainLink(one.at, f"tried again, #{one.id}") for one in tries if _before(one, until)
        ]
        if until is not None:
            causes.append(ChainLink(until, "a picture was confirmed again"))
        words = (
            f"The picture {order.picture} was ordered and {became}: nobody knows what was shown."
        )
        yield Trouble(span.start, until or record.ends, kind, words, tuple(causes))


def _before(one: Decision, until: int | None) -> bool:
    return until is None or one.at <= until


def cue_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find cues that were ordered and not set."""
    for note in notes_of(record, {"cue_failed"}):
        cue, said = note.parameters["cue"], note.parameters["outcome"]
        order = next(
            (
                one
                for one in reversed(decisions_of(record, CueOrder))
                if one.cue == cue and one.at <= note.at
            ),
            None,
        )
        became = "refused" if said == "refused" else "never answered"
        kind: TroubleKind = "refused" if said == "refused" else "unanswered"
        led = (
            ()
            if order is None
            else (ChainLink(order.at, f"{cue}: {order.value} ordered by {order.rule}"),)
        )
        words = f"The cue {cue} was ordered and {became}."
        yield Trouble(note.at, note.at, kind, words, (*led, ChainLink(note.at, became)))


def _outcome(record: NightRecord, order: int) -> str | None:
    for step in record.steps:
        if isinstance(step.entry.event, Outcome) and step.entry.event.order == order:
            return step.entry.event.outcome
    return None
