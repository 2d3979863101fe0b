"""A cue that is ordered names the row that asks for it, in a pause as well."""

from __future__ import annotations

from engine.decisions import CueOrder
from engine.events import Playback, Service
from engine.room import Room
from tests.engine.story import Story, changed


def room_with_breaks(show: str) -> Room:
    """The hayloft with a row for pauses."""
    row = "    - name: breaks\n      case: {playback: paused}\n"
    why = "      because: Whoever gets up wants to see.\n"
    return changed(
        ("    - name: games\n", f"{row}      show: {{{show}}}\n{why}    - name: games\n"),
        ("orders: {answered: yes}\n", ""),
    )


def test_in_a_pause_a_cue_is_ordered_in_the_name_of_the_row_that_wins_there() -> None:
    """The picture stays that of the row before, and only the lamps are the pause's."""
    story = Story(room_with_breaks("cues: {lamps: full}"))
    story.film(10, 2.39)
    (order,) = [
        one
        for one in story.at(300, Playback(state="paused", source="disc"))
        if isinstance(one, CueOrder)
    ]
    assert (order.cue, order.value) == ("lamps", "full")
    assert (order.rule, order.reason) == ("breaks", "Whoever gets up wants to see.")


def test_a_cue_that_had_to_wait_up_to_a_pause_is_ordered_in_the_name_of_the_film() -> None:
    """The pause's own row says nothing of lamps."""
    story = Story(room_with_breaks("lift: 0 %"))
    story.at(5, Service(begun=True))
    story.film(10, 2.39)
    story.at(300, Playback(state="paused", source="disc"))
    assert story.of(CueOrder) == []
    (order,) = [one for one in story.at(310, Service(begun=False)) if isinstance(one, CueOrder)]
    assert (order.rule, order.cue, order.value) == ("scope", "lamps", "low")
