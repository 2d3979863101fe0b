"""Prompts: one request to a person at a time, which always has an end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from engine.decisions import Prompt, PromptOver, Stage
from engine.room import DARK
from engine.wording import CAUTIONS, Light, prompt_words

if TYPE_CHECKING:
    from engine.transaction import Turn


def prompt(turn: Turn, stage: Stage) -> None:
    """Put the open prompt to people, in words that fit its stage."""
    core = turn.core
    if core.asked is None or core.timers.give_up is None:
        return
    rule, reason = turn.because()
    turn.decisions.append(
        Prompt(
            at=turn.now,
            rule=rule,
            reason=reason,
            facts=turn.told(),
            id=core.asked.id,
            ends=core.timers.give_up,
            stage=stage,
            panels=core.asked.panels,
            words=prompt_words(turn.room.panels[core.asked.panels], stage, _light(turn)),
            cautions=CAUTIONS[stage],
        )
    )


def _light(turn: Turn) -> Light:
    """Say what is known of the picture while somebody is at the screen."""
    shown = turn.core.shown
    if shown is None or shown.picture != DARK or turn.core.failed:
        return Light.ON
    return Light.OFF if turn.room.answers else Light.TOLD


def close_prompt(
    turn: Turn, how: Literal["done", "declined", "withdrawn", "expired"], reason: str
) -> None:
    """End the open prompt, if there is one; the caller moves the panels' machine."""
    core = turn.core
    if core.asked is None:
        return
    turn.decisions.append(
        PromptOver(
            at=turn.now,
            rule="engine: prompt",
            reason=reason,
            facts=turn.told(),
            prompt=core.asked.id,
            how=how,
        )
    )
    if core.asked.at_screen and how != "done":
        # Half fitted is not fitted: until somebody says how they stand, all of them count.
        core.arrangement = None
    core.asked = None
    turn.set(remind=None, give_up=None)
