"""One moment of a night, explained: the marked table, what the room was doing, what led to it."""

from __future__ import annotations

from typing import Any, Final
from zoneinfo import ZoneInfo

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from adapters.render.night_text import clock, date, show_decision
from adapters.safe_text import escaped
from engine.aspect import ratio_text
from engine.decisions import DECISIONS
from engine.facts import readable_facts
from engine.room import Room
from engine.state import Core, Timers
from engine.value_set import show_value
from engine.wording import HOLDS
from simulator.nights.why import Expectation, Inquiry, standing_look

NARROW: Final = 90
"""Below so many columns a table would be cut to pieces: rows are listed instead."""


def show_inquiry(out: Console, room: Room, inquiry: Inquiry) -> None:
    """Print the marked table, what the room was doing, and what had led to it."""
    zone = ZoneInfo(room.zone)
    out.print(Text(f"{room.name} at {clock(inquiry.now, zone)}, {date(inquiry.now, zone)}", "bold"))
    out.print()
    if out.width < NARROW:
        list_rows(out, room, inquiry)
    else:
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
            out.print(
                Text(escaped(f"{clock(past.at, zone)}  refused: {past.refused.words}"), "red")
            )
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
    facts = [_value(columns[at].name, inquiry, room) for at in used]
    table.add_row("(facts)", *facts, "", style="italic")
    for index, row in enumerate(trace.rows):
        won = trace.choice.row == index
        cells = [_mark(row.cells[at].test, matched=row.cells[at].matched) for at in used]
        mark = "> " if won else "  "
        style = "bold green" if won else "" if row.matched else "dim"
        label = Text(escaped(mark + row.label))
        table.add_row(label, *cells, show_words(room, index), style=style)
    if room.rules.table.default is not None:
        won = trace.choice.row is None
        mark = "> otherwise" if won else "  otherwise"
        style = "bold green" if won else "dim"
        table.add_row(mark, *("" for _ in used), show_words(room, None), style=style)
    return table


def list_rows(out: Console, room: Room, inquiry: Inquiry) -> None:
    """Print the rows one under the other, each with the cells that failed."""
    trace = inquiry.trace
    for index, row in enumerate(trace.rows):
        won = trace.choice.row == index
        out.print(Text(escaped(("> " if won else "  ") + row.label), "bold green" if won else ""))
        for cell in row.cells:
            if cell.test != "-":
                out.print(
                    Text("    ") + Text(f"{cell.column} ") + _mark(cell.test, matched=cell.matched)
                )
    if room.rules.table.default is not None:
        out.print(("> " if trace.choice.row is None else "  ") + "otherwise")


def _mark(test: str, *, matched: bool) -> Text:
    if test == "-":
        return Text("-")
    bare = test.replace('"', "")
    return Text(f"{'+' if matched else 'x'} {bare}", "green" if matched else "red")


def _value(name: str, inquiry: Inquiry, room: Room) -> str:
    kinds = {column.name: column.kind for column in room.rules.table.columns}
    value = inquiry.facts[name]
    return "unknown" if value is None else show_value(value, kinds[name]).replace('"', "")


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
    picture = "not known" if shown is None else f"{shown.picture} for {ratio_text(shown.aspect)}"
    if core.picture is not None or core.failed:
        picture += ", not done" if core.failed else ", not yet done"
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
    if core.hand == "person":
        lines.append(("held back", "A person has the room: the rules order nothing."))
    elif not core.holds:
        lines.append(("held back", "nothing"))
    lines += [("under way", text) for text in _under_way(core)]
    running = [
        f"{name.replace('_', ' ')} in {max(0, due - now) / 1_000:.0f} s"
        for name, due in zip(Timers._fields, core.timers, strict=True)
        if due is not None
    ]
    lines.append(("running", ", ".join(running) or "no timers"))
    return lines


def _under_way(core: Core) -> list[str]:
    """Say which orders and prompts are open."""
    lines = []
    if core.picture is not None and core.shown is not None:
        lines.append(f"order {core.picture}: picture {core.shown.picture}")
    if core.recall is not None:
        lines.append(f"order {core.recall}: lens to {core.preset}")
    lines += [f"order {cue.id}: {cue.cue} {cue.value}" for cue in core.open_cues]
    if core.asked is not None:
        place = ", somebody is at the screen" if core.asked.at_screen else ""
        lines.append(f"prompt {core.asked.id}: panels {core.asked.panels}{place}")
    return lines


def inquiry_data(
    inquiry: Inquiry, wanted: dict[str, str], verdict: Expectation | None
) -> dict[str, Any]:
    """Give all of it as plain data, in the units that decisions are written in."""
    core, trace = inquiry.state.core, inquiry.trace
    lift, cues = core.wanted.lift / 10_000, dict(core.wanted.cues)
    return {
        "at": inquiry.now,
        "facts": readable_facts(inquiry.facts),
        "rows": [
            {
                "row": row.label,
                "matched": row.matched,
                "failed": [cell.column for cell in row.cells if not cell.matched],
            }
            for row in trace.rows
        ],
        "won": "otherwise" if trace.choice.row is None else trace.rows[trace.choice.row].label,
        "wanted": core.wanted._asdict() | {"lift": lift, "cues": cues},
        "standing": standing_look(inquiry.state),
        "doing": dict(doing(core, inquiry.now)[:8]),
        "holds": {code: HOLDS[code] for code in core.holds},
        "under_way": _under_way(core),
        "past": [
            DECISIONS.dump_python(past.decision, mode="json")
            if past.decision is not None
            else {"at": past.at, "refused": str(past.refused)}
            for past in inquiry.past
        ],
        "expected": wanted or None,
        "met": None if verdict is None else verdict.met,
        "reasons": [] if verdict is None else [reason.strip() for reason in verdict.reasons],
    }
