"""A State after the wall clock was set: all is as long ago, or as far ahead, as it was before.

The engine counts time in wall time, and a clock that was wrong may be set by hours, forwards or
back. What lasts goes on for as long as was left of it, and what was told without a date is as old
as it was. A moment that a person named stays the one they named, and a date that a hub gave stays,
but for one that lies ahead of the clock as it is now.
"""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.prompts import is_warned
from engine.state import TELLS, Core, DatedAhead, State, Timers

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from engine.settle import Rival, Settling
    from engine.state import LastHeard, Tally


class _OneMatter(NamedTuple):
    """What is older only as a whole: one part of it that has changed makes all of it newer."""

    timers: tuple[str, ...]
    parts: tuple[str, ...] = ()
    """Fields of the core."""


THE_PROMPT: Final = _OneMatter(("remind", "give_up"), ("asked",))
MATTERS: Final = (
    THE_PROMPT,
    _OneMatter(("travel", "echo")),
    _OneMatter(("cue",), ("open_cues",)),
    _OneMatter(("longest",), ("stands",)),
    _OneMatter(("lines",), ("line",)),
)


def with_clock_set(state: State, by: int, now: int) -> State:
    """Give the State as it is once the clock was set `by` so many ms, to `now` (ms UTC)."""
    core = _core(state.core, by)
    settling, tally = _settling(state.settling, by), _tally(state.tally, by, now)
    return State(core, settling, tally, core.timers.next())


def with_time_passed(state: State, before: State | None, by: int, moves: int, now: int) -> State:
    """Give the State once the clock was set `by` ms, and that tells of time that passed unseen.

    What stands as it did `before` that is so much older: it moves by `moves` ms. What has come
    since moves along, and all does where nobody knows how it stood before (None): an end then comes
    late, and no light early.
    """
    newer = with_clock_set(state, by, now)
    if before is None or moves == by:
        return newer
    older, known = with_clock_set(state, moves, now), {*before.tally.heard}
    core = _chosen_core(state.core, before.core, older.core, newer.core)
    heard = tuple(
        old if one in known else new
        for one, old, new in zip(
            state.tally.heard, older.tally.heard, newer.tally.heard, strict=True
        )
    )
    settling = older.settling if state.settling == before.settling else newer.settling
    tally = newer.tally._replace(heard=heard)
    return State(core, settling, tally, core.timers.next())


def _chosen_core(core: Core, before: Core, older: Core, newer: Core) -> Core:
    """Take each part that is as it was before from the older one, and each other from the newer."""
    chosen = newer.copy()
    parts = _unchanged(core, before, Core.__slots__)
    timers = _unchanged(core.timers, before.timers, Timers._fields)
    # Who was warned has the time they were told, even if the clock was wrong before that start too.
    warned = core.asked is not None and is_warned(core, core.asked)
    for matter in MATTERS:
        whole = timers.issuperset(matter.timers) and parts.issuperset(matter.parts)
        if not whole or (warned and matter is THE_PROMPT):
            timers.difference_update(matter.timers)
            parts.difference_update(matter.parts)
    for name in parts:
        setattr(chosen, name, getattr(older, name))
    of_before = {name: getattr(older.timers, name) for name in timers}
    chosen.timers = newer.timers._replace(**of_before)
    return chosen


def _unchanged(one: object, before: object, names: Iterable[str]) -> set[str]:
    """Name what is as it was."""
    return {name for name in names if getattr(one, name) == getattr(before, name)}


def _moved(moment: int | None, by: int) -> int | None:
    return None if moment is None else moment + by


def _core(before: Core, by: int) -> Core:
    core = before.copy()
    core.timers = _timers(core, by)
    core.night, core.line = _moved(core.night, by), _moved(core.line, by)
    core.doubt = _moved(core.doubt, by)
    if core.detour is not None:
        core.detour = core.detour._replace(until=core.detour.until + by)
    if core.stands is not None:
        core.stands = core.stands._replace(ms=core.stands.ms + by)
    core.left = tuple(one._replace(until=_moved(one.until, by)) for one in core.left)
    if core.asked is not None:
        core.asked = core.asked._replace(latest=core.asked.latest + by)
    core.open_cues = tuple(one._replace(ends=one.ends + by) for one in core.open_cues)
    return core


def _timers(core: Core, by: int) -> Timers:
    """Move all timers but those for moments that people have named."""
    timers = core.timers
    moved = Timers(*(_moved(due, by) for due in timers))
    moved = moved._replace(cue_override=timers.cue_override)
    named = core.override == "person" and core.override_until == "time"
    return moved._replace(override=timers.override) if named else moved


def _settling(settling: Settling, by: int) -> Settling:
    learnt = settling.learnt
    return settling._replace(
        learnt=learnt._replace(
            moved=learnt.moved + by,
            begun=learnt.begun + by,
            slips=tuple(slip._replace(at=slip.at + by) for slip in learnt.slips),
            lines=_moved(learnt.lines, by),
        ),
        left=_moved(settling.left, by),
        deadline=_moved(settling.deadline, by),
        since=settling.since + by,
        rival=_rival(settling.rival, by),
        aside=_rival(settling.aside, by),
    )


def _rival(rival: Rival | None, by: int) -> Rival | None:
    return None if rival is None else rival._replace(seen=rival.seen + by)


def _tally(tally: Tally, by: int, now: int) -> Tally:
    """Move what was heard by the room's clock along, and keep the hubs' dates.

    A hub's clock need not have been wrong; but nothing is heard ahead. What lies ahead only by the
    clock as it is now came before it was set, and counts as of then. What was dated ahead counts as
    of when it came, or as of its date where that is past by now. Of what still lies ahead, the
    latest of each subject is kept, or a clock that goes to and fro would gather ever more.
    """
    came = {(one.subject, one.heard): one.dated for one in tally.ahead}
    heard = tuple(
        _heard(one, by, now, came.get((one.subject.partition(TELLS)[0], one.when)))
        for one in tally.heard
    )
    latest = {one.subject: one for one in sorted(tally.ahead, key=attrgetter("heard"))}
    since = {one.subject: one.when for one in heard}
    moved = [_ahead(one, by, tally.heard_of(one.subject), since) for one in latest.values()]
    ahead = [one for one in moved if one.dated > one.heard]
    ahead += [
        DatedAhead(one.subject, one.when, now)
        for one in tally.heard
        if not one.ours and one.when > now and (one.subject, one.when) not in came
        if TELLS not in one.subject
    ]
    return tally._replace(heard=heard, ahead=tuple(sorted(ahead)), moved=_moved(tally.moved, by))


def _heard(one: LastHeard, by: int, now: int, dated: int | None) -> LastHeard:
    """Say since when something is so by the clock as it is now; `dated` if it was dated ahead."""
    if not one.ours and dated is None:
        return one._replace(when=min(one.when, now), ours=one.when > now)
    if dated is not None and dated <= one.when + by:
        return one._replace(when=dated, ours=False)
    return one._replace(when=one.when + by, ours=True)


def _ahead(one: DatedAhead, by: int, was: int | None, since: Mapping[str, int]) -> DatedAhead:
    """Say when a report came that was dated ahead; one that was the older stays the older.

    `was` and `since` say when the newest of its subject was true, before and now.
    """
    came = one.heard + by
    older = was is not None and one.heard < was
    return one._replace(heard=min(came, since[one.subject] - 1) if older else came)
