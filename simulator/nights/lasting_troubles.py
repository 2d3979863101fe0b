"""What was wrong for a while without one order that failed: light, signal, silence, a clock."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from engine.aspect import ratio_text, same_shape
from engine.decisions import Note
from engine.events import Resumed, Signal, TimeOfDay, moment_of
from engine.readings import heeds_readings
from simulator.nights.chains import (
    ChainLink,
    Together,
    Trouble,
    duration_words,
    notes_of,
    playing_with,
    span_at,
    trouble,
    value_at,
)
from simulator.nights.night_record import LaneSpan, NightRecord, ShapeRead
from simulator.nights.remedies import TroubleCode

SHORT: Final = 10_000
"""A loss of signal or light that lasts less (ms) while something plays is not told of."""
IN_THE_DARK: Final = 30_000
"""A player that runs on for less than this (ms) was only stopped after the projector."""
LONG: Final = 180_000
"""How long (ms) a state lasts, while something plays, before it is told of."""
VERY_LONG: Final = 600_000
"""How long (ms) something is contradicted, or never told, before it is named."""
MINUTE: Final = 60_000
CLOCK_OFF: Final = 5
"""A clock that jumps by fewer minutes than this is only set right."""
HALF_A_DAY: Final = 720
QUICK: Final = 30_000
"""Readings that differ again and again within this time (ms) come from two detectors."""
OFTEN: Final = 20
"""How many readings in turn must contradict each other to be no accident."""
DROPOUT: Final = 2_000
"""A change of the picture takes the signal away for less than this (ms)."""
DROPOUTS: Final = 4
"""How many short losses of the signal are worth telling, all together."""


def lasting_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find all of them."""
    yield from _light(record)
    yield from _signal(record)
    yield from _silences(record)
    yield from _disagreements(record)
    yield from _not_told(record)
    yield from _contradicted(record)
    yield from _clock(record)
    yield from _rules(record)


def _light(record: NightRecord) -> Iterator[Trouble]:
    """Find whiles in which something played and the projector was reported dark."""
    dark: list[Together] = []
    for one in playing_with(record, "projector"):
        if one.value in {"", "lit"}:
            yield from _dark(record, dark)
            dark = []
        elif dark and dark[-1].end != one.start:
            yield from _dark(record, dark)
            dark = [one]
        else:
            dark.append(one)
    yield from _dark(record, dark)


def _dark(record: NightRecord, spans: list[Together]) -> Iterator[Trouble]:
    """Tell of a dark projector, but not of one that warms up, nor of a player left running."""
    if not spans:
        return
    start, end = spans[0].start, spans[-1].end
    went_off = value_at(record, "projector", start - 1) == "lit"
    came_back = value_at(record, "projector", end) == "lit"
    least = SHORT if went_off and came_back else IN_THE_DARK if went_off else LONG
    if end - start < least:
        return
    source, long = value_at(record, "source", start) or "something", duration_words(end - start)
    if went_off:
        after = duration_words(start - spans[0].title.start)
        words = f"The projector went off {after} into a title, and {source} played on for {long}"
        words += " until there was light again." if came_back else " in the dark."
    else:
        words = f"The projector gave no light for {long} while {source} played."
    causes = [
        ChainLink(spans[0].title.start, f"{source} began to play"),
        *(ChainLink(one.start, f"projector reported {one.value}") for one in spans),
        ChainLink(end, "projector lit again" if came_back else "it no longer played, still dark"),
    ]
    yield trouble(start, end, "projector_dark", words, sorted(causes))


def _signal(record: NightRecord) -> Iterator[Trouble]:
    """Find long losses of the signal while something played."""
    lost: int | None = None
    source, short = "", list[int]()
    for step in (*record.steps, None):
        at = record.ends if step is None else step.entry.now
        event = None if step is None else step.entry.event
        if step is not None and not isinstance(event, Signal):
            continue
        locked = isinstance(event, Signal) and event.locked
        over = at if lost is None else min(at, _played_until(record, lost))
        if lost is not None and (locked or step is None) and over - lost >= SHORT:
            long = duration_words(over - lost)
            words = f"The picture's signal was lost for {long} while a title played"
            words += "." if locked and over == at else ", and did not come back before its end."
            found = "signal found again" if locked else "not found again"
            by = f"signal lost, {source}" if source else "signal lost"
            causes = (ChainLink(lost, by), ChainLink(at, found))
            yield trouble(lost, at, "signal_lost", words, causes)
        elif lost is not None and locked and over - lost >= DROPOUT:
            short.append(lost)
        if locked:
            lost = None
        elif lost is None and value_at(record, "playback", at) == "playing":
            lost, source = at, value_at(record, "source", at)
    if len(short) >= DROPOUTS:
        words = f"The picture's signal was lost {len(short)} times for some seconds while a title "
        words += "played."
        links = [ChainLink(at, f"signal lost, {source}") for at in short]
        yield trouble(short[0], short[-1], "signal_lost", words, links)


def _played_until(record: NightRecord, at: int) -> int:
    """Say until when something played that played at a moment."""
    span = span_at(record, "playback", at)
    return at if span is None else span.end


def _silences(record: NightRecord) -> Iterator[Trouble]:
    """Find detectors that had spoken all the time and fell silent while a title played on."""
    for one in record.silences:
        for played in playing_with(record, "source"):
            start, end = max(one.start, played.start), min(one.end, played.end)
            heeded = heeds_readings(record.room, played.value or None)
            if not one.steady or not heeded or end - start < LONG:
                continue
            last = next((each for each in reversed(record.readings) if each.at <= start), None)
            shape = "black" if last is None or last.ratio is None else ratio_text(last.ratio)
            words = f"Readings of the picture's shape stopped for {duration_words(end - start)} "
            words += f"while {played.value or 'something'} played: the last one said {shape}, and "
            words += "the room went by that."
            end_words = "a reading came again" if end == one.end < record.ends else "still none"
            causes = (
                ChainLink(start, f"the last reading, {shape}"),
                ChainLink(end, end_words),
            )
            yield trouble(start, end, "readings_stopped", words, causes)


def _disagreements(record: NightRecord) -> Iterator[Trouble]:
    """Find readings that contradict each other in turn for as long as something plays."""
    for played in record.lanes["playback"]:
        if played.value != "playing":
            continue
        read = [one for one in record.readings if played.start <= one.at < played.end]
        pairs = [pair for pair in pairwise(read) if _contradict(*pair)]
        if len(pairs) < OFTEN or len(pairs) * 2 < len(read):
            continue
        (one, other), first, last = pairs[0], pairs[0][0].at, pairs[-1][1].at
        if one.by == other.by and len({each.ratio for each in read}) > 2:  # noqa: PLR2004 - a pair
            continue  # A detector that flickers is no second one.
        says = " and ".join(f"{ratio_text(each.ratio or 0)} ({each.by})" for each in (one, other))
        shapes = dict.fromkeys(
            each.value
            for each in record.lanes["aspect"]
            if each.value and each.start < played.end and each.end > played.start
        )
        words = f"Two tell of the picture's shape and contradict each other: {says}, in turn, "
        words += f"{len(pairs)} times. The room went by {' and '.join(shapes) or 'neither'}."
        causes = (
            ChainLink(first, f"read as {ratio_text(one.ratio or 0)} ({one.by})"),
            ChainLink(other.at, f"read as {ratio_text(other.ratio or 0)} ({other.by})"),
            ChainLink(last, f"contradicted for the last time, after {len(pairs)} times"),
        )
        yield trouble(first, last, "readings_disagree", words, causes)


def _contradict(one: ShapeRead, other: ShapeRead) -> bool:
    """Tell whether two readings contradict each other: a film does not change shape so quickly."""
    if one.ratio is None or other.ratio is None or other.at - one.at > QUICK:
        return False
    return one.even and other.even and not same_shape(one.ratio, other.ratio)


def _contradicted(record: NightRecord) -> Iterator[Trouble]:
    """Find a declared shape or a format code that the readings never show.

    Where a title has ended the engine itself has named who contradicts.
    """
    noted = [one.at for one in notes_of(record, {"contradicts"})]
    for lane, who in (("declared", "player"), ("coded", "signal's format code")):
        for said in record.lanes[lane]:
            if not said.value or any(said.start <= at <= said.end for at in noted):
                continue
            apart, together = _apart(record, said)
            if together or sum(one.end - one.start for one in apart) < VERY_LONG:
                continue
            first, last = apart[0], apart[-1]
            long = duration_words(sum(one.end - one.start for one in apart))
            words = f"The {who} says {said.value}, and for {long} {first.value} was seen instead."
            causes = (
                ChainLink(said.start, f"the {who} said {said.value}"),
                ChainLink(first.start, f"{first.value} settled"),
                ChainLink(last.end, f"up to then {said.value} was never seen"),
            )
            code: TroubleCode = "reporter_contradicts"
            yield trouble(first.start, last.end, code, words, sorted(causes), about=f"the {who}")


def _apart(record: NightRecord, said: LaneSpan) -> tuple[list[Together], bool]:
    """Give the whiles in which another shape stood than the one said, and whether it ever did."""
    apart, agreed = list[Together](), False
    for one in playing_with(record, "aspect"):
        start, end = max(one.start, said.start), min(one.end, said.end)
        if not one.value or start >= end:
            continue
        if same_shape(_ratio(one.value), _ratio(said.value)):
            agreed = True
        else:
            apart.append(one._replace(start=start, end=end))
    return apart, agreed


def _ratio(words: str) -> int:
    """Read a lane's ratio back, in 1/10,000."""
    return round(float(words) * 10_000)


def _not_told(record: NightRecord) -> Iterator[Trouble]:
    """Find what was never told: source, playback, the shape of the picture."""
    for one in playing_with(record, "source"):
        if not one.value and one.end - one.start >= MINUTE:
            words = f"Something played for {duration_words(one.end - one.start)}, and nobody said "
            words += "which source is shown: nothing was ordered for it."
            causes = (ChainLink(one.start, "something plays, of no known source"),)
            yield trouble(one.start, one.end, "source_not_told", words, causes)
    for span in record.lanes["source"]:
        said = [each for each in record.lanes["playback"] if each.value]
        if not span.value or said or span.end - span.start < VERY_LONG:
            continue
        words = f"Nobody said whether {span.value} plays: all night the room took it for a menu."
        links = (ChainLink(span.start, f"{span.value} chosen"), ChainLink(span.end, "no word yet"))
        yield trouble(
            span.start, span.end, "playback_not_told", words, links, about=f"'{span.value}'"
        )
    yield from _shape_not_told(record)


def _shape_not_told(record: NightRecord) -> Iterator[Trouble]:
    for one in playing_with(record, "aspect"):
        source = value_at(record, "source", one.start)
        if one.value or not source or one.end - one.start < LONG:
            continue
        heard = any(one.start <= each.at < one.end for each in record.readings)
        what = "nothing but black was read" if heard else "no reading came"
        row = value_at(record, "row", one.end - 1)
        words = f"The shape of the picture was not known for {duration_words(one.end - one.start)} "
        words += f"while {source} played, for {what}: the room went by rule '{row}'."
        last = "the shape was known" if one.end < one.title.end else "still not known at its end"
        causes = (ChainLink(one.start, f"{source} plays; {what}"), ChainLink(one.end, last))
        yield trouble(one.start, one.end, "shape_not_told", words, causes)


def _clock(record: NightRecord) -> Iterator[Trouble]:
    """Find jumps of the room's clock that are no change to or from summer time."""
    zone, told = ZoneInfo(record.room.time_zone), list[tuple[int, int]]()
    for step in record.steps:
        event = step.entry.event
        if isinstance(event, TimeOfDay | Resumed) and event.minute is not None:
            told.append((step.entry.now, event.minute))
    for (before, was), (at, minute) in pairwise(told):
        passed = (_local(at, zone) - _local(before, zone)) / MINUTE
        off = (minute - was - passed + HALF_A_DAY) % (2 * HALF_A_DAY) - HALF_A_DAY
        if abs(off) < CLOCK_OFF:
            continue
        way = "forwards" if off > 0 else "back"
        words = f"The room's clock was set {way} by {duration_words(round(abs(off)) * MINUTE)}."
        causes = (
            ChainLink(before, f"the room's clock said {_hour(was)}"),
            ChainLink(at, f"it said {_hour(minute)}"),
        )
        yield trouble(at, record.ends, "clock_set", words, causes)


def _local(at: int, zone: ZoneInfo) -> int:
    offset = moment_of(at).astimezone(zone).utcoffset()
    return at + (0 if offset is None else round(offset.total_seconds() * 1_000))


def _hour(minute: int) -> str:
    return f"{minute // 60}:{minute % 60:02}"


def _rules(record: NightRecord) -> Iterator[Trouble]:
    """Find rules that contradicted each other, or led round in a circle."""
    for note in notes_of(record, {"rules_overlap", "rules_circle"}):
        rows = note.parameters.get("rows")
        words = f"Rules contradicted each other ({rows}): none of them was followed."
        if note.code == "rules_circle":
            words = "The rules led round in a circle, and were stopped."
        yield trouble(
            note.at, note.at, "rules_contradict", words, (ChainLink(note.at, note.reason),)
        )
    for note in notes_of(record, {"look_at_lens", "many_travels"}):
        yield _lens_due(note)


def _lens_due(note: Note) -> Trouble:
    travels = note.parameters["travels"]
    if note.code == "many_travels":
        words = f"The lens has travelled {travels} times tonight, more than the room file allows "
        words += "without a look at it."
        return trouble(
            note.at, note.at, "many_travels", words, (ChainLink(note.at, f"travel {travels}"),)
        )
    preset = str(note.parameters["preset"])
    words = f"The lens has travelled to '{preset}' {travels} times, and has not been looked at: "
    words += "by now the picture may have crept over its edges."
    causes = (ChainLink(note.at, f"travel {travels} to {preset}"),)
    return trouble(note.at, note.at, "lens_due", words, causes, about=f"'{preset}'")
