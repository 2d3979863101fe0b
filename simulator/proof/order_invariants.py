"""Invariants of orders: what pace, pauses, an override and people at the screen allow.

They are checked on the second half of a step, in which the engine chooses and orders and nothing
is heard. Each check yields a sentence for what it finds broken, and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.decisions import CueOrder, Decision, PictureOrder, Prompt, RecallOrder, Withdrawn
from engine.facts import pausing
from engine.optics import on_panel, removes, window
from engine.reconcile import LIT, standing_place
from engine.room import DARK, PLAIN, Room, Show
from engine.state import Core, PendingPrompt
from simulator.proof.end_invariants import ends_unsaid, stay_ended
from simulator.proof.wish_invariants import wishes_unanswered

SECOND: Final = 1_000
CHANGES_A_SECOND: Final = 3
"""So many large changes of the picture a second are safe for people's eyes, and no more."""
TO_AND_FRO: Final = 2
"""After so many recalls or prompts that nothing outside has asked for, rules go in a circle."""


def order_violations(
    room: Room, before: Core, decisions: tuple[Decision, ...], after: Core
) -> Iterator[str]:
    """Check the second half of a step, from one core to the other."""
    yield from ends_unsaid(before, decisions, after)
    if before.picture is not None or before.open_cues:
        yield from _replaced(before, decisions, after)
    yield from _counted(before, decisions, after)
    for one in decisions:
        yield from _decided(room, before, decisions, one, after)
    yield from wishes_unanswered(after)
    yield from stay_ended(before, after)
    if after.open_cues and after.timers.cue is None:
        yield "a cue's order without its end"
    if not after.service and after.projector in LIT and after.source is not None:
        yield from _at_screen(after)
        waits = "picture" in after.holds and "flash" not in after.holds
        if waits and after.picture is None and not after.failed:
            yield "a recall waits for a picture that nobody has ordered"
        if after.asked is not None and not after.asked.at_screen:
            yield from _wanted_of_people(after.asked, after)
        if after.shown is None and _maybe_covered(room, after):
            yield "nobody knows which picture stands before the panels, and none is ordered"


def _decided(
    room: Room, before: Core, decisions: tuple[Decision, ...], one: Decision, after: Core
) -> Iterator[str]:
    """Check one decision."""
    match one:
        case PictureOrder():
            yield from _picture_changed(room, before, one, after)
            if after.override == "person" and one.picture != DARK:
                yield from _picture_of_person(room, before, one, after)
        case CueOrder():
            yield from _cue(before, decisions, one, after)
        case RecallOrder():
            yield from _pace_of_recall(room, before, one, after)
            yield from _way_free(room, before, decisions, after)
        case Prompt(stage="asked"):
            yield from _asked(room, before, one, after)
        case Prompt(stage="at the screen"):
            yield from _sent(before, after)
        case _:
            pass


# ------------------------------------------------------------------------------------------- pace


def _counted(before: Core, decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """Check that each recall and each prompt is counted once, or no limit would ever be reached."""
    recalls = asked = 0
    for one in decisions:
        recalls += isinstance(one, RecallOrder)
        asked += isinstance(one, Prompt) and one.stage == "asked"
    if after.left_night != max(0, before.left_night - recalls):
        yield f"{recalls} recalls, but of {before.left_night} a night {after.left_night} are left"
    of_title = recalls if after.title else 0
    if after.left_title != max(0, before.left_title - of_title):
        yield f"{recalls} recalls, but of {before.left_title} a title {after.left_title} are left"
    known, by_rules = after.news == before.news, after.override == "rules"
    led_to = (recalls, asked) if by_rules else (0, 0)
    had = (before.recalls, before.asks) if known else (0, 0)
    if (after.recalls - had[0], after.asks - had[1]) != led_to:
        yield f"rules have led to {led_to} recalls and prompts more, which are not counted"


def _pace_of_recall(room: Room, before: Core, recall: RecallOrder, after: Core) -> Iterator[str]:
    """Check that the pace allows a recall: limits, what has failed, and how long it was wanted.

    A person's wish knows no limits, but what has failed is not tried again for them either.
    """
    by_rules = after.override == "rules"
    if by_rules and before.left_night <= 0:
        yield "a recall, but all of this night are used up"
    if by_rules and after.title and before.left_title <= 0:
        yield "a recall, but all of this title are used up"
    if by_rules and after.title and before.back_to not in {None, recall.preset}:
        yield f"a title's second recall goes to {recall.preset}, and not back"
    if before.unreached == recall.preset:
        yield f"{recall.preset} is tried again, though it was not reached and nothing has changed"
    if after.recalls > TO_AND_FRO:
        yield "rules send the lens to and fro"
    if not _lingered(room, before, recall.at, after, moved=before.wanted.preset != recall.preset):
        yield f"{recall.preset} is recalled, but has not been wanted for as long as pace says"
    if recall.ends - recall.at < room.projector.lens.travel or after.timers.travel != recall.ends:
        yield "a travel is over before the lens can be there"
    if after.ripe and not _counts_at_once(after) and room.pace.linger > 0:
        yield "what has been carried out still counts as wanted for long"
    if after.set_off:
        yield "a recall is taken as under way before anybody has said so"


def _counts_at_once(core: Core) -> bool:
    """Tell whether a wish need not stand for a while: a person's, or for a shape that is told."""
    return core.override == "person" or (core.title and core.declared is not None)


def _lingered(  # noqa: PLR0913 - each is one word of the question
    room: Room, before: Core, at: int, after: Core, *, moved: bool, people: bool = False
) -> bool:
    """Tell whether a wish of the rules has stood for long enough.

    A person's need not, nor one for a shape that the title declares.
    """
    if _counts_at_once(after):
        return True
    pace, timers = room.pace, before.timers
    ripe = before.ripe or pace.linger == 0 or (timers.linger is not None and timers.linger <= at)
    if not people:
        return pace.linger == 0 or (ripe and not moved)
    spared = timers.linger_people is not None and timers.linger_people > at
    return ripe and not spared and (not moved or pace.linger_people == 0)


def _way_free(
    room: Room, before: Core, decisions: tuple[Decision, ...], after: Core
) -> Iterator[str]:
    """Check that a lens sets off only once picture and panels are as they have to be."""
    if _order_open_at(before, decisions, RecallOrder):
        yield "a recall before it is known that the picture has shrunk"
    if (after.shown is None or after.failed) and _maybe_covered(room, before):
        yield "a recall, but nobody knows which picture stands before the panels"
    panels = after.wanted.panels  # What a person has wanted before, and given back, holds nothing.
    if panels is not None and removes(room, before.arrangement, panels):
        yield f"a recall before {panels} is fitted, which takes panels off"
    awaited = before.awaited == "ours" and before.timers.echo is not None
    unheard = awaited and room.projector.lens.reports
    if (before.lens == "unknown" and before.timers.travel is not None) or unheard:
        yield "a recall while another may still be under way"


def _order_open_at(before: Core, decisions: tuple[Decision, ...], kind: type[Decision]) -> bool:
    """Tell whether a picture's order is open when the first decision of a kind is made."""
    number = before.picture
    for one in decisions:
        if isinstance(one, kind):
            break
        if isinstance(one, Withdrawn) and one.order == number:
            number = None
    return number is not None


def _maybe_covered(room: Room, core: Core) -> bool:
    """Tell whether panels cover a part of the screen, or may."""
    return window(room, core.arrangement) != (room.screen.width, room.screen.height)


# ---------------------------------------------------------------------------------- picture, cues


def _picture_changed(room: Room, before: Core, order: PictureOrder, after: Core) -> Iterator[str]:
    """Check that a picture changes rarely enough for people's eyes, but for safety at once."""
    flash = after.timers.flash
    if flash is None or (flash - order.at) * CHANGES_A_SECOND < SECOND:
        yield "more large changes of the picture a second than are safe"
    if after.failed:
        yield "a picture is ordered, and taken as failed before it can be"
    shown, last = before.shown, before.timers.flash
    if shown is None or before.failed or last is None or last <= order.at or order.picture == DARK:
        return
    if not on_panel(room, shown.region, standing_place(room, before), before.arrangement):
        yield "a large change of the picture too soon after the last one"


def _picture_of_person(room: Room, before: Core, order: PictureOrder, after: Core) -> Iterator[str]:
    """Check that a picture that a person leaves as it stands is changed for their safety alone.

    It may be too large for panels now, a menu that is distorted, or dark. Whoever wants another
    preset or other panels has it fitted anew, but it stays what it is, or is shown plain.
    """
    shown, look = before.shown, after.override_look or Show()
    if shown is None or before.failed or look.picture is not None or look.lift is not None:
        return
    if look != Show():
        if order.picture not in {shown.picture, PLAIN} and shown.picture != DARK:
            yield "a person wants the lens or the panels elsewhere, and gets another picture"
        return
    place = standing_place(room, after)
    forced = shown.picture == DARK or shown.picture in room.pictures
    if not forced and not on_panel(room, shown.region, place, after.arrangement):
        yield "a picture is changed against an override"


def _replaced(before: Core, decisions: tuple[Decision, ...], after: Core) -> Iterator[str]:
    """Check that whoever carries an order out is told that a newer one has taken its place."""
    withdrawn = {one.order for one in decisions if isinstance(one, Withdrawn)}
    still = {after.picture, *(cue.id for cue in after.open_cues)}
    for order in (before.picture, *(cue.id for cue in before.open_cues)):
        if order is not None and order not in still and order not in withdrawn:
            yield "an open order is forgotten, and nobody is told"


def _cue(
    before: Core, decisions: tuple[Decision, ...], order: CueOrder, after: Core
) -> Iterator[str]:
    """Check that a cue is ordered only where it does not stand, and against nobody's own wish.

    Rules may have ordered it otherwise within the same step, before somebody was asked.
    """
    own = {one.cue: one.value for one in after.cue_overrides}
    if own.get(order.cue, order.value) != order.value:
        yield f"cue {order.cue} against an override"
    under_way = {cue.cue: cue.value for cue in before.open_cues}
    stands = under_way.get(order.cue, dict(before.cues).get(order.cue))
    for one in decisions[: decisions.index(order)]:
        stands = one.value if isinstance(one, CueOrder) and one.cue == order.cue else stands
    if stands == order.value:
        yield f"cue {order.cue} is ordered again"


# ----------------------------------------------------------------------------------------- people


def _asked(room: Room, before: Core, prompt: Prompt, after: Core) -> Iterator[str]:
    """Check that people are asked only when they should be, with the pace's own times."""
    if before.panels == "refused":
        yield "people who have refused are asked again"
    if after.lens == "travelling":
        yield "somebody is asked for panels while the lens travels"
    wish = after.wanted.preset
    travels_later = (
        pausing(after) and after.override == "rules" and wish not in {None, after.preset}
    )
    if travels_later and not removes(room, before.arrangement, prompt.panels):
        yield f"{prompt.panels} is to be fitted in a pause, before the lens travels after it"
    if after.asks > TO_AND_FRO:
        yield "rules ask for panels again and again"
    moved = before.wanted.panels != prompt.panels
    if not _lingered(room, before, prompt.at, after, moved=moved, people=True):
        yield f"{prompt.panels} is asked for, but not wanted for as long as pace says"
    timers, pace = after.timers, room.pace
    ends = prompt.at + pace.remind, prompt.at + pace.give_up
    if after.asked is not None and (timers.remind, timers.give_up) != ends:
        yield "a prompt is not reminded of, or does not end, when pace says"


def _sent(before: Core, after: Core) -> Iterator[str]:
    """Check that somebody goes to the screen once, in the dark, and while nothing moves."""
    if after.lens == "travelling":
        yield "somebody is sent to the screen while the lens travels"
    if after.picture is not None or after.shown is None or after.shown.picture != DARK:
        yield "somebody is sent to the screen before it is known to be dark"
    if before.asked is not None and before.asked.sent:
        yield "somebody at the screen is sent there again"


def _at_screen(after: Core) -> Iterator[str]:
    """Check that it is dark for whoever is at the screen and for nobody else, and they are told."""
    shown, asked = after.shown, after.asked
    dark = shown is not None and shown.picture == DARK
    if asked is None or not asked.at_screen:
        if dark and "flash" not in after.holds:
            yield "it is dark, though nobody is at the screen"
    elif not dark:
        yield "somebody is at the screen, and it is not dark"
    elif not asked.sent and after.picture is None and after.lens != "travelling":
        yield "somebody who is ready is not told that they may go to the screen"


def _wanted_of_people(asked: PendingPrompt, after: Core) -> Iterator[str]:
    """Check that a prompt is open only for panels that are wanted and do not stand."""
    want = after.wanted.panels
    if want != asked.panels or want == after.arrangement:
        yield f"somebody is asked for {asked.panels}, but {want or 'nothing'} is wanted"
