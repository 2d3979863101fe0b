"""Say what broke a promise on a real evening, and what to do about it.

Not every broken promise is the fault of the row that is chosen at that moment: a pause may hold an
earlier picture, a person may want another, or something may keep the lens from travelling.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from engine.decisions import CueOrder
from engine.events import LensReport, SourceChosen, TimeOfDay, ToldFact
from engine.facts import CUE
from engine.holds import HOLDS
from engine.room import DARK, LookPart, Room
from engine.state import Core
from engine.value_set import Kind, show_value
from simulator.nights.promises import judge_of
from simulator.proof.broken_scene import TESTED_OF_BUILT_IN, BrokenScene, row_advice, row_words
from simulator.proof.walk import SECOND, Move, Walk, Walker, moves_of

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

MOST_STEPS: Final = 1_000
"""So many steps may evenings take that are played with a source."""

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
    """Say what broke the promise of this name in the last step of a walk.

    That no source is known yet is to blame only where the promise holds once one is.
    """
    with_source = _with_source(room, name, walk)
    found = _blame(BrokenScene(room, name, with_source or walk))
    if with_source is None:
        return found
    return found._replace(words=f"No source is known yet, but one would not help. {found.words}")


def _with_source(room: Room, name: str, walk: Walk) -> Walk | None:
    """Play the same with a source named first; None if one was, or if the promise then holds."""
    core = walk.state.core
    if "no_source" not in core.holds or core.override != "rules":
        return None
    walker = Walker(room, judge_of(room, name), MOST_STEPS)
    named = (Move(SECOND, SourceChosen(source=source)) for source in room.sources)
    return next(filter(None, (walker.play((one, *moves_of(walk))) for one in named)), None)


def _blame(scene: BrokenScene) -> Blame:
    parts: tuple[tuple[frozenset[str], Callable[[BrokenScene], Iterator[_Cause]]], ...] = (
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


def _by_row(scene: BrokenScene) -> _Cause:
    if scene.core.override == "person":
        return _Cause(OVERRIDE, "it breaks while a person has the room.", _override_advice(scene))
    return _Cause(ROW, f"it breaks under {scene.row}:", row_advice(scene.room, scene.name))


# ------------------------------------------------------------------------------------- advice


def _override_advice(scene: BrokenScene) -> str:
    if scene.name in TESTED_OF_BUILT_IN:
        return f"Waive '{scene.name}' with a reason if people may do this."
    if "override" not in scene.cells:
        return "A person's wish goes before the rules: say `override: rules` in the promise."
    return "A person's wish goes before the rules, so no row can keep this promise."


def _pause_advice(scene: BrokenScene, part: LookPart) -> str:
    chooser = scene.chosen_before(part, _standing(scene.core, part))
    if "a person" in chooser:
        kept = "A pause moves nothing, so what a person had asked for stays"
        if "playback" in scene.cells or scene.name in TESTED_OF_BUILT_IN:
            return f"{kept}: no row can keep this promise."
        return f"{kept}: say `playback: playing` in the promise."
    row = _row_of(chooser) if "line" in chooser else ""
    other = f"let {row} show what may stay" if row else "let the rows before it show what may stay"
    if "playback" in scene.cells or scene.name in TESTED_OF_BUILT_IN:
        return f"A pause moves nothing: {other}."
    return f"A pause moves nothing: say `playback: playing` in the promise, or {other}."


def _elsewhere(scene: BrokenScene, other: str) -> str:
    """Advise something else, or to limit one of the room's own promises."""
    if scene.name in TESTED_OF_BUILT_IN:
        return f"{other}."
    return f"{other}, or say in the promise where it need not hold."


def _unknown_advice(scene: BrokenScene, part: LookPart, safe: str) -> str:
    """Say what to do where nobody knows how lens or panels stand; `safe` is what a row may do."""
    if scene.tests_looks or scene.name in TESTED_OF_BUILT_IN:
        return _elsewhere(scene, safe)
    others = (one for one in _names_of(scene.room, part) if scene.cells[part].accepts(one))
    if next(others, None) is not None:
        return f"No row knows it better: leave null out of what the promise asks of {part}."
    return "No row knows it better: say in the promise where it need not hold."


def _waiting_advice(scene: BrokenScene, other: str) -> str:
    """Say what to do where lens or panels wait; `other` is how a row may show something else."""
    if scene.tests_looks or scene.name in TESTED_OF_BUILT_IN:
        return _elsewhere(scene, other)
    return "What is wanted never stands at once: say in the promise where it need not hold."


def _names_of(room: Room, part: LookPart) -> Iterable[str]:
    return room.presets if part == "preset" else room.panels


def _refusal_advice(scene: BrokenScene) -> str:
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


def _idle_room(scene: BrokenScene) -> Iterator[_Cause]:
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


def _picture(scene: BrokenScene) -> Iterator[_Cause]:
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
        words = f"under {scene.row} {wanted}, but {thing} is the nearest that can be:"
        yield _Cause(NEAREST, words, row_advice(scene.room, scene.name))


def _by_override(scene: BrokenScene, part: LookPart, thing: str, chosen: str) -> _Cause:
    """Blame an override, which asks for something or keeps what stood."""
    look = scene.core.override_look
    if look is not None and getattr(look, part) is not None:
        words = f"a person asks for {part} '{getattr(look, part)}'."
    elif part == "preset" and any(isinstance(one, LensReport) for one in scene.events):
        words = f"a person has moved the lens: {thing} stands."
        if scene.core.lens == "travelling":
            words = f"a person has moved the lens: it is on its way to '{scene.core.preset}'."
    elif part == "picture" and scene.failed:
        words = f"a person has the room, and the picture before has failed: {thing} stands."
    else:
        words = f"a person has the room, which keeps {thing}{chosen}."
    return _Cause(OVERRIDE, words, _override_advice(scene))


def _lens(scene: BrokenScene) -> Iterator[_Cause]:
    """Yield why the lens stands or travels as it does."""
    core, row = scene.core, scene.title_row
    wanted, thing = core.wanted.preset, f"preset '{core.preset}'"
    chosen = scene.chosen_before("preset", core.preset)
    if core.override == "person":
        yield _by_override(scene, "preset", thing, chosen)
    elif core.lens == "unknown":
        safe = "Let a row that tests `preset: null` show what is safe anywhere"
        advice = _unknown_advice(scene, "preset", safe)
        yield _Cause(UNKNOWN, "nobody knows where the lens stands.", advice)
    elif core.lens == "travelling" and "travelling" in scene.tested:
        yield _on_its_way(scene)
    elif wanted not in {None, core.preset}:
        hold = next((one for one in core.holds if one in TRAVEL_HOLDS), None)
        why = f" {HOLDS[hold]}" if hold else ""
        stays = f"the lens should stand at '{wanted}', but stays at '{core.preset}'"
        words = f"under {row} {stays}.{why}"
        yield _Cause(HOLD, words, _waiting_advice(scene, f"Let {row} test `preset`"))
    elif scene.held:
        words = f"a pause holds {thing}{_comma(chosen)}{_meanwhile(scene)}."
        yield _Cause(PAUSE, words, _pause_advice(scene, "preset"))
    elif scene.show.preset is None and core.row is not None:
        words = f"under {row}, which leaves the preset out, {thing} remains{chosen}."
        yield _Cause(LEFT_OUT, words, _elsewhere(scene, f"Let {row} show a preset, or test it"))


def _on_its_way(scene: BrokenScene) -> _Cause:
    """Blame who has sent the lens, and name the row that acts meanwhile."""
    core = scene.core
    ours = core.recall is not None
    who = f"under {scene.title_row}" if ours else "sent by a person,"
    meanwhile, acts = _acting(scene)
    words = f"{who} the lens is on its way to '{core.preset}'{meanwhile}."
    other = f"let {acts} show something else" if acts else ""
    if ours:
        ways = ("Let that row leave the preset out", other)
        return _Cause(HOLD, words, _elsewhere(scene, ", ".join(filter(None, ways))))
    none = "No row has sent it"
    if acts:
        none += f", and none can test a travel: {other}"
        return _Cause(HOLD, words, _elsewhere(scene, none))
    return _Cause(HOLD, words, f"{none}: say in the promise where it need not hold.")


def _acting(scene: BrokenScene) -> tuple[str, str]:
    """Say what else the promise asks for and a row has ordered; give the row as well."""
    shown = scene.core.shown
    if "picture" in scene.tested and shown is not None:
        thing, whose = f"'{shown.picture}' is shown", scene.chosen_before("picture", shown.picture)
        if " had chosen" in whose:
            return f" while {thing}{whose}", _row_of(whose)
    for cue in sorted(one.removeprefix(CUE) for one in scene.tested if one.startswith(CUE)):
        whose = _ordered(scene, cue)
        if "line" in whose:
            return f" while {cue} is '{scene.standing[f'{CUE}{cue}']}'{whose}", _row_of(whose)
    return "", ""


def _row_of(whose: str) -> str:
    """Give the row out of a clause that says which one has chosen or set something."""
    return whose.removeprefix(", which ").removesuffix(" had chosen").removesuffix(" had set")


def _panels(scene: BrokenScene) -> Iterator[_Cause]:
    """Yield why the panels stand as they do."""
    core, row = scene.core, scene.title_row
    wanted, thing = core.wanted.panels, f"panels '{core.arrangement}'"
    chosen = scene.chosen_before("panels", core.arrangement)
    if core.override == "person":
        yield _by_override(scene, "panels", thing, chosen)
    elif core.arrangement is None:
        safe = "Let a row that tests `panels: null` show what is safe anyhow"
        advice = _unknown_advice(scene, "panels", safe)
        yield _Cause(UNKNOWN, "nobody knows how the panels stand.", advice)
    elif wanted not in {None, core.arrangement}:
        hold = next((one for one in core.holds if one in PANEL_HOLDS), None)
        why = f" {HOLDS[hold]}" if hold else ""
        if core.asked is not None:
            why = " Somebody has been asked, and has not answered yet."
        words = f"under {row} panels '{wanted}' should stand, but {thing} still do.{why}"
        advice = _waiting_advice(scene, f"Let {row} test `panels`")
        yield _Cause(HOLD, words, _refusal_advice(scene) if hold == "helper" else advice)
    elif scene.held:
        words = f"a pause holds {thing}{_comma(chosen)}{_meanwhile(scene)}."
        yield _Cause(PAUSE, words, _pause_advice(scene, "panels"))
    elif scene.show.panels is None and core.row is not None:
        words = f"under {row}, which leaves the panels out, {thing} remain{chosen}."
        yield _Cause(LEFT_OUT, words, _elsewhere(scene, f"Let {row} show panels, or test them"))


def _cue(scene: BrokenScene, cue: str) -> Iterator[_Cause]:
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


def _ordered(scene: BrokenScene, cue: str) -> str:
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


def _meanwhile(scene: BrokenScene) -> str:
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
