"""Two presets that nobody can tell apart are told, at the second one."""

from __future__ import annotations

import pytest

from rules.room.load import read_room
from rules.starter.request import Wishes
from rules.starter.room_text import starter
from rules.text.findings import BadRoom, Finding, Severity


def found(presets: str, screen: str = "2.40") -> list[Finding]:
    """What is found about presets that lie too close, in a room of a 16:9 raster."""
    text = (
        "room: den\ntime_zone: Europe/Lisbon\n"
        f"screen: {{width: 3 m, aspect: {screen}, border: 1 m}}\n"
        "projector: {raster: 3840 x 2160}\nsources: {disc: {}}\n"
        f"presets:\n{presets}"
    )
    loaded = read_room(text, "room.yaml")
    assert loaded.room is not None, loaded.findings
    return [one for one in loaded.findings if one.code == "presets-too-close"]


def corners(left: int, top: int) -> str:
    """The corners of a screen of 3 m by 1.25 m at the preset for 2.40, from its first corner."""
    right, bottom = left + 3_840, top + 1_600
    return (
        f"{{top_left: {left} x {top}, top_right: {right} x {top}, "
        f"bottom_right: {right} x {bottom}, bottom_left: {left} x {bottom}}}"
    )


def test_two_presets_that_are_one_shape_are_told_at_the_second() -> None:
    (one,) = found("  broad: {fits: 2.35}\n  wide: {fits: 2.36}\n")
    assert one.severity is Severity.WARNING
    assert (one.line, one.column) == (8, 16)
    assert one.message == (
        "presets broad and wide cannot be told apart: their rasters differ by 0.42 %"
    )
    assert one.suggestion == (
        "Keep one of the two, and show broad where rules show wide, or let them differ by more "
        "than 2 %."
    )


def test_presets_that_the_screen_makes_equal_are_told_with_what_makes_them_so() -> None:
    """On a screen of 2.40 no raster is wider than at 2.40."""
    (one,) = found("  broad: {fits: 2.40}\n  broader: {fits: 2.76}\n")
    assert "their rasters are equally wide" in one.message
    assert one.suggestion.endswith("presets differ only where they fit 1.78 to 2.40.")


@pytest.mark.parametrize("fits", ["2.38", "2.36", "2.35", "2.20", "1.78"])
def test_presets_more_than_two_per_cent_apart_are_two(fits: str) -> None:
    """By hand: 2.352 is 2 % less than 2.40; what is nearer is told."""
    told = len(found(f"  broad: {{fits: 2.40}}\n  other: {{fits: {fits}}}\n"))
    assert told == (fits in {"2.38", "2.36"})


@pytest.mark.parametrize("pair", ["2.00, 2.03", "2.00, 2.04", "2.10, 2.15", "1.90, 1.95"])
def test_what_a_new_room_may_not_have_is_what_check_warns_of(pair: str) -> None:
    """Whoever writes the file by hand hears the same as whoever has it written."""
    one, other = pair.split(", ")
    wishes = Wishes("den", "3 m x 2.40", "3840 x 2160", "disc", presets=pair)
    try:
        starter(wishes)
    except BadRoom:
        refused = True
    else:
        refused = False
    told = found(f"  one: {{fits: {one}}}\n  other: {{fits: {other}}}\n")
    assert bool(told) is refused


def test_each_pair_of_three_equal_presets_is_told() -> None:
    rows = "".join(f"  {name}: {{fits: 1.85}}\n" for name in ("one", "two", "three"))
    assert [one.line for one in found(rows)] == [8, 9, 9]


def test_measured_corners_show_that_two_presets_of_one_size_stand_in_other_places() -> None:
    """A lens that shifts keeps two places at one zoom; 2 % of 3840 columns are 77 pixels."""
    shifted, same = corners(0, 360), corners(0, 300)
    broad = f"  broad: {{fits: 2.40, measured: {corners(0, 280)}}}\n"
    assert found(f"{broad}  low: {{fits: 2.40, measured: {shifted}}}\n") == []
    assert len(found(f"{broad}  low: {{fits: 2.40, measured: {same}}}\n")) == 1
    assert len(found(f"{broad}  low: {{fits: 2.40}}\n")) == 1
