"""The commands around nights: replay one, ask why, settle raw readings, invent more."""

from __future__ import annotations

import heapq
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Final, NamedTuple
from zoneinfo import ZoneInfo

import typer
from rich.console import Console
from rich.progress import Progress
from rich.text import Text

from adapters.cli.console import console, plural, print_json
from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE, errors_reported
from adapters.cli.files import lines_of, open_input, text_of, write_lines
from adapters.cli.invented_nights import read_evening, write_invented_nights
from adapters.cli.moments import read_moment
from adapters.cli.options import AsJson, RoomArgument
from adapters.cli.readings_files import read_raster, settle_readings
from adapters.cli.version import roomcue_version
from adapters.live.log import decision_log, log_decisions
from adapters.live.messages import decision_data
from adapters.render.night_text import Timeline, clock, date
from adapters.render.why_text import inquiry_data, show_inquiry
from adapters.safe_text import escaped
from engine.aspect import ratio_text
from engine.errors import UnusableError
from engine.room import Room
from engine.snapshot import first_foreign_name
from engine.step import RoomEngine
from rules.room.load import load
from simulator.nights import replay as replays
from simulator.nights.invention import NightPlan, invented_night
from simulator.nights.night_file import (
    BadLine,
    NightEntry,
    NightError,
    NightHead,
    decision_line,
    read_head,
    read_lines,
)
from simulator.nights.what_if import replay_with_other_rules
from simulator.nights.why import expect, inquire, parse_expected
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM

night_commands = typer.Typer(rich_markup_mode=None)

NightFile = Annotated[Path, typer.Argument(help="A night: JSON Lines, plain or gzip.")]
OtherRoom = Annotated[
    Path | None, typer.Option("--room", help="Use this room file and not the night's own.")
]
SkipBad = Annotated[
    bool, typer.Option("--skip-bad-lines", help="Go on past lines that cannot be read.")
]


@dataclass
class OpenNight:
    """An opened night with its room."""

    name: str
    head: NightHead
    room: Room
    own: Room | None
    """The night's own room, where it is played with another."""
    entries: Iterator[NightEntry | BadLine]
    latest: int
    """The time of the latest line that was read, in ms UTC."""


@night_commands.command()
def demo() -> None:
    """Replay the shipped evening in the shipped room."""
    with errors_reported():
        out = console()
        out.print(Text("An evening in the hayloft, as roomcue handled it.", "bold"))
        out.print(f"Room file: {DEMO_ROOM}\nNight:     {DEMO_NIGHT}\n", soft_wrap=True)
        with open_night(DEMO_NIGHT, None) as night:
            status = _print_replay(night, as_json=False, until=None, skip=False)
        out.print()
        command = ".venv/bin/roomcue" if Path(".venv/bin/roomcue").exists() else "roomcue"
        out.print(f"Next: {command} why {DEMO_NIGHT} --at 21:14", soft_wrap=True)
    raise typer.Exit(status)


@night_commands.command()
def replay(
    night: NightFile,
    room: OtherRoom = None,
    as_json: AsJson = False,
    until: Annotated[
        str | None, typer.Option(help="Stop at this time: 21:14, 21:14:30, 95.5s or RFC 3339.")
    ] = None,
    verify: Annotated[
        bool, typer.Option("--verify", help="Hold recorded decisions against the replayed ones.")
    ] = False,
    decisions: Annotated[
        Path | None, typer.Option(help="With --verify: the decisions, where they lie in a file.")
    ] = None,
    skip_bad_lines: SkipBad = False,
    log: Annotated[
        bool, typer.Option("--log", help="Log each decision to stderr, a JSON line each.")
    ] = False,
) -> None:
    """Replay a night and print every decision with its rule, its facts and its reason."""
    with errors_reported(), open_night(night, room) as opened:
        if verify:
            status = _print_verification(opened, decisions, as_json=as_json, skip=skip_bad_lines)
        else:
            end = read_moment(until, opened.head.start, opened.room.zone) if until else None
            status = _print_replay(opened, as_json=as_json, until=end, skip=skip_bad_lines, log=log)
    raise typer.Exit(status)


@night_commands.command()
def why(
    night: NightFile,
    at: Annotated[str, typer.Option(help="The moment: 21:14, 21:14:30, 95.5s or RFC 3339.")],
    expected: Annotated[
        str | None, typer.Option(help="A look that was expected: gentle, preset=tall, ...")
    ] = None,
    room: OtherRoom = None,
    as_json: AsJson = False,
    skip_bad_lines: SkipBad = False,
) -> None:
    """Say why the room stood as it did at one moment, and why it did nothing else."""
    with errors_reported(), open_night(night, room) as opened:
        wanted = parse_expected(opened.room, expected) if expected else {}
        now = read_moment(at, opened.head.start, opened.room.zone)
        played = _played(opened, now, skip=skip_bad_lines)
        inquiry = inquire(played.engine, played.happenings, now)
        _within(opened, now)
        verdict = expect(opened.room, inquiry, wanted) if wanted else None
        if as_json:
            print_json(inquiry_data(inquiry, wanted, verdict))
        else:
            out = console()
            show_inquiry(out, opened.room, inquiry)
            if verdict is not None:
                out.print()
                out.print(Text(escaped(f"Expected {expected}"), "bold"))
                for reason in verdict.reasons:
                    out.print(Text(escaped(reason)))
    raise typer.Exit(OK if verdict is None or verdict.met else PROBLEMS)


@night_commands.command()
def settle(
    readings: Annotated[Path, typer.Argument(help="Readings: JSON Lines, plain or gzip.")],
    raster: Annotated[str, typer.Option(help="The raster that they count in.")] = "1920x1080",
    as_json: AsJson = False,
    skip_bad_lines: SkipBad = False,
) -> None:
    """Settle a file of raw letterbox readings and print each settled change."""
    status = OK
    with errors_reported(), open_input(readings) as file:
        for change in settle_readings(lines_of(file, readings), read_raster(raster)):
            if isinstance(change, BadLine):
                status = _bad_line(str(readings), change, skip=skip_bad_lines)
                continue
            if as_json:
                aspect = None if change.aspect is None else change.aspect / 10_000
                print_json({"t": change.t, "aspect": aspect, "subtitles": change.subtitles})
            else:
                extra = ", subtitles in the bar" if change.subtitles else ""
                typer.echo(f"{change.t:9.3f} s  {ratio_text(change.aspect)}{extra}")
    raise typer.Exit(status)


@night_commands.command()
def invent(
    room: RoomArgument,
    seed: Annotated[int, typer.Option(help="The same seed makes the same night.")] = 1,
    titles: Annotated[int, typer.Option(min=1, max=20, help="How many films and episodes.")] = 3,
    minutes: Annotated[int, typer.Option(min=10, max=300, help="How long each is.")] = 30,
    readings: Annotated[
        int, typer.Option(min=0, max=60, help="Readings a second; 0: only those that change.")
    ] = 0,
    nights: Annotated[
        int,
        typer.Option(min=1, max=1_000, help="So many, one a day; --out then names their folder."),
    ] = 1,
    begins: Annotated[
        str | None, typer.Option(help="The first evening's date; 2026-11-22 if none is named.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write it here, not to the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Make a plausible night for a room, decisions and all, or many that go on from one another."""
    with errors_reported():
        text = text_of(room)
        compiled = load(text, str(room))
        plan = NightPlan(titles=titles, minutes=minutes, readings=readings)
        if nights > 1 or begins is not None:
            first = read_evening(begins, compiled.zone)
            write_invented_nights(
                compiled, seed, plan, roomcue_version(), first, nights, out, replace=force
            )
            raise typer.Exit(OK)
        lines = invented_night(compiled, seed, plan, roomcue_version())
        if out is None:
            for line in lines:
                typer.echo(line)
        else:
            write_lines(out, lines, replace=force)
    raise typer.Exit(OK)


class Played(NamedTuple):
    """A night under way."""

    engine: RoomEngine
    happenings: Iterator[replays.ReplayStep | BadLine]


@contextmanager
def open_night(path: Path, other: Path | None) -> Iterator[OpenNight]:
    """Open a night and load its room, or another in its place; raises what `told` tells."""
    with open_input(path) as file:
        lines = lines_of(file, path)
        first = next(lines, b"")
        if not first.strip():
            raise NightError(f"{path}: this file is empty, or begins with an empty line")
        try:
            head = read_head(first)
        except NightError as error:
            raise NightError(f"{path}: {error}") from error
        own = load(head.room_file, f"{path} (room_file)")
        text = None if other is None else text_of(other)
        if text is None or text == head.room_file:
            yield OpenNight(str(path), head, own, None, read_lines(head.start, lines), head.start)
        else:
            room = load(text, str(other))
            yield OpenNight(str(path), head, room, own, read_lines(head.start, lines), head.start)


def _played(night: OpenNight, until: int | None, *, skip: bool) -> Played:
    """Play a night with its own room, or otherwise with another; and the engine that plays."""
    entries = _good(night, skip=skip)
    if night.own is None:
        engine = replays.engine_for(night.room, night.head)
        return Played(engine, replays.replay(engine, entries, until))
    recorded = replays.engine_for(night.own, night.head)
    stranger = first_foreign_name(night.room, recorded.state)
    known = night.head.state is not None and stranger is None
    engine = RoomEngine(night.room, recorded.state if known else None)
    return Played(engine, replay_with_other_rules(engine, recorded, entries, until))


def _good(night: OpenNight, *, skip: bool) -> Iterator[NightEntry | BadLine]:
    """Report bad lines on the way; without `skip` the first one ends the run."""
    for entry in _watched(night.entries):
        if isinstance(entry, BadLine):
            _bad_line(night.name, entry, skip=skip)
        else:
            night.latest = entry.now
        yield entry


def _within(night: OpenNight, now: int) -> None:
    """Refuse a moment that lies outside the night, which has nothing to say of it."""
    zone = ZoneInfo(night.room.zone)
    if now < night.head.start:
        raise UnusableError(f"{night.name}: this night begins at {clock(night.head.start, zone)}")
    if now > night.latest + A_MINUTE:
        raise UnusableError(f"{night.name}: this night ends at {clock(night.latest, zone)}")


def _bad_line(name: str, line: BadLine, *, skip: bool) -> int:
    """Name a bad line, and end the run unless bad lines are to be skipped."""
    err = console(stderr=True)
    err.print(
        Text(escaped(f"{'skipped' if skip else 'error'}: {name}, {line}"), "red"), soft_wrap=True
    )
    if not skip:
        err.print("--skip-bad-lines goes on past it.")
        raise typer.Exit(UNUSABLE)
    return PROBLEMS


def _print_replay(
    night: OpenNight, *, as_json: bool, until: int | None, skip: bool, log: bool = False
) -> int:
    """Print a night's decisions; problems are promises broken and lines that were skipped."""
    engine, happenings = _played(night, until, skip=skip)
    out, status, made = console(), OK, 0
    logger = decision_log(sys.stderr.buffer, night.room.name) if log else None
    zone, timeline = ZoneInfo(night.room.zone), Timeline(out, night.room)
    if not as_json:
        start = night.head.start
        out.print(
            Text(f"{night.room.name}, {date(start, zone)}, times in {night.room.zone}", "bold")
        )
        if night.own is not None:
            out.print("With other rules than its own: a made-up hub answers what these order.")
        out.print()
    for happening in happenings:
        if isinstance(happening, BadLine):
            status = PROBLEMS
            continue
        made += len(happening.decisions)
        if logger is not None:
            log_decisions(logger, map(decision_data, happening.decisions))
        if happening.broken:
            status = PROBLEMS
        if as_json:
            _print_happening_json(night.head.start, happening)
        else:
            timeline.show(happening)
    if not as_json:
        _print_totals(out, engine, made)
    return status


def _print_totals(out: Console, engine: RoomEngine, made: int) -> None:
    """Print what a night came to: decisions, refusals, the lens's travels."""
    refused = sum(engine.refusals.values())
    out.print()
    out.print(f"{plural(made, 'decision')}, {plural(refused, 'event')} refused.")
    for travels in engine.state.tally.travels:
        out.print(
            f"Lens to {travels.preset or 'no preset'}: {travels.ordered} ordered "
            f"({travels.unconfirmed} not confirmed), {travels.by_hand} by hand."
        )


def _print_happening_json(start: int, happening: replays.ReplayStep) -> None:
    for decision in happening.decisions:
        typer.echo(decision_line(start, decision))
    t = (happening.entry.now - start) / 1_000
    if happening.refused is not None:
        refused = happening.refused
        print_json({"t": t, "refused": refused.code, "words": refused.words})
    for promise in happening.broken:
        print_json({"t": t, "broken": promise.label, "because": promise.because})


def _print_verification(
    night: OpenNight, decisions: Path | None, *, as_json: bool, skip: bool
) -> int:
    """Say whether a night's recorded decisions are those of its replay."""
    engine = replays.engine_for(night.room, night.head)
    if night.own is not None:
        raise UnusableError("--verify holds a night against its own rules: leave --room out")
    status, differences, entries = OK, 0, _good(night, skip=skip)
    if decisions is not None:
        entries = _with_decisions(night, entries, decisions, skip=skip)
    for found in replays.verify(engine, entries):
        status = PROBLEMS
        if isinstance(found, BadLine):
            continue
        if found.recorded is None and found.number == 0 and found.alone:
            raise UnusableError(
                f"{night.name}: no decisions are recorded in this night; --decisions names "
                "a file where they are, if there is one"
            )
        differences += 1
        recorded, replayed = (
            None if data is None else data.decode() for data in (found.recorded, found.replayed)
        )
        if as_json:
            print_json({"line": found.number, "recorded": recorded, "replayed": replayed})
        else:
            typer.echo(f"line {found.number or 'after the last'}:")
            typer.echo(f"  - {recorded or 'nothing'}\n  + {replayed or 'nothing'}")
    if not as_json:
        verdict = "The replay makes the recorded decisions, byte for byte."
        if differences:
            verb = "differs" if differences == 1 else "differ"
            verdict = f"{plural(differences, 'decision')} {verb} (- recorded, + replayed)."
        typer.echo(verdict)
    return status


def _with_decisions(
    night: OpenNight, entries: Iterator[NightEntry | BadLine], path: Path, *, skip: bool
) -> Iterator[NightEntry | BadLine]:
    """Lay the decisions of another file into a night, each after the events of its time."""
    with open_input(path) as file:
        lines = read_lines(night.head.start, lines_of(file, path), 1)
        other = replace(night, name=str(path), entries=lines)
        yield from heapq.merge(entries, _good(other, skip=skip), key=_moment)


def _moment(entry: NightEntry | BadLine) -> int:
    return entry.now if isinstance(entry, NightEntry) else 0


def _watched(entries: Iterator[NightEntry | BadLine]) -> Iterator[NightEntry | BadLine]:
    """Show progress on a terminal while a long night runs."""
    err = console(stderr=True)
    if not err.is_terminal:
        yield from entries
        return
    with Progress(console=err, transient=True) as progress:
        task = None
        for number, entry in enumerate(entries):
            if number == LONG_NIGHT:
                task = progress.add_task("replaying", total=None)
            if task is not None and number % LONG_NIGHT == 0:
                progress.update(task, description=f"replaying, {number:,} lines")
            yield entry


LONG_NIGHT: Final = 50_000
A_MINUTE: Final = 60_000
