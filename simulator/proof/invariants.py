"""Invariants: what must hold in every state that a room can reach, checked on one step.

These are the engine's own promises, whatever a room file says. They are checked from outside,
against nothing but what was reported, what was ordered and what the State shows. Each check
yields a sentence for what it finds broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.aspect import SCALE
from engine.decisions import Decision, Note, PictureOrder, Prompt, PromptOver, RecallOrder
from engine.events import (
    Event,
    LensReport,
    Outcome,
    OutcomeWord,
    Override,
    PanelReport,
    ProjectorReport,
    Resumed,
    Service,
)
from engine.facts import pausing
from engine.lens import WITHOUT_LIGHT
from engine.optics import on_panel
from engine.reconcile import LIT
from engine.room import DARK, PLAIN, Room
from engine.state import Core
from simulator.proof.end_invariants import stay_ended
from simulator.proof.remembered_invariants import begins
from simulator.proof.word_invariants import DARKENED, word_violations

OPEN = frozenset({"asked", "reminded"})
NO = frozenset({"declined", "expired"})


def step_violations(before: Core, decisions: tuple[Decision, ...], after: Core) -> list[str]:
    """Check a step on two cores; `picture_on_panels` checks where the picture falls.

    `order_invariants` checks more of the second half of a step.
    """
    found = [*_standing(after), *_prompt_open(after)]
    if "lens_unknown" in after.holds:
        found += _held(after)
    found += _people_asked(before, decisions, after)
    if pausing(before) and pausing(after) and before.override == after.override == "rules":
        found += _moved_in_pause(before, decisions)
    recalls = 0
    for decision in decisions:
        if isinstance(decision, RecallOrder):
            recalls += 1
            found += _recalled(before, decision, after)
        elif isinstance(decision, PictureOrder):
            if after.service and before.service:
                found.append("an order while a technician is at work")
        elif isinstance(decision, Prompt) and decision.ends < decision.at:
            found.append("a prompt that ends before it is made")
    if recalls > 1:
        found.append("two recalls in one step")
    return found


def _standing(core: Core) -> Iterator[str]:
    """Check that the lens, its place, its order and its timer agree."""
    if (core.lens == "unknown") != (core.preset is None) and core.lens != "travelling":
        yield f"the lens is {core.lens}, but its preset {core.preset}"
    if core.lens == "travelling" and core.timers.travel is None:
        yield "a travel without its end"
    if core.recall is not None and core.lens != "travelling":
        yield f"a recall is under way, but the lens is {core.lens}"
    if core.picture is not None and core.timers.picture is None:
        yield "a picture order without its end"
    if core.override == "rules" and core.override_look is not None:
        yield "a person's look without a person"
    if core.shown is not None and (core.service or core.projector not in LIT):
        yield "a picture is known in service, or without light"
    if core.left_title < 0 or core.left_night < 0:
        yield "more recalls than the pace allows"


def _prompt_open(core: Core) -> Iterator[str]:
    """Check that an open prompt always ends, and that the panels' machine knows it is open."""
    if (core.asked is not None) != (core.panels in OPEN):
        yield f"panels are {core.panels}, but the prompt is {core.asked}"
    if (core.asked is not None) != (core.timers.give_up is not None):
        yield "an open prompt without its end, or an end without a prompt"


def _held(core: Core) -> Iterator[str]:
    """Check that the hold for a lens of unknown place holds for such a lens, and not for ever.

    Without this check an engine that never recalls a preset would break no promise at all.
    """
    if core.lens != "unknown":
        yield f"a recall is held back for a lens whose place nobody knows, but it is {core.lens}"
        return
    awaited = core.awaited == "ours" and core.timers.echo is not None
    free = core.playback == "stopped" or core.pause_over or core.override == "person"
    if free and core.timers.travel is None and not awaited:
        yield "a lens whose place nobody knows is left there, though it may be sent off"


def _people_asked(before: Core, decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """Check that the panels' machine follows the prompts; only people or time can refuse one."""
    stage = refusal = ""
    for one in decisions:
        if isinstance(one, Prompt) and after.asked is not None and one.id == after.asked.id:
            stage = one.stage if one.stage in OPEN else stage
        elif isinstance(one, PromptOver) and one.how in NO:
            refusal = one.how
        elif isinstance(one, Note) and one.code == "nobody_free":
            refusal = one.code
    if stage and after.panels != stage:
        yield f"somebody was {stage}, but panels are {after.panels}"
    kept = before.interrupted
    if kept is not None and kept.refused and begins(before, after):
        refusal = "no"  # It was said to the title that goes on.
    if after.panels == "refused" and before.panels != "refused" and not refusal:
        yield "panels are refused, but nobody has said no, and no prompt has expired"


def _moved_in_pause(before: Core, decisions: tuple[Decision, ...]) -> Iterator[str]:
    """Check that a pause moves nothing: rules order nothing new until it ends or counts as a stop.

    The lens is not recalled, and nobody is asked for panels but those that were wanted before it,
    for which it is a good moment. A picture may be ordered
    again for safety, or because somebody has moved equipment: dark, plain where nothing else can
    be shown, or the picture that stood before, with its lift and its shape. Cues are free.
    """
    shown = None if before.failed else before.shown  # Of one that has failed nothing stands.
    held = None if before.row is None else before.wanted
    for one in decisions:
        if isinstance(one, RecallOrder):
            yield f"a recall of {one.preset} in a pause"
        elif isinstance(one, Prompt) and one.stage == "asked":
            if held is not None and one.panels != held.panels:
                yield f"somebody is asked for panels {one.panels} in a pause that holds others"
        elif isinstance(one, PictureOrder) and one.picture != DARK and held is not None:
            if one.picture not in {held.picture, PLAIN}:
                yield f"picture {one.picture} in a pause that holds {held.picture}"
            if one.lift != held.lift / SCALE:
                yield f"a picture lifted by {one.lift} in a pause that holds {held.lift / SCALE}"
            stood = None if shown is None or shown.picture == DARK else shown.aspect / SCALE
            if stood not in {None, one.aspect}:
                yield f"a picture of {one.aspect} in a pause that began with one of {stood}"


def picture_on_panels(room: Room, core: Core) -> Iterator[str]:
    """Check that no picture falls on a panel that is or may be fitted, at either end of a travel.

    Both ends are looked at, and not only the one that the engine takes for the larger.
    """
    shown = core.shown
    if shown is None:
        return
    ends = (core.origin, core.preset) if core.lens == "travelling" else (core.preset,)
    places = (None,) if core.lens == "unknown" or None in ends else ends
    if any(on_panel(room, shown.region, place, core.arrangement) for place in places):
        yield f"picture at {shown.region} falls on panels ({core.arrangement or 'not known'})"


def _recalled(before: Core, recall: RecallOrder, after: Core) -> Iterator[str]:
    """Check that a recall comes alone, within its limits, with light, and against nobody's wish."""
    if after.lens != "travelling" or after.preset != recall.preset:
        yield f"a recall of {recall.preset}, but the lens is {after.lens} ({after.preset})"
    # The lens may have arrived and set off again within one step, but not anew to one place, unless
    # it has just come to rest elsewhere.
    anew = before.preset == recall.preset and after.missed == before.missed
    if before.lens == "travelling" and anew and before.recall:
        yield "a recall while the lens travels"
    lost = before.lens == "unknown" and after.origin is None
    watched = after.playback in {"playing", "paused"} and not after.pause_over
    if lost and watched and after.override == "rules":
        yield "a recall of a lens whose place nobody knows, while something plays"
    if after.service and before.service:
        yield "an order while a technician is at work"
    if after.projector not in LIT:
        yield "a recall without light"
    person = after.override == "person" and before.override == "person"
    if person and (after.override_look is None or after.override_look.preset is None):
        yield "a recall against an override"
    if after.asked is not None and after.asked.at_screen:
        yield "a recall while somebody is at the screen"


# ------------------------------------------------------------------- what was heard is what stands


def event_violations(room: Room, before: Core, event: Event, after: Core) -> Iterator[str]:
    """Check that what an event has reported is what is known after it, before any answer."""
    yield from word_violations(before, event, after)
    match event:
        case LensReport():
            yield from _lens_said(room, before, event, after)
        case PanelReport():
            if after.arrangement != event.panels and len(room.panels) > 1:
                yield f"panels reported {event.panels}, but known as {after.arrangement}"
            yield from _prompt_done(before, event.panels, after)
        case Override() if (after.override == "person") != event.taken:
            said = "begun" if event.taken else "ended"
            yield f"an override is {said}, but has {after.override}"
        case Outcome() if event.order == before.recall:
            yield from _recall_over(room, before, event.outcome, after)
        case Resumed(stalled=False) if before.lens == "travelling" and after.lens != "unknown":
            yield f"after a restart in mid-travel the lens is {after.lens}"
        case Service(begun=True) if not before.service:
            yield from _work_begun(before, after)
        case ProjectorReport() if event.state in DARKENED and event.state != before.projector:
            yield from _all_closed(after)
            yield from _session_over(after)
        case _:
            pass


def _session_over(after: Core) -> Iterator[str]:
    if after.override != "rules" or after.panels != "still":
        yield f"the session has ended with {after.override} and panels {after.panels}"


def only_accepted(core: Core) -> bool:
    """Tell whether a travel of ours was said to be done, and the lens was not heard since."""
    return core.lens == "resting" and core.awaited == "ours" and core.echo == core.preset


def has_left_unheard(room: Room, core: Core, preset: str | None) -> bool:
    """Tell whether a lens that rests at a preset has left on our travel, or may do so yet.

    Its order was given up, or only accepted: then what it is heard of first is where it still is.
    """
    if core.lens != "resting" or core.awaited != "ours" or preset == core.preset:
        return False
    return core.echo is not None and (core.echo != core.preset or room.projector.lens.reports)


def is_counted(core: Core, report: LensReport) -> bool:
    """Tell whether a lens that was not on its way sets off on a travel that was counted before."""
    if core.echo is None:
        return False
    if core.awaited is None:
        return report.id is None and core.echo == (report.preset or "")
    return report.preset is None or core.echo in {"", report.preset}


def _goes_on(before: Core, after: Core) -> Iterator[str]:
    if (after.lens, after.preset) != ("travelling", before.preset):
        yield f"the lens is on its way as ordered, but {after.lens} ({after.preset})"
    if after.override != before.override:
        yield "a lens on its way as ordered is taken for somebody's doing"


def _lens_said(room: Room, before: Core, report: LensReport, after: Core) -> Iterator[str]:
    preset = report.preset
    if not report.known:
        yield from _in_doubt(before, after)
    elif report.moving:
        yield from _set_off(before, report, after)
    elif preset is None:
        if after.lens != "unknown":
            yield f"the lens rests at no preset, but is {after.lens}"
    else:
        if _has_not_set_off(room, before, preset):
            if (after.lens, after.origin) != ("travelling", preset):
                yield f"the lens is still at {preset}, but {after.lens} (from {after.origin})"
            return
        if after.lens != "resting" or after.preset != preset:
            yield f"the lens rests at {preset}, but is {after.lens} ({after.preset})"


def _has_not_set_off(room: Room, before: Core, preset: str) -> bool:
    """Tell whether a lens that rests is still where it was before our order."""
    if only_accepted(before):
        return has_left_unheard(room, before, preset)
    ours = before.recall is not None or before.awaited == "ours"
    travelling = before.lens == "travelling"
    return travelling and ours and not before.set_off and preset == before.origin


def _in_doubt(before: Core, after: Core) -> Iterator[str]:
    if after.lens != ("travelling" if before.lens == "travelling" else "unknown"):
        yield f"nobody knows where the lens is, and it is {after.lens}"
    if after.override != before.override:
        yield "a lens of which nothing is known is taken for somebody's doing"


def _set_off(before: Core, report: LensReport, after: Core) -> Iterator[str]:
    preset = report.preset
    if only_accepted(before) and preset in {None, before.preset}:
        yield from _goes_on(before, after)
        return
    echo = is_counted(before, report)
    over = before.awaited is None and before.preset == (before.echo or None)
    if before.lens != "travelling" and echo and over:
        return
    if after.lens != "travelling" or preset not in {None, after.preset}:
        yield f"the lens goes to {preset}, but is {after.lens} ({after.preset})"
    ours = before.recall is not None and preset in {None, before.preset}
    known = before.lens == "travelling" and preset in {None, before.preset}
    away = before.projector in WITHOUT_LIGHT or before.timers.unseen is not None
    seen = before.service or away or echo or ours or known
    if not seen and before.preset is not None and after.override != "person":
        yield "a travel that nobody ordered is no override"


def _prompt_done(before: Core, panels: str | None, after: Core) -> Iterator[str]:
    asked = before.asked
    if asked is not None and asked.panels == panels and not asked.at_screen:
        if after.asked is not None or after.panels != "still":
            yield f"panels stand as asked for, but are {after.panels}"
    elif before.asked is None and after.panels != before.panels:
        yield f"panels were {before.panels}, and a report has made them {after.panels}"


def _recall_over(room: Room, before: Core, outcome: OutcomeWord, after: Core) -> Iterator[str]:
    if outcome == "done" and before.set_off and room.projector.lens.reports:
        good = (after.lens, after.recall) == ("travelling", before.recall)
    elif outcome == "done":
        good = after.lens == "resting" and after.preset == before.preset
    elif outcome == "refused" and not before.set_off:
        good = after.preset == before.origin and after.unreached == before.preset
    else:
        good = after.lens == "unknown" and after.unreached == before.preset
    if not good:
        yield f"a recall of {before.preset} was {outcome}, but the lens is {after.lens}"


def _all_closed(after: Core) -> Iterator[str]:
    if after.asked is not None or after.panels in OPEN or after.picture is not None:
        yield "an order or a prompt is open that nobody wants any more"


def _work_begun(before: Core, after: Core) -> Iterator[str]:
    yield from _all_closed(after)
    if (after.panels == "refused") != (before.panels == "refused"):
        yield f"panels were {before.panels}, and somebody's work has made them {after.panels}"


def timer_violations(room: Room, before: Core, timer: str, after: Core) -> Iterator[str]:
    """Check that a timer that has run out has had its effect."""
    if getattr(after.timers, timer) is not None and timer not in {"pause", "session"}:
        yield f"the timer {timer} has run out and runs on"
    if timer != "give_up":
        yield from stay_ended(before, after)
    match timer:
        case "travel" if before.lens == "travelling":
            yield from _travel_over(room, before, after)
        case "give_up" if before.asked is not None:
            if after.asked is not None or after.panels != "refused":
                yield f"a prompt has expired, but panels are {after.panels}"
        case "remind" if before.asked is not None and not before.asked.at_screen:
            if after.panels != "reminded":
                yield f"somebody was to be reminded, but panels are {after.panels}"
        case "override" if after.override != "rules":
            yield "an override that was to end has not"
        case "session":
            yield from _session_run_out(before, after)
        case _:
            pass


def _session_run_out(before: Core, after: Core) -> Iterator[str]:
    if before.asked is None or not before.asked.at_screen:
        yield from _session_over(after)
    elif after.asked is None:
        yield "the session has ended with somebody at the screen"


def _travel_over(room: Room, before: Core, after: Core) -> Iterator[str]:
    arrived = not room.projector.lens.reports and before.preset is not None
    if (after.lens, after.preset) != (("resting", before.preset) if arrived else ("unknown", None)):
        yield f"a travel's time is over, but the lens is {after.lens} ({after.preset})"
    if not arrived and before.recall is not None and after.unreached != before.preset:
        yield "a preset that was never reached is not known as such"
