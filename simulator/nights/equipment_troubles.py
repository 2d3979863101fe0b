"""What went wrong with lens, pictures and cues: refused, lost, never answered, held back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.decisions import CueOrder, Decision, PictureOrder, RecallOrder
from engine.events import Outcome
from engine.holds import HOLDS, NOTED
from simulator.nights.chains import (
    CLOSE,
    ChainLink,
    Trouble,
    decisions_of,
    last_before,
    notes_of,
    reached_at,
    span_at,
    trouble,
    value_at,
    wish_at,
    wish_causes,
)
from simulator.nights.night_record import NightRecord, Wish
from simulator.nights.remedies import TroubleCode

A_WHILE: Final = 60_000
"""A wish that is held back for less (ms) is no trouble."""
_LENS_FAULTS: Final[dict[str, tuple[TroubleCode, str, str]]] = {
    "recall_refused": ("recall_refused", "its recall was refused", "refused"),
    "lens_lost": (
        "lens_silent",
        "nobody said that it arrived",
        "its time was over without a report",
    ),
    "lens_elsewhere": ("lens_elsewhere", "it came to rest elsewhere", "it came to rest elsewhere"),
}
_HELD_BY: Final[dict[str, TroubleCode]] = {
    "first_minutes": "held_by_pace",
    "per_title": "held_by_pace",
    "per_night": "held_by_pace",
    "mid_title": "held_by_pace",
    "put_back": "held_back_by_hand",
    "unreached": "recall_refused",
    "lens_unknown": "lens_not_known",
    "lens_nowhere": "lens_not_known",
    "panels": "held_for_people",
    "helper": "held_for_people",
    "circle": "held_by_circle",
}
"""What each hold of a wish is, once it has lasted."""
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
        code, why, short = _LENS_FAULTS[note.code]
        if any(
            gap.start <= note.at <= gap.end and "recall" in gap.event.unsent for gap in record.gaps
        ):
            continue  # That trouble tells of it.
        order = last_before(record, RecallOrder, note.at)
        if order is None:
            words = f"The lens was moved by hand, and {why}."
            link = ChainLink(note.at, short)
            yield trouble(note.at, note.at, code, words, (link,), about="a preset")
        else:
            yield _recall_trouble(record, note.at, order, (code, why, short))


def _recall_trouble(
    record: NightRecord, at: int, order: RecallOrder, what: tuple[TroubleCode, str, str]
) -> Trouble:
    """Tell of a recall that did not bring the lens where it should go, and what came of that."""
    code, why, short = what
    wish = wish_at(record, "preset", at)
    reached = reached_at(record, "preset", order.preset, at)
    until = min(reached or record.ends, record.ends if wish is None else wish.end)
    held = _holds(record, at, until)
    causes = [*wish_causes(wish), ChainLink(order.at, f"recall #{order.id} to {order.preset}")]
    causes += [ChainLink(at, short), *held]
    stood = value_at(record, "preset", at)
    where = f"at '{stood}'" if stood else "where nobody knows"
    if reached is not None and reached <= until:
        causes.append(ChainLink(reached, f"the lens stood at {order.preset} after all"))
        words = f"The lens reached '{order.preset}' late: {why} at first."
    else:
        ended = f"still {where}" if until == record.ends else f"{order.preset} no longer wanted"
        causes.append(ChainLink(until, ended))
        stands = span_at(record, "preset", at)
        if stands is not None and not stands.value and stands.end > until:
            until = stands.end
            known = "known again" if until < record.ends else "still not known at the end"
            causes.append(ChainLink(until, f"where the lens stands: {known}"))
        if code != "recall_refused":
            words = f"The lens was sent to '{order.preset}' and {why}: "
            words += f"it stood at '{stood}'." if stood else "where it stood is not known."
        else:
            words = f"The lens stayed {where} and never went to '{order.preset}': {why}."
    return trouble(at, until, code, words, dict.fromkeys(causes), about=f"'{order.preset}'")


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
            words = f"{what} did not come to '{wish.value}'. {held}"
            causes = (*wish_causes(wish), *(ChainLink(one.at, HOLDS[one.code]) for one in notes))
            of = _HELD_BY[notes[-1].code]
            yield trouble(notes[0].at, wish.end, of, words, causes, about=f"'{wish.value}'")


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
        code: TroubleCode = "picture_refused" if said == "refused" else "picture_unanswered"
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
            f"The picture '{order.picture}' was ordered and {became}: nobody knows what was shown."
        )
        until = until or record.ends
        yield trouble(span.start, until, code, words, causes, about=f"'{order.picture}'")


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
        code: TroubleCode = "cue_refused" if said == "refused" else "cue_unanswered"
        led = (
            ()
            if order is None
            else (ChainLink(order.at, f"{cue}: {order.value} ordered by {order.rule}"),)
        )
        words = f"The cue '{cue}' was ordered and {became}."
        causes = (*led, ChainLink(note.at, became))
        yield trouble(note.at, note.at, code, words, causes, about=f"'{cue}'")


def _outcome(record: NightRecord, order: int) -> str | None:
    for step in record.steps:
        if isinstance(step.entry.event, Outcome) and step.entry.event.order == order:
            return step.entry.event.outcome
    return None
