"""Reports of the lens: which travel is ours and which a person's. Each is counted once.

A travel is awaited until the lens is heard to have ended it, whatever became of its order: the
order may have been given up, cut off by a restart, or done as soon as it was accepted. While it is
awaited, a lens that leaves where it stood is on that travel. Only what is heard after its end, or
of a travel elsewhere, is another one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.aspect import same_shape
from engine.facts import shape_of_title
from engine.override_requests import begin_override
from engine.refusal import Refused, require_known
from engine.transition_table import nothing_plays

if TYPE_CHECKING:
    from engine.events import LensReport, OutcomeWord, ProjectorState
    from engine.room import Room
    from engine.state import Core, OverrideUntil
    from engine.transaction import Transaction


WITHOUT_LIGHT: Final[frozenset[ProjectorState]] = frozenset({"off", "warming", "cooling"})
PUT_BACK_KEPT: Final = 8
UNSEEN: Final = 300_000
"""For how long the first report of the lens may be late after a restart or without light, ms."""


def lens_reported(tx: Transaction, report: LensReport) -> None:
    """Take a report of where the lens rests or goes."""
    if report.preset is not None:
        require_known(report.preset, tx.room.presets, "preset")
    tx.note_told("lens", report.moving, report.preset)
    if not report.known:
        _in_doubt(tx, report)
        return
    if report.moving:
        _sets_off(tx, report)
    elif report.preset is None:
        _rests_nowhere(tx)
    else:
        _rests(tx, report.preset)
    tx.set_timers(unseen=None)


def _in_doubt(tx: Transaction, report: LensReport) -> None:
    """Forget where the lens rests; one that is on its way goes on, for its end is still to come.

    While something plays it is sent nowhere for a travel's time, also for a person whose wish
    stands: most likely it rests where it was, and the hub is about to say so.
    """
    if report.moving or report.preset is not None:
        words = "a lens of which nothing is known does not move and has no preset: leave one out"
        raise Refused("malformed", words)
    if tx.core.lens == "resting":
        lose_track(tx)
        if not nothing_plays(tx.core, tx.room):
            tx.set_timers(travel=tx.now + tx.room.projector.lens.travel)


def _sets_off(tx: Transaction, report: LensReport) -> None:
    core = tx.core
    if core.lens != "travelling" and _is_counted(core, report):
        if not _was_only_accepted(core):
            tx.note("travel_repeated", "engine: wear")
        if core.awaited is None and core.preset == (core.echo or None):
            return  # A late word of a travel that has ended there.
        _take_up(tx)
    if core.lens == "travelling":
        if report.preset in {None, core.preset}:
            _goes_on(tx)
            return
        if core.recall is None and core.preset is None and report.preset is not None:
            _name_travel(tx, report.preset)
            return
    _drop_recall(tx)
    count_travel_by_hand(tx, report.preset)
    core.origin = core.preset if core.lens == "resting" else None
    tx.fire("lens", "sets_off")
    core.preset, core.awaited = report.preset, "by hand"
    _goes_on(tx)


def _is_counted(core: Core, report: LensReport) -> bool:
    """Tell whether a lens that sets off is heard of again on a travel that is counted already."""
    if core.echo is None:
        return False
    if core.awaited is not None:
        return report.preset is None or core.echo in {"", report.preset}
    return report.id is None and core.echo == (report.preset or "")


def _take_up(tx: Transaction) -> None:
    """Put a lens that was lost, or taken to rest, on its counted way again."""
    core = tx.core
    # Where an order was only accepted, nobody knows any more where the lens set off.
    rested = core.lens == "resting" and core.preset != core.echo
    core.origin = core.preset if rested else None
    tx.fire("lens", "sets_off")
    core.preset = core.echo or None
    tx.set_timers(travel=tx.now + tx.room.projector.lens.travel * 3 // 2)


def _goes_on(tx: Transaction) -> None:
    """Note that the lens is reported on its way; of a travel of ours its order says the end."""
    tx.core.set_off = True
    if tx.core.recall is None:
        tx.set_timers(travel=tx.now + tx.room.projector.lens.travel * 3 // 2)


def _was_only_accepted(core: Core) -> bool:
    """Tell whether our travel was said to be done, and the lens itself has not been heard since."""
    return core.lens == "resting" and core.awaited == "ours" and core.echo == core.preset


def may_set_off(core: Core) -> bool:
    """Tell whether a lens at rest may yet carry out an order of ours that was closed before."""
    return _is_awaited(core) and core.lens == "resting" and core.preset != core.echo


def may_be_on_its_way(core: Core, room: Room) -> bool:
    """Tell whether a travel that was ordered may still be under way, or be to come.

    Of a lens that reports, only its own word ends that, or the time for which it is awaited.
    """
    return may_set_off(core) or (_is_awaited(core) and room.projector.lens.reports)


def _is_awaited(core: Core) -> bool:
    """Tell whether the lens may still be heard of a travel that was ordered."""
    return core.awaited == "ours" and core.echo is not None


def _name_travel(tx: Transaction, preset: str) -> None:
    """Name the target of a travel that was counted before its target was known.

    One of ours was counted under its name then, which another room file may have changed since.
    """
    core = tx.core
    if core.awaited != "ours":
        tx.count_travel(None, by_hand=-1)
        tx.count_travel(preset, by_hand=1)
    core.preset = core.echo = preset


def _rests(tx: Transaction, preset: str) -> None:
    core = tx.core
    _leaves_unheard(tx, preset)
    travelling = core.lens == "travelling"
    ours = core.recall is not None or core.awaited == "ours"
    if travelling and ours and not core.set_off and preset == core.origin:
        return  # It has not set off yet.
    if travelling or core.set_off or preset == core.echo or not ours:
        # Whether it was heard to set off or not: here it is heard.
        core.set_off, core.awaited = True, None
    if core.lens == "resting" and core.preset == preset:
        return
    if travelling and core.recall is not None and preset == core.preset:
        recall_ended(tx, "done")
        return
    if travelling and ours and preset != core.preset:
        _missed(tx)
    elif travelling and core.preset is None:
        _name_travel(tx, preset)
    elif core.lens == "resting" or (travelling and preset != core.preset):
        count_travel_by_hand(tx, preset)
    tx.fire("lens", "arrives")
    core.preset, core.origin = preset, None
    _reached(core)
    tx.set_timers(travel=None)


def _leaves_unheard(tx: Transaction, preset: str | None) -> None:
    """Take our awaited travel up where a lens at rest has left, and nobody has heard it set off."""
    core = tx.core
    if core.lens != "resting" or core.preset == preset:
        return
    if may_set_off(core):
        _take_up(tx)
    elif _was_only_accepted(core) and tx.room.projector.lens.reports:
        _take_up(tx)
        core.origin = preset  # There it stands, and has not set off yet.


def _reached(core: Core) -> None:
    """Forget that the preset at which the lens rests was not reached before."""
    if core.unreached == core.preset:
        core.unreached = None
    if core.missed == core.preset:
        core.missed = None


def _missed(tx: Transaction) -> None:
    """Close our order for a travel that ended elsewhere: it has one more try, then it is left."""
    core = tx.core
    if core.missed == core.preset:
        core.unreached = core.preset
    else:
        core.missed = core.preset
        if core.title:
            core.left_title += 1  # The try does not use the title's recalls up.
        core.back_to = None
    _drop_recall(tx)
    tx.note("lens_elsewhere", "engine: lens")


def _rests_nowhere(tx: Transaction) -> None:
    core = tx.core
    _leaves_unheard(tx, None)
    ours = core.recall is not None or core.awaited == "ours"
    core.awaited = None
    if core.lens == "unknown":
        return
    if core.lens == "resting":
        count_travel_by_hand(tx, None)
    elif ours:
        _missed(tx)
    lose_track(tx)


def count_travel_by_hand(tx: Transaction, preset: str | None) -> None:
    """Count a travel that nobody ordered: a person moved the lens, and there it is left."""
    core = tx.core
    tx.count_travel(preset, by_hand=1)
    core.awaited = None
    _listen_for_echoes(tx, preset)
    if core.override == "person":
        if core.override_look is not None:
            core.override_look = core.override_look._replace(preset=None)
    elif not core.service and core.projector not in WITHOUT_LIGHT and core.timers.unseen is None:
        # Whoever moves it in service or without light is not watching anything, and what happened
        # before somebody looked again was a power cut's doing as likely as a person's.
        until: OverrideUntil = "title" if core.title else "session"
        _leave_as_put(tx)
        begin_override(tx, until, None, None, "lens_moved")


def _listen_for_echoes(tx: Transaction, preset: str | None) -> None:
    """Count further reports of a travel as the same one, for as long as a travel lasts."""
    core, until = tx.core, tx.now + tx.room.projector.lens.travel
    if core.awaited is not None:
        until = max(until, core.timers.echo or until)  # Of an order they may come for longer.
    core.echo = preset or ""
    tx.set_timers(echo=until)


def _leave_as_put(tx: Transaction) -> None:
    """Remember for this session that the lens stood as wanted, and somebody has put it back."""
    core = tx.core
    shape = shape_of_title(tx.room, core, tx.settling)
    stood = core.lens == "resting" and core.preset == core.wanted.preset
    if not core.title or not stood or core.source is None or shape is None:
        return
    if not was_put_back(core, shape):
        core.put_back = (*core.put_back, (core.source, shape))[-PUT_BACK_KEPT:]


def was_put_back(core: Core, shape: int | None) -> bool:
    """Tell whether somebody has put the lens back this session for what is shown now."""
    return any(
        source == core.source and shape is not None and same_shape(one, shape)
        for source, one in core.put_back
    )


def _drop_recall(tx: Transaction) -> None:
    """Close our own order for a travel that went elsewhere; it counts, for the lens has moved."""
    core = tx.core
    if core.recall is not None:
        tx.count_travel(core.preset, ordered=1, unconfirmed=1)
        core.recall = None


def lose_track(tx: Transaction) -> None:
    """Forget where the lens stands."""
    core = tx.core
    tx.fire("lens", "loses_track")
    core.preset = core.origin = None
    tx.set_timers(travel=None)


def recall_ended(tx: Transaction, outcome: OutcomeWord) -> None:
    """Close the travel under way, ours or not, by what became of it."""
    core, number = tx.core, tx.core.recall
    ours = number is not None
    core.recall = None
    tx.set_timers(travel=None)
    if outcome == "done":
        tx.fire("lens", "arrives")
        core.origin = None
        _end_awaited(core)
        core.unreached = core.missed = None
        if ours:
            tx.tally = tx.tally._replace(arrived=number)
            tx.count_travel(core.preset, ordered=1)
    elif outcome == "refused":
        core.unreached = core.preset
        _refused(tx)
        tx.note("recall_refused", "engine: lens")
    else:
        if ours:
            tx.count_travel(core.preset, ordered=1, unconfirmed=1)
        else:
            _listen_for_echoes(tx, core.preset)
        if ours or core.awaited == "ours":
            core.unreached = core.preset
        lose_track(tx)
        tx.note("lens_lost", "engine: lens")


def _end_awaited(core: Core) -> None:
    """Await no more of a travel that was said to be over, if the lens was heard to set off."""
    if core.set_off:
        core.awaited = None


def _refused(tx: Transaction) -> None:
    """Put the lens back where it was, unless it was reported to have set off."""
    core = tx.core
    if core.set_off:
        tx.count_travel(core.preset, ordered=1, unconfirmed=1)
        lose_track(tx)
        return
    _stop_listening(tx)
    if core.origin is not None and tx.fire("lens", "stays"):
        core.preset, core.origin, core.back_to = core.origin, None, None
    else:
        lose_track(tx)


def _stop_listening(tx: Transaction) -> None:
    """Expect nothing more of the latest travel: it was never begun."""
    tx.core.echo = tx.core.awaited = None
    tx.set_timers(echo=None)


def _count_no_more(tx: Transaction, preset: str | None) -> None:
    """Take back the travel of an order that was given up, and had never left."""
    counted = any(one.preset == preset and one.unconfirmed for one in tx.tally.travels)
    if counted:
        tx.count_travel(preset, ordered=-1, unconfirmed=-1)


def recall_unsent(tx: Transaction) -> None:
    """Take the latest recall as never given, for it could not leave; it may be given again."""
    core = tx.core
    if core.set_off:
        return  # The lens has been heard since: that is newer.
    if core.recall is None and core.awaited == "ours":
        _count_no_more(tx, core.echo or core.preset)
    _stop_listening(tx)
    core.unreached = core.back_to = None
    if core.title:
        core.left_title = min(tx.room.pace.per_title, core.left_title + 1)
    if core.recall is not None:
        core.recall = None
        tx.set_timers(travel=None)
        _refused(tx)
    elif core.lens == "resting" and not tx.room.projector.lens.reports:
        lose_track(tx)  # It only counts as arrived because the time for that is over.


def travel_time_over(tx: Transaction) -> None:
    """End a travel whose time is over: a silent lens has arrived, one that reports is lost."""
    core = tx.core
    if core.lens != "travelling":
        return  # Lost on the way: now it will at least stand still.
    if tx.fire("lens", "time_is_over"):
        if core.recall is not None:
            tx.count_travel(core.preset, ordered=1, unconfirmed=1)
            core.recall = None
        core.origin = None
        _end_awaited(core)
        if core.preset is None:
            lose_track(tx)
    else:
        recall_ended(tx, "no answer")
