"""Say what broke a promise on a real evening, and what to do about it.

Not every broken promise is the fault of the row that is chosen at that moment: a pause may hold an
earlier picture, a person may want another, or something may keep the lens from travelling.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from engine.decisions import CueOrder
from engine.events import Answer, Event, LensReport, Outcome, Resumed, Service, TimeOfDay, ToldFact
from engine.facts import CUE, facts_of, pausing, standing_columns, standing_of
from engine.room import (
    DARK,
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    LookPart,
    Room,
    Show,
)
from engine.state import Core
from engine.table import choose
from engine.value_set import ANYTHING, Kind, ValueSet, show_value
from engine.wording import HOLDS
from rules.text.findings import listed
from simulator.proof.walk import Walk

STANDING_ONLY: Final = frozenset(column.name for column in standing_columns(()))
"""What promises may test and rows may not."""
TESTED_OF_BUILT_IN: Final[dict[str, frozenset[str]]] = {
    MENUS_PLAIN: frozenset({"picture"}),
    NO_PICTURE_ON_PANELS: frozenset({"picture", "panels"}),
    NO_TRAVEL_IN_MID_TITLE: frozenset({"travelling"}),
}
"""What the built-in promises look at of how things stand."""
NOTHING_ORDERED: Final[frozenset[str]] = frozenset({"no_source", "projector", "service"})
"""The holds of a room in which nothing is ordered at all."""
TRAVEL_HOLDS: Final[frozenset[str]] = frozenset(
    {
        "at_screen",
        "asked",
        "circle",
        "lens_unknown",
        "linger",
        "first_minutes",
        "panels",
        "per_night",
        "per_title",
        "picture",
        "travelling",
        "unreached",
    }
)
"""The holds that keep the lens where it is."""
PANEL_HOLDS: Final[frozenset[str]] = frozenset(
    {"circle", "helper", "linger", "mid_title", "travel_first", "travelling"}
)
"""The holds that keep people from being asked to fit panels."""

NO_ROW_SENT_IT: Final = "No row has sent it: say in the promise where it need not hold."

OVERRIDE, IDLE, PAUSE, LEFT_OUT, HOLD, UNKNOWN, NEAREST, ROW = range(8)
"""What may have done it; where several have, the first of these is named."""


class Blame(NamedTuple):
    """What broke a promise."""

    words: str
    """A sentence on what did it."""
    advice: str
    """A sentence on what to do."""
    row: int | None
    """The row that has most to do with it; -1: the default, None: no row has been chosen yet."""


class _Cause(NamedTuple):
    kind: int
    words: str
    advice: str
    row: int | None = None


def blame(room: Room, name: str, walk: Walk) -> Blame:
    """Say what broke the promise of this name in the last step of a walk."""
    scene = _Scene(room, name, walk)
    parts: tuple[tuple[frozenset[str], Callable[[_Scene], Iterator[_Cause]]], ...] = (
        (frozenset({"picture", "lift"}), _picture),
        (frozenset({"preset", "travelling"}), _lens),
        (frozenset({"panels"}), _panels),
    )
    causes = [*_idle_room(scene)]
    causes += [one for tested, causes in parts if tested & scene.tested for one in causes(scene)]
    cues = sorted(one.removeprefix(CUE) for one in scene.tested if one.startswith(CUE))
    causes += [one for cue in cues for one in _cue(scene, cue)]
    first = min(causes, key=lambda one: one.kind, default=_by_row(scene))
    words = f"{scene.after}{first.words}"
    row = scene.core.row if first.row is None else first.row
    return Blame(words[:1].upper() + words[1:], first.advice, row)


def row_words(room: Room, row: int | None) -> str:
    """Name a row with its line; None: no row has been chosen."""
    note = room.rules.note(row)
    return f"{note.label} (line {note.line})"


def tests_of(room: Room, name: str) -> dict[str, ValueSet]:
    """Return what one of the room's own promises tests, by fact; nothing for a built-in one."""
    return {
        column.name: cell
        for promise in room.promises
        if promise.label == name
        for column, cell in zip(promise.never.columns, promise.never.rows[0].cells, strict=True)
        if cell != ANYTHING
    }


def row_advice(room: Room, name: str) -> str:
    """Say what to do where a row that is chosen breaks a promise by itself."""
    if name == MENUS_PLAIN:
        return "let it show plain or whole wherever playback is stopped or unknown."
    if name in TESTED_OF_BUILT_IN:
        return f"change what it shows, or waive '{name}' with a reason."
    facts = [one for one in tests_of(room, name) if one not in STANDING_ONLY and CUE not in one]
    narrower = f" narrow its case by {listed(facts, 'or')}," if facts else ""
    return f"change what it shows there,{narrower} or say in the promise where it need not hold."


class _Scene:
    """The moment at which a promise breaks, and what led to it."""

    def __init__(self, room: Room, name: str, walk: Walk) -> None:
        self.room = room
        self.name = name
        self.cells = tests_of(room, name)
        self.tested = TESTED_OF_BUILT_IN.get(name, frozenset(self.cells))
        self.steps = walk.steps()
        self.core: Core = walk.state.core
        self.row = row_words(room, self.core.row)
        self.title_row = row_words(room, self.core.title_row)
        facts = facts_of(room, self.core, walk.state.settling)
        chosen = choose(room.rules.table, facts).row
        self.row_now = -1 if chosen is None else chosen
        """The row that matches now, which a pause may keep from being chosen; -1: the default."""
        self.standing = standing_of(room, self.core)
        self.held = pausing(self.core) and self.core.override == "rules" and self.core.row != chosen
        """A pause keeps the look of another row than the one that matches now."""
        self.after = next(filter(None, map(_aftermath, self.events)), "")

    @property
    def events(self) -> list[Event]:
        """The evening's events in their order."""
        return [one.event for one in self.steps if one.event is not None]

    @property
    def show(self) -> Show:
        """What the rows that are chosen show."""
        rules = self.room.rules
        of_title = rules.show(self.core.title_row)
        return rules.show(self.core.row)._replace(preset=of_title.preset, panels=of_title.panels)

    def chosen_before(self, part: LookPart, value: object) -> str:
        """Say which row, or who, last chose what stands; empty where nobody has."""
        for one in reversed(self.steps):
            core = one.state.core
            if core.override == "person" and core.override_look is not None:
                if getattr(core.override_look, part) == value:
                    return ", which a person had asked for"
            else:
                row = core.title_row if part in {"preset", "panels"} else core.row
                if getattr(self.room.rules.show(row), part) == value and row is not None:
                    return f", which {row_words(self.room, row)} had chosen"
        return ""


def _aftermath(event: Event) -> str:
    """Say after which unusual event everything else has happened; empty for usual ones."""
    match event:
        case Resumed():
            return "after a restart, "
        case Outcome(outcome="refused"):
            return "after an order that was refused, "
        case Outcome(outcome="no answer"):
            return "after an order that had no answer, "
        case Answer(answer="no"):
            return "after somebody has said no, "
        case Service(begun=False):
            return "after a technician's work, "
        case _:
            return ""


def _by_row(scene: _Scene) -> _Cause:
    if scene.core.override == "person":
        return _Cause(OVERRIDE, "it breaks while a person has the room.", _override_advice(scene))
    return _Cause(ROW, f"it breaks under {scene.row}:", row_advice(scene.room, scene.name))


# ------------------------------------------------------------------------------------- advice


def _override_advice(scene: _Scene) -> str:
    if scene.name in TESTED_OF_BUILT_IN:
        return f"Waive '{scene.name}' with a reason if people may do this."
    if "override" not in scene.cells:
        return "A person's wish goes before the rules: say `override: rules` in the promise."
    return "A person's wish goes before the rules, so no row can keep this promise."


def _pause_advice(scene: _Scene, part: LookPart) -> str:
    chooser = scene.chosen_before(part, _standing(scene.core, part))
    if "a person" in chooser:
        kept = "A pause moves nothing, so what a person had asked for stays"
        if "playback" in scene.cells or scene.name in TESTED_OF_BUILT_IN:
            return f"{kept}."
        return f"{kept}: say `playback: playing` in the promise."
    row = chooser.removeprefix(", which ").removesuffix(" had chosen") if "line" in chooser else ""
    other = f"let {row} show what may stay" if row else "let the rows before it show what may stay"
    if "playback" in scene.cells or scene.name in TESTED_OF_BUILT_IN:
        return f"A pause moves nothing: {other}."
    return f"A pause moves nothing: say `playback: playing` in the promise, or {other}."


def _elsewhere(scene: _Scene, other: str) -> str:
    """Advise something else, or to limit one of the room's own promises."""
    if scene.name in TESTED_OF_BUILT_IN:
        return f"{other}."
    return f"{other}, or say in the promise where it need not hold."


def _refusal_advice(scene: _Scene) -> str:
    """Say what to do where panels stay as they are because nobody is free to fit others."""
    nobody = "No rule brings people to the screen"
    if scene.name in TESTED_OF_BUILT_IN:
        return f"{nobody}."
    if "helper" in scene.cells:
        return f"{nobody}: say in the promise where it need not hold."
    return f"{nobody}: say `helper: not(refused)` in the promise."


def _standing(core: Core, part: LookPart) -> object:
    if part in {"picture", "lift"}:
        return None if core.shown is None else getattr(core.shown, part)
    return core.preset if part == "preset" else core.arrangement


def _idle_room(scene: _Scene) -> Iterator[_Cause]:
    """Yield why nothing is ordered at all, where that is so."""
    hold = next((one for one in scene.core.holds if one in NOTHING_ORDERED), None)
    if hold is not None and scene.core.override == "rules":
        # Before a source is named, and where nothing is lit, no picture stands.
        known = "source" if hold == "no_source" else "picture"
        nobody = "No row has a say then"
        advice = f"{nobody}: say `{known}: not(null)` in the promise."
        if known in scene.tested:
            advice = _elsewhere(scene, f"{nobody}: let the promise test what rows choose")
        yield _Cause(IDLE, HOLDS[hold], advice)


# ------------------------------------------------------------------- picture, lens and panels


def _picture(scene: _Scene) -> Iterator[_Cause]:
    """Yield why the picture, or its lift, stands as it does."""
    core, shown = scene.core, scene.core.shown
    if shown is None:
        advice = _elsewhere(scene, "Let it test a picture by name")
        yield _Cause(UNKNOWN, "nobody knows which picture stands.", advice)
        return
    part: LookPart = "picture" if "picture" in scene.tested else "lift"
    thing = f"'{shown.picture}'" if part == "picture" else f"a lift of {shown.lift / 100:g} %"
    chosen = scene.chosen_before(part, getattr(shown, part))
    if shown.picture == DARK:
        words = "somebody is at the screen, and nothing is lit."
        yield _Cause(HOLD, words, _elsewhere(scene, "Leave the dark picture out of the promise"))
    elif core.override == "person":
        yield _by_override(scene, "picture", thing, chosen)
    elif scene.held:
        words = f"a pause holds {thing}{_comma(chosen)}{_meanwhile(scene)}."
        yield _Cause(PAUSE, words, _pause_advice(scene, part))
    elif getattr(scene.show, part) is None and core.row is not None:
        words = f"under {scene.row}, which leaves the {part} out, {thing} remains{chosen}."
        advice = f"Let {scene.row} show a {part} of its own"
        yield _Cause(LEFT_OUT, words, _elsewhere(scene, advice))
    elif core.wanted.picture != shown.picture:
        wanted = f"'{core.wanted.picture}' should be shown"
        words = f"under {scene.row} {wanted}, but {thing} is the nearest that can be."
        yield _Cause(NEAREST, words, row_advice(scene.room, scene.name))


def _by_override(scene: _Scene, part: LookPart, thing: str, chosen: str) -> _Cause:
    """Blame an override, which asks for something or keeps what stood."""
    look = scene.core.override_look
    if look is not None and getattr(look, part) is not None:
        words = f"a person asks for {part} '{getattr(look, part)}'."
    elif part == "preset" and any(isinstance(one, LensReport) for one in scene.events):
        words = f"a person has moved the lens: {thing} stands."
    else:
        words = f"a person has the room, which keeps {thing}{chosen}."
    return _Cause(OVERRIDE, words, _override_advice(scene))


def _lens(scene: _Scene) -> Iterator[_Cause]:
    """Yield why the lens stands or travels as it does."""
    core, row = scene.core, scene.title_row
    wanted, thing = core.wanted.preset, f"preset '{core.preset}'"
    chosen = scene.chosen_before("preset", core.preset)
    if core.override == "person":
        yield _by_override(scene, "preset", thing, chosen)
    elif core.lens == "unknown":
        advice = _elsewhere(scene, "Let a row that tests `preset: null` show what is safe anywhere")
        yield _Cause(UNKNOWN, "nobody knows where the lens stands.", advice)
    elif core.lens == "travelling" and "travelling" in scene.tested:
        ours = core.recall is not None
        who = f"under {row}" if ours else "sent by a person,"
        words = f"{who} the lens is on its way to '{core.preset}'."
        advice = _elsewhere(scene, "Let that row leave the preset out") if ours else NO_ROW_SENT_IT
        yield _Cause(HOLD, words, advice)
    elif wanted not in {None, core.preset}:
        hold = next((one for one in core.holds if one in TRAVEL_HOLDS), None)
        why = f" {HOLDS[hold]}" if hold else ""
        stays = f"the lens should stand at '{wanted}', but stays at '{core.preset}'"
        words = f"under {row} {stays}.{why}"
        yield _Cause(HOLD, words, _elsewhere(scene, f"Let {row} test `preset`"))
    elif scene.held:
        words = f"a pause holds {thing}{_comma(chosen)}{_meanwhile(scene)}."
        yield _Cause(PAUSE, words, _pause_advice(scene, "preset"))
    elif scene.show.preset is None and core.row is not None:
        words = f"under {row}, which leaves the preset out, {thing} remains{chosen}."
        yield _Cause(LEFT_OUT, words, _elsewhere(scene, f"Let {row} show a preset, or test it"))


def _panels(scene: _Scene) -> Iterator[_Cause]:
    """Yield why the panels stand as they do."""
    core, row = scene.core, scene.title_row
    wanted, thing = core.wanted.panels, f"panels '{core.arrangement}'"
    chosen = scene.chosen_before("panels", core.arrangement)
    if core.override == "person":
        yield _by_override(scene, "panels", thing, chosen)
    elif core.arrangement is None:
        advice = _elsewhere(scene, "Let a row that tests `panels: null` show what is safe anyhow")
        yield _Cause(UNKNOWN, "nobody knows how the panels stand.", advice)
    elif wanted not in {None, core.arrangement}:
        hold = next((one for one in core.holds if one in PANEL_HOLDS), None)
        why = f" {HOLDS[hold]}" if hold else ""
        if core.asked is not None:
            why = " Somebody has been asked, and has not answered yet."
        words = f"under {row} panels '{wanted}' should stand, but {thing} still do.{why}"
        advice = _elsewhere(scene, f"Let {row} test `panels`")
        yield _Cause(HOLD, words, _refusal_advice(scene) if hold == "helper" else advice)
    elif scene.held:
        words = f"a pause holds {thing}{_comma(chosen)}{_meanwhile(scene)}."
        yield _Cause(PAUSE, words, _pause_advice(scene, "panels"))
    elif scene.show.panels is None and core.row is not None:
        words = f"under {row}, which leaves the panels out, {thing} remain{chosen}."
        yield _Cause(LEFT_OUT, words, _elsewhere(scene, f"Let {row} show panels, or test them"))


def _cue(scene: _Scene, cue: str) -> Iterator[_Cause]:
    """Yield why a cue stands as it does, unless the row that matches now has ordered it so."""
    value, show = scene.standing[f"{CUE}{cue}"], scene.room.rules.show(scene.row_now)
    row, asked = row_words(scene.room, scene.row_now), dict(show.cues).get(cue)
    if any(one.cue == cue for one in scene.core.cue_overrides):
        words = f"a person has set {cue}, and nothing is promised of it meanwhile."
        advice = "That counts as null: leave null out of what the promise asks of it."
        yield _Cause(OVERRIDE, words, advice)
    elif value is None:
        advice = _elsewhere(scene, f"Let the promise test {cue} by a value")
        yield _Cause(UNKNOWN, f"{cue} has never been ordered.", advice)
    elif asked is None:
        words = f"under {row}, which leaves {cue} out, '{value}' remains{_ordered(scene, cue)}."
        advice = _elsewhere(scene, f"Let {row} set {cue}")
        yield _Cause(LEFT_OUT, words, advice, scene.row_now)
    elif asked != value:
        words = f"under {row} {cue} becomes '{asked}' only after a while; '{value}' remains."
        advice = _elsewhere(scene, f"Let {row} set {cue} at once: leave its `after` out")
        yield _Cause(HOLD, words, advice, scene.row_now)


def _ordered(scene: _Scene, cue: str) -> str:
    """Say who ordered a cue the last time; empty if nobody has."""
    for one in reversed(scene.steps):
        for order in one.decisions:
            if isinstance(order, CueOrder) and order.cue == cue:
                if any(own.cue == cue for own in one.state.core.cue_overrides):
                    return ", which a person had set"
                notes = (*enumerate(scene.room.rules.rows), (-1, scene.room.rules.note(-1)))
                rows = [row for row, note in notes if note.label == order.rule]
                return f", which {row_words(scene.room, rows[0])} had set" if rows else ""
    return ""


def _comma(chosen: str) -> str:
    """Close a clause that goes on."""
    return f"{chosen}," if chosen else ""


def _meanwhile(scene: _Scene) -> str:
    """Say what changes while the pause lasts."""
    event = scene.events[-1] if scene.events else None
    match event:
        case ToldFact(value=bool()):
            return f" while '{event.fact}' is told {'yes' if event.value else 'no'}"
        case ToldFact():
            value = "unknown" if event.value is None else event.value
            return f" while '{event.fact}' is told {value}"
        case TimeOfDay():
            return f" while the time becomes {show_value(event.minute, Kind.MINUTE)}"
        case _:
            return " while another row would be chosen"
