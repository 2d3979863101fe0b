"""A State after the wall clock was set: all is as long ago, or as far ahead, as it was before.

The engine counts time in wall time, and a clock that was wrong may be set by hours, forwards or
back. What lasts goes on for as long as was left of it. A moment that a person named stays the one
they named, and a date that a hub gave stays, but for one that lies ahead of the clock as it is now.
"""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING

from engine.state import TELLS, DatedAhead, State, Timers

if TYPE_CHECKING:
    from engine.settle import Rival, Settling
    from engine.state import Core, Tally


def with_clock_set(state: State, by: int, now: int) -> State:
    """Give the State as it is once the clock was set `by` so many ms, to `now` (ms UTC)."""
    core = _core(state.core, by)
    settling, tally = _settling(state.settling, by), _tally(state.tally, by, now)
    return State(core, settling, tally, core.timers.next())


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
    """Keep the hubs' dates: their clocks need not have been wrong; but nothing is heard ahead.

    What was dated ahead counts as of when it came, and its subject as known since the same moment:
    both move back together, or it would look old when it is told again. What lies ahead only by the
    clock as it is now came before it was set, and counts as of then. Of what came before that, the
    latest of each subject is kept, or a clock that goes to and fro would gather ever more.
    """
    back, came = min(by, 0), {(one.subject, one.heard) for one in tally.ahead}
    heard = tuple(
        (subject, when + back if (subject, when) in came else min(when, now))
        for subject, when in tally.heard
    )
    latest = {one.subject: one for one in sorted(tally.ahead, key=attrgetter("heard"))}
    ahead = [one._replace(heard=one.heard + back) for one in latest.values()]
    ahead += [
        DatedAhead(subject, when, now)
        for subject, when in tally.heard
        if when > now and (subject, when) not in came and TELLS not in subject
    ]
    return tally._replace(heard=heard, ahead=tuple(sorted(ahead)), moved=_moved(tally.moved, by))
