"""The command line. Status 0: all is well; 1: problems were found; 2: the input is unusable."""

from __future__ import annotations

import heapq
import importlib.metadata
import io
import json
import sys
from collections.abc import Iterator, Sized
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Final, NamedTuple
from zoneinfo import ZoneInfo

import typer
from rich.console import Console
from rich.progress import Progress
from rich.text import Text

from adapters import on_paper, proving, times
from adapters.ending import INTERRUPTED, OK, PROBLEMS, UNUSABLE, print_findings, room_of, told
from adapters.files import UnusableError, lines_of, opened, saved, text_of, written
from adapters.inquiry import inquiry_data, show_inquiry
from adapters.inventing import evening_of, write_nights
from adapters.live_commands import live_commands
from adapters.log import decision_log, log_decisions
from adapters.plainly import shown
from adapters.plan_json import plan_data
from adapters.plan_text import plan_lines
from adapters.settling import raster_of, settle_lines
from adapters.terminal import Timeline, clock, console, date
from adapters.wear_commands import wear_commands
from engine import planning
from engine.aspect import words
from engine.room import Room
from engine.snapshot import belongs
from engine.states import diagram
from engine.step import RoomEngine
from rules.findings import Finding, in_order
from rules.inspected import inspected
from rules.load import defaults_shown, load, read
from rules.schema_json import schema_text
from rules.starter import starter
from rules.wishes import ANYWHERE, Wishes
from simulator import replay as replays
from simulator.maker import Plan, invented
from simulator.nights import BadLine, Entry, Head, NightError, decision_line, read_head, read_lines
from simulator.proof import Proof
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM
from simulator.whatif import replay_otherwise
from simulator.why import expect, inquire, parse_expected

app = typer.Typer(
    help="Rules for a projection room: replay its nights, ask why, check its rules.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

NightFile = Annotated[Path, typer.Argument(help="A night: JSON Lines, plain or gzip.")]
RoomFile = Annotated[Path, typer.Argument(help="A room file.")]
AsJson = Annotated[bool, typer.Option("--json", help="JSON for machines instead of text.")]
OtherRoom = Annotated[
    Path | None, typer.Option("--room", help="Use this room file and not the night's own.")
]
SkipBad = Annotated[
    bool, typer.Option("--skip-bad-lines", help="Go on past lines that cannot be read.")
]


@dataclass
class Night:
    """An opened night with its room."""

    name: str
    head: Head
    room: Room
    own: Room | None
    """The night's own room, where it is played with another."""
    entries: Iterator[Entry | BadLine]
    latest: int
    """The time of the latest line that was read, in ms UTC."""


app.add_typer(live_commands)
app.add_typer(wear_commands)


def main() -> None:
    """Run the command line; every mistake of a user ends in one sentence, never in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal may know few letters
    try:
        app()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


@app.command()
def demo() -> None:
    """Replay the shipped evening in the shipped room."""
    with told():
        out = console()
        out.print(Text("An evening in the hayloft, as roomcue handled it.", "bold"))
        out.print(f"Room file: {DEMO_ROOM}\nNight:     {DEMO_NIGHT}\n", soft_wrap=True)
        with opened_night(DEMO_NIGHT, None) as night:
            status = _print_replay(night, as_json=False, until=None, skip=False)
        out.print()
        command = ".venv/bin/roomcue" if Path(".venv/bin/roomcue").exists() else "roomcue"
        out.print(f"Next: {command} why {DEMO_NIGHT} --at 21:14", soft_wrap=True)
    raise typer.Exit(status)


@app.command()
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
    with told(), opened_night(night, room) as opened_:
        if verify:
            status = _print_verification(opened_, decisions, as_json=as_json, skip=skip_bad_lines)
        else:
            end = times.moment(until, opened_.head.start, opened_.room.zone) if until else None
            status = _print_replay(
                opened_, as_json=as_json, until=end, skip=skip_bad_lines, log=log
            )
    raise typer.Exit(status)


@app.command()
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
    with told(), opened_night(night, room) as opened_:
        wanted = parse_expected(opened_.room, expected) if expected else {}
        now = times.moment(at, opened_.head.start, opened_.room.zone)
        played = _played(opened_, now, skip=skip_bad_lines)
        inquiry = inquire(played.engine, played.happenings, now)
        _within(opened_, now)
        verdict = expect(opened_.room, inquiry, wanted) if wanted else None
        if as_json:
            _print_json(inquiry_data(inquiry, wanted, verdict))
        else:
            out = console()
            show_inquiry(out, opened_.room, inquiry)
            if verdict is not None:
                out.print()
                out.print(Text(shown(f"Expected {expected}"), "bold"))
                for reason in verdict.reasons:
                    out.print(Text(shown(reason)))
    raise typer.Exit(OK if verdict is None or verdict.met else PROBLEMS)


@app.command()
def settle(
    readings: Annotated[Path, typer.Argument(help="Readings: JSON Lines, plain or gzip.")],
    raster: Annotated[str, typer.Option(help="The raster that they count in.")] = "1920x1080",
    as_json: AsJson = False,
    skip_bad_lines: SkipBad = False,
) -> None:
    """Settle a file of raw letterbox readings and print each settled change."""
    status = OK
    with told(), opened(readings) as file:
        for change in settle_lines(lines_of(file, readings), raster_of(raster)):
            if isinstance(change, BadLine):
                status = _bad_line(str(readings), change, skip=skip_bad_lines)
                continue
            if as_json:
                aspect = None if change.aspect is None else change.aspect / 10_000
                _print_json({"t": change.t, "aspect": aspect, "subtitles": change.subtitles})
            else:
                extra = ", subtitles in the bar" if change.subtitles else ""
                typer.echo(f"{change.t:9.3f} s  {words(change.aspect)}{extra}")
    raise typer.Exit(status)


@app.command()
def check(
    room: RoomFile,
    show_defaults: Annotated[
        bool, typer.Option("--show-defaults", help="Print the whole room file, defaults and all.")
    ] = False,
    as_json: AsJson = False,
    quick: Annotated[
        bool, typer.Option("--quick", help="Check the file and its table; explore no states.")
    ] = False,
    nights: Annotated[
        Path | None, typer.Option(help="Write the evening that breaks a promise into this folder.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
) -> None:
    """Prove a room file: no gap, no contradiction, no state in which a promise breaks."""
    with told():
        if show_defaults and as_json:
            raise UnusableError("--show-defaults prints YAML and --json JSON: take one of them")
        if nights is not None and (quick or show_defaults):
            raise UnusableError("--nights needs the states: leave out --quick and --show-defaults")
        text = text_of(room)
        loaded = read(text, str(room))
        found = in_order((*loaded.findings, *inspected(text, str(room))))
        proof = None
        if loaded.room is not None and not quick and not show_defaults:
            proof = proving.proven(loaded.room)
            found = in_order((*found, *proving.findings(proof, str(room), text)))
        drawn: tuple[Path, ...] = ()
        if proof is not None and loaded.room is not None and nights is not None:
            version = roomcue_version()
            drawn = tuple(proving.write_nights(loaded.room, proof, nights, version, replace=force))
        if as_json:
            _print_json(
                {
                    "file": str(room),
                    "findings": [_finding(one) for one in found],
                    "proof": None if proof is None else proving.proof_data(proof),
                    "nights": [str(path) for path in drawn],
                }
            )
        else:
            print_findings(found)
        if loaded.room is None:
            raise typer.Exit(UNUSABLE)
        if show_defaults:
            typer.echo(defaults_shown(text, str(room)), nl=False)
        elif not as_json:
            _print_check(str(room), loaded.room, proof, drawn)
    raise typer.Exit(PROBLEMS if any(one.fatal for one in found) else OK)


def _print_check(name: str, room: Room, proof: Proof | None, nights: tuple[Path, ...]) -> None:
    """Say what a room has, and what is proven of it."""
    typer.echo(
        f"{name}: {room.name} loads: {_count(room.sources, 'source')}, "
        f"{_count(room.presets, 'preset')}, {_count(room.rules.rows, 'rule')}, "
        f"{_count(room.promises, 'promise')}."
    )
    if proof is None:
        return
    for fault in proof.faults:
        for line in proving.story(room, fault):
            typer.echo(shown(line))
    for line in proving.proof_lines(proof):
        typer.echo(shown(line))
    for path in nights:
        typer.echo(f"written: {path}")


@app.command()
def invent(
    room: RoomFile,
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
    with told():
        text = text_of(room)
        compiled = load(text, str(room))
        plan = Plan(titles=titles, minutes=minutes, readings=readings)
        if nights > 1 or begins is not None:
            first = evening_of(begins, compiled.zone)
            write_nights(compiled, seed, plan, roomcue_version(), first, nights, out, replace=force)
            raise typer.Exit(OK)
        lines = invented(compiled, seed, plan, roomcue_version())
        if out is None:
            for line in lines:
                typer.echo(line)
        else:
            written(out, lines, replace=force)
    raise typer.Exit(OK)


@app.command()
def new(
    name: Annotated[str, typer.Argument(help="What the room is called: parlour.")],
    screen: Annotated[str, typer.Option(help='Its width and ratio: "3.4 m x 2.40".')],
    raster: Annotated[str, typer.Option(help='The projector\'s pixels: "4096 x 2160".')],
    sources: Annotated[str, typer.Option(help='What sends pictures: "disc, console".')],
    presets: Annotated[
        str, typer.Option(help='The ratios that the zoom\'s presets fit: "2.40, 1.78".')
    ] = "",
    panels: Annotated[str, typer.Option(help='The ratios that panels leave free: "1.78".')] = "",
    zone: Annotated[str, typer.Option(help="Its time zone: Europe/Lisbon.")] = ANYWHERE,
    out: Annotated[Path | None, typer.Option(help="Write it here, not to the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Write a commented room file to start from, in which `check` finds no fault."""
    with told():
        text = starter(Wishes(name, screen, raster, sources, presets, panels, zone))
        if out is None:
            typer.echo(text, nl=False)
        else:
            saved(out, text.encode(), replace=force)
            typer.echo(f"{out}: a room to start from; next: roomcue check {out}")


@app.command()
def plan(
    room: RoomFile,
    ratio: Annotated[
        list[str] | None, typer.Option(help="Plan this ratio alone; may be given more than once.")
    ] = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Draw sheets to scale into this folder, as SVG.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say what each way to show each ratio does: place, size, light, pixels, stretch."""
    with told():
        ratios = on_paper.ratios_of(ratio or ())
        planned = planning.plan(room_of(room), ratios)
        drawn = on_paper.draw(planned, pictures, replace=force) if pictures else ()
        if as_json:
            _print_json({**plan_data(planned), "drawings": [str(path) for path in drawn]})
        else:
            for line in plan_lines(planned):
                typer.echo(typer.style(line.text, bold=True) if line.heading else line.text)
            for path in drawn:
                typer.echo(f"drawn: {path}")


@app.command("testcard")
def draw_testcard(
    room: RoomFile,
    out: Annotated[Path, typer.Option(help="The PNG file to write.")],
    preset: Annotated[
        str | None, typer.Option(help="Whose corners to read; the one with the largest raster.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Draw a test card of the raster's size, from which the screen's corners are read."""
    with told():
        for line in on_paper.draw_card(room_of(room), preset, out, replace=force):
            typer.echo(line)


@app.command()
def schema() -> None:
    """Print the JSON Schema (2020-12) of room files, for editors."""
    with told():
        typer.echo(schema_text(), nl=False)


@app.command()
def states() -> None:
    """Draw the transition table of lens, panels and hand as a Mermaid diagram."""
    typer.echo(diagram(), nl=False)


@app.command()
def version() -> None:
    """Print the version."""
    typer.echo(roomcue_version())


def roomcue_version() -> str:
    """Say which version is installed."""
    return importlib.metadata.version("roomcue")


class Played(NamedTuple):
    """A night under way."""

    engine: RoomEngine
    happenings: Iterator[replays.Happening | BadLine]


@contextmanager
def opened_night(path: Path, other: Path | None) -> Iterator[Night]:
    """Open a night and load its room, or another in its place; raises what `_told` tells."""
    with opened(path) as file:
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
            yield Night(str(path), head, own, None, read_lines(head.start, lines), head.start)
        else:
            room = load(text, str(other))
            yield Night(str(path), head, room, own, read_lines(head.start, lines), head.start)


def _played(night: Night, until: int | None, *, skip: bool) -> Played:
    """Play a night with its own room, or otherwise with another; and the engine that plays."""
    entries = _good(night, skip=skip)
    if night.own is None:
        engine = replays.engine_for(night.room, night.head)
        return Played(engine, replays.replay(engine, entries, until))
    recorded = replays.engine_for(night.own, night.head)
    stranger = belongs(night.room, recorded.state)
    known = night.head.state is not None and stranger is None
    engine = RoomEngine(night.room, recorded.state if known else None)
    return Played(engine, replay_otherwise(engine, recorded, entries, until))


def _good(night: Night, *, skip: bool) -> Iterator[Entry | BadLine]:
    """Report bad lines on the way; without `skip` the first one ends the run."""
    for entry in _watched(night.entries):
        if isinstance(entry, BadLine):
            _bad_line(night.name, entry, skip=skip)
        else:
            night.latest = entry.now
        yield entry


def _within(night: Night, now: int) -> None:
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
        Text(shown(f"{'skipped' if skip else 'error'}: {name}, {line}"), "red"), soft_wrap=True
    )
    if not skip:
        err.print("--skip-bad-lines goes on past it.")
        raise typer.Exit(UNUSABLE)
    return PROBLEMS


def _print_replay(
    night: Night, *, as_json: bool, until: int | None, skip: bool, log: bool = False
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
            log_decisions(logger, happening.decisions)
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
    out.print(f"{_counted(made, 'decision')}, {_counted(refused, 'event')} refused.")
    for travels in engine.state.tally.travels:
        out.print(
            f"Lens to {travels.preset or 'no preset'}: {travels.ordered} ordered "
            f"({travels.unconfirmed} not confirmed), {travels.by_hand} by hand."
        )


def _print_happening_json(start: int, happening: replays.Happening) -> None:
    for decision in happening.decisions:
        typer.echo(decision_line(start, decision))
    t = (happening.entry.now - start) / 1_000
    if happening.refused is not None:
        refused = happening.refused
        _print_json({"t": t, "refused": refused.code, "words": refused.words})
    for promise in happening.broken:
        _print_json({"t": t, "broken": promise.label, "because": promise.because})


def _print_verification(night: Night, decisions: Path | None, *, as_json: bool, skip: bool) -> int:
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
            _print_json({"line": found.number, "recorded": recorded, "replayed": replayed})
        else:
            typer.echo(f"line {found.number or 'after the last'}:")
            typer.echo(f"  - {recorded or 'nothing'}\n  + {replayed or 'nothing'}")
    if not as_json:
        verdict = "The replay makes the recorded decisions, byte for byte."
        if differences:
            verb = "differs" if differences == 1 else "differ"
            verdict = f"{_counted(differences, 'decision')} {verb} (- recorded, + replayed)."
        typer.echo(verdict)
    return status


def _with_decisions(
    night: Night, entries: Iterator[Entry | BadLine], path: Path, *, skip: bool
) -> Iterator[Entry | BadLine]:
    """Lay the decisions of another file into a night, each after the events of its time."""
    with opened(path) as file:
        lines = read_lines(night.head.start, lines_of(file, path), 1)
        other = replace(night, name=str(path), entries=lines)
        yield from heapq.merge(entries, _good(other, skip=skip), key=_moment)


def _moment(entry: Entry | BadLine) -> int:
    return entry.now if isinstance(entry, Entry) else 0


def _watched(entries: Iterator[Entry | BadLine]) -> Iterator[Entry | BadLine]:
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


def _print_json(data: object) -> None:
    typer.echo(json.dumps(data, ensure_ascii=False))


def _finding(finding: Finding) -> dict[str, object]:
    return {**finding._asdict(), "severity": str(finding.severity)}


def _count(things: Sized, name: str) -> str:
    return _counted(len(things), name)


def _counted(number: int, name: str) -> str:
    return f"{number} {name}" + ("" if number == 1 else "s")


if __name__ == "__main__":
    main()
