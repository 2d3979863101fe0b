"""A State as bytes and back, and the finite shape of it.

Numbers that only count, names of titles and the moments of timers are no part of the shape:
two states of one shape do the same for the same events, only at other times.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from pydantic import ConfigDict, TypeAdapter, ValidationError

from engine.state import State, Timers

VERSION: Final = 1
"""Goes up whenever a field of the State changes its place or meaning."""
LEFT_SEEN: Final = 2
"""More recalls left than this are all alike."""


class Snapshot(NamedTuple):
    """A State with the version of its fields."""

    version: int
    state: State


_SNAPSHOTS: Final[TypeAdapter[Snapshot]] = TypeAdapter(Snapshot, config=ConfigDict(strict=True))


class SnapshotError(ValueError):
    """Bytes that are no snapshot of this version."""


def encode(state: State) -> bytes:
    """Write a State as JSON."""
    return _SNAPSHOTS.dump_json(Snapshot(VERSION, state))


def decode(data: bytes | str) -> State:
    """Read what `encode` wrote; raises `SnapshotError` for anything else."""
    try:
        snapshot = _SNAPSHOTS.validate_json(data)
    except ValidationError as error:
        raise SnapshotError(f"this is no snapshot of version {VERSION}: {error}") from error
    if snapshot.version != VERSION:
        raise SnapshotError(f"a snapshot of version {snapshot.version}, {VERSION} is needed")
    timers = snapshot.state.core.timers
    return snapshot.state._replace(due=timers.next())


def shape(state: State) -> tuple[Any, ...]:
    """Give what tells states apart when times, numbers and counts do not matter."""
    core, settling = state.core, state.settling
    return (
        core.projector,
        core.service,
        core.source,
        core.playback,
        core.locked,
        core.frame,
        core.range,
        core.stereo,
        core.minute,
        core.told,
        core.title,
        core.title_name is None,
        core.declared,
        core.shapes,
        core.varies,
        core.tallest,
        core.subtitles,
        core.lens,
        core.preset,
        core.origin,
        core.recall is None,
        core.echo,
        core.panels,
        core.arrangement,
        None if core.asked is None else core.asked[1:],
        core.hand,
        core.hand_until,
        core.hand_look,
        core.row,
        core.violated,
        core.wanted,
        core.ripe,
        core.shown,
        None if core.picture is None else core.picture.after,
        core.failed,
        core.unreached,
        core.cues,
        tuple((cue.cue, cue.value) for cue in core.open_cues),
        min(core.left_title, LEFT_SEEN),
        min(core.left_night, LEFT_SEEN),
        core.holds,
        tuple(due is not None for due in core.timers),
        settling.aspect,
        settling.subtitles,
        settling.deadline is None,
    )


def running(state: State) -> tuple[str, ...]:
    """Name the timers that run."""
    timers = state.core.timers
    return tuple(name for name, due in zip(Timers._fields, timers, strict=True) if due is not None)
