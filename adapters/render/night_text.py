"""A night as a timeline: each event and each decision on a line of its own, with its reasons."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from rich.text import Text

from adapters.render.columns import plural
from adapters.render.styled import EMPTY_LINE, Block, Indented
from adapters.safe_text import escaped
from engine.aspect import ratio_of, ratio_of_size, ratio_text
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
    BarsSeen,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    FormatCode,
    Helper,
    LensReport,
    Mark,
    Outcome,
    Override,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    Undo,
    moment_of,
)
from engine.holds import HOLDS
from engine.settle.shapes import SQUARE_PIXELS_FROM
from engine.value_set import ANYTHING, Kind, show_value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.room import Room
    from simulator.nights.replay import ReplayStep

QUIET: Final = frozenset({"bars", "black", "ratio", "format", "outcome", "signal", "time"})
"""Events that are not worth a line unless something follows from them at once."""


def clock(now: int, zone: ZoneInfo) -> str:
    """Say a time of day in the room's zone; in an hour that comes twice, in which of the two."""
    local = moment_of(now).astimezone(zone)
    twice = local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()
    return local.strftime("%H:%M:%S %Z" if twice else "%H:%M:%S")


def date(now: int, zone: ZoneInfo) -> str:
    """Say a date in the room's zone."""
    local: datetime = moment_of(now).astimezone(zone)
    return f"{local.day} {local:%B %Y}"


def event_words(event: Event) -> str:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    """Say an event in a few words."""
    match event:
        case SourceChosen():
            return f"source: {event.source}"
        case Playback():
            return event.state if event.source is None else f"{event.source}: {event.state}"
        case Title():
            return _title_words(event)
        case LensReport(known=False):
            return "lens: not known where"
        case LensReport():
            place = event.preset or "no preset"
            return f"lens: on its way to {place}" if event.moving else f"lens: rests at {place}"
        case PanelReport():
            return f"panels: {event.panels or 'not known'}"
        case (
            Answer() | Override() | Undo() | FindLens() | Forget() | Helper() | ToldFact() | Mark()
        ):
            return _said_words(event)
        case Outcome():
            return f"order {event.order}: {event.outcome}"
        case ProjectorReport():
            return f"projector: {event.state}"
        case Service():
            return f"service {'begins' if event.begun else 'ends'}"
        case Resumed():
            return "roomcue goes on" if event.stalled else "roomcue is back"
        case Signal():
            return _signal_words(event)
        case TimeOfDay():
            return f"the clock: {show_value(event.minute, Kind.MINUTE)}"
        case RatioSeen() | BarsSeen() | BlackSeen() | FormatCode():
            return f"reading: {_reading_words(event)}"


def _said_words(
    event: Answer | Override | Undo | FindLens | Forget | Helper | ToldFact | Mark,
) -> str:
    """Say what a person says, and who, in a few words."""
    match event:
        case Answer():
            words = f"answer to {event.prompt}: {event.answer}"
        case Override():
            words = _override_words(event)
        case Undo():
            words = "a person takes back what moved last"
        case FindLens():
            words = f"a person wants the lens found{f', at {event.preset}' if event.preset else ''}"
        case Forget():
            what = "every title" if event.name is None else f"'{event.name}'"
            words = f"a person has what is remembered of {what} forgotten"
        case Helper():
            words = f"{'somebody' if event.free else 'nobody'} is free to fit panels"
        case Mark():
            words = f'mark: "{event.words or "that was wrong"}"'
        case _:
            words = f"told: {event.fact} is {fact_value(event.value)}"
    return words if event.who is None else f"{words} ({event.who})"


def _title_words(event: Title) -> str:
    name = f" '{event.name}'" if event.name else ""
    name += f" of '{event.series}'" if event.series else ""
    declared = f", declared {ratio_text(ratio_of(event.declared))}" if event.declared else ""
    return f"title{name} {'begins' if event.begun else 'ends'}{declared}"


def _override_words(event: Override) -> str:
    if not event.taken:
        return "the person gives back"
    look = EVENTS.dump_python(event, mode="json", exclude_none=True).get("look", {})
    cues = {f"cue {cue}": value for cue, value in look.pop("cues", {}).items()}
    wish = ", ".join(f"{part} {name}" for part, name in (look | cues).items())
    return f"a person takes over until {event.until}" + (f": {wish}" if wish else "")


def _signal_words(event: Signal) -> str:
    """Say what of a signal rules or pictures may go by."""
    raster = None
    if event.columns is not None and event.rows is not None:
        raster = f"{event.columns} x {event.rows}"
    depth = None if event.three_d is None else "3D" if event.three_d else "not 3D"
    said = (raster, event.range and f"{event.range} range", depth)
    return ", ".join([f"signal {'locked' if event.locked else 'lost'}", *filter(None, said)])


def _reading_words(event: RatioSeen | BarsSeen | BlackSeen | FormatCode) -> str:
    match event:
        case RatioSeen():
            return ratio_text(ratio_of(event.ratio))
        case BarsSeen():
            return _bars_words(event)
        case BlackSeen():
            return "all black"
        case FormatCode():
            return f"format code {event.code} in a frame of {event.frame}"


def _bars_words(event: BarsSeen) -> str:
    """Say how much is black; of even bars and square pixels also the ratio that is left."""
    sides = f", {event.left} and {event.right} columns" if event.left + event.right else ""
    said = f"{event.top} and {event.bottom} rows{sides} of black"
    across, down = event.columns - 2 * event.left, event.rows - 2 * event.top
    even = (event.top, event.left) == (event.bottom, event.right) and min(across, down) > 0
    if not even or event.rows < SQUARE_PIXELS_FROM:
        return said
    return f"{ratio_text(ratio_of_size(across, down))}, {said}"


def decision_words(decision: Decision) -> tuple[str, str]:  # noqa: PLR0911 - one a kind
    """Say what a decision is, and what it asks for."""
    match decision:
        case PictureOrder():
            region = decision.region
            if region.width == 0:
                return "picture", "dark: nothing lit"
            lift = f", raised {decision.lift * 100:.3g} %" if decision.lift else ""
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
            return "prompt", f"{decision.panels}: {decision.words}"
        case PromptOver():
            return "prompt", f"{decision.prompt} is over: {decision.how}"
        case Note():
            about = ", ".join(f"{name} {value}" for name, value in decision.parameters.items())
            return "note", decision.code.replace("_", " ") + (f": {about}" if about else "")


STYLES: Final = {
    "picture": "bold cyan",
    "recall": "bold magenta",
    "cue": "bold blue",
    "prompt": "bold yellow",
    "take back": "dim",
    "note": "green",
}


def decision_blocks(
    room: Room, decision: Decision, told: set[str] | None = None
) -> Iterator[Block]:
    """Show a decision on a line, with its rule, its reason and its facts beneath it.

    Cautions that are `told` already are not said again; those that are said are added.
    """
    yield _decision_line(room, decision)
    if isinstance(decision, Prompt):
        for caution in decision.cautions.values():
            if told is not None and caution in told:
                continue
            if told is not None:
                told.add(caution)
            yield Indented(Text(escaped(f"! {caution}"), "yellow"))
    yield Indented(
        Text.assemble(
            (escaped(decision.rule), "italic"), escaped(f" - {decision_reason(decision)}")
        )
    )
    yield Indented(Text(escaped(fact_words(room, decision.rule, decision.facts)), "dim"))


def decision_reason(decision: Decision) -> str:
    """Say why as a technician reads it: a hold in its own terms and not as its family reads it."""
    return (
        HOLDS.get(decision.code, decision.reason) if isinstance(decision, Note) else decision.reason
    )


def short_decision(room: Room, decision: Decision) -> Text:
    """Show a decision on one line, with its rule in brackets."""
    return _decision_line(room, decision).append(f"  ({decision.rule})", "dim")


def _decision_line(room: Room, decision: Decision) -> Text:
    what, asked = decision_words(decision)
    line = Text(f"{clock(decision.at, ZoneInfo(room.time_zone))}  ")
    line.append(f"{what:<9} ", STYLES[what])
    line.append(escaped(asked), "bold" if what != "note" else "")
    number = getattr(decision, "id", None)
    if number is not None:
        line.append(f"  #{number}", "dim")
    return line


def fact_words(room: Room, rule: str, facts: Mapping[str, object]) -> str:
    """Say the facts that the named row tests; where none is named, those that matter most often."""
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
    """Shows what happens in a night, event by event.

    Leaves out readings, outcomes and the like, and a source that is shown already, unless something
    follows from them at once: no effect stands without its cause.
    """

    def __init__(self, room: Room, changes: Mapping[int, str] | None = None) -> None:
        """Tell of a room's night; `changes` says which facts changed before a decision's `id()`."""
        self._room = room
        self._changes = changes or {}
        self._told: set[str] = set()
        self._source: str | None = None

    def blocks(self, happening: ReplayStep) -> Iterator[Block]:
        """Show an event and what it led to; what fell due before it comes first."""
        room, entry = self._room, happening.entry
        early = _number_due(happening)
        for decision in happening.decisions[:early]:
            yield from self._decided(decision)
        followed = happening.decisions[early:]
        effect = followed or happening.refused or happening.broken
        if entry.event is not None and (self._tells(entry.event) or effect):
            line = Text(f"{clock(entry.now, ZoneInfo(room.time_zone))}  ")
            yield line.append(escaped(event_words(entry.event)), "dim")
        if happening.refused is not None:
            yield Indented(Text(escaped(f"refused: {happening.refused.words}"), "red"))
        for decision in followed:
            yield from self._decided(decision)
        for promise in happening.broken:
            words_ = escaped(f"promise broken: {promise.label} - {promise.because}")
            yield Indented(Text(words_, "bold red"))

    def _decided(self, decision: Decision) -> Iterator[Block]:
        """Show a decision after the facts that changed before it."""
        changed = self._changes.get(id(decision))
        if changed is not None:
            line = Text(f"{clock(decision.at, ZoneInfo(self._room.time_zone))}  ")
            yield line.append(escaped(changed), "dim italic")
        yield from decision_blocks(self._room, decision, self._told)

    def _tells(self, event: Event) -> bool:
        if isinstance(event, SourceChosen):
            before, self._source = self._source, event.source
            return event.source != before
        return event.kind not in QUIET


def _number_due(happening: ReplayStep) -> int:
    """Count the decisions that had fallen due before the event, which come first.

    A restart makes up for them itself, so there only their times tell.
    """
    for at, decision in enumerate(happening.decisions):
        if at >= happening.due and decision.at >= happening.entry.now:
            return at
    return len(happening.decisions)


def night_heading(
    room: Room, start: int, remarks: tuple[str, ...], *, other_rules: bool
) -> Iterator[Block]:
    """Say which night begins at `start` (ms UTC), and what its rules, or other ones, hide."""
    day = date(start, ZoneInfo(room.time_zone))
    yield Text(f"{room.name}, {day}, times in {room.time_zone}", "bold")
    if other_rules:
        yield Text("Replayed with other rules than its own; a made-up hub answers their orders.")
    for remark in remarks:
        yield Text(escaped(remark), "yellow")
    yield EMPTY_LINE


def difference_lines(number: int, recorded: str | None, replayed: str | None) -> Iterator[str]:
    """Show a decision that differs from its record; None is a decision that is missing."""
    yield f"line {number or 'after the last'}:"
    yield f"  - {recorded or 'nothing'}"
    yield f"  + {replayed or 'nothing'}"


def verdict_text(differences: int) -> str:
    """Say whether a replay makes the decisions that were recorded."""
    if differences == 0:
        return "The replay makes the recorded decisions, byte for byte."
    verb = "differs" if differences == 1 else "differ"
    return f"{plural(differences, 'decision')} {verb} (- recorded, + replayed)."
