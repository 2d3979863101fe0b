"""Cues that people set: lamps, curtains and the like, each up to its own end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.refusal import Refused, require_known
from engine.state import CueOverride
from engine.titles import drop_cue_overrides

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.state import OverrideUntil
    from engine.transaction import Transaction


def require_cues(tx: Transaction, cues: Mapping[str, str]) -> None:
    """Refuse cues that the room has not, and values that a cue never has."""
    for name, value in cues.items():
        require_known(name, tx.room.cues, "cue")
        if value not in tx.room.cues[name]:
            words = f"'{name}' is never '{value}': say one of {', '.join(tx.room.cues[name])}"
            raise Refused("out_of_range", words)


def override_cues(
    tx: Transaction, cues: Mapping[str, str], until: OverrideUntil, ends: int | None
) -> None:
    """Let cues stand as a person has set them, each to its own end."""
    kept = {one.cue: one for one in tx.core.cue_overrides}
    kept |= {name: CueOverride(name, value, until, ends) for name, value in cues.items()}
    tx.core.cue_overrides = tuple(kept[name] for name in sorted(kept))
    drop_cue_overrides(tx, lambda _: False)
