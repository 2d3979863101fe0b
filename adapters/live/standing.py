"""How a room stands, told to whoever comes along: a phone that comes late needs nothing else.

Nothing is claimed that is not known: each part of the look says what is reported to stand, what is
only ordered or asked for, and what has failed.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING, Final

from adapters.live.announcements import LAST_ID
from adapters.live.messages import (
    OutgoingMessage,
    body_of,
    nothing_asked_message,
    order_message,
    rfc3339,
)
from adapters.live.redating import seconds_left
from adapters.live.reply_messages import upcoming_data
from engine.aspect import SCALE, ratio_text
from engine.choosable import choosable
from engine.confirmed import known_cues, known_panels, known_picture, known_preset
from engine.decisions import CAUTIONS, Prompt
from engine.facts import aspect_of, what_is_remembered
from engine.prompts import send_prompt, stage_of
from engine.title_records import NO_CHOICE
from engine.transaction import Transaction
from engine.upcoming import next_due

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from engine.decisions import CautionCode, Stage
    from engine.events import AnswerWord
    from engine.room import Look, Room, Show
    from engine.state import Core, State
    from engine.title_records import LastChoice, RememberedTitle

ON_THE_WAY: Final = "on the way"
"""The stage of a prompt whose `ready` was heard, until the picture is dark."""
BEFORE_READY: Final[tuple[AnswerWord, ...]] = ("ready", "done", "no", "not_tonight", "more_time")
AT_SCREEN: Final[tuple[AnswerWord, ...]] = ("done", "all_away", "more_time")
THEIR_OWN: Final[tuple[AnswerWord, ...]] = ("no", "not_tonight")
"""What only whoever is at the screen may answer there, if it is known who they are."""


def standing_message(data: dict[str, object], now: int) -> OutgoingMessage:
    """Say how things stand, for whoever comes along."""
    said = {**data, "override_ends_in": seconds_left(data["override_until"], now)}
    prompt = data["prompt"]
    if isinstance(prompt, dict):
        said["prompt"] = {**prompt, "ends_in": seconds_left(prompt["ends"], now)}
    return OutgoingMessage("standing", body_of({**said, "at": rfc3339(now)}), retained=True)


def standing_data(room: Room, state: State) -> dict[str, object]:
    """Give how things stand as far as has been reported, as plain data."""
    core = state.core
    source = None if core.source is None else room.sources[core.source]
    aspect = aspect_of(source, core, state.settling)
    shown = core.shown if known_picture(room, core).stands is not None else None
    cues = known_cues(room, core, state.tally)
    return {
        "source": core.source,
        "playback": core.playback,
        "projector": core.projector,
        "signal": _signal(core),
        "title": _title(core),
        "aspect": _ratio(aspect),
        "shape": ratio_text(aspect),
        "picture": None if shown is None else shown.picture,
        "lift": None if shown is None else shown.lift / SCALE,
        "region": None if shown is None else shown.region._asdict(),
        "lens": core.lens,
        "preset": known_preset(room, core).stands,
        "panels": core.arrangement,
        "cues": {name: one.stands for name, one in cues.items() if one.stands is not None},
        "parts": _parts(room, state),
        "override": core.override,
        "override_until": _override_until(core),
        "override_look": _look(core.override_look),
        "service": core.service,
        LAST_ID: state.tally.serial,
        "told": dict(core.told),
        "prompt": _prompt(room, state),
        "holds": core.holds,
        "why": _why(room, state),
        "next": [upcoming_data(one) for one in next_due(room, state)],
        "wanted": None if core.source is None else _look(core.wanted),
        "looks": _looks(room, state),
        **_undo_data(room, state),
        "room_file": file_mark(room.text),
        "remembered": None,
        "room_text": None,
    }


@lru_cache(8)
def file_mark(text: str) -> str:
    """Give what a room file is told apart by from any other: a hash of its text."""
    return sha256(text.encode()).hexdigest()


def standing_for_asker(room: Room, state: State) -> dict[str, object]:
    """Give the same for whoever asks, with all that is remembered of titles, the latest first.

    That, and the room file's text, is too much to be said whenever something changes.
    """
    more = {"remembered": remembered_data(state.core.titles), "room_text": room.text}
    return {**standing_data(room, state), **more}


def remembered_data(titles: tuple[RememberedTitle, ...]) -> list[dict[str, object]]:
    """Give what is remembered of titles and series, the latest first."""
    return [
        {"name": one.name, "shape": _ratio(one.aspect), "last_choice": _choice(one.choice)}
        for one in reversed(titles)
    ]


def _ratio(aspect: int | None) -> float | None:
    return None if aspect is None else aspect / SCALE


def _signal(core: Core) -> dict[str, object]:
    """Give what the picture signal was last said to carry."""
    return {
        "locked": core.locked,
        "columns": core.columns,
        "rows": core.rows,
        "range": core.range,
        "three_d": core.three_d,
    }


def _title(core: Core) -> dict[str, object] | None:
    """Give the title that is on, with its own shape and by what that is known."""
    if not core.title:
        return None
    remembered = what_is_remembered(core)
    known = {"declared": core.declared, "remembered": core.remembered, "seen": core.longest}
    by = next((name for name, shape in known.items() if shape is not None), None)
    shape = None if by is None else known[by]
    return {
        "name": core.title_name,
        "shape": _ratio(shape),
        "known_by": by,
        "remembered_as": None if remembered is None else remembered.name,
        "last_choice": None if remembered is None else _choice(remembered.choice),
        "varies": core.varies,
    }


def _choice(choice: LastChoice) -> dict[str, object] | None:
    """Give what was chosen last; a look that names nothing leaves everything as it stands."""
    if choice == NO_CHOICE:
        return None
    return {"look": _look(choice.look), "cues": dict(choice.cues)}


def _look(show: Show | Look | None) -> dict[str, object] | None:
    """Give the parts that a look names."""
    if show is None:
        return None
    lift = None if show.lift is None else show.lift / SCALE
    return {
        "picture": show.picture,
        "lift": lift,
        "preset": show.preset,
        "panels": show.panels,
    }


def _override_until(core: Core) -> str | None:
    """Say until when a person has the room: a word, or a moment as RFC 3339."""
    if core.override != "person":
        return None
    ends = core.timers.override
    return core.override_until if ends is None else rfc3339(ends)


# ---------------------------------------------------------------------------- what is known of it


def _parts(room: Room, state: State) -> dict[str, object]:
    """Give of each part of the look what is known to stand, only ordered, or failed."""
    core = state.core
    cues = known_cues(room, core, state.tally)
    return {
        "picture": known_picture(room, core)._asdict(),
        "preset": known_preset(room, core)._asdict(),
        "panels": known_panels(core)._asdict(),
        "cues": {name: one._asdict() for name, one in cues.items()},
    }


# ------------------------------------------------------------------------------ for people's eyes


def _why(room: Room, state: State) -> dict[str, str]:
    """Say in one sentence why it stands so: what it waits for, or the rule's own reason."""
    core = state.core
    if core.holds:
        return {"code": core.holds[0], "words": room.catalogue.say("hold", core.holds[0])}
    tx = Transaction(room, state, 0, own=True)
    grounds = tx.grounds(core.row)
    return {"code": grounds.code, "words": grounds.reason}


def _looks(room: Room, state: State) -> dict[str, list[dict[str, str | None]]]:
    """Give what a person may choose of each part, and of what cannot be had the one reason."""
    say = room.catalogue.say
    looks: dict[str, list[dict[str, str | None]]] = {"picture": [], "preset": [], "panels": []}
    for part, name, hold in choosable(room, state):
        why, helps = (None, None) if hold is None else (say("hold", hold), say("help", hold))
        looks[part].append({"name": name, "hold": hold, "why": why, "help": helps})
    return looks


def _undo_data(room: Room, state: State) -> dict[str, object]:
    """Give what `undo` would do now, when that moved which it would put back, and whose it was."""
    before, tally = state.core.undo, state.tally
    if before is None:
        return dict.fromkeys(("undo", "undo_words", "undo_since", "undo_by", "undo_who"))
    parts = (part for part, value in before._asdict().items() if value is not None)
    return {
        "undo": _look(before),
        "undo_words": room.catalogue.say("undo", next(parts)),
        "undo_since": None if tally.moved is None else rfc3339(tally.moved),
        "undo_by": tally.moved_by,
        "undo_who": tally.moved_who,
    }


def _prompt(room: Room, state: State) -> dict[str, object] | None:
    """Give the whole open prompt: what is asked, until when, and what may be answered by whom."""
    core, asked = state.core, state.core.asked
    ends = core.timers.give_up
    if asked is None or ends is None:
        return None
    on_the_way = asked.at_screen and not asked.sent and core.timers.remind is not None
    stage = stage_of(core, asked)
    words, cautions = _words_on_the_way(room) if on_the_way else _words(room, state, stage)
    choices = BEFORE_READY
    if asked.at_screen:
        choices = AT_SCREEN if asked.who is None else (*AT_SCREEN, *THEIR_OWN)
    return {
        "id": asked.id,
        "panels": asked.panels,
        "stage": ON_THE_WAY if on_the_way else stage,
        "ends": rfc3339(ends),
        "at_screen": asked.at_screen,
        "who": asked.who,
        "words": words,
        "cautions": cautions,
        "choices": {one: room.catalogue.say("choice", one) for one in choices},
    }


def _words(room: Room, state: State, stage: Stage) -> tuple[str, Mapping[CautionCode, str]]:
    """Give the words and the cautions with which a prompt would be sent at its stage."""
    prompt = _prompt_at(stage, room, state, 0)
    return prompt.words, prompt.cautions


def prompt_again(room: Room, state: State, now: int) -> Prompt | None:
    """Put the open prompt once more, as it is now; None: nothing is asked."""
    asked = state.core.asked
    if asked is None or state.core.timers.give_up is None:
        return None
    return _prompt_at(stage_of(state.core, asked), room, state, now)


def _prompt_at(stage: Stage, room: Room, state: State, now: int) -> Prompt:
    tx = Transaction(room, state, now, own=True)
    send_prompt(tx, stage)
    (prompt,) = (one for one in tx.decisions if isinstance(one, Prompt))
    return prompt


def _words_on_the_way(room: Room) -> tuple[str, Mapping[CautionCode, str]]:
    say = room.catalogue.say
    return say("next", "goes_dark"), {
        code: say("caution", code) for code in CAUTIONS["at the screen"]
    }


def what_is_asked(
    room: Room, state: State, now: int, waits: Collection[int | None], *, lost: bool
) -> OutgoingMessage | None:
    """Say what the broker shall retain of what is asked, where it may have something else.

    A prompt that is over must not stay; an open one may be `lost` with the broker's memory, unless
    it `waits` for the broker, by its number.
    """
    asked = state.core.asked
    if asked is None:
        return nothing_asked_message(now) if state.tally.prompts else None
    prompt = prompt_again(room, state, now) if lost and asked.id not in waits else None
    return None if prompt is None else order_message(prompt)


class StandingTold:
    """What was last told of how a room stands."""

    def __init__(self) -> None:
        self._data: dict[str, object] | None = None
        self._room: Room | None = None
        self.core: Core | None = None
        """On what that rests, besides the room; most readings leave it as it is."""

    def standing(
        self, room: Room, state: State, now: int, *, again: bool
    ) -> OutgoingMessage | None:
        """Say how things stand if that has changed, or `again`; None: it has not."""
        if state.core is self.core and room is self._room and not again:
            return None
        data = standing_data(room, state)
        self._room, self.core = room, state.core
        if data == self._data and not again:
            return None
        self._data = data
        return standing_message(data, now)
