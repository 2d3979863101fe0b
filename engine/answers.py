"""Answers to prompts, and who is free to help: whose word counts, and what a late one tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.panel_reports import panels_stand
from engine.prompts import (
    MOST_PERIODS,
    close_prompt,
    date_panels,
    end_darkness_at,
    forget_prompt,
    send_prompt,
    stage_of,
    take_refusals_back,
)
from engine.refusal import NEVER_GIVEN, OF_ANOTHER_JOURNAL, Refused
from engine.state import PastPrompt
from engine.titles import let_session_run, start_first_minutes
from engine.undo import remember_panels

if TYPE_CHECKING:
    from engine.decisions import ReasonCode
    from engine.events import Answer, Helper
    from engine.state import PendingPrompt, RefusalUntil
    from engine.transaction import Transaction

AWAY: Final = "everybody is away from the screen"


def answered(tx: Transaction, event: Answer) -> None:
    """Take an answer to the open prompt, or a late word that something was done."""
    core = tx.core
    if core.asked is None or core.asked.id != event.prompt:
        _answered_late(tx, event)
        return
    _require_their_word(core.asked, event)
    if event.answer == "ready":
        _go_to_screen(tx, core.asked, event.who)
    elif event.answer == "done":
        _done(tx, core.asked)
    elif event.answer == "no":
        _refuse(tx, "title", "answered_no")
    elif event.answer == "not_tonight":
        _refuse(tx, "session", "not_tonight")
    elif event.answer == "more_time":
        _put_end_off(tx, core.asked)
    elif core.asked.at_screen:
        _refuse(tx, "title", "all_away")


def helper_heard(tx: Transaction, event: Helper) -> None:
    """Enter that somebody is free to fit panels, or that nobody is."""
    core = tx.core
    if len(tx.room.panels) == 1:
        raise Refused("not_asked", "this room has one panel arrangement, so nobody is ever asked")
    if event.free:
        take_refusals_back(tx)
        return
    if core.asked is not None and core.asked.at_screen:
        raise Refused("at_screen", "somebody is at the screen, so somebody is free")
    if core.panels == "refused" and core.refused_until == "session":
        return
    _refuse(tx, "session", "nobody_free")
    tx.note("nobody_free", "engine: panels")


def _require_their_word(asked: PendingPrompt, event: Answer) -> None:
    """Refuse what would bring light to somebody at the screen who has not said it themselves.

    If nobody knows who they are, only `done` is taken for their own word: whoever means `no` may
    sit elsewhere.
    """
    if not asked.at_screen or event.answer in {"all_away", "more_time"}:
        return
    nameless = event.answer == "done" or (event.answer == "ready" and event.who is None)
    if nameless if asked.who is None else event.who == asked.who:
        return
    whose = "their" if asked.who is None else f"'{asked.who}' says"
    words = f"somebody is at the screen: it stays dark until {whose} 'done'"
    raise Refused("at_screen", f"{words}, until 'all_away' ({AWAY}), or until its end")


def _go_to_screen(tx: Transaction, asked: PendingPrompt, who: str | None) -> None:
    """Let somebody be on the way: the prompt is theirs from now on, and has its whole time."""
    if asked.at_screen:
        return
    give_up = tx.room.pace.give_up
    latest = tx.now + MOST_PERIODS * give_up
    tx.core.asked = asked._replace(at_screen=True, who=who, latest=latest)
    end_darkness_at(tx, tx.now + give_up)


def _put_end_off(tx: Transaction, asked: PendingPrompt) -> None:
    """Give a prompt its whole time once more from now on, but not for ever."""
    now_ends, ends = tx.core.timers.give_up, min(tx.now + tx.room.pace.give_up, asked.latest)
    if now_ends == ends < asked.latest:
        return  # Said twice.
    if now_ends is None or now_ends >= ends:
        raise Refused("no_more_time", "that prompt has had all the time that there is")
    if asked.at_screen:
        end_darkness_at(tx, ends)
    else:
        tx.set_timers(give_up=ends)
    send_prompt(tx, stage_of(tx.core, asked))


def _done(tx: Transaction, asked: PendingPrompt) -> None:
    """End the prompt: its panels stand, and whoever was at the screen is away from it."""
    if PastPrompt(asked.id, None) in tx.tally.prompts:
        _refuse(tx, "title", "all_away")  # Nobody here knows what it is that stands now.
        return
    remember_panels(tx, asked.panels)
    tx.core.asked = asked._replace(at_screen=False)
    panels_stand(tx, asked.panels, "answered_done")
    date_panels(tx)
    forget_prompt(tx, asked.id)


def _refuse(tx: Transaction, until: RefusalUntil, code: ReasonCode) -> None:
    """End the prompt, if one is open, without its panels: nobody is asked again for a while."""
    close_prompt(tx, "declined", code)
    tx.fire("panels", "refuse")
    tx.core.refused_until = until
    let_session_run(tx)


def _answered_late(tx: Transaction, event: Answer) -> None:
    """Take a `done` for a prompt that is over or not known: the panels are not what they were."""
    past = {one.id: one.panels for one in tx.tally.prompts}
    if event.answer != "done" or past.get(event.prompt, "") is None:
        why = "its answer comes too late"
        if tx.is_of_another_journal(event.prompt):
            why = OF_ANOTHER_JOURNAL
        elif event.prompt > tx.tally.serial:
            why = NEVER_GIVEN
        raise Refused("not_asked", f"prompt {event.prompt} is not open: {why}")
    panels = past.get(event.prompt)
    known = panels if panels in tx.room.panels else None
    panels_stand(tx, known, "answered_late")
    date_panels(tx)
    if known is not None:
        take_refusals_back(tx)  # Somebody has gone after all, whatever the silence seemed to say.
    start_first_minutes(tx)
    forget_prompt(tx, event.prompt)
