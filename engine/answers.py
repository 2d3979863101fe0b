"""Answers to prompts: whose word counts at the screen, and what a late `done` tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.people import panels_stand
from engine.prompts import close_prompt
from engine.refusal import Refused
from engine.titles import let_session_run, start_first_minutes

if TYPE_CHECKING:
    from engine.decisions import ReasonCode
    from engine.events import Answer
    from engine.state import PendingPrompt
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
        _refuse(tx, "answered_no")
    elif core.asked.at_screen:
        _refuse(tx, "all_away")


def _require_their_word(asked: PendingPrompt, event: Answer) -> None:
    """Refuse whatever would bring light to somebody at the screen who has not said it themselves.

    If nobody knows who they are, only `done` is taken for their own word: whoever means `no` may
    sit elsewhere.
    """
    if not asked.at_screen or event.answer == "all_away":
        return
    nameless = event.answer == "done" or (event.answer == "ready" and event.who is None)
    if nameless if asked.who is None else event.who == asked.who:
        return
    whose = "their" if asked.who is None else f"'{asked.who}' has to say"
    words = f"somebody is at the screen: it stays dark until {whose} 'done'"
    raise Refused("at_screen", f"{words}, until 'all_away' ({AWAY}), or until its end")


def _go_to_screen(tx: Transaction, asked: PendingPrompt, who: str | None) -> None:
    """Let somebody be on the way: the prompt is theirs from now on, and has its whole time."""
    if asked.at_screen:
        return
    tx.core.asked = asked._replace(at_screen=True, who=who)
    pace = tx.room.pace
    ends = tx.now + pace.give_up
    tx.set_timers(remind=max(tx.now + 1, ends - pace.remind), give_up=ends)


def _done(tx: Transaction, asked: PendingPrompt) -> None:
    """End the prompt: its panels stand, and whoever was at the screen is away from it."""
    tx.core.asked = asked._replace(at_screen=False)
    panels_stand(tx, asked.panels, "answered_done")
    _forget(tx, asked.id)


def _refuse(tx: Transaction, code: ReasonCode) -> None:
    """End the prompt without its panels: nobody is asked again for now."""
    close_prompt(tx, "declined", code)
    tx.fire("panels", "refuse")
    let_session_run(tx)


def _answered_late(tx: Transaction, event: Answer) -> None:
    """Take a `done` for a prompt that is over or not known: the panels are not what they were."""
    past = {one.id: one.panels for one in tx.tally.prompts}
    if event.answer != "done" or past.get(event.prompt, "") is None:
        raise Refused("not_asked", f"prompt {event.prompt} is not open: its answer comes too late")
    panels = past.get(event.prompt)
    known = panels if panels in tx.room.panels else None
    panels_stand(tx, known, "answered_late")
    start_first_minutes(tx)
    _forget(tx, event.prompt)


def _forget(tx: Transaction, number: int) -> None:
    """Remember that a prompt's `done` was heard: hearing it again tells nothing new."""
    prompts = tuple(
        one._replace(panels=None) if one.id == number else one for one in tx.tally.prompts
    )
    tx.tally = tx.tally._replace(prompts=prompts)
