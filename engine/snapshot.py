"""A State as bytes and back, and the finite shape of it.

Numbers that only count, names of titles and the moments of timers are no part of the shape:
two states of one shape do the same for the same events, only at other times.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final, NamedTuple

from pydantic import ConfigDict, TypeAdapter, ValidationError

from engine.aspect import NARROWEST, UPRIGHT, WIDEST
from engine.errors import UnusableError
from engine.facts import PLAYBACKS
from engine.room import BUILT_IN_PICTURES, Room
from engine.state import Core, State
from engine.transition_table import MACHINES

VERSION: Final = 30
"""Goes up whenever a field of the State changes its place or meaning."""
LEFT_SEEN: Final = 2
"""More recalls left than this are all alike."""


class Snapshot(NamedTuple):
    """A State with the version of its fields."""

    version: int
    state: State


_SNAPSHOTS: Final[TypeAdapter[Snapshot]] = TypeAdapter(Snapshot, config=ConfigDict(strict=True))


class SnapshotError(UnusableError):
    """Bytes that are no snapshot of this version, or a State of another room."""


def encode(state: State) -> bytes:
    """Write a State as JSON."""
    return _SNAPSHOTS.dump_json(Snapshot(VERSION, state))


def decode(data: bytes | str) -> State:
    """Read what `encode` wrote; raises `SnapshotError` for other text, TypeError for no text."""
    if not isinstance(data, bytes | str):
        raise TypeError(f"decode takes what encode wrote, bytes or text, not {type(data).__name__}")
    try:
        snapshot = _SNAPSHOTS.validate_json(data)
    except ValidationError as error:
        _require_version(data)  # another version has other fields
        words = error.errors(include_url=False)[0]["msg"]
        raise SnapshotError(f"this is no snapshot of version {VERSION}: {words}") from error
    _require_version(data)
    timers = snapshot.state.core.timers
    return snapshot.state._replace(due=timers.next())


def _require_version(data: bytes | str) -> None:
    """Raise `SnapshotError` for what begins as a snapshot of another version."""
    begins = _BEGINS.match(data if isinstance(data, bytes) else data.encode())
    if begins is not None and int(begins[1]) != VERSION:
        raise SnapshotError(f"a snapshot of version {int(begins[1])}, {VERSION} is needed")


_BEGINS: Final = re.compile(rb"\s*\[\s*(\d{1,9})\s*,\s*[\[{]")


def finite_shape(state: State) -> tuple[Any, ...]:
    """Give what tells states apart when times, numbers and counts do not matter."""
    core, settling = state.core, state.settling
    return (
        *_reported(core),
        *_equipment(core),
        *_wanted(core),
        tuple(due is not None for due in core.timers),
        settling.aspect,
        settling.subtitles,
        settling.deadline is None,
        settling.left is None,
        settling.reading,
        settling.evidence,
        None if settling.rival is None else settling.rival.shape,
    )


def _reported(core: Core) -> tuple[Any, ...]:
    """Give what has been heard of projector, source, signal and titles."""
    return (
        core.projector,
        core.service,
        core.source,
        core.playback,
        core.pause_over,
        core.parked,
        core.locked,
        core.frame,
        core.columns,
        core.rows,
        core.range,
        core.three_d,
        core.minute,
        core.told,
        core.detected,
        core.coded,
        core.unheeded,
        *_of_titles(core),
    )


def _of_titles(core: Core) -> tuple[Any, ...]:
    """Give what is known of the title that is on, and of those that were left."""
    return (
        core.title,
        core.title_name is None,
        core.declared,
        core.shapes,
        core.seen_in,
        None if core.detour is None else core.detour[:-1],
        tuple(one.aspect for one in core.stood),
        None if core.stands is None else core.stands.aspect,
        core.longest,
        core.remembered,
        core.first_left > 0,
        core.varies,
        core.tallest,
        core.subtitles,
        core.doubt is None,
        core.line is None,
        core.sent_in_vain,
        core.series is None,
        None if core.interrupted is None else (core.interrupted.refused, core.interrupted.choice),
        tuple((one.source, one.refused, one.choice) for one in core.left),
    )


def _equipment(core: Core) -> tuple[Any, ...]:
    """Give how lens and panels stand, and who has the room."""
    return (
        core.lens,
        core.preset,
        core.origin,
        core.recall is None,
        core.set_off,
        core.put_back,
        core.missed,
        core.echo,
        core.awaited,
        core.panels,
        core.refused_until,
        core.arrangement,
        None if core.asked is None else (*core.asked[1:4], core.asked.who is None),
        core.override,
        core.override_until,
        core.override_look,
        core.undo,
    )


def _wanted(core: Core) -> tuple[Any, ...]:
    """Give what is wanted, what has been ordered, and what it waits for."""
    return (
        core.row,
        core.title_row,
        core.violated,
        core.wanted,
        core.ripe,
        core.shown,
        core.picture is None,
        core.failed,
        core.tries,
        core.unreached,
        core.cues,
        tuple((cue.cue, cue.value) for cue in core.open_cues),
        core.cue_wish,
        tuple((cue.cue, cue.value, cue.until) for cue in core.cue_overrides),
        min(core.left_title, LEFT_SEEN),
        min(core.left_night, LEFT_SEEN),
        core.back_to,
        core.recalls,
        core.asks,
        core.holds,
    )


def first_foreign_name(room: Room, state: State) -> str | None:
    """Name the first thing in a State that the room does not know; None if it knows them all."""
    core = state.core
    looks = [one for one in (core.override_look, core.undo) if one is not None]
    known: tuple[tuple[str, object, Iterable[object]], ...] = (
        ("lens", core.lens, MACHINES["lens"]),
        ("panels", core.panels, MACHINES["panels"]),
        ("override", core.override, MACHINES["override"]),
        ("playback", core.playback, PLAYBACKS),
        ("projector", core.projector, ("unknown", "off", "warming", "lit", "cooling")),
        *(("source", one, room.sources) for one in (core.source, *dict(core.put_back))),
        *(("preset", one, room.presets) for one in _lens_names(core)),
        ("preset", core.wanted.preset, room.presets),
        *(("preset", look.preset, room.presets) for look in looks),
        ("panels", core.arrangement, room.panels),
        ("panels", core.wanted.panels, room.panels),
        ("panels", core.asked.panels if core.asked else None, room.panels),
        *(("panels", look.panels, room.panels) for look in looks),
        ("picture", core.shown.picture if core.shown else None, _pictures(room)),
        ("picture", core.wanted.picture, _pictures(room)),
        *(("picture", look.picture, _pictures(room)) for look in looks),
        *(("told fact", name, room.told) for name, _ in core.told),
        *(("cue", name, room.cues) for name, _ in (*core.cues, *core.cue_wish, *core.wanted.cues)),
        *(("cue", one.cue, room.cues) for one in core.cue_overrides),
        *(("cue", one.cue, room.cues) for one in core.open_cues),
        *((f"'{one.cue}' at", one.value, room.cues.get(one.cue, ())) for one in core.cue_overrides),
    )
    for what, name, names in known:
        if name is not None and name not in names:
            return f"{what} '{name}'"
    rows = len(room.rules.rows)
    for row in (core.row, core.title_row):
        if row is not None and not -1 <= row < rows:
            return f"row {row}"
    for fact, value in core.told:
        if not room.told[fact].may_be(value):
            return f"told fact '{fact}' at '{value}'"
    odd = _odd_ratio(state)
    return None if odd is None else f"ratio {odd}"


def _may_settle(ratio: int) -> bool:
    return NARROWEST <= ratio <= WIDEST or ratio in UPRIGHT


def _odd_ratio(state: State) -> int | None:
    """Find a ratio that no picture and no raster has."""
    core = state.core
    stood = [one.aspect for one in (*core.stood, core.stands) if one is not None]
    of_title = (core.declared, core.tallest, core.longest, core.remembered, *core.shapes, *stood)
    of_title = (*of_title, *(() if core.detour is None else core.detour.shapes))
    ratios = (*of_title, state.settling.aspect, *(shape for _, shape in core.put_back))
    odd = [one for one in ratios if one is not None and not _may_settle(one)]
    parked = None if core.parked is None else core.parked.frame
    odd += [one for one in (core.frame, parked) if one is not None and one < 1]
    return odd[0] if odd else None


def _lens_names(core: Core) -> tuple[str | None, ...]:
    # An echo of no name is one of a travel to no preset.
    return core.preset, core.origin, core.unreached, core.missed, core.back_to, core.echo or None


def _pictures(room: Room) -> tuple[str, ...]:
    return (*BUILT_IN_PICTURES, *room.pictures)
