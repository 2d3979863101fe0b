"""Print a replayed night for people: its lines, filtered, and its sums and faults at the end."""

from __future__ import annotations

import sys
from typing import Final
from zoneinfo import ZoneInfo

import typer

from adapters.cli.console import console, print_blocks, print_json
from adapters.cli.exit_status import OK, PROBLEMS
from adapters.cli.moments import read_moment
from adapters.cli.night_files import OpenNight, check_begun, check_day, check_moment, play
from adapters.cli.night_records import read_record
from adapters.live.log import decision_log, log_decisions
from adapters.live.messages import decision_data
from adapters.render.night_text import night_heading
from adapters.render.night_timeline import (
    NightFilter,
    Only,
    timeline_blocks,
    totals_blocks,
    troubles_of_kind,
)
from adapters.render.trouble_text import trouble_data
from engine.errors import UnusableError
from engine.room import Room
from rules.text.findings import advice_for_unknown
from simulator.nights.night_file import BadLine, decision_line
from simulator.nights.night_record import NightRecord
from simulator.nights.replay import ReplayStep
from simulator.nights.sums import sums_of
from simulator.nights.troubles import troubles_of

A_MINUTE: Final = 59_999
A_SECOND: Final = 999


def print_night(  # noqa: PLR0913 - a command's options
    night: OpenNight,
    remarks: tuple[str, ...],
    wanted: NightFilter,
    *,
    until: int | None,
    skip: bool,
    log: bool = False,
) -> int:
    """Print a night; give status 1 for a broken promise or a line that was passed over."""
    record = read_record(night, skip=skip, until=until)
    check_moment(night, wanted.start)
    out, other = console(), night.own is not None
    print_blocks(out, night_heading(night.room, night.head.start, remarks, other_rules=other))
    if log:
        _log_record(record)
    troubles = troubles_of(record)
    print_blocks(out, timeline_blocks(record, troubles, wanted))
    if wanted == NightFilter():
        zone = ZoneInfo(night.room.time_zone)
        print_blocks(out, totals_blocks(sums_of(record), troubles, zone))
    broken = any(step.broken for step in record.steps)
    return PROBLEMS if broken or record.bad_lines else OK


def _log_record(record: NightRecord) -> None:
    """Log every decision of a night to stderr, a JSON line each."""
    logger = decision_log(sys.stderr.buffer, record.room.name)
    for step in record.steps:
        log_decisions(logger, map(decision_data, step.decisions))


def print_night_json(
    night: OpenNight, wanted: NightFilter, *, until: int | None, skip: bool, log: bool
) -> int:
    """Print what is asked for as JSON lines; give status 1 for a broken promise or a bad line."""
    start = night.head.start
    if wanted.only in {"faults", "marks"}:
        record = read_record(night, skip=skip, until=until)
        check_moment(night, wanted.start)
        if log:
            _log_record(record)
        for one in troubles_of_kind(troubles_of(record), wanted):
            print_json(trouble_data(one, start))
        broken = any(step.broken for step in record.steps)
        return PROBLEMS if broken or record.bad_lines else OK
    status = OK
    logger = decision_log(sys.stderr.buffer, night.room.name) if log else None
    for happening in play(night, until, skip=skip).happenings:
        if isinstance(happening, BadLine):
            status = PROBLEMS
            continue
        if logger is not None:
            log_decisions(logger, map(decision_data, happening.decisions))
        if happening.broken:
            status = PROBLEMS
        shown = wanted.filtered(happening)
        if shown is not None:
            _print_step_json(start, shown)
    check_moment(night, wanted.start)
    return status


def _print_step_json(start: int, happening: ReplayStep) -> None:
    for decision in happening.decisions:
        typer.echo(decision_line(start, decision))
    t = (happening.entry.now - start) / 1_000
    if happening.refused is not None:
        refused = happening.refused
        print_json({"t": t, "refused": refused.code, "words": refused.words})
    for promise in happening.broken:
        print_json({"t": t, "broken": promise.label, "because": promise.because})


def filter_of(
    night: OpenNight, since: str | None, to: str | None, rule: str | None, only: Only | None
) -> NightFilter:
    """Read which part of a night is asked for; raises `UnusableError`."""
    start, zone = night.head.start, night.room.time_zone
    first = None
    if since is not None:
        moment = read_moment(since, start, zone)
        check_day(night, since, moment)
        first = _begin_of(since, moment)
    first = None if first is None else max(first, start)
    last = last_moment(night, to)
    require_order(since, first, "--to", to, last)
    return NightFilter(first, last, _known_rule(night.room, rule), only)


def require_order(
    since: str | None, first: int | None, option: str, text: str | None, last: int | None
) -> None:
    """Raise `UnusableError` where what was typed for an option ends before --from begins."""
    if first is not None and last is not None and last < first:
        raise UnusableError(f"{option} {text} lies before --from {since}: name a later time")


def last_moment(night: OpenNight, text: str | None) -> int | None:
    """Read up to when a night is asked for, in ms UTC; raises `UnusableError`."""
    if text is None:
        return None
    last = read_moment(text, night.head.start, night.room.time_zone)
    check_begun(night, last)
    check_day(night, text, last)
    return last


def require_whole_night(wanted: NightFilter) -> None:
    """Raise `UnusableError` where --verify would pass a filter over."""
    if wanted != NightFilter():
        raise UnusableError(
            "--verify compares a whole night: leave out --only, --rule, --from and --to"
        )


def _known_rule(room: Room, name: str | None) -> str | None:
    """Give the name of a rule, or of a principle of the engine; raises `UnusableError`."""
    if name is None or name.startswith("engine: "):
        return name
    labels = (*(row.label for row in room.rules.rows), room.rules.otherwise.label)
    if name not in labels:
        words = f"--rule: {name} is no rule of this room. {advice_for_unknown(name, labels)}"
        raise UnusableError(words)
    return name


def _begin_of(text: str, moment: int) -> int:
    """Give the beginning of the minute or second that somebody named; a moment is its end."""
    parts = text.strip().split(":")
    if len(parts) == 2 and "T" not in text:  # noqa: PLR2004 - hours and minutes
        return moment - A_MINUTE
    return moment - A_SECOND if len(parts) == 3 and "T" not in text and "." not in text else moment  # noqa: PLR2004
