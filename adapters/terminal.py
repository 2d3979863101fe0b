"""How things look on a terminal: a night as a timeline, a table with marks, colour only there."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from rich.box import SIMPLE_HEAD
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
from engine.events import (
    EVENTS,
    Answer,
    Event,
    Hand,
    LensReport,
    Mark,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
)
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


def event_words(event: Event) -> str:  # noqa: C901, PLR0911, PLR0912 - one a kind
    """Say an event in a few words."""
    match event:
        case SourceChosen():
            return f"source: {event.source}"
        case Playback():
            return event.state if event.source is None else f"{event.source}: {event.state}"
        case Title():
            name = f" '{event.name}'" if event.name else ""
            declared = f", declared {words(event.declared)}" if event.declared else ""
            return f"title{name} {'begins' if event.begun else 'ends'}{declared}"
        case LensReport():
            place = event.preset or "no preset"
            return f"lens: on its way to {place}" if event.moving else f"lens: rests at {place}"
        case PanelReport():
            return f"panels: {event.panels or 'not known'}"
        case Answer():
            return f"answer to {event.prompt}: {event.answer}"
        case Hand():
            look = EVENTS.dump_python(event, mode="json", exclude_none=True).get("look", {})
            wish = ", ".join(f"{part} {name}" for part, name in look.items())
            taken = f"a person takes over until {event.until}" + (f": {wish}" if wish else "")
            return taken if event.taken else "the person gives back"
        case ToldFact():
            return f"told: {event.fact} is {fact_value(event.value)}"
        case Outcome():
            return f"order {event.order}: {event.outcome}"
        case ProjectorReport():
            return f"projector: {event.state}"
        case Service():
            return f"service {'begins' if event.begun else 'ends'}"
        case Mark():
            return f'mark: "{event.words or "that was wrong"}"'
        case Resumed():
            return "roomcue is back"
        case Signal():
            return f"signal {'locked' if event.locked else 'lost'}"
        case _:
            return event.kind


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


def show_decision(out: Console, room: Room, decision: Decision, *, whole: bool = True) -> None:
    """Print a decision; whole, with its rule, its facts and its reason."""
    what, asked = decision_words(decision)
    line = Text(f"{clock(decision.at, ZoneInfo(room.zone))}  ")
    line.append(f"{what:<9} ", STYLES[what])
    line.append(asked, "bold" if what != "note" else "")
    number = getattr(decision, "id", None)
    if number is not None:
        line.append(f"  #{number}", "dim")
    if not whole:
        line.append(f"  ({decision.rule})", "dim")
    out.print(line)
    if not whole:
        return
    if isinstance(decision, Prompt):
        for caution in decision.cautions:
            _print_under(out, Text(f"! {caution}", "yellow"))
    _print_under(out, Text.assemble((decision.rule, "italic"), f" - {decision.reason}"))
    _print_under(out, Text(fact_words(room, decision.rule, decision.facts), "dim"))


def _print_under(out: Console, text: Text) -> None:
    """Print a text under a line, every line of it set in."""
    for line in text.wrap(out, max(out.width - len(INDENT), len(INDENT))):
        out.print(Text(INDENT) + line)


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


class Timeline:
    """Prints what happens in a night; reports that repeat what is known, and readings, are not."""

    def __init__(self, out: Console, room: Room) -> None:
        self._out = out
        self._room = room
        self._source: str | None = None

    def show(self, happening: Happening) -> None:
        """Print an event and what it led to."""
        out, room, entry = self._out, self._room, happening.entry
        early = [decision for decision in happening.decisions if decision.at < entry.now]
        for decision in early:
            show_decision(out, room, decision)
        if entry.event is not None and (self._tells(entry.event) or happening.refused is not None):
            line = Text(f"{clock(entry.now, ZoneInfo(room.zone))}  ")
            line.append(event_words(entry.event), "dim")
            out.print(line)
        if happening.refused is not None:
            _print_under(out, Text(f"refused: {happening.refused.words}", "red"))
        for decision in happening.decisions[len(early) :]:
            show_decision(out, room, decision)
        for promise in happening.broken:
            words_ = f"promise broken: {promise.label} - {promise.because}"
            _print_under(out, Text(words_, "bold red"))

    def _tells(self, event: Event) -> bool:
        if isinstance(event, SourceChosen):
            before, self._source = self._source, event.source
            return event.source != before
        return event.kind not in QUIET


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
            show_decision(out, room, past.decision, whole=False)
        elif past.refused is not None:
            out.print(Text(f"{clock(past.at, zone)}  refused: {past.refused.words}", "red"))
    if not inquiry.past:
        out.print("Nothing was decided before.")


def marked_table(room: Room, inquiry: Inquiry) -> Table:
    """Draw the rule table over the facts: + for a cell that matched, x for one that failed."""
    trace, columns = inquiry.trace, room.rules.table.columns
    rows = [row.cells for row in trace.rows]
    used = [at for at in range(len(columns)) if any(cells[at].test != "-" for cells in rows)]
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), show_edge=False, header_style="bold")
    table.add_column("row", no_wrap=True)
    for at in used:
        table.add_column(columns[at].name, overflow="fold")
    table.add_column("shows", overflow="fold")
    facts = [_value(columns[at].name, inquiry.facts) for at in used]
    table.add_row("(facts)", *facts, "", style="italic")
    for index, row in enumerate(trace.rows):
        won = trace.choice.row == index
        cells = [_mark(row.cells[at].test, matched=row.cells[at].matched) for at in used]
        mark = "> " if won else "  "
        style = "bold green" if won else "" if row.matched else "dim"
        table.add_row(mark + row.label, *cells, show_words(room, index), style=style)
    if room.rules.table.default is not None:
        won = trace.choice.row is None
        mark = "> otherwise" if won else "  otherwise"
        style = "bold green" if won else "dim"
        table.add_row(mark, *("" for _ in used), show_words(room, None), style=style)
    return table


def _mark(test: str, *, matched: bool) -> Text:
    if test == "-":
        return Text("-")
    bare = test.replace('"', "")
    return Text(f"{'+' if matched else 'x'} {bare}", "green" if matched else "red")


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
    if show.lift:
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
