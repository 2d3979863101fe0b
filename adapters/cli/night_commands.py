"""Commands for nights: replay one, explain a moment, settle raw readings, make up nights."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer
from rich.text import Text

from adapters.cli.console import console, print_blocks, print_json
from adapters.cli.exit_status import OK, PROBLEMS, errors_reported
from adapters.cli.files import lines_of, open_input, text_of, write_lines
from adapters.cli.invented_nights import read_evening, write_invented_nights
from adapters.cli.moments import read_moment
from adapters.cli.night_files import (
    OpenNight,
    check_begun,
    check_day,
    check_moment,
    good_entries,
    open_night,
    report_bad_line,
    strange_room,
    with_decisions,
)
from adapters.cli.night_print import (
    filter_of,
    last_moment,
    print_night,
    print_night_json,
    require_order,
    require_whole_night,
)
from adapters.cli.night_records import own_faults, read_record
from adapters.cli.options import AsJson, RoomArgument
from adapters.cli.readings_files import raster_option, settle_readings
from adapters.cli.version import roomcue_version
from adapters.render.night_text import difference_lines, verdict_text
from adapters.render.night_timeline import NightFilter, Only
from adapters.render.why_text import expectation_blocks, inquiry_blocks, inquiry_data
from adapters.safe_text import escaped
from engine.aspect import ratio_text
from engine.errors import UnusableError
from rules.room.load import load
from simulator.nights import replay as replays
from simulator.nights.invention import NightPlan, invented_night
from simulator.nights.night_file import BadLine
from simulator.nights.troubles import roots_at, standing_troubles
from simulator.nights.why import expect, inquire, parse_expected
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM

night_commands = typer.Typer(rich_markup_mode=None)

NightFile = Annotated[Path, typer.Argument(help="A night: JSON Lines, plain or gzip.")]
OtherRoom = Annotated[
    Path | None, typer.Option("--room", help="Use this room file in place of the night's own.")
]
SkipBad = Annotated[
    bool, typer.Option("--skip-bad-lines", help="Go on past lines that cannot be read.")
]


LastMoment = Annotated[
    str | None, typer.Option(help="Stop at this time: 21:14, 21:14:30, 95.5s or RFC 3339.")
]
DecisionLog = Annotated[
    str | None, typer.Option(help="Log each decision to stderr too; json is the only kind.")
]


@night_commands.command()
def demo() -> None:
    """Replay the shipped evening in the shipped room."""
    with errors_reported():
        out = console()
        out.print(Text("An evening in the hayloft, as roomcue handled it.", "bold"))
        out.print(f"Room file: {DEMO_ROOM}\nNight:     {DEMO_NIGHT}\n", soft_wrap=True)
        with open_night(DEMO_NIGHT, None) as night:
            status = print_night(night, (), NightFilter(), until=None, skip=False)
        out.print()
        command = ".venv/bin/roomcue" if Path(".venv/bin/roomcue").exists() else "roomcue"
        out.print(f"Next: {command} why {DEMO_NIGHT} --at 21:14", soft_wrap=True)
        out.print(f"or:   {command} report {DEMO_NIGHT} --out evening.html", soft_wrap=True)
    raise typer.Exit(status)


@night_commands.command()
def replay(
    night: NightFile,
    room: OtherRoom = None,
    as_json: AsJson = False,
    until: LastMoment = None,
    since: Annotated[str | None, typer.Option("--from", help="Show what came since then.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Show what came up to then.")] = None,
    rule: Annotated[str | None, typer.Option(help="Show what this rule decided.")] = None,
    only: Annotated[Only | None, typer.Option(help="Show these alone.")] = None,
    verify: Annotated[
        bool, typer.Option("--verify", help="Compare recorded decisions with replayed ones.")
    ] = False,
    decisions: Annotated[
        Path | None, typer.Option(help="With --verify: read the decisions from this file.")
    ] = None,
    skip_bad_lines: SkipBad = False,
    log: DecisionLog = None,
) -> None:
    """Replay a night and print every decision with its rule, its facts and its reason."""
    with errors_reported(), open_night(night, room) as opened:
        logged = _is_logged(log)
        wanted = filter_of(opened, since, to, rule, only)
        _require_verify(decisions, verify=verify)
        if verify:
            require_whole_night(wanted)
            status = _print_verification(opened, decisions, as_json=as_json, skip=skip_bad_lines)
            raise typer.Exit(status)
        end = last_moment(opened, until)
        require_order(since, wanted.start, "--until", until, end)
        if as_json:
            status = print_night_json(opened, wanted, until=end, skip=skip_bad_lines, log=logged)
        else:
            zone = ZoneInfo(opened.room.time_zone)
            hidden = own_faults(night, zone, skip=skip_bad_lines) if opened.own is not None else ()
            remarks = (*strange_room(opened, room), *hidden)
            status = print_night(
                opened, remarks, wanted, until=end, skip=skip_bad_lines, log=logged
            )
    raise typer.Exit(status)


def _require_verify(decisions: Path | None, *, verify: bool) -> None:
    """Raise `UnusableError` for decisions with which nothing is compared."""
    if decisions is not None and not verify:
        raise UnusableError("--decisions goes with --verify: add it, or leave both out")


def _is_logged(log: str | None) -> bool:
    """Tell whether a log is asked for; raises `UnusableError` for one that there is not."""
    if log not in (None, "json"):
        raise UnusableError(f"--log is json, not {log}: write --log json")
    return log is not None


@night_commands.command()
def why(
    night: NightFile,
    at: Annotated[str, typer.Option(help="The moment: 21:14, 21:14:30, 95.5s or RFC 3339.")],
    expected: Annotated[
        str | None,
        typer.Option(help="A look that was expected: gentle, preset=tall, lift=6%, lamps=low, ..."),
    ] = None,
    room: OtherRoom = None,
    as_json: AsJson = False,
    skip_bad_lines: SkipBad = False,
) -> None:
    """Say why the room stood as it did at one moment, and why it did nothing else."""
    with errors_reported(), open_night(night, room) as opened:
        wanted = {} if expected is None else parse_expected(opened.room, expected)
        now = read_moment(at, opened.head.start, opened.room.time_zone)
        check_begun(opened, now)
        record = read_record(opened, skip=skip_bad_lines, until=now)
        inquiry, causes = inquire(record, now), roots_at(record, now)
        check_moment(opened, now)
        check_day(opened, at, now)
        verdict = expect(opened.room, inquiry, wanted) if wanted else None
        if as_json:
            print_json(inquiry_data(inquiry, causes, wanted, verdict))
        else:
            out, zone = console(), ZoneInfo(opened.room.time_zone)
            hidden = own_faults(night, zone, skip=skip_bad_lines) if opened.own is not None else ()
            for remark in (*strange_room(opened, room), *hidden):
                out.print(Text(escaped(remark), "yellow"))
            print_blocks(out, inquiry_blocks(opened.room, inquiry, causes, out.width))
            if expected is not None and verdict is not None:
                roots = standing_troubles(record, now)
                print_blocks(out, expectation_blocks(expected, verdict, roots, zone))
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
        for change in settle_readings(readings, lines_of(file, readings), raster_option(raster)):
            if isinstance(change, BadLine):
                status = report_bad_line(str(readings), change, skip=skip_bad_lines)
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
        typer.Option(
            min=1, max=1_000, help="How many nights, one a day; --out names their folder."
        ),
    ] = 1,
    begins: Annotated[
        str | None, typer.Option(help="The first evening's date; 2026-11-22 if none is named.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write it here, not to the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Make a plausible night for a room with its decisions, or many nights in a row."""
    with errors_reported():
        text = text_of(room)
        compiled = load(text, str(room))
        plan = NightPlan(titles=titles, minutes=minutes, readings=readings)
        first = read_evening(begins, compiled.time_zone)
        if nights > 1 or begins is not None:
            write_invented_nights(
                compiled, seed, plan, roomcue_version(), first, nights, out, replace=force
            )
            raise typer.Exit(OK)
        lines = invented_night(compiled, seed, plan, roomcue_version(), first)
        if out is None:
            for line in lines:
                typer.echo(line)
        else:
            write_lines(out, lines, replace=force)
    raise typer.Exit(OK)


def _print_verification(
    night: OpenNight, decisions: Path | None, *, as_json: bool, skip: bool
) -> int:
    """Hold the recorded decisions against those of the replay; give status 1 if one differs."""
    engine = replays.engine_for(night.room, night.head)
    if night.own is not None:
        raise UnusableError("--verify compares a night with its own rules: leave out --room")
    status, differences, entries = OK, 0, good_entries(night, skip=skip)
    if decisions is not None:
        entries = with_decisions(night, entries, decisions, skip=skip)
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
            for line in difference_lines(found.number, recorded, replayed):
                typer.echo(line)
    if not as_json:
        typer.echo(verdict_text(differences))
    return status
