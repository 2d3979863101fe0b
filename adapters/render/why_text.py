"""Explain one moment of a night: the marked rule table, what the room did, what led to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.table import Table
from rich.text import Text

from adapters.render.night_text import clock, date, short_decision
from adapters.render.styled import EMPTY_LINE, Block
from adapters.safe_text import escaped
from engine.aspect import SCALE, ratio_text
from engine.decisions import DECISIONS
from engine.facts import CUE, readable_facts, what_is_remembered
from engine.holds import HOLDS
from engine.room import Look, Room, Show
from engine.state import Core, Timers
from engine.title_records import LastChoice, RememberedTitle
from engine.value_set import show_value
from simulator.nights.chains import ChainLink, Trouble
from simulator.nights.why import Expectation, Inquiry, LookParts, standing_look

GAP: Final = 2
"""Blank columns behind each column of the marked table."""
SIGNS: Final = "> the row that holds, + a condition that is met, x one that is not"


def inquiry_blocks(
    room: Room, inquiry: Inquiry, causes: Sequence[ChainLink], width: int
) -> Iterator[Block]:
    """Show the marked table, what the room was doing, and what led to it, on `width` columns.

    Where the table would break its words apart, its rows are listed one under the other.
    `causes` are those behind what went wrong and was not over yet.
    """
    zone = ZoneInfo(room.time_zone)
    yield Text(f"{room.name} at {clock(inquiry.now, zone)}, {date(inquiry.now, zone)}", "bold")
    yield EMPTY_LINE
    table = marked_table(room, inquiry)
    if _unbroken_width(table) <= width:
        yield table
    else:
        yield from _row_list(room, inquiry)
    yield Text(SIGNS, "dim")
    yield EMPTY_LINE
    for label, text in doing(inquiry.state.core, inquiry.now):
        yield Text.assemble((f"{label:<12}", "bold"), escaped(text))
    yield EMPTY_LINE
    if causes:
        yield Text("How it came to that", "bold")
        for cause in causes:
            yield Text(escaped(f"{clock(cause.at, zone)}  {cause.words}"))
        yield EMPTY_LINE
    yield Text("What led to it", "bold")
    for past in inquiry.past:
        if past.decision is not None:
            yield short_decision(room, past.decision)
        elif past.refused is not None:
            yield Text(escaped(f"{clock(past.at, zone)}  refused: {past.refused.words}"), "red")
    if not inquiry.past:
        yield Text("Nothing was decided before.")


def expectation_blocks(
    expected: str, verdict: Expectation, roots: Sequence[Trouble], zone: ZoneInfo
) -> Iterator[Block]:
    """Say what stood in the way of an expected look and what began that, or that it stood."""
    yield EMPTY_LINE
    yield Text(escaped(f"Expected {expected}"), "bold")
    for reason in verdict.reasons:
        yield Text(escaped(reason))
    # A cue is ordered whatever keeps the lens or people from moving.
    cues_only = all(part.startswith(CUE) for part in verdict.missing)
    roots = [one for one in roots if not cues_only or one.code.startswith("cue_")]
    for one in roots[:1] if not verdict.met else ():
        yield Text(escaped(f"It began at {clock(one.at, zone)}: {one.words}"))
        yield Text(escaped(f"To do: {one.remedy}"))


def marked_table(room: Room, inquiry: Inquiry) -> Table:
    """Draw the rule table beneath the facts: + marks a cell that matched, x one that failed."""
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


def _unbroken_width(table: Table) -> int:
    """Give the columns that a table takes if none of its cells is broken apart."""
    cells = ((column.header, *column.cells) for column in table.columns)
    return sum(GAP + max(cell_len(str(cell)) for cell in column) for column in cells)


def _row_list(room: Room, inquiry: Inquiry) -> Iterator[Block]:
    """List the rows one under the other, each with the cells that it tests."""
    trace = inquiry.trace
    names = [column.name for column in room.rules.table.columns]
    facts = [f"{name} {_value(name, inquiry, room)}" for name in names]
    yield Text(escaped(", ".join(facts)), "italic")
    for index, row in enumerate(trace.rows):
        won = trace.choice.row == index
        yield Text(escaped(("> " if won else "  ") + row.label), "bold green" if won else "")
        for cell in row.cells:
            if cell.test != "-":
                mark = _mark(cell.test, matched=cell.matched)
                yield Text("    ") + Text(f"{cell.column} ") + mark
        yield Text(escaped(f"    shows {show_words(room, index)}"), "dim")
    if room.rules.table.default is not None:
        won = trace.choice.row is None
        yield Text(("> " if won else "  ") + "otherwise", "bold green" if won else "")
        yield Text(escaped(f"    shows {show_words(room, None)}"), "dim")


def _mark(test: str, *, matched: bool) -> Text:
    if test == "-":
        return Text("-")
    bare = test.replace('"', "")
    return Text(f"{'+' if matched else 'x'} {bare}", "green" if matched else "red")


def _value(name: str, inquiry: Inquiry, room: Room) -> str:
    kinds = {column.name: column.kind for column in room.rules.table.columns}
    value = inquiry.facts[name]
    if value is None:
        return "unknown"
    shown = show_value(value, kinds[name]).replace('"', "")
    # The clock is told when it matters to a rule, so the fact may be older than the moment.
    now = clock(inquiry.now, ZoneInfo(room.time_zone))
    return f"{shown} as last told" if name == "time" and shown != now[:5] else shown


def show_words(room: Room, index: int | None) -> str:
    """Say what a row shows; `index` None means the row `otherwise`."""
    table = room.rules.table
    show = table.default if index is None else table.rows[index].output
    return "nothing" if show is None else _asked_for(show) or "as it stands"


def _asked_for(show: Show | Look) -> str:
    """Say the parts of a look that are asked for."""
    parts = [str(part) for part in (show.picture, show.preset, show.panels) if part is not None]
    if show.lift:
        parts.append(f"lift {show.lift / 100:g} %")
    parts += [f"{cue}: {value}" for cue, value in show.cues]
    return ", ".join(parts)


def doing(core: Core, now: int) -> list[tuple[str, str]]:
    """Say what the room was doing: how things stood, what was held back, what was under way."""
    lines = [*_stood(core, now)]
    lines += [("held back", HOLDS[code]) for code in core.holds]
    if core.override == "person":
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


def _stood(core: Core, now: int) -> Iterator[tuple[str, str]]:
    """Say how each thing in the room stood."""
    wanted = core.wanted
    yield "projector", core.projector + (", in service" if core.service else "")
    yield "playback", core.playback + (", a title is on" if core.title else ", no title")
    known = what_is_remembered(core)
    if known is not None:
        yield "remembered", _remembered(known)
    yield "lens", _lens(core)
    yield "panels", f"{core.arrangement or 'not known'}, {core.panels}"
    yield "override", _override(core)
    yield "picture", _picture(core)
    if core.cues or core.open_cues:
        yield "cues", _cues(core)
    if core.doubt is not None:
        yield "shape", f"doubtful for {(now - core.doubt) / 1_000:.0f} s: not seen since then"
    yield (
        "wanted",
        _asked_for(
            wanted._replace(
                preset=wanted.preset or "any preset", panels=wanted.panels or "any panels", cues=()
            )
        ),
    )
    yield "recalls", f"{core.left_title} left for a title, {core.left_night} tonight"


def _remembered(known: RememberedTitle) -> str:
    """Say by which name the title that is on is remembered, its shape, and the last choice."""
    words = f"by name as '{known.name}'"
    if known.aspect is not None:
        words += f", shape {ratio_text(known.aspect)}"
    chosen = choice_words(known.choice)
    return words + (f", chosen last time: {chosen}" if chosen else "")


def choice_words(choice: LastChoice) -> str:
    """Say what somebody chose for a title; "" if nothing."""
    look, cues = choice
    chosen = [] if look is None else [_asked_for(look) or "leave it as it stands"]
    return ", ".join([*chosen, *(f"{cue}: {value}" for cue, value in cues)])


def _override(core: Core) -> str:
    """Say who chooses the look, and which parts of it a person has asked for."""
    if core.override == "rules":
        return "rules"
    wish = "" if core.override_look is None else _asked_for(core.override_look)
    return f"person, until {core.override_until}" + (f", asked for {wish}" if wish else "")


def _lens(core: Core) -> str:
    if core.lens == "travelling":
        by_hand = "" if core.recall else ", by hand"
        return f"travelling to {core.preset or 'nobody knows where'}{by_hand}"
    return core.lens + (f" at {core.preset}" if core.lens == "resting" else "")


def _picture(core: Core) -> str:
    picture = "not known"
    if core.shown is not None:
        picture = f"{core.shown.picture} for {ratio_text(core.shown.aspect)}"
        if core.shown.lift:
            picture += f", lift {core.shown.lift / 100:g} %"
    if core.failed:
        return f"{picture}, not done"
    return picture if core.picture is None else f"{picture}, not yet done"


def _cues(core: Core) -> str:
    own = {one.cue for one in core.cue_overrides}
    ordered = dict(core.cues) | {one.cue: f"{one.value}, not yet done" for one in core.open_cues}
    return "; ".join(
        f"{name}: {value}{', set by a person' if name in own else ''}"
        for name, value in sorted(ordered.items())
    )


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
    inquiry: Inquiry,
    causes: Sequence[ChainLink],
    wanted: LookParts,
    verdict: Expectation | None,
) -> dict[str, Any]:
    """Give the whole explanation for machines, in the units of decisions."""
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
        "standing": _for_machines(standing_look(inquiry.state)),
        "doing": dict(_stood(core, inquiry.now)),
        "holds": {code: HOLDS[code] for code in core.holds},
        "under_way": _under_way(core),
        "past": [
            DECISIONS.dump_python(past.decision, mode="json")
            if past.decision is not None
            else {"at": past.at, "refused": str(past.refused)}
            for past in inquiry.past
        ],
        "causes": [cause._asdict() for cause in causes],
        "expected": _for_machines(wanted) if wanted else None,
        "met": None if verdict is None else verdict.met,
        "reasons": [] if verdict is None else [reason.strip() for reason in verdict.reasons],
    }


def _for_machines(look: LookParts) -> dict[str, Any]:
    """Give parts of a look as decisions have them: the lift a share of 1, cues by their names."""
    parts: dict[str, Any] = {part: value for part, value in look.items() if CUE not in part}
    if isinstance(lift := look.get("lift"), int):
        parts["lift"] = lift / SCALE
    cues = {part.removeprefix(CUE): value for part, value in look.items() if CUE in part}
    return parts | {"cues": cues} if cues else parts
