"""Several reporters of one picture's shape: who is believed, and who is named for contradicting."""

from __future__ import annotations

import pytest

from engine.decisions import Note
from engine.events import (
    BarsSeen,
    BlackSeen,
    Event,
    FormatCode,
    Playback,
    RatioSeen,
    Signal,
    SourceChosen,
    Title,
)
from engine.facts import facts_of
from engine.refusal import Refused
from engine.room import Room
from engine.state import UnheededWord
from tests.engine.moments import core_of
from tests.engine.story import Story, changed, shape

FULL_CODE = FormatCode(code=8, frame="16:9")
OPEN_CODE = FormatCode(code=0, frame="16:9")
SCOPE_CODE = FormatCode(
    code=4, frame="16:9", top_ends=138, bottom_starts=943, columns=1_920, rows=1_080
)
FOUR_SIDES = FormatCode(
    code=0,
    frame="16:9",
    columns=1_920,
    rows=1_080,
    top_ends=135,
    bottom_starts=946,
    left_ends=320,
    right_starts=1_601,
)
"""A picture of 1280 x 810 lines in the middle of its frame."""


def disc(more: str) -> Room:
    """The hayloft with something more in its file about the disc player."""
    return changed(
        ("orders: {answered: yes}\n", ""),
        ("disc: {declares: yes}", f"disc: {{declares: yes, {more}}}"),
    )


def first(word: str) -> Story:
    """A scope film whose shape this reporter has the first word on."""
    story = Story(disc(f"first_word: {word}"))
    story.film(10, 2.39)
    story.at(20, None)
    return story


def aspect(story: Story) -> object:
    """The shape that rules are told of."""
    state = story.engine.state
    return facts_of(story.room, state.core, state.settling)["aspect"]


def test_a_detector_that_has_been_heard_is_believed_before_format_codes() -> None:
    story = first("detector")
    story.at(30, FULL_CODE)
    story.at(60, None)
    assert aspect(story) == 23_900


def test_a_format_code_counts_until_a_detector_is_heard() -> None:
    story = Story(disc("first_word: detector"))
    story.at(10, FULL_CODE)
    story.at(20, None)
    assert aspect(story) == 17_800
    story.at(30, shape(2.39))
    story.at(40, None)
    assert aspect(story) == 23_900


def test_codes_go_first_where_the_room_file_says_so_as_long_as_they_name_a_shape() -> None:
    story = first("code")
    story.at(30, FULL_CODE)
    story.at(40, shape(2.2))
    story.at(60, None)
    assert aspect(story) == 17_800
    story.at(70, OPEN_CODE)
    story.at(71, shape(2.39))
    story.at(80, None)
    assert aspect(story) == 23_900


@pytest.mark.parametrize(("word", "believed"), [("player", 18_500), ("detector", 23_900)])
def test_a_player_goes_first_where_the_room_file_says_so(word: str, believed: int) -> None:
    story = first(word)
    story.at(30, Title(begun=True, declared=1.85))
    story.at(31, RatioSeen(ratio=2.39))
    story.at(50, None)
    assert aspect(story) == believed


def contradictions(
    declared: float | None, code: FormatCode | None, *, minutes: int = 30
) -> list[tuple[object, object]]:
    """Who is named, and what they said, after a title in scope with these other reporters."""
    story = first("detector")
    story.at(21, Title(begun=True, declared=declared))
    story.at(22, shape(1.78))
    story.at(25, shape(2.39))
    if code is not None:
        story.at(26, code)
    story.at(60 * minutes, Title(begun=False))
    notes = [one for one in story.of(Note) if one.code == "contradicts"]
    return [(one.parameters["reporter"], one.parameters["said"]) for one in notes]


def test_a_reporter_that_contradicts_the_other_for_a_whole_title_is_named() -> None:
    assert contradictions(1.85, None) == [("player", "1.85")]
    assert contradictions(None, OPEN_CODE) == []


def test_whoever_is_named_is_named_with_what_they_said_and_what_stood() -> None:
    story = first("detector")
    story.at(21, Title(begun=True, declared=1.85))
    story.at(22, shape(1.78))
    story.at(25, shape(2.39))
    story.at(1_800, Title(begun=False))
    (note,) = [one for one in story.of(Note) if one.code == "contradicts"]
    assert note.rule == "engine: readings"
    assert note.parameters == {"reporter": "player", "said": "1.85", "stood": "2.39"}


@pytest.mark.parametrize(
    ("first_word", "declared", "code", "named"),
    [
        ("player", 1.85, None, ["detector"]),
        ("detector", 1.85, None, ["player"]),
        ("player", None, FULL_CODE, ["code"]),
    ],
)
def test_of_two_the_one_without_the_first_word_is_named(
    first_word: str, declared: float | None, code: FormatCode | None, named: list[object]
) -> None:
    """Where whoever has the first word says nothing, it is the format code."""
    story = first(first_word)
    story.at(21, Title(begun=True, declared=declared))
    story.at(25, shape(2.39))
    if code is not None:
        story.at(26, code)
    story.at(1_800, Title(begun=False))
    notes = [one for one in story.of(Note) if one.code == "contradicts"]
    assert [one.parameters["reporter"] for one in notes] == named


def test_of_three_the_one_that_stands_alone_is_named() -> None:
    assert contradictions(1.85, SCOPE_CODE) == [("player", "1.85")]
    assert contradictions(2.39, FormatCode(code=9, frame="16:9")) == [("code", "1.33")]


def test_it_is_named_even_if_it_was_believed() -> None:
    assert contradictions(1.33, FormatCode(code=9, frame="16:9")) == [("detector", "2.39")]


def test_a_code_that_nobody_else_speaks_beside_contradicts_nobody() -> None:
    story = Story(disc("first_word: code"))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Playback(state="playing"))
    story.at(12, SCOPE_CODE)
    story.at(1_800, Playback(state="stopped"))
    assert "contradicts" not in story.notes()


def test_of_a_source_that_nobody_has_named_no_reporter_is_named() -> None:
    """Who of them has the first word is a matter of the source."""
    story = Story(disc("first_word: code"))
    story.at(11, Playback(state="playing"))
    story.at(12, Title(begun=True, declared=1.85))
    story.at(13, shape(2.39))
    story.at(1_800, Title(begun=False))
    assert "contradicts" not in story.notes()


def test_a_detector_that_has_said_nothing_in_a_title_contradicts_nobody() -> None:
    """The film is remembered by its name; this time the player alone says a shape, another one."""
    story = Story(disc("first_word: player"))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Playback(state="playing"))
    story.at(12, Title(begun=True, name="one"))
    story.at(13, shape(2.39))
    story.at(1_800, Playback(state="stopped"))
    story.at(1_900, Signal(locked=True, columns=1_280, rows=720))
    story.at(1_901, Title(begun=True, name="one", declared=1.85))
    story.at(1_902, Playback(state="playing"))
    assert story.core.longest == 23_900
    assert story.core.shapes == ()
    story.at(3_900, Playback(state="stopped"))
    assert "contradicts" not in story.notes()


def test_a_detector_that_is_believed_beside_a_code_is_heard_when_all_is_black() -> None:
    story = first("detector")
    story.at(21, SCOPE_CODE)
    story.at(30, BlackSeen())
    assert story.engine.state.settling.reading is None


def test_nobody_is_named_who_agrees_or_of_a_title_that_was_only_looked_into() -> None:
    assert contradictions(2.39, SCOPE_CODE) == []
    assert contradictions(1.85, None, minutes=1) == []


def named_beside_a_code(*words: Event, declared: float | None = None) -> list[object]:
    """Who is named after a title of which a code, which has the first word, says 1.78."""
    story = first("code")
    story.at(21, Title(begun=True, declared=declared))
    story.at(30, FULL_CODE)
    for number, word in enumerate(words):
        story.at(40 + 10 * number, word)
    story.at(1_800, Title(begun=False))
    return [one.parameters["reporter"] for one in story.of(Note) if one.code == "contradicts"]


def test_a_detector_that_contradicts_a_code_with_the_first_word_is_named() -> None:
    """What it said before the code came still stands; one moment's agreement clears it."""
    assert named_beside_a_code() == ["detector"]
    assert named_beside_a_code(shape(2.2), BlackSeen()) == ["detector"]
    assert named_beside_a_code(shape(2.2), shape(1.78), shape(2.39)) == []
    assert named_beside_a_code(shape(2.2), SCOPE_CODE, shape(2.39), FULL_CODE) == []


def test_black_is_no_shape_that_could_contradict_a_code() -> None:
    story = Story(disc("first_word: code"))
    story.film(10, 2.39)
    story.at(11, BlackSeen())
    story.at(12, FULL_CODE)
    assert story.core.unheeded is None


def test_that_code_and_detector_agreed_before_a_title_says_nothing_of_it() -> None:
    """A menu has one shape for both, and the film after it has not."""
    story = Story(disc("first_word: code"))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, shape(1.78))
    story.at(12, FULL_CODE)
    story.at(20, Playback(state="playing"))
    story.at(25, shape(2.39))
    story.at(1_800, Playback(state="stopped"))
    named = [one.parameters["reporter"] for one in story.of(Note) if one.code == "contradicts"]
    assert named == ["detector"]


def test_of_code_detector_and_player_the_one_that_stands_alone_is_named() -> None:
    assert named_beside_a_code(declared=2.39) == ["code"]
    assert named_beside_a_code(declared=1.78) == ["detector"]
    assert named_beside_a_code(shape(1.78), declared=2.39) == ["player"]


def test_a_detector_that_never_changes_is_named_in_the_next_title_too() -> None:
    """A hub may send changes only: what the detector said last still stands."""
    story = first("code")
    story.at(25, FULL_CODE)
    for begun in (30, 3_000):
        story.at(begun, Title(begun=True))
        story.at(begun + 1_800, Title(begun=False))
    assert [one.code for one in story.of(Note)].count("contradicts") == 2


def test_bar_data_of_all_four_sides_are_a_window_where_the_source_has_both_pairs() -> None:
    """CTA-861 allows both pairs at once (second-hand)."""
    story = Story(disc("bar_pairs: both, first_word: code"))
    story.film(10, 2.39)
    story.at(20, FOUR_SIDES)
    story.at(30, None)
    assert aspect(story) == 15_800


def test_they_are_refused_where_it_has_one_pair_at_a_time() -> None:
    """ST 2016-1 has one pair or the other (second-hand)."""
    story = first("detector")
    with pytest.raises(Refused, match="one pair or the other, but of a source whose bar_pairs"):
        story.at(20, FOUR_SIDES)


@pytest.mark.parametrize(
    ("word", "said"),
    [
        (RatioSeen(ratio=1.0), "1.00"),
        (RatioSeen(ratio=4.0), "4.00"),
        (BarsSeen(top=500, bottom=500, left=0, right=0, columns=1_920, rows=1_080), "2.39"),
    ],
    ids=["a square", "the widest", "a strip of light"],
)
def test_only_what_is_some_picture_s_ratio_is_a_detector_s_word(word: Event, said: str) -> None:
    """Of a code that is believed instead, what the detector said last is named."""
    story = first("code")
    story.at(21, Title(begun=True))
    story.at(30, FULL_CODE)
    story.at(40, word)
    story.at(1_800, Title(begun=False))
    notes = [one for one in story.of(Note) if one.code == "contradicts"]
    assert [one.parameters["said"] for one in notes] == [said]


WINDOW = BarsSeen(top=135, bottom=135, left=320, right=320, columns=1_920, rows=1_080)
SAID = 17_794
"""What `shape(1.78)` comes to in whole pixels, in 1/10,000."""
ALL_BARS = BarsSeen(top=540, bottom=540, left=0, right=0, columns=1_920, rows=1_080)


@pytest.mark.parametrize(
    ("reading", "ratio"),
    [(WINDOW, 15_802), (shape(2.39), 23_910), (RatioSeen(ratio=1.85), 18_500), (ALL_BARS, None)],
    ids=["bars on all sides", "bars above and below", "a ratio", "nothing but bars"],
)
def test_what_an_unheeded_detector_says_is_known_by_its_ratio(
    reading: Event, ratio: int | None
) -> None:
    story = Story(disc("first_word: code"))
    story.film(10, 1.78)
    story.at(20, FULL_CODE)
    story.at(21, reading)
    before = story.core.unheeded
    story.at(22, reading)
    assert story.core.unheeded == before
    if ratio is not None:
        assert before is not None
        assert before.ratio == ratio


def test_of_a_picture_without_square_pixels_the_frame_tells_the_ratio() -> None:
    """Rec. 601 has 720 x 576 samples for 4:3 and for 16:9 (from memory)."""
    story = Story(disc("first_word: code"))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, FULL_CODE)
    story.at(12, BarsSeen(top=72, bottom=72, left=0, right=0, columns=720, rows=576))
    assert story.core.unheeded == UnheededWord(17_778 * 576 // 432, agreed=False)


def test_what_a_code_comes_beside_is_unheeded_only_where_the_code_is_believed() -> None:
    story = first("detector")
    story.at(30, FULL_CODE)
    assert story.core.unheeded is None
    story = Story(disc("first_word: code"))
    story.film(10, 1.78)
    story.at(20, SCOPE_CODE)
    assert story.core.unheeded == UnheededWord(SAID, agreed=False)
    story.at(30, FULL_CODE)
    assert core_of(story).unheeded == UnheededWord(SAID, agreed=True)
    story.at(40, OPEN_CODE)
    assert core_of(story).unheeded is None


def test_what_a_detector_said_in_a_pause_is_unheeded_as_well() -> None:
    story = Story(disc("first_word: code"))
    story.film(10, 1.78)
    story.at(20, Playback(state="paused"))
    story.at(21, SCOPE_CODE)
    assert story.core.unheeded == UnheededWord(SAID, agreed=False)


def test_what_is_said_once_more_in_a_title_counts_in_it() -> None:
    story = Story(disc("first_word: code"))
    story.at(10, SourceChosen(source="disc"))
    story.at(11, shape(1.78))
    story.at(12, FULL_CODE)
    story.at(20, Playback(state="playing"))
    assert story.core.unheeded == UnheededWord(SAID, agreed=False)
    story.at(25, shape(1.78))
    assert core_of(story).unheeded == UnheededWord(SAID, agreed=True)


def test_what_was_read_in_a_pause_is_forgotten_with_the_raster() -> None:
    story = first("detector")
    story.at(30, Playback(state="paused"))
    story.at(31, shape(1.78))
    story.at(32, Signal(locked=True, columns=1_920, rows=1_080))
    story.at(33, Playback(state="playing"))
    story.at(60, None)
    assert aspect(story) == 23_900
