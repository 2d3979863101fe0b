"""Play whole nights for a report: with their own rules, and beside them with others."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

from adapters.cli.files import STDIN
from adapters.cli.night_files import OpenNight, good_parts, open_night, strange_room
from adapters.render.night_report import Comparison, ReportInput
from adapters.render.night_text import clock, date
from adapters.render.trouble_text import faults_of
from engine import RoomEngine
from engine.errors import UnusableError
from engine.snapshot import first_foreign_name
from simulator.nights import replay as replays
from simulator.nights.comparison import compared, first_differences
from simulator.nights.night_file import BadLine, NightPart, line_by_line
from simulator.nights.night_record import NightRecord, record_night
from simulator.nights.sums import sums_of
from simulator.nights.troubles import troubles_of
from simulator.nights.what_if import replay_with_other_rules


def read_record(night: OpenNight, *, skip: bool, until: int | None = None) -> NightRecord:
    """Play a night, with its own rules or with those of another room, and keep what happened.

    Garbage collection is off meanwhile: a night makes hundreds of thousands of small objects, and
    hardly any that refer to each other.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        return _read_record(night, skip=skip, until=until)
    finally:
        if collects:
            gc.enable()


def _read_record(night: OpenNight, *, skip: bool, until: int | None) -> NightRecord:
    parts = good_parts(night, skip=skip)
    if night.own is None:
        engine = replays.engine_for(night.room, night.head)

        def own(
            heard: Iterable[NightPart], see: replays.See
        ) -> Iterator[replays.ReplayStep | BadLine]:
            return replays.replay(engine, heard, until, see)

        return record_night(engine, night.head.start, parts, own, until)
    recorded = replays.engine_for(night.own, night.head)
    known = night.head.state is not None and first_foreign_name(night.room, recorded.state) is None
    other = RoomEngine(night.room, recorded.state if known else None)

    def others(
        heard: Iterable[NightPart], see: replays.See
    ) -> Iterator[replays.ReplayStep | BadLine]:
        return replay_with_other_rules(other, recorded, line_by_line(heard), until, see)

    return record_night(other, night.head.start, parts, others, until)


def own_faults(
    path: Path, zone: ZoneInfo, *, skip: bool, until: int | None = None
) -> tuple[str, ...]:
    """Say what went wrong in the night itself, which a replay with other rules cannot show.

    Times are told in `zone`, as those of the replay are. Standard input is read once only, so
    nothing is known of it.
    """
    if str(path) == STDIN:
        return ("A stand-in hub obeys every order here: what failed in the night does not show.",)
    with open_night(path, None) as night:
        return _hidden(read_record(night, skip=skip, until=until), zone)


def _hidden(record: NightRecord, zone: ZoneInfo) -> tuple[str, ...]:
    faults = [one for one in faults_of(troubles_of(record)) if one.kind != "marked"]
    if not faults:
        return ()
    first = "Here a stand-in hub obeys every order and answers every request, so what went wrong "
    first += "in the night itself does not show:"
    return first, *(f"{clock(one.at, zone)}  {one.words}" for one in faults)


def report_input(
    path: Path, room: Path | None, against: Path | None, version: str, *, skip: bool
) -> ReportInput:
    """Play a night for its report, and what stands beside it: another room file, another night."""
    if room is not None and str(path) == STDIN:
        raise UnusableError("--room needs the night twice: write it to a file first")
    with open_night(path, None) as night:
        record = read_record(night, skip=skip)
        remarks = list(strange_room(night, None))
    if record.bad_lines:
        remarks.append(f"{record.bad_lines} lines could not be read and were passed over.")
    sums, comparison = sums_of(record), None
    if room is not None:
        with open_night(path, room) as night:
            other = read_record(night, skip=skip)
            left = [*strange_room(night, room), *_hidden(record, ZoneInfo(record.room.time_zone))]
        sentences = tuple(compared(sums, sums_of(other)))
        title = f"With {room.name} in place of its own rules"
        moments = first_differences(record, other)
        comparison = Comparison(title, sentences, moments, tuple(left))
    elif against is not None:
        with open_night(against, None) as night:
            other = read_record(night, skip=skip)
            left = list(strange_room(night, None))
        if other.room.name != record.room.name:
            left.append(f"That night is of another room, {other.room.name}.")
        day = date(other.begins, ZoneInfo(other.room.time_zone))
        title = f"The night of {day} ({against.name}) beside this one"
        comparison = Comparison(title, tuple(compared(sums, sums_of(other))), (), tuple(left))
    return ReportInput(record, troubles_of(record), sums, tuple(remarks), comparison, version)
