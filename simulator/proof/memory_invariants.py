"""Invariants of memory: what a report, an answer or a timer leaves to be remembered.

They are checked on the first half of a step, in which something is heard or falls due and nothing
is ordered. Each check yields a sentence for what it finds broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.decisions import Prompt, PromptOver, Withdrawn
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Override,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    Service,
    SourceChosen,
    Title,
)
from engine.facts import pausing
from engine.lens import WITHOUT_LIGHT
from engine.outcomes import RETRY_AFTER
from engine.room import Room
from engine.state import Core, Tally
from engine.transaction import Transaction
from simulator.proof.claim_invariants import claims_of_word
from simulator.proof.end_invariants import ends_unsaid
from simulator.proof.footprints import differ
from simulator.proof.invariants import has_left_unheard, is_counted
from simulator.proof.remembered_invariants import (
    goes_on,
    remembered_violations,
    stands_again,
)


def memory_violations(
    before: Core, tally: Tally, heard: Event | str, tx: Transaction
) -> Iterator[str]:
    """Check what is remembered after an event, or after a timer of that name."""
    after = tx.core
    yield from ends_unsaid(before, tx.decisions, after)
    yield from claims_of_word(tx.room, (before, tally), heard, (after, tx.tally))
    yield from _orders_ended(before, heard, tx)
    yield from _times(before, heard, tx)
    yield from remembered_violations(before, heard, after)
    counted = 0 if tx.tally is tally else _travels(tx.tally) - _travels(tally)
    if counted != (reported := travels_told(tx.room, before, heard)):
        yield f"{reported} travels are told of, and {counted} counted"
    if isinstance(heard, str):
        yield from _due(before, heard, tx)
    else:
        if after.left_night != before.left_night:
            yield "recalls are granted, though no new night has begun"
        yield from _heard(before, heard, tx)
        if isinstance(heard, Answer):
            yield from _answered(before, heard, tx)
            yield from _late(before, tally, heard, tx)
            yield from _put_off(before, heard, tx)


def _travels(tally: Tally) -> int:
    return sum(one.ordered + one.by_hand for one in tally.travels)


def travels_told(room: Room, before: Core, heard: Event | str) -> int:
    """Count the travels that something heard, or the end of a travel's time, is the last word of.

    A travel of ours counts once it is over; one by hand as soon as it is heard of.
    """
    match heard:
        case "travel" | Resumed(stalled=False):
            return int(before.recall is not None)
        case Outcome():
            return int(heard.order == before.recall and _told_by(room, before, heard))
        case LensReport():
            return _told_by_lens(room, before, heard)
        case _:
            return 0


def _told_by_lens(room: Room, before: Core, report: LensReport) -> int:
    """Count the travels that a report of the lens is the last word of."""
    if not report.known:
        return 0
    if before.lens == "travelling":
        return _told_on_the_way(before, report)
    if report.moving:
        return int(not is_counted(before, report))
    elsewhere = before.lens == "resting" and report.preset != before.preset
    return int(elsewhere and not has_left_unheard(room, before, report.preset))


def _told_by(room: Room, before: Core, outcome: Outcome) -> bool:
    """Tell whether the outcome of a recall is the last word of its travel."""
    if outcome.outcome == "done":
        return not (before.set_off and room.projector.lens.reports)
    return outcome.outcome != "refused" or before.set_off


def _told_on_the_way(before: Core, report: LensReport) -> int:
    """Count the travels that a report during another is the last word of."""
    ours, there = before.recall is not None, report.preset == before.preset
    if report.moving:
        if ours:
            return 0 if there or report.preset is None else 2
        named = before.preset is None and report.preset is not None
        return int(not named and not there and report.preset is not None)
    if report.preset is None:
        return int(ours)
    if not ours:
        counted = before.awaited == "ours"
        return int(not there and before.preset is not None and not counted)
    if not before.set_off and report.preset == before.origin:
        return 0
    return 1


def _orders_ended(before: Core, heard: Event | str, tx: Transaction) -> Iterator[str]:
    """Check that an order ends by its outcome, its time, a restart, or by being withdrawn."""
    withdrawn = {one.order for one in tx.decisions if isinstance(one, Withdrawn)}
    if isinstance(heard, Outcome):
        withdrawn.add(heard.order)
    ended = differ(before, tx.core, "picture") and tx.core.picture is None
    if ended and before.picture is not None:
        if before.picture not in withdrawn and heard != "picture" and not _is_restart(heard):
            yield "an open picture order is forgotten, and nobody is told"
        done = isinstance(heard, Outcome) and heard.outcome == "done"
        if not done and not tx.core.failed and tx.core.shown is not None:
            yield "a picture is taken as shown, though nobody has said that it was done"
        if tx.core.failed and before.tries < len(RETRY_AFTER) and tx.core.timers.retry is None:
            yield "a picture has failed for the first or second time, and is not tried again"
    number = heard.order if isinstance(heard, Outcome) else None
    for cue in before.open_cues:
        if number == cue.id and dict(tx.core.cues).get(cue.cue) != cue.value:
            yield f"cue {cue.cue} has been answered, and would be ordered for ever"


def _is_restart(heard: Event | str) -> bool:
    return isinstance(heard, Resumed)


def _times(before: Core, heard: Event | str, tx: Transaction) -> Iterator[str]:
    """Check that whatever has to end has its end, and that no word puts the session's end off."""
    after, pace = tx.core, tx.room.pace
    idle = after.playback != "playing" and not pausing(after)
    if idle and after.timers.session is None and _lasting(after):
        yield "an override or a refusal lasts for the session, which has no end"
    began = isinstance(heard, Playback) or heard in {"pause", "session"}
    if not began and differ(before, after, "timers"):
        running = before.timers.session
        if running is not None and after.timers.session not in {None, running}:
            yield "the session's end is put off, though nothing has been played"
    if pausing(after) and after.timers.pause is None:
        yield "a pause without its end"
    if not pausing(before) and pausing(after) and after.timers.pause != tx.now + pace.pause:
        yield "a pause does not end when pace says"
    yield from _times_of_title(before, heard, tx)


def _times_of_title(before: Core, heard: Event | str, tx: Transaction) -> Iterator[str]:
    """Check what begins anew with a title, and its first minutes, which fitted panels give anew."""
    after, pace = tx.core, tx.room.pace
    begins = isinstance(heard, Title) and _begins(before, heard)
    stand = any(isinstance(one, PromptOver) and one.how == "done" for one in tx.decisions)
    fresh = after.title and (begins or stand)
    ends = tx.now + pace.first_minutes if pace.first_minutes else None
    if fresh and after.timers.first_minutes != ends:
        yield "a title's first minutes do not begin where they should"
    if begins and after.panels == "refused" and before.refused_until == "title":
        kept = goes_on(before, after)
        if kept is None or not kept.refused:
            yield "a no that was for one title is for the next one too"
    if begins and after.ripe:
        yield "what has long been wanted for the last title is wanted for this one at once"


def _lasting(core: Core) -> bool:
    """Tell whether something lasts until the end of the session."""
    return core.override == "person" or core.panels == "refused" or bool(core.cue_overrides)


def _begins(before: Core, event: Title) -> bool:
    """Tell whether a title begins that is not the one that is on."""
    another = event.name is not None and before.title_name != event.name
    return event.begun and (another or not before.title)


def _due(before: Core, timer: str, tx: Transaction) -> Iterator[str]:
    """Check that people are told what a timer means to them, and that a pause comes to its end."""
    stages = {one.stage for one in tx.decisions if isinstance(one, Prompt)}
    if timer == "remind" and before.asked is not None:
        stage = "light comes back" if before.asked.at_screen else "reminded"
        if stages != {stage}:
            yield f"people should hear: {stage}"
    if timer == "retry" and tx.core.failed:
        yield "a picture that failed is to be tried again, and is not"
    if timer == "pause" and not tx.core.pause_over:
        yield "a pause lasts for ever"
    if timer == "pause" and tx.core.title:
        yield "a title outlasts a pause that counts as a stop"


def _heard(before: Core, event: Event, tx: Transaction) -> Iterator[str]:
    """Check that a report undoes what no longer holds once it is heard."""
    after = tx.core
    if _changes_room(before, event):
        yield from _fresh_start(before, event, after)
    match event:
        case Title(begun=False) | Playback(state="stopped") if after.title:
            yield "a title outlasts its end"
        case Playback() if event.state != before.playback and after.pause_over:
            yield "a pause that is over counts as a stop for ever"
        case Resumed():
            yield from _resumed(before, event, after)
        case Override() if event.look is not None:
            yield from _wished(event, after)
        case LensReport() | Outcome():
            yield from _moved(tx.room, before, event, after)
        case PanelReport() if (
            after.override_look is not None and event.panels != before.arrangement
        ):
            if after.override_look.panels not in {None, event.panels}:
                yield "a person has moved panels, and still wants what they wanted before"
        case _:
            pass
    ended = before.title and (not after.title or after.title_name != before.title_name)
    still = after.override == "person" and not stands_again(after)
    if ended and before.override_until == "title" and still:
        yield "an override outlasts the title that it was to last for"


def _changes_room(before: Core, event: Event) -> bool:
    """Tell whether an event changes so much that what has failed may succeed now."""
    match event:
        case SourceChosen():
            return event.source != before.source is not None
        case Title():
            return _begins(before, event)
        case ProjectorReport():
            return event.state != before.projector
        case Service():
            return event.begun != before.service
        case _:
            return False


def _fresh_start(before: Core, event: Event, after: Core) -> Iterator[str]:
    """Check that what has failed may be tried again, and that nobody else's work is relied on."""
    if after.unreached is not None:
        yield f"{after.unreached} was not reached once, and is never tried again"
    if after.failed and before.failed:
        yield "a picture has failed once, and is never tried again"
    if isinstance(event, Service) and after.shown is not None:
        yield "a picture is taken as known, though a technician may have changed it"
    dark = isinstance(event, ProjectorReport) and event.state in WITHOUT_LIGHT
    if dark and after.shown is not None:
        yield "a picture is taken as known, though there is no light"


def _resumed(before: Core, event: Resumed, after: Core) -> Iterator[str]:
    """Check that after a stop nothing is taken as done of which nobody has heard."""
    if event.stalled:
        yield from _stood_still(before, event, after)
        return
    if before.picture is not None and (after.picture is not None or after.shown is not None):
        yield "a picture is taken as known, though its order was cut off"
    if after.timers.travel != before.timers.travel:
        yield "a travel is taken as over, though nobody has seen its end"
    if after.unreached != before.unreached:
        yield "a preset is taken as not reached, though the lens may arrive unheard"


def _stood_still(before: Core, event: Resumed, after: Core) -> Iterator[str]:
    """Check that after it only stood still nothing is forgotten but what could not be ordered."""
    moved = (before.lens, before.preset, before.recall) != (after.lens, after.preset, after.recall)
    if moved and "recall" not in event.unsent:
        yield "the lens is taken to have moved, though roomcue only stood still"
    if "picture" in event.unsent:
        if after.picture is not None or after.shown is not None or after.failed:
            yield "a picture is taken as known, though its order never left"
    elif (before.picture, before.shown) != (after.picture, after.shown):
        yield "a picture is forgotten, though roomcue only stood still"
    if "recall" in event.unsent and not before.set_off and after.recall is not None:
        yield "a recall is under way that never left"


def _wished(event: Override, after: Core) -> Iterator[str]:
    """Check that what a person wants is tried, whatever has failed before."""
    look = event.look
    if look is not None and look.preset is not None and after.unreached == look.preset:
        yield f"a person wants {look.preset}, and it is not tried because it once failed"
    if look is not None and look.picture is not None and after.failed:
        yield f"a person wants {look.picture}, and it is not tried because it once failed"
    if look is not None and look.panels is not None and after.panels == "refused":
        yield f"a person wants {look.panels}, and nobody is asked because somebody once said no"


def _moved(room: Room, before: Core, event: LensReport | Outcome, after: Core) -> Iterator[str]:
    """Check that a lens that is somewhere is known to be, and that whoever moved it is heeded."""
    arrived = after.lens == "resting" and before.lens != "resting" and before.preset == after.preset
    if arrived and after.unreached == after.preset:
        yield f"{after.preset} is reached, and still counts as not reached"
    if before.service and before.override == "rules" != after.override:
        yield "a technician has moved the lens, and is taken for somebody who watches"
    if isinstance(event, LensReport) and before.recall is not None:
        yield from _missed_one(before, event, after)
    look = after.override_look
    by_hand = isinstance(event, LensReport) and travels_told(room, before, event) > 0
    if by_hand and before.recall is None and look is not None and look.preset is not None:
        yield "a person has moved the lens, and still wants what they wanted before"


def _put_off(before: Core, answer: Answer, tx: Transaction) -> Iterator[str]:
    """Check that more time is a whole period from now on, but not for ever, and warned of again."""
    asked, timers = before.asked, tx.core.timers
    if asked is None or answer.answer != "more_time":
        return
    if timers.give_up != min(tx.now + tx.room.pace.give_up, asked.latest):
        yield "more time is not the time that pace gives"
    elif asked.at_screen and (timers.remind is None or not tx.now < timers.remind < timers.give_up):
        yield "after more time the light comes back without warning"


def _missed_one(before: Core, report: LensReport, after: Core) -> Iterator[str]:
    """Check that a travel of ours that ended elsewhere is no person's, and has one more try."""
    if report.moving or not report.known:
        return
    still = not before.set_off and report.preset == before.origin is not None
    if report.preset == before.preset or still:
        return
    if after.override != before.override:
        yield "an ordered lens has come to rest elsewhere, and is taken for somebody's doing"
    if before.preset != (after.unreached if before.missed == before.preset else after.missed):
        yield f"{before.preset} was missed, and nobody remembers"


def _late(before: Core, tally: Tally, answer: Answer, tx: Transaction) -> Iterator[str]:
    """Check that after a late `done` the panels stand as its prompt asked, or nobody knows how."""
    if before.asked is not None and before.asked.id == answer.prompt:
        return
    told = {one.id: one.panels for one in tally.prompts}
    if told.get(answer.prompt, "") is None:
        yield "a prompt that was done is done once more"
    elif len(tx.room.panels) > 1 and tx.core.arrangement != told.get(answer.prompt):
        yield f"panels were done late, but are taken as {tx.core.arrangement}"


def _answered(before: Core, answer: Answer, tx: Transaction) -> Iterator[str]:
    """Check that whoever is ready has the pace's whole time, once, and is warned of its end."""
    if before.asked is None or answer.answer != "ready":
        return
    after, timers = tx.core, tx.core.timers
    if before.asked.at_screen:
        if timers != before.timers:
            yield "saying ready twice changes how long it stays dark"
    elif timers.give_up != tx.now + tx.room.pace.give_up:
        yield "whoever goes to the screen has not the whole time that pace gives"
    elif timers.remind is None or not tx.now < timers.remind < timers.give_up:
        yield f"the light comes back without warning, with panels {after.panels}"
