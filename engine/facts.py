"""The facts that rules may look at, by name and kind: the columns of every rule table.

Ratios among them are whole hundredths, as people name shapes: 16:9 is 1.78 and a rule that
says `>= 1.78` means it. A fact that is not known is None, and passes no test but `null` and `-`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

from engine.aspect import HIGHEST_LIFT, NARROWEST, WIDEST, in_hundredths, same_shape
from engine.table import Column
from engine.value_set import Kind, show_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from engine.decisions import FactValue
    from engine.events import PlaybackState
    from engine.room import Room, Source, Told
    from engine.settle import Settling
    from engine.state import Core
    from engine.title_records import RememberedTitle
    from engine.transition_table import PanelsState

Facts = dict[str, bool | int | str | None]

PLAYBACKS: Final[tuple[PlaybackState, ...]] = ("playing", "paused", "stopped", "unknown")
HelperFact = Literal["free", "asked", "refused"]
"""Whether somebody may be asked to fit panels."""
HELPER: Final[tuple[HelperFact, ...]] = ("free", "asked", "refused")
RANGES: Final = ("standard", "high")
WHO: Final = ("rules", "person")
LAST_MINUTE: Final = 1_439

RATIO_FACTS: Final = frozenset({"aspect", "declared", "tallest"})

HELPER_OF: Final[dict[PanelsState, HelperFact]] = {
    "still": "free",
    "asked": "asked",
    "reminded": "asked",
    "refused": "refused",
}
"""The fact `helper` (may somebody be asked to fit panels?) for each state of their machine."""


def columns(
    sources: tuple[str, ...],
    presets: tuple[str, ...],
    panels: tuple[str, ...],
    told: Iterable[Column],
) -> tuple[Column, ...]:
    """List the columns a rule may test in a room with these names."""
    return (
        Column("source", Kind.NAME, sources, unknown=True),
        Column("playback", Kind.NAME, PLAYBACKS),
        Column("aspect", Kind.RATIO, unknown=True, least=NARROWEST, most=WIDEST),
        Column("declared", Kind.RATIO, unknown=True, least=NARROWEST, most=WIDEST),
        Column("tallest", Kind.RATIO, unknown=True, least=NARROWEST, most=WIDEST),
        Column("varies", Kind.TRUTH),
        Column("subtitles", Kind.TRUTH),
        Column("doubtful", Kind.TRUTH),
        Column("first_minutes", Kind.TRUTH),
        Column("preset", Kind.NAME, presets, unknown=True),
        Column("panels", Kind.NAME, panels, unknown=True),
        Column("helper", Kind.NAME, HELPER),
        Column("time", Kind.MINUTE, unknown=True, least=0, most=LAST_MINUTE),
        Column("range", Kind.NAME, RANGES, unknown=True),
        Column("three_d", Kind.TRUTH, unknown=True),
        *told,
    )


CUE: Final = "cue "
"""How the column of a cue begins, before the cue's name; no fact has a blank in its name."""


def standing_columns(
    pictures: tuple[str, ...], cues: Mapping[str, tuple[str, ...]] | None = None
) -> tuple[Column, ...]:
    """List what a promise may test beside the facts: how things stand, and cues as last ordered."""
    return (
        Column("picture", Kind.NAME, pictures, unknown=True),
        Column("lift", Kind.SHARE, unknown=True, least=0, most=HIGHEST_LIFT),
        Column("travelling", Kind.TRUTH),
        Column("override", Kind.NAME, WHO),
        *(
            Column(f"{CUE}{name}", Kind.NAME, values, unknown=True)
            for name, values in (cues or {}).items()
        ),
    )


def told_column(fact: Told) -> Column:
    """Give the column of a fact that the room file declares."""
    unknown = fact.default is None
    if not fact.values:
        return Column(fact.name, Kind.NUMBER, (), unknown, fact.least, fact.most)
    if isinstance(fact.values[0], bool):
        return Column(fact.name, Kind.TRUTH, (), unknown)
    names = tuple(value for value in fact.values if isinstance(value, str))
    return Column(fact.name, Kind.NAME, names, unknown)


def room_columns(room: Room) -> tuple[Column, ...]:
    """List the columns of a compiled room's rules."""
    told = [told_column(fact) for fact in room.told.values()]
    return columns(tuple(room.sources), tuple(room.presets), tuple(room.panels), told)


def aspect_of(source: Source | None, core: Core, settling: Settling) -> int | None:
    """Say which shape the picture has, as far as anybody knows.

    A source's own shape goes first, then, outside a title, the shape of its menus, then what
    the readings settled on, and what the title declares only while they have settled on nothing,
    or where the source's player has the first word.
    """
    if source is not None:
        if source.shape is not None:
            return source.shape
        if source.leave_alone:
            return core.frame
        if source.menu_shape is not None and not core.title:
            return source.menu_shape
        if source.first_word == "player" and core.declared is not None:
            return core.declared
    return core.declared if settling.aspect is None else settling.aspect


def first_minutes_run(core: Core) -> bool:
    """Tell whether the title's first minutes are not over: they run, or are held."""
    return core.timers.first_minutes is not None or core.first_left > 0


def pausing(core: Core) -> bool:
    """Tell whether a pause holds the look: it has not lasted so long that it counts as a stop."""
    return core.playback == "paused" and not core.pause_over


def facts_of(room: Room, core: Core, settling: Settling) -> Facts:
    """Gather the facts as they stand."""
    source = room.sources[core.source] if core.source is not None else None
    playback = "stopped" if core.pause_over else core.playback
    if playback == "playing" and source is not None and source.says_titles and not core.title:
        playback = "stopped"  # A preview in a menu is no film.
    facts: Facts = {
        "source": core.source,
        "playback": playback,
        "aspect": in_hundredths(aspect_of(source, core, settling)),
        "declared": in_hundredths(core.declared),
        "tallest": in_hundredths(core.tallest),
        "varies": core.varies,
        "subtitles": core.subtitles,
        "doubtful": core.doubt is not None,
        "first_minutes": first_minutes_run(core),
        "preset": core.preset,
        "panels": core.arrangement,
        "helper": HELPER_OF[core.panels],
        "time": core.minute,
        "range": core.range,
        "three_d": core.three_d,
    }
    told = dict(core.told)
    for name in room.told:
        facts[name] = told.get(name)
    return facts


def facts_of_title(room: Room, core: Core, settling: Settling, facts: Facts) -> Facts | None:
    """Give the facts by which preset and panels are looked up: with the title's own shape.

    That is what the title declares, or what is remembered of it. Where it is only seen, it is the
    shape that has stood longest; None then while another one stands, for which nothing is moved.
    """
    source = room.sources[core.source] if core.source is not None else None
    if not core.title or source is None or source.shape is not None or source.leave_alone:
        return facts
    told = core.remembered if core.declared is None else core.declared
    own = core.longest if told is None else told
    present = settling.aspect
    if own is None and present is not None and settling.reading is None:
        return None  # All is black: the shape is the last title's.
    if own is None or (present is not None and same_shape(own, present)):
        return facts
    return None if told is None else {**facts, "aspect": in_hundredths(own)}


def shape_of_title(room: Room, core: Core, settling: Settling) -> int | None:
    """Give the title's own shape, as far as anybody knows: told, remembered, or seen longest."""
    source = room.sources[core.source] if core.source is not None else None
    return core.declared or core.remembered or core.longest or aspect_of(source, core, settling)


def shape_is_guess(core: Core) -> bool:
    """Tell whether a title's own shape is only seen, and fills the coded frame.

    Whoever sends pictures makes their idents and stills for the whole frame; what has bars is a
    film's own.
    """
    told = core.declared is not None or core.remembered is not None
    own = core.longest
    return core.title and not told and own is not None and same_shape(own, core.frame)


def what_is_remembered(core: Core) -> RememberedTitle | None:
    """Give what is remembered of the title that is on, by its series or else by its own name."""
    name = core.series or core.title_name
    return next((one for one in core.titles if one.name == name), None)


def may_be_menu(source: Source | None, playback: object) -> bool:
    """Tell from the fact `playback` whether what is shown may be a menu.

    That is so if nothing is known to play. A source that is left alone shows a game unless it
    says that it has stopped.
    """
    alone = source is not None and source.leave_alone
    return playback == "stopped" or (playback == "unknown" and not alone)


def in_title(playback: object, *, title: bool) -> bool:
    """Tell from the fact `playback` whether a film may be running, even past its title's end."""
    return playback == "playing" or (title and playback != "stopped")


def standing_of(room: Room, core: Core) -> Facts:
    """Gather what only promises may test: pictures and cues count as they were last ordered.

    Of a cue that a person has set nothing is promised, so it counts as unknown.
    """
    shown, own = core.shown, {one.cue for one in core.cue_overrides}
    cues = dict(core.cues) | {one.cue: one.value for one in core.open_cues}
    return {
        "picture": shown.picture if shown is not None else None,
        "lift": shown.lift if shown is not None else None,
        "travelling": core.lens == "travelling",
        "override": core.override,
        **{f"{CUE}{name}": None if name in own else cues.get(name) for name in room.cues},
    }


@lru_cache(64)
def _shown_minute(minute: int) -> str:
    return show_value(minute, Kind.MINUTE)


def readable_facts(facts: Facts) -> dict[str, FactValue]:
    """Write facts as decisions carry them: ratios as 2.39, the time of day as 21:14.

    That a shape is doubtful is said only where it is.
    """
    told: dict[str, FactValue] = dict(facts)
    if not facts.get("doubtful"):
        told.pop("doubtful", None)
    for name in RATIO_FACTS:
        ratio = facts.get(name)
        if isinstance(ratio, int):
            told[name] = ratio / 10_000
    minute = facts.get("time")
    if isinstance(minute, int):
        told["time"] = _shown_minute(minute)
    return told
