"""Invariants of ends: whatever is open ends once, at its time, and people are told.

They are checked on both halves of a step. Each check yields a sentence for what it finds broken,
and nothing where all is well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.decisions import Decision, Prompt, PromptOver
from engine.state import Core
from simulator.proof.footprints import differ


def ends_unsaid(before: Core, decisions: Sequence[Decision], after: Core) -> Iterator[str]:
    """Check that people are told of every prompt, and once of its end."""
    if not decisions and not differ(before, after, "asked"):
        return
    over = [one for one in decisions if isinstance(one, PromptOver)]
    opened = [one.id for one in decisions if isinstance(one, Prompt) and one.stage == "asked"]
    was = [] if before.asked is None else [before.asked.id]
    still = None if after.asked is None else after.asked.id
    closed = [one for one in (*was, *opened) if one != still]
    if [one.prompt for one in over] != closed:
        yield f"prompts {closed} are over, but people are told so of {[one.prompt for one in over]}"
    if still is not None and still not in (*was, *opened):
        yield "a prompt is open of which nobody has been told"
    left = (
        before.asked is not None
        and before.asked.at_screen
        and was == [one.prompt for one in over[:1] if one.how != "done"]
    )
    if left and after.arrangement is not None:
        yield f"panels may be half fitted, but are taken as {after.arrangement}"


def stay_ended(before: Core, after: Core) -> Iterator[str]:
    """Check that whoever is at the screen stays there where nothing that may end it has happened.

    Light returns only once nobody is there (`order_invariants`), so this keeps it from them.
    """
    was, still = before.asked, after.asked
    if was is None or not was.at_screen:
        return
    if still is None or (still.id, still.at_screen, still.who) != (was.id, True, was.who):
        yield "somebody at the screen is taken as away, though nobody has said so"
