"""Prompts: one request to a person at a time, which always has an end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.decisions import CAUTIONS, Prompt, PromptOver
from engine.room import DARK
from engine.state import PastPrompt, PendingPrompt

if TYPE_CHECKING:
    from engine.decisions import PromptEnd, ReasonCode, ScreenLight, Stage
    from engine.state import Core
    from engine.transaction import Transaction


PANELS: Final = "panels"
"""The subject of reports about the panels."""
PROMPTS_KEPT: Final = 8
"""How many of the latest prompts are kept, so that a late `done` is understood."""
MOST_PERIODS: Final = 3
"""How many times `pace.prompts.give_up` a prompt may be open, or somebody at the screen, before
no more time is given."""


def open_prompt(tx: Transaction, panels: str) -> None:
    """Ask people for panels; the caller moves the panels' machine."""
    pace = tx.room.pace
    tx.core.asked = begin_prompt(tx, panels)
    tx.set_timers(remind=tx.now + pace.remind, give_up=tx.now + pace.give_up)
    send_prompt(tx, "asked")


def begin_prompt(tx: Transaction, panels: str) -> PendingPrompt:
    """Make a prompt whose `done` is understood however late it comes; the caller opens it."""
    number, latest = tx.next_number(), tx.now + MOST_PERIODS * tx.room.pace.give_up
    prompts = (*tx.tally.prompts, PastPrompt(number, panels))[-PROMPTS_KEPT:]
    tx.tally = tx.tally._replace(prompts=prompts)
    return PendingPrompt(number, panels, latest=latest)


def end_darkness_at(tx: Transaction, ends: int) -> None:
    """Let it be dark up to a moment, and warn whoever is at the screen in good time before it.

    A warning that would have to come at once is none: half of what is left goes by first.
    """
    left, remind = ends - tx.now, tx.room.pace.remind
    before = remind if remind < left else left // 2
    tx.set_timers(remind=ends - before, give_up=ends)


def warn_first(tx: Transaction) -> None:
    """Let whoever is at the screen be warned at once, and the light come back only after that."""
    tx.set_timers(remind=tx.now + 1, give_up=tx.now + 1 + tx.room.pace.remind)


def send_prompt(tx: Transaction, stage: Stage) -> None:
    """Put the open prompt to people, in words that fit its stage."""
    core = tx.core
    if core.asked is None or core.timers.give_up is None:
        return
    head = tx.head(tx.grounds(core.title_row), of_title=True)
    panels, light = core.asked.panels, _light(tx)
    words = {"light": light, "task": tx.room.panels[panels].words}
    tx.decisions.append(
        Prompt(
            **head,
            id=core.asked.id,
            ends=core.timers.give_up,
            stage=stage,
            panels=panels,
            light=light,
            words=tx.say("prompt", stage, words),
            cautions={code: tx.say("caution", code) for code in CAUTIONS[stage]},
        )
    )


def is_warned(core: Core, asked: PendingPrompt) -> bool:
    """Tell whether whoever is at the screen was told that the light comes back."""
    return asked.at_screen and core.timers.remind is None


def stage_of(core: Core, asked: PendingPrompt) -> Stage:
    """Say at which stage an open prompt is, for whoever hears of it again."""
    if is_warned(core, asked):
        return "light comes back"
    if asked.sent:
        return "at the screen"
    return "reminded" if core.panels == "reminded" else "asked"


def _light(tx: Transaction) -> ScreenLight:
    """Say what is known of the picture while somebody is at the screen."""
    shown = tx.core.shown
    if shown is None or shown.picture != DARK or tx.core.failed:
        return "lit"
    return "dark" if tx.room.answers else "told"


def close_prompt(tx: Transaction, how: PromptEnd, code: ReasonCode) -> None:
    """End the open prompt, if there is one; the caller moves the panels' machine."""
    core = tx.core
    if core.asked is None:
        return
    head = tx.head(tx.own_grounds("engine: prompt", code))
    tx.decisions.append(PromptOver(**head, prompt=core.asked.id, how=how))
    if core.asked.at_screen:
        # Half fitted is not fitted: until somebody says how they stand, all of them count.
        core.arrangement = None
        date_panels(tx)
    core.asked = None
    tx.set_timers(remind=None, give_up=None)


def take_refusals_back(tx: Transaction) -> None:
    """Take back every `no` to panels, also what was said to titles that have been left."""
    core = tx.core
    tx.fire("panels", "free")
    core.left = tuple(one._replace(refused=False) for one in core.left)
    if core.interrupted is not None:
        core.interrupted = core.interrupted._replace(refused=False)


def date_panels(tx: Transaction) -> None:
    """Note that what is known of the panels is from now: what a hub said of before is older."""
    tx.tally = tx.tally.with_heard(PANELS, tx.now, ours=True)


def forget_prompt(tx: Transaction, number: int) -> None:
    """Remember that a prompt's `done` was heard: hearing it again tells nothing new."""
    prompts = tuple(
        one._replace(panels=None) if one.id == number else one for one in tx.tally.prompts
    )
    tx.tally = tx.tally._replace(prompts=prompts)
