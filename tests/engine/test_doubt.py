"""A shape is doubtful while no reading shows it: what is settled stays, and rules may ask."""

from __future__ import annotations

import pytest

from adapters.render.why_text import doing
from engine.choosing import is_ripe
from engine.decisions import PictureOrder
from engine.events import BarsSeen, BlackSeen, Event, Playback, SourceChosen
from engine.state import first_state
from tests.engine.moments import films, ms
from tests.engine.story import HAYLOFT, Story, changed, shape

CARD = BarsSeen(top=700, bottom=700, left=1_200, right=1_200, columns=3_840, rows=2_160)
"""A block of lettering in the middle of the black raster."""
DARK = BarsSeen(top=500, bottom=280, left=900, right=300, columns=3_840, rows=2_160)
"""A shot that is dark at all its edges, each otherwise."""
ROWS = "rules:\n  policy: first\n  rows:\n"
IN_DOUBT = """
    - name: in doubt
      case: {doubtful: yes}
      show: {picture: whole}
      because: Nobody knows what is cut off.
"""
DOUBTS: list[Event] = [CARD, DARK, BlackSeen()]


@pytest.mark.parametrize(
    ("known", "counts"),
    [
        ({}, False),
        ({"declared": 23_900}, True),
        ({"remembered": 23_900}, True),
        ({"override": "person"}, True),
        ({"title": False}, True),
        ({"doubt": None}, True),
        ({"doubt": None, "ripe": False}, False),
    ],
)
def test_a_wish_for_what_is_only_seen_counts_while_it_is_seen(
    known: dict[str, object], *, counts: bool
) -> None:
    """What is told of a title, or wanted by a person, needs no reading, nor does a menu."""
    core = first_state(HAYLOFT).core
    core.title, core.ripe, core.doubt = True, True, ms(10)
    for name, value in known.items():
        setattr(core, name, value)
    assert is_ripe(core) is counts


def doubtful(story: Story) -> bool:
    """Whether the rules are told that the shape is doubtful."""
    return story.core.doubt is not None


@pytest.mark.parametrize("seen", DOUBTS)
def test_what_is_settled_stays_in_doubt_which_is_told_after_five_seconds(seen: Event) -> None:
    story = films()
    story.at(100, seen)
    story.at(104.9, None)
    assert not doubtful(story)
    story.at(105, None)
    assert doubtful(story)
    assert story.engine.state.settling.aspect == 23_900


def test_doubt_is_over_with_the_first_reading_of_the_settled_shape() -> None:
    story = films()
    story.at(100, DARK)
    story.at(110, shape(2.39))
    assert not doubtful(story)


def test_doubt_is_over_once_another_shape_has_settled() -> None:
    story = films()
    story.at(100, DARK)
    story.at(110, shape(1.78))
    story.at(112, None)
    assert not doubtful(story)


def test_a_pause_and_another_source_end_it_for_nothing_is_read_then() -> None:
    for event in (Playback(state="paused"), SourceChosen(source="console")):
        story = films()
        story.at(100, DARK)
        story.at(110, event)
        assert not doubtful(story)


def test_short_dark_shots_between_bright_ones_are_no_doubt() -> None:
    story = films()
    for second in range(100, 160, 4):
        story.at(second, DARK)
        story.at(second + 3, shape(2.39))
        assert not doubtful(story)


def test_lettering_in_a_bar_is_the_settled_shape_and_no_doubt() -> None:
    story = films()
    story.at(100, shape(2.39, bottom=150))
    story.at(130, None)
    assert not doubtful(story)


def test_a_row_may_show_the_whole_frame_while_the_shape_is_doubtful() -> None:
    room = changed(("orders: {answered: yes}\n", ""), (ROWS, ROWS + IN_DOUBT))
    story = films(room)
    story.at(100, CARD)
    story.at(106, None)
    assert story.of(PictureOrder)[-1].picture == "whole"
    assert story.of(PictureOrder)[-1].facts["doubtful"] is True
    story.at(110, shape(2.39))
    assert story.of(PictureOrder)[-1].picture != "whole"
    assert "doubtful" not in story.of(PictureOrder)[-1].facts


def test_why_says_for_how_long_the_shape_has_been_doubtful() -> None:
    story = films()
    story.at(100, DARK)
    story.at(140, None)
    said = dict(doing(story.core, ms(140)))
    assert said["shape"] == "doubtful for 40 s: not seen since then"
