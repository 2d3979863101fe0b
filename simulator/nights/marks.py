"""What somebody marked as wrong: what had gone wrong by then, or else what the room stood by."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Final, NamedTuple

from engine.decisions import PictureOrder, RecallOrder
from engine.events import Answer, Event, Helper, LensReport, Mark, Override, PanelReport, ToldFact
from engine.facts import facts_of
from engine.readings import heeds_readings
from engine.state import State
from engine.table import explain
from simulator.nights.chains import ChainLink, Trouble, duration_words, span_at, trouble, value_at
from simulator.nights.left_standing import person_choice
from simulator.nights.night_record import NightRecord
from simulator.nights.remedies import KINDS, TroubleCode

STILL_MEANT: Final = 120_000
"""What was over for less than this (ms) may be what somebody says was wrong."""
MINOR: Final = frozenset({"heard_before", "old_news", "report_refused", "wish_refused"})
"""Refusals that seldom lead to other troubles: what was left out has changed nothing."""


_SEEN: Final = (
    ("source", "source"),
    ("playback", "playback"),
    ("picture", "picture"),
    ("preset", "lens at"),
    ("panels", "panels"),
)
"""What a room stood by, lane by lane, with what it is called in a chain."""


class _Why(NamedTuple):
    """Why a room stood as it did although nothing had failed."""

    code: TroubleCode
    words: str
    about: str
    causes: tuple[ChainLink, ...]


def worst_first(troubles: Iterable[Trouble]) -> list[Trouble]:
    """Order troubles by how bad they are, what somebody marked first of all."""
    return sorted(
        troubles,
        key=lambda one: (one.kind != "marked", one.code in MINOR, KINDS.index(one.kind), one.at),
    )


def marks(record: NightRecord, found: list[Trouble]) -> Iterator[Trouble]:
    """Tell of what somebody marked: which of the troubles `found` was meant, or why it stood so."""
    for step in record.steps:
        event, at = step.entry.event, step.entry.now
        if not isinstance(event, Mark):
            continue
        said = f'{event.who or "Somebody"} said "{event.words or "that was wrong"}".'
        standing = [
            one for one in found if one.at <= at <= one.until + STILL_MEANT and one.kind != "due"
        ]
        if standing:
            worst = worst_first(standing)[0]
            causes = (ChainLink(worst.at, "it began; its causes stand there"), _marked(at))
            words = f"{said} {worst.words}"
            yield Trouble(at, at, "marked", worst.code, words, worst.remedy, causes)
            continue
        why = _why_so(record, at, found)
        joined = ", " if why.code == "lens_due" else ": "
        words = f"{said} Nothing had failed{joined}{why.words}"
        chain = (*sorted({*_stood(record, at), *why.causes}), _marked(at))
        yield trouble(at, at, why.code, words, chain, about=why.about)._replace(kind="marked")


def _marked(at: int) -> ChainLink:
    return ChainLink(at, "marked")


def _why_so(record: NightRecord, at: int, found: list[Trouble]) -> _Why:
    """Say what the room stood by: a person, a word of theirs, an old reading, or a rule alone."""
    return (
        _nothing_ordered(record, at)
        or _by_person(record, at)
        or _by_cue(record, at)
        or _by_told_fact(record, at)
        or _nobody_free(record, at)
        or _by_old_reading(record, at)
        or _by_worn_lens(record, at, found)
        or _by_rule(record, at)
    )


def _nothing_ordered(record: NightRecord, at: int) -> _Why | None:
    """Find service, and a room of which nobody had said what it shows: no rule orders then."""
    service = span_at(record, "service", at)
    if service is not None and service.value:
        words = "a technician's service was under way, in which roomcue orders nothing."
        link = ChainLink(service.start, "a technician's service began")
        return _Why("service_left", words, "", (link,))
    if value_at(record, "source", at):
        return None
    words = "nobody had said which source is shown, so nothing was ordered."
    return _Why("source_not_told", words, "", ())


def _by_person(record: NightRecord, at: int) -> _Why | None:
    span = span_at(record, "override", at)
    if span is None or not span.value:
        return None
    chosen, choice = person_choice(record, span)
    words = f"{chosen}, and the rules left it so."
    return _Why("chosen_by_person", words, "", (ChainLink(span.start, choice),))


def _by_cue(record: NightRecord, at: int) -> _Why | None:
    """Find cues that a person has set and that are still theirs."""
    kept = _state_at(record, at).core.cue_overrides
    if not kept:
        return None
    when, event = _last_taken(record, at, _sets_cues)
    who = getattr(event, "who", None)
    cues = ", ".join(f"{one.cue} to {one.value}" for one in kept)
    words = f"{who or 'somebody'} had set {cues}, and the rules left it so."
    return _Why("chosen_by_person", words, "", (ChainLink(when, f"{cues}, set by hand"),))


def _by_told_fact(record: NightRecord, at: int) -> _Why | None:
    """Find a fact that somebody told and by which the rule won."""
    row = value_at(record, "row", at)
    for name in _tested(record, at):
        when, event = _last_taken(record, at, partial(_tells, name))
        if isinstance(event, ToldFact):
            value = event.value
            if isinstance(value, bool):
                value = "yes" if value else "no"
            who = event.who or "somebody"
            words = f"rule '{row}' was followed, for {who} had said '{name}: {value}'."
            link = ChainLink(when, f"{who} said {name}: {value}")
            return _Why("fact_told", words, f"{name}: {value}", (link,))
    return None


def _tested(record: NightRecord, at: int) -> tuple[str, ...]:
    """Name the told facts that the row in force tests."""
    state = _state_at(record, at)
    facts = facts_of(record.room, state.core, state.settling)
    trace = explain(record.room.rules.table, facts)
    if trace.choice.row is None:
        return ()
    cells = trace.rows[trace.choice.row].cells
    return tuple(one.column for one in cells if one.test != "-" and one.column in record.room.told)


def _state_at(record: NightRecord, at: int) -> State:
    """Give the State after the latest decisions up to a moment."""
    return next((one.state for one in reversed(record.moments) if one.at <= at), record.first)


def _nobody_free(record: NightRecord, at: int) -> _Why | None:
    if _state_at(record, at).core.panels != "refused":
        return None
    when, event = _last_taken(record, at, _says_no)
    who = getattr(event, "who", None)
    words = f"{who or 'somebody'} had said that nobody fits panels now, so nobody was asked."
    link = ChainLink(when, f"{who or 'somebody'} said that nobody fits panels now")
    return _Why("nobody_free", words, "", (link,))


def _last_taken(
    record: NightRecord, at: int, meant: Callable[[object], bool]
) -> tuple[int, Event | None]:
    """Give the latest event of a kind that was taken up to a moment; None: the night has none."""
    for step in reversed(record.steps):
        if step.entry.now <= at and step.refused is None and meant(step.entry.event):
            return step.entry.now, step.entry.event
    return record.begins, None


def _sets_cues(event: object) -> bool:
    return isinstance(event, Override) and event.look is not None and bool(event.look.cues)


def _tells(name: str, event: object) -> bool:
    return isinstance(event, ToldFact) and event.fact == name


def _says_no(event: object) -> bool:
    if isinstance(event, Answer):
        return event.answer in {"no", "not_tonight"}
    return isinstance(event, Helper) and not event.free


def _by_old_reading(record: NightRecord, at: int) -> _Why | None:
    """Find a title of which no reading has come, so that an older one held."""
    title, shape = span_at(record, "title", at), span_at(record, "aspect", at)
    silent = next((one for one in record.silences if one.start <= at < one.end), None)
    source = value_at(record, "source", at) or None
    if title is None or silent is None or silent.start >= title.start or not title.value:
        return None
    if not heeds_readings(record.room, source) or _state_at(record, at).core.declared:
        return None
    long, stands = duration_words(at - silent.start), shape.value if shape is not None else ""
    words = f"no reading of the picture's shape had come for {long}, since before this title"
    words += f" began, so {stands or 'no shape'} still held."
    causes = (ChainLink(silent.start, "the last reading"), ChainLink(title.start, "a title began"))
    return _Why("shape_not_told", words, "", causes)


def _by_worn_lens(record: NightRecord, at: int, found: list[Trouble]) -> _Why | None:
    """Find a lens that was to be looked at where it stands."""
    preset = value_at(record, "preset", at)
    due = [one for one in found if one.code == "lens_due" and one.at <= at]
    here = [one for one in due if f"to '{preset}' " in one.words]
    if not here:
        return None
    words = here[-1].words
    return _Why("lens_due", f"but {words[0].lower()}{words[1:]}", f"'{preset}'", ())


def _by_rule(record: NightRecord, at: int) -> _Why:
    row, now = value_at(record, "row", at), value_at(record, "picture", at) or "not known"
    rules = record.room.rules
    notes = [one for one in (*rules.rows, rules.otherwise) if one.label == row]
    because = f": {notes[0].because}" if notes and notes[0].because else "."
    words = f"the picture was {now}, as rule '{row}' wants it{because}"
    return _Why("as_ruled", words, row, ())


def _stood(record: NightRecord, at: int) -> Iterator[ChainLink]:
    """Say what was shown, how picture, lens and panels stood, and how that is known."""
    for lane, name in _SEEN:
        span = span_at(record, lane, at)
        if span is not None and span.value:
            known = _known_by(record, lane, span.start) if span.known else ", not confirmed"
            yield ChainLink(span.start, f"{name} {span.value}{known}")


def _known_by(record: NightRecord, lane: str, at: int) -> str:
    """Say who told how something stands, from the moment from which it stood."""
    for step in record.steps:
        if step.entry.now != at:
            continue
        match lane, step.entry.event:
            case ("preset", LensReport()) | ("panels", PanelReport()):
                return ", as reported"
            case "panels", Answer():
                return ", as somebody answered"
            case _:
                pass
    kind = {"picture": PictureOrder, "preset": RecallOrder}.get(lane)
    led = [one for moment in record.moments if moment.at <= at for one in moment.decisions]
    orders = [one for one in led if kind is not None and isinstance(one, kind)]
    return f", by rule '{orders[-1].rule}'" if orders else ""
