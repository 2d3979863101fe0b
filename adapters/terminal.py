"""How things look on a terminal: a night as a timeline, a table with marks, colour only there."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.table import Table
from rich.text import Text

from engine.aspect import words
from engine.decisions import (
    CueOrder,
    Decision,
    Note,
    PictureOrder,
    Prompt,
    PromptOver,
    RecallOrder,
    Withdrawn,
)
from engine.events import EVENTS, Event, moment_of
from engine.region import ANYTHING
from engine.state import Timers
from engine.words import HOLDS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.facts import Facts
    from engine.room import Room
    from engine.state import Core
    from simulator.replay import Happening
    from simulator.why import Inquiry

PLAIN_WIDTH: Final = 110
"""How wide lines may be where nobody says how wide the terminal is."""
INDENT: Final = " " * 10
QUIET: Final = frozenset({"bars", "black", "ratio", "format", "outcome", "signal", "time"})
"""Events that are not worth a line unless something follows from them."""


def console(*, stderr: bool = False) -> Console:
    """Make a console: colour and width from the terminal, neither where there is none."""
    made = Console(stderr=stderr, highlight=False, soft_wrap=False)
    return (
        made
        if made.is_terminal
        else Console(stderr=stderr, highlight=False, no_color=True, width=PLAIN_WIDTH)
    )


def clock(now: int, zone: ZoneInfo) -> str:
    """Say a time of day in the room's zone."""
    return moment_of(now).astimezone(zone).strftime("%H:%M:%S")


def date(now: int, zone: ZoneInfo) -> str:
    """Say a date in the room's zone."""
    local: datetime = moment_of(now).astimezone(zone)
    return f"{local.day} {local:%B %Y}"


def event_words(event: Event) -> str:
    """Say an event in a few words."""
    data = EVENTS.dump_python(event, mode="json", exclude_none=True, exclude_defaults=True)
    data.pop("kind", None)
    parts = []
    data.pop("id", None)
    for name, value in data.items():
        if value is True:
            parts.append(name)
        elif value is False:
            parts.append(f"not {name}")
        else:
            parts.append(str(value) if name in ("state", "source", "answer") else f"{name} {value}")
    return f"{event.kind}: {', '.join(parts)}" if parts else event.kind


def decision_words(decision: Decision) -> tuple[str, str]:  # noqa: PLR0911 - one a kind
    """Say what a decision is, and what it asks for."""
    match decision:
        case PictureOrder():
            region = decision.region
            if region.width == 0:
                return "picture", "dark: nothing lit"
            lift = f", raised {decision.lift:.1%}" if decision.lift else ""
            return "picture", (
                f"{decision.picture} for {decision.aspect:.2f}{lift}, "
                f"{region.width} x {region.height} pixels at {region.left}, {region.top}"
            )
        case RecallOrder():
            return "recall", f"lens to preset '{decision.preset}'"
        case CueOrder():
            return "cue", f"{decision.cue}: {decision.value}"
        case Withdrawn():
            return "take back", f"order {decision.order}"
        case Prompt():
            return "prompt", decision.words
        case PromptOver():
            return "prompt", f"{decision.prompt} is over: {decision.how}"
        case Note():
            return "note", decision.code.replace("_", " ")


STYLES: Final = {
    "picture": "bold cyan",
    "recall": "bold magenta",
    "cue": "bold blue",
    "prompt": "bold yellow",
    "take back": "dim",
    "note": "green",
}


def show_decision(out: Console, room: Room, decision: Decision) -> None:
    """Print a decision with its rule, its facts and its reason."""
    what, words_ = decision_words(decision)
    line = Text(f"{clock(decision.at, ZoneInfo(room.zone))}  ")
    line.append(f"{what:<9} ", STYLES[what])
    line.append(words_, "bold" if what != "note" else "")
    number = getattr(decision, "id", None)
    if number is not None:
        line.append(f"  #{number}", "dim")
    out.print(line)
    if isinstance(decision, Prompt):
        for caution in decision.cautions:
            out.print(Text(f"{INDENT}! {caution}", "yellow"))
    because = Text(INDENT)
    because.append(decision.rule, "italic")
    because.append(f" - {decision.reason}")
    out.print(because)
    out.print(Text(f"{INDENT}{fact_words(room, decision.rule, decision.facts)}", "dim"))


def fact_words(room: Room, rule: str, facts: Mapping[str, object]) -> str:
    """Say the facts that the named row tests; where none is named, those that are most told of."""
    rules = room.rules
    tested = [
        column.name
        for index, row in enumerate(rules.rows)
        if row.label == rule
        for column, cell in zip(rules.table.columns, rules.table.rows[index].cells, strict=True)
        if cell != ANYTHING
    ]
    names = ["source", "playback", "aspect"]
    names += [name for name in (*tested, "preset", "panels") if name not in names]
    return ", ".join(f"{name} {fact_value(facts[name])}" for name in names if name in facts)


def fact_value(value: object) -> str:
    """Say one fact's value."""
    if value is None:
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.2f}" if isinstance(value, float) else str(value)


def show_happening(out: Console, room: Room, happening: Happening) -> None:
    """Print an event and what it led to."""
    entry, zone = happening.entry, ZoneInfo(room.zone)
    early = [decision for decision in happening.decisions if decision.at < entry.now]
    for decision in early:
        show_decision(out, room, decision)
    if entry.event is not None and entry.event.kind not in QUIET:
        line = Text(f"{clock(entry.now, zone)}  ")
        line.append(event_words(entry.event), "dim")
        out.print(line)
    if happening.refused is not None:
        out.print(Text(f"{INDENT}refused: {happening.refused.words}", "red"))
    for decision in happening.decisions[len(early) :]:
        show_decision(out, room, decision)
    for promise in happening.broken:
        out.print(Text(f"{INDENT}promise broken: {promise.label} - {promise.because}", "bold red"))


def show_inquiry(out: Console, room: Room, inquiry: Inquiry) -> None:
    """Print the marked table, what the room was doing, and what had led to it."""
    zone = ZoneInfo(room.zone)
    out.print(Text(f"{room.name} at {clock(inquiry.now, zone)}, {date(inquiry.now, zone)}", "bold"))
    out.print()
    out.print(marked_table(room, inquiry))
    out.print()
    for label, text in doing(inquiry.state.core, inquiry.now):
        out.print(Text.assemble((f"{label:<12}", "bold"), text))
    out.print()
    out.print(Text("What led to it", "bold"))
    for past in inquiry.past:
        if past.decision is not None:
            show_decision(out, room, past.decision)
        elif past.refused is not None:
            out.print(Text(f"{clock(past.at, zone)}  refused: {past.refused.words}", "red"))
    if not inquiry.past:
        out.print("Nothing was decided before.")


def marked_table(room: Room, inquiry: Inquiry) -> Table:
    """Draw the rule table over the facts: + for a cell that matched, x for one that failed."""
    trace, columns = inquiry.trace, room.rules.table.columns
    rows = [row.cells for row in trace.rows]
    used = [at for at in range(len(columns)) if any(cells[at].test != "-" for cells in rows)]
    table = Table(show_edge=False, pad_edge=False, header_style="bold")
    table.add_column("row")
    for at in used:
        table.add_column(columns[at].name)
    table.add_column("shows")
    table.add_row(
        "(facts)", *(_value(columns[at].name, inquiry.facts) for at in used), "", style="italic"
    )
    for index, row in enumerate(trace.rows):
        won = trace.choice.row == index
        cells = [_mark(row.cells[at].test, matched=row.cells[at].matched) for at in used]
        mark = "> " if won else "  "
        style = "bold green" if won else "" if row.matched else "dim"
        table.add_row(mark + row.label, *cells, show_words(room, index), style=style)
    if room.rules.table.default is not None:
        won = trace.choice.row is None
        table.add_row(
            ("> " if won else "  ") + "otherwise",
            *("" for _ in used),
            show_words(room, None),
            style="bold green" if won else "dim",
        )
    return table


def _mark(test: str, *, matched: bool) -> Text:
    if test == "-":
        return Text("-")
    return Text(f"{'+' if matched else 'x'} {test}", "green" if matched else "red")


def _value(name: str, facts: Facts) -> str:
    value = facts[name]
    if name in ("aspect", "declared", "tallest") and isinstance(value, int):
        return words(value)
    if name == "time" and isinstance(value, int):
        return f"{value // 60:02}:{value % 60:02}"
    return fact_value(value)


def show_words(room: Room, index: int | None) -> str:
    """Say what a row shows; None is the otherwise row."""
    table = room.rules.table
    show = table.default if index is None else table.rows[index].output
    if show is None:
        return "nothing"
    parts = [str(part) for part in (show.picture, show.preset, show.panels) if part is not None]
    if show.lift is not None:
        parts.append(f"lift {show.lift / 100:g} %")
    parts += [f"{cue}: {value}" for cue, value in show.cues]
    return ", ".join(parts) or "as it stands"


def doing(core: Core, now: int) -> list[tuple[str, str]]:
    """Say what the room was doing."""
    lens = core.lens + (f" at {core.preset}" if core.lens == "resting" else "")
    if core.lens == "travelling":
        lens += f" to {core.preset or 'nobody knows where'}" + ("" if core.recall else ", by hand")
    shown = core.shown
    picture = "not known" if shown is None else f"{shown.picture} for {words(shown.aspect)}"
    wanted = core.wanted
    lines = [
        ("projector", core.projector + (", in service" if core.service else "")),
        ("playback", core.playback + (", a title is on" if core.title else ", no title")),
        ("lens", lens),
        ("panels", f"{core.arrangement or 'not known'}, {core.panels}"),
        ("hand", core.hand + (f", until {core.hand_until}" if core.hand == "person" else "")),
        ("picture", picture),
        (
            "wanted",
            f"{wanted.picture}, {wanted.preset or 'any preset'}, {wanted.panels or 'any panels'}",
        ),
        ("recalls", f"{core.left_title} left for a title, {core.left_night} tonight"),
    ]
    lines += [("held back", HOLDS[code]) for code in core.holds]
    if not core.holds:
        lines.append(("held back", "nothing: what is wanted stands, or its order is under way"))
    running = [
        f"{name.replace('_', ' ')} {(due - now) / 1_000:g} s"
        for name, due in zip(Timers._fields, core.timers, strict=True)
        if due is not None
    ]
    lines.append(("running", ", ".join(running) or "no timers"))
    return lines
