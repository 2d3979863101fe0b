"""The lens as it is reported: which travel is ours, which a hand's; each counts once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.people import take_hand
from engine.transaction import known

if TYPE_CHECKING:
    from engine.events import LensReport
    from engine.transaction import Turn


def lens_reported(turn: Turn, report: LensReport) -> None:
    """Take a report of where the lens rests or goes."""
    if report.preset is not None:
        known(report.preset, turn.room.presets, "preset")
    if report.moving:
        _sets_off(turn, report)
    elif report.preset is None:
        _rests_nowhere(turn)
    else:
        _rests(turn, report.preset)


def _sets_off(turn: Turn, report: LensReport) -> None:
    core = turn.core
    fresh = report.id is not None  # an id that was heard before never gets here
    if core.lens == "travelling":
        same = report.preset in {None, core.preset}
        if same and (core.recall is not None or not fresh):
            core.set_off = True
            return
        if core.recall is None and core.preset is None and report.preset is not None:
            _name_travel(turn, report.preset)
            return
    elif core.echo == (report.preset or "") and (not fresh or core.lens == "unknown"):
        # Lost on its way, by a restart or for being late, it is heard of for the first time.
        _echoed(turn, report.preset)
        return
    _drop_recall(turn)
    by_hand(turn, report.preset)
    core.origin = core.preset if core.lens == "resting" else None
    turn.fire("lens", "sets_off")
    core.preset, core.set_off = report.preset, True
    travel = turn.room.projector.lens.travel
    turn.set(travel=turn.now + travel * 3 // 2)


def _name_travel(turn: Turn, preset: str | None) -> None:
    """Learn where a hand's travel goes that was counted without a name."""
    core = turn.core
    turn.count(None, by_hand=-1)
    turn.count(preset, by_hand=1)
    core.preset, core.echo = preset, preset or ""


def _echoed(turn: Turn, preset: str | None) -> None:
    """Hear of a travel once more that is counted already."""
    core = turn.core
    turn.note(
        "travel_repeated",
        "An equal travel report within one travel time: counted as one travel.",
        "engine: wear",
    )
    if core.lens == "unknown" and preset is not None:
        turn.fire("lens", "sets_off")
        core.preset, core.set_off = preset, True
        turn.set(travel=turn.now + turn.room.projector.lens.travel * 3 // 2)


def _rests(turn: Turn, preset: str) -> None:
    core = turn.core
    if core.lens == "resting" and core.preset == preset:
        return
    travelling = core.lens == "travelling"
    ours = core.recall is not None
    if travelling and ours and not core.set_off and preset == core.origin:
        return  # It has not set off yet.
    if travelling and ours and preset == core.preset:
        recall_ended(turn, "done")
        return
    if travelling and not ours and core.preset is None:
        _name_travel(turn, preset)
    elif core.lens == "resting" or (travelling and preset != core.preset):
        _drop_recall(turn)
        by_hand(turn, preset)
    turn.fire("lens", "arrives")
    core.preset, core.origin = preset, None
    if core.unreached == preset:
        core.unreached = None
    turn.set(travel=None)


def _rests_nowhere(turn: Turn) -> None:
    core = turn.core
    if core.lens == "unknown":
        return
    if core.lens == "resting":
        by_hand(turn, None)
    if core.recall is not None:
        core.unreached = core.preset
    _drop_recall(turn)
    lost(turn)


def by_hand(turn: Turn, preset: str | None) -> None:
    """Count a travel that nobody ordered: it is a hand, and is never fought."""
    core = turn.core
    turn.count(preset, by_hand=1)
    core.echo = preset or ""
    turn.set(echo=turn.now + turn.room.projector.lens.travel)
    if core.hand == "person":
        if core.hand_look is not None:
            core.hand_look = core.hand_look._replace(preset=None)
    elif not core.service and core.projector not in {"off", "cooling"}:
        # Whoever moves it in service or without light is not watching anything.
        until = "title" if core.title else "session"
        take_hand(turn, until, None, None, "The lens travels without an order: somebody's hand.")


def _drop_recall(turn: Turn) -> None:
    """Close our own order for a travel that went elsewhere; it counts, for the lens has moved."""
    core = turn.core
    if core.recall is not None:
        turn.count(core.preset, ordered=1, unconfirmed=1)
        core.recall = None


def lost(turn: Turn) -> None:
    """Take it that nobody knows where the lens stands."""
    core = turn.core
    turn.fire("lens", "loses_track")
    core.preset = core.origin = None
    turn.set(travel=None)


def recall_ended(turn: Turn, outcome: str) -> None:
    """Close the travel under way, ours or not, by what became of it."""
    core = turn.core
    ours = core.recall is not None
    core.recall = None
    turn.set(travel=None)
    if outcome == "done":
        turn.fire("lens", "arrives")
        core.origin = None
        core.unreached = None
        if ours:
            turn.count(core.preset, ordered=1)
    elif outcome == "refused":
        core.unreached = core.preset
        _refused(turn)
        turn.note("recall_refused", "The recall was refused.", "engine: lens")
    else:
        if ours:
            turn.count(core.preset, ordered=1, unconfirmed=1)
            core.unreached = core.preset
        lost(turn)
        turn.note("lens_lost", "The lens has not said that it arrived.", "engine: lens")


def _refused(turn: Turn) -> None:
    """Take it that the lens is where it was, unless it has been seen to set off."""
    core = turn.core
    if core.set_off:
        turn.count(core.preset, ordered=1, unconfirmed=1)
        lost(turn)
        return
    core.echo = None
    turn.set(echo=None)
    if core.origin is not None and turn.fire("lens", "stays"):
        core.preset, core.origin = core.origin, None
    else:
        lost(turn)


def travel_time_over(turn: Turn) -> None:
    """Take a silent lens as arrived; one that reports and has not is lost."""
    core = turn.core
    if core.lens != "travelling":
        return  # Lost on the way: now it will at least stand still.
    if turn.fire("lens", "time_is_over"):
        if core.recall is not None:
            turn.count(core.preset, ordered=1, unconfirmed=1)
            core.recall = None
        core.origin = None
        if core.preset is None:
            lost(turn)
    else:
        turn.fire("lens", "overdue")
        recall_ended(turn, "no answer")
