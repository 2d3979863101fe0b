"""A cue that is ordered names the row that asks for it, in a pause as well."""

from __future__ import annotations

from engine.decisions import CueOrder
from engine.events import Playback
from tests.engine.story import Story, changed

LIGHTS_IN_A_PAUSE = changed(
    (
        "    - name: games\n",
        (
            "    - name: breaks\n      case: {playback: paused}\n"
            "      show: {cues: {lamps: full}}\n      because: Whoever gets up wants to see.\n"
            "    - name: games\n"
        ),
    ),
    ("orders: {answered: yes}\n", ""),
)


def test_in_a_pause_a_cue_is_ordered_in_the_name_of_the_row_that_wins_there() -> None:
    """The picture stays that of the row before, and only the lamps are the pause's."""
    story = Story(LIGHTS_IN_A_PAUSE)
    story.film(10, 2.39)
    (order,) = [
        one
        for one in story.at(300, Playback(state="paused", source="disc"))
        if isinstance(one, CueOrder)
    ]
    assert (order.cue, order.value) == ("lamps", "full")
    assert (order.rule, order.reason) == ("breaks", "Whoever gets up wants to see.")
