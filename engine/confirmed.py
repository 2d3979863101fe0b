"""Tell what is confirmed to stand of the look, what is only ordered, and what has failed.

Nothing stands before somebody has said so: of a picture or a cue that is the hub, of a preset the
lens or the hub, of panels somebody in the room or the hub. A part of which nothing is known has
none of the three.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from engine.room import Room
    from engine.state import Core, Tally


class KnownPart(NamedTuple):
    """What is known of one part of the look, by name."""

    stands: str | None = None
    """What is confirmed to stand."""
    ordered: str | None = None
    """What has been ordered or asked for and may not stand yet, or not at all."""
    failed: str | None = None
    """What was wanted and could not be had."""


def known_picture(room: Room, core: Core) -> KnownPart:
    """Tell of the picture."""
    if core.shown is None:
        return KnownPart()
    name = core.shown.picture
    if core.failed and core.picture is None:
        return KnownPart(failed=name)
    confirmed = room.answers and core.picture is None
    return KnownPart(stands=name) if confirmed else KnownPart(ordered=name)


def known_preset(room: Room, core: Core) -> KnownPart:
    """Tell of the lens; of one that never reports nothing is known but what was ordered."""
    confirmed = core.lens == "resting" and room.projector.lens.reports
    by_hand = core.lens == "travelling" and core.recall is None
    only_ordered = not confirmed and not by_hand
    return KnownPart(
        core.preset if confirmed else None,
        core.preset if only_ordered else None,
        core.unreached,
    )


def known_panels(core: Core) -> KnownPart:
    """Tell of the panels."""
    refused = core.panels == "refused" and core.wanted.panels != core.arrangement
    return KnownPart(
        core.arrangement,
        None if core.asked is None else core.asked.panels,
        core.wanted.panels if refused else None,
    )


def known_cues(room: Room, core: Core, tally: Tally) -> dict[str, KnownPart]:
    """Tell of each cue; one whose order failed is taken as set, but does not stand."""
    known = {}
    for name, value in core.cues:
        if not room.answers:
            known[name] = KnownPart(ordered=value)
        elif name in tally.failed_cues:
            known[name] = KnownPart(failed=value)
        else:
            known[name] = KnownPart(stands=value)
    for one in core.open_cues:
        known[one.cue] = KnownPart(ordered=one.value)
    return known
