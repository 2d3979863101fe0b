"""Prompts: one request to a person at a time, which always has an end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from engine.decisions import Prompt, PromptOver
from engine.room import DARK
from engine.words import CAUTIONS, prompt_words

if TYPE_CHECKING:
    from engine.turn import Turn


def prompt(turn: Turn, stage: Literal["asked", "reminded", "at the screen"]) -> None:
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
            words=prompt_words(
                turn.room.panels[core.asked.panels],
                stage,
                dark=core.shown is not None and core.shown.picture == DARK,
            ),
            cautions=CAUTIONS[stage],
        )
    )


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
    core.asked = None
    turn.set(remind=None, give_up=None)
