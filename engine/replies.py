"""Replies to people: whether their word was taken, why, and what happens next.

Made from a step that has been taken, by whoever carries the reply; the step itself knows nothing
of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple, get_args

from engine.catalogue import NOTHING_NAMED
from engine.choosing import AS_IT_STANDS
from engine.decisions import Note, PromptOver, Withdrawn
from engine.events import Answer, FindLens, Forget, Helper, Mark, Override, ToldFact, Undo
from engine.reconcile import is_dark
from engine.room import Show
from engine.upcoming import Upcoming, moves, next_due, upcoming

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.decisions import Decision
    from engine.events import Event
    from engine.holds import HoldCode
    from engine.refusal import Refused
    from engine.room import Room
    from engine.state import Core, OverrideUntil, State
    from engine.upcoming import NextCode

PEOPLES_EVENTS: Final = (Answer, Override, Undo, FindLens, Forget, Helper, ToldFact, Mark)
"""The events that are a person's word: each of them gets a reply."""
ReplyCode = Literal["stands", "known", "noted", "forgotten", "more_time", "room_taken"]
"""What is replied where no decision, hold or refusal says it. `room_taken` answers a room file."""
OwnWord = Literal[
    "at_screen",
    "answered_done",
    "answered_late",
    "answered_no",
    "not_tonight",
    "all_away",
    "nobody_free",
    "override_begun",
    "person_asked",
]
"""The reasons that others are told and that have a second sentence for whoever gave them."""

OF_CUES: Final[frozenset[HoldCode]] = frozenset({"no_source", "service", "projector"})
_OF_ALL: Final[frozenset[HoldCode]] = OF_CUES | {"at_screen"}
OF_PICTURE: Final[frozenset[HoldCode]] = _OF_ALL | {"flash", "nearest", "menu", "left_alone"}
OF_PANELS: Final[frozenset[HoldCode]] = _OF_ALL | {
    *("helper", "paused", "mid_title", "travelling", "travel_first", "circle", "linger")
}
OF_LENS: Final[frozenset[HoldCode]] = _OF_ALL | {
    *("travelling", "paused", "lens_unknown", "panels", "first_minutes", "per_title", "per_night"),
    *("unreached", "asked", "circle", "linger", "picture", "put_back", "lens_nowhere"),
}


class PersonReply(NamedTuple):
    """What a person hears of their word."""

    taken: bool
    code: str
    """A code of the catalogue: a reason or a note of what was decided (`row`: the room file's own
    words), a hold, a refusal, or a `ReplyCode`."""
    words: str
    """Why, in one sentence in the room's language."""
    hold: HoldCode | None
    """What keeps back what was asked for, or a part of it."""
    help: str | None
    """What would help against that, in the room's language."""
    next: tuple[Upcoming, ...]
    """What happens next, never empty."""


def reply_of_refusal(room: Room, refused: Refused) -> PersonReply:
    """Say that a word was not taken, and why."""
    words = room.catalogue.say("refusal", refused.code)
    following = (upcoming(room, "nothing", None),)
    return PersonReply(
        taken=False, code=refused.code, words=words, hold=None, help=None, next=following
    )


def reply_to_person(
    room: Room, event: Event, before: State, after: State, decisions: Sequence[Decision]
) -> PersonReply:
    """Say what came of a person's event that was taken: `decisions` followed from it."""
    hold = _hold_of(event, before.core, after.core)
    code, words = _reason(room, event, decisions, hold)
    if code == "stands" and _is_news(event, before.core, after.core):
        code, words = "known", _known(room, event)
    # A prompt that has more time is put again as it was: nothing moves, and nobody is sent.
    said = () if _wants_time(event) else decisions
    moved = tuple(moves(room, said, was_dark=is_dark(before.core)))
    following = (
        *moved,
        *_in_a_moment(room, event, after, moved),
        *_end_of_override(room, event, after.core),
    )
    if not following and not isinstance(event, Mark):
        following = next_due(room, after)
    return PersonReply(
        taken=True,
        code=code,
        words=words,
        hold=hold,
        help=None if hold is None else room.catalogue.say("help", hold),
        next=following or (upcoming(room, "nothing", None),),
    )


def _reason(
    room: Room, event: Event, decisions: Sequence[Decision], hold: HoldCode | None
) -> tuple[str, str]:
    """Say in one sentence why what happens does: by its code, and in words."""
    if isinstance(event, Forget):
        return "forgotten", room.catalogue.say("reply", "forgotten")
    if _wants_time(event):
        done: ReplyCode = "more_time" if decisions else "stands"
        return done, room.catalogue.say("reply", done)
    deeds = [one for one in decisions if not isinstance(one, Note | Withdrawn)]
    # Of an answer the end of its prompt tells most, of anything else the order that follows.
    deeds.sort(key=lambda one: isinstance(one, PromptOver) is not isinstance(event, Answer))
    if deeds:
        return deeds[0].code, _to_asker(room, deeds[0])
    if hold is not None:
        return hold, room.catalogue.say("hold", hold)
    for decision in decisions:
        if decision.code in {"override_begun", "override_ended", "nobody_free"}:
            return decision.code, _to_asker(room, decision)
    code: ReplyCode = "noted" if isinstance(event, Mark) else "stands"
    told = isinstance(event, ToldFact)
    return ("known", _known(room, event)) if told else (code, room.catalogue.say("reply", code))


def _to_asker(room: Room, decision: Decision) -> str:
    """Give the reason to the person who asked: `you` did it, where others read `somebody`."""
    own = decision.code in get_args(OwnWord)
    return room.catalogue.say("reply", decision.code) if own else decision.reason


def _known(room: Room, event: Event) -> str:
    """Say that something is known now, and what, if the room file has a label for it."""
    about = NOTHING_NAMED
    if isinstance(event, ToldFact) and event.value is not None:
        about = room.labels_told(event.fact, event.value)
    return room.catalogue.say("reply", "known", about)


def _wants_time(event: Event) -> bool:
    return isinstance(event, Answer) and event.answer == "more_time"


def _is_news(event: Event, before: Core, after: Core) -> bool:
    """Tell whether what somebody has said of panels, or of who is free, was not known before."""
    if isinstance(event, Answer):
        return before.arrangement != after.arrangement
    return isinstance(event, Helper) and (before.panels, before.left, before.interrupted) != (
        after.panels,
        after.left,
        after.interrupted,
    )


def _hold_of(event: Event, before: Core, after: Core) -> HoldCode | None:
    """Find the first hold that keeps back what an event asks for; None: nothing does."""
    if isinstance(event, Answer | Mark):
        return None
    wish = _wish(event, before, after)
    of_panels = after.asked is None or after.asked.panels != after.wanted.panels
    kept_back: frozenset[HoldCode] = frozenset()
    if wish.preset not in (None, after.preset):
        kept_back |= OF_LENS
    if wish.panels is not None and wish.panels != after.arrangement and of_panels:
        kept_back |= OF_PANELS
    if wish.picture is not None or wish.lift is not None:
        kept_back |= OF_PICTURE
    if isinstance(event, Override) and event.taken and _wants_cues(event, after):
        kept_back |= OF_CUES
    return next((hold for hold in after.holds if hold in kept_back), None)


def _wants_cues(event: Override, after: Core) -> bool:
    """Tell whether somebody wants a cue that has not even been ordered."""
    ordered = dict(after.cues) | {one.cue: one.value for one in after.open_cues}
    cues = {} if event.look is None else event.look.cues or {}
    return any(ordered.get(name) != value for name, value in cues.items())


def _names_only_cues(event: Override) -> bool:
    look = event.look
    if look is None or not look.cues:
        return False
    return (look.picture, look.lift, look.preset, look.panels) == (None, None, None, None)


def _wish(event: Event, before: Core, after: Core) -> Show:
    """Give what an event asks for: what a person named, or what is wanted otherwise since."""
    if isinstance(event, Override) and event.taken and _names_only_cues(event):
        return AS_IT_STANDS  # What holds their look back holds back no cue.
    if isinstance(event, Undo | FindLens) or (isinstance(event, Override) and event.taken):
        return after.override_look or AS_IT_STANDS
    if isinstance(event, Helper):
        return Show(panels=after.wanted.panels if event.free else None)
    old, new = before.wanted, after.wanted
    return Show(
        None if new.picture == old.picture else new.picture,
        None if new.lift == old.lift else new.lift,
        None if new.preset == old.preset else new.preset,
        None if new.panels == old.panels else new.panels,
    )


def _in_a_moment(
    room: Room, event: Event, after: State, moved: tuple[Upcoming, ...]
) -> tuple[Upcoming, ...]:
    """Give what follows by itself where a picture waits only because another has just changed."""
    if isinstance(event, Mark) or "flash" not in after.core.holds:
        return ()
    named = {one.code for one in moved}
    if "lens" in named:
        named.add("lens_arrives")  # It is the same travel, with the same end.
    return tuple(one for one in next_due(room, after) if one.code not in named)


def _end_of_override(room: Room, event: Event, after: Core) -> tuple[Upcoming, ...]:
    """Say until when whoever has just taken over has the room."""
    if not isinstance(event, Override | Undo | FindLens) or after.override != "person":
        return ()
    codes: dict[OverrideUntil, NextCode] = {
        "title": "until_title",
        "session": "until_session",
        "time": "until_time",
        "arrival": "until_arrival",
    }
    return (upcoming(room, codes[after.override_until], after.timers.override),)
