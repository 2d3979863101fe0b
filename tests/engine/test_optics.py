"""The raster rectangle that is ordered: on the screen, off the panels, in the picture's shape."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from skimage.transform import ProjectiveTransform

from engine import optics
from engine.optics import (
    UNLIT,
    WHISKER,
    Rect,
    Window,
    can_show,
    fit,
    larger_preset,
    on_panel,
    removes,
    window,
)
from engine.room import Crop, Room, RoomBelow, Stretch
from tests.engine.planned import CROPPED, GENTLE, RATIOS, corners, room, rooms, screen

LIFTS = st.integers(0, 5_000)
PICTURES = st.sampled_from(["plain", "whole", "stretched", "cropped", "lines"])
ARRANGEMENTS = st.sampled_from(["open", "some", "more", None])


def presets_of(place: Room) -> st.SearchStrategy[str | None]:
    return st.sampled_from([*place.presets, None])


def unsure_share(place: Room, aspect: int) -> Fraction:
    """What share of a length is unsure: half of 1/10,000 of both the ratios that it rests on."""
    cloth = place.screen
    return Fraction(1, 2 * aspect) + Fraction(cloth.height, 20_000 * cloth.width)


def reach_on_screen(place: Room, rect: Rect, preset: str) -> tuple[float, float, float, float]:
    """How far from the screen's middle a rectangle reaches: left, top, right, bottom, in um."""
    at = place.presets[preset]
    if at.measured is None:
        across = Fraction(at.raster_width, place.projector.columns)
        down = Fraction(at.raster_height, place.projector.rows)
        middle = Fraction(place.projector.columns, 2), Fraction(place.projector.rows, 2)
        return (
            float((middle[0] - rect.left) * across),
            float((middle[1] - rect.top) * down),
            float((rect.right - middle[0]) * across),
            float((rect.bottom - middle[1]) * down),
        )
    half = np.array([place.screen.width, place.screen.height]) / 2
    on_cloth = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    seen = ProjectiveTransform.from_estimate(  # type: ignore[no-untyped-call]
        np.array(at.measured) / 100, on_cloth
    )
    edges = [(rect.left, rect.top), (rect.right, rect.top)]
    edges += [(rect.right, rect.bottom), (rect.left, rect.bottom)]
    x, y = seen(np.array(edges)).T
    return float(-x.min()), float(-y.min()), float(x.max()), float(y.max())


@given(rooms(), PICTURES, LIFTS, RATIOS, ARRANGEMENTS, st.data())
def test_a_picture_never_falls_on_a_panel_nor_leaves_the_raster(  # noqa: PLR0913, PLR0917
    place: Room, picture: str, lift: int, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(presets_of(place))
    rect = fit(place, picture, lift, aspect, preset, panels)
    assert rect.left >= 0
    assert rect.top >= 0
    assert rect.right <= place.projector.columns
    assert rect.bottom <= place.projector.rows
    assert not on_panel(place, rect, preset, panels)


@given(rooms(), PICTURES, RATIOS, st.data())
def test_what_the_engine_calls_off_the_panels_is_off_them_on_the_screen(
    place: Room, picture: str, aspect: int, data: st.DataObject
) -> None:
    preset, panels = data.draw(st.sampled_from(list(place.presets))), data.draw(ARRANGEMENTS)
    rect = fit(place, picture, 0, aspect, preset, panels)
    free = window(place, panels)
    left, top, right, bottom = reach_on_screen(place, rect, preset)
    bit = place.screen.width / 1e6  # what the comparison's own floats may be out by
    if free.width < place.screen.width:
        assert max(left, right) <= free.width / 2 + bit
    if free.height < place.screen.height:
        assert max(top, bottom) <= free.height / 2 + bit


@given(rooms(), PICTURES, RATIOS, ARRANGEMENTS, st.data())
def test_a_picture_off_the_panels_stays_off_them_at_every_smaller_raster(
    place: Room, picture: str, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from(list(place.presets)))
    rect = fit(place, picture, 0, aspect, preset, panels)
    for other in place.presets:
        if larger_preset(place, preset, other) == preset:
            assert not on_panel(place, rect, other, panels)


def test_without_panels_nothing_falls_on_one() -> None:
    beyond = Rect(-50, -50, 9_000, 9_000)
    assert not on_panel(room(), beyond, "tall", "open")
    assert not on_panel(room(openings={"open": None}), beyond, None, None)
    assert on_panel(room(), beyond, "tall", "sides")


@given(rooms(), PICTURES, LIFTS, RATIOS)
def test_a_picture_that_is_safe_with_everything_unknown_is_safe_however_the_room_stands(
    place: Room, picture: str, lift: int, aspect: int
) -> None:
    rect = fit(place, picture, lift, aspect, None, None)
    for preset in place.presets:
        for panels in place.panels:
            assert not on_panel(place, rect, preset, panels)


@given(rooms(), RATIOS, LIFTS, ARRANGEMENTS, st.data())
def test_a_plain_picture_keeps_its_ratio_within_a_pixel(
    place: Room, aspect: int, lift: int, panels: str | None, data: st.DataObject
) -> None:
    """Within two at panels, which are kept clear to whole pixels on either side, and a whisker.

    By hand: between 56.0018 and 2103.9982 lie 2046 whole rows, and 1.8916 is 3873.9901 wide, which
    counts as 3874. That is the width of 2048.0017 rows.
    """
    preset = data.draw(presets_of(place))
    rect = fit(place, "plain", lift, aspect, preset, panels)
    assume(not rect.empty)
    free = optics.field_of(place, preset, panels).free
    at_panels = (1 + WHISKER) * (rect.width == free.width or rect.height == free.height)
    unsure = max(rect.width, rect.height) * unsure_share(place, aspect)
    wide, high = Fraction(rect.height * aspect, 10_000), Fraction(rect.width * 10_000, aspect)
    assert min(abs(wide - rect.width), abs(high - rect.height)) <= 1 + at_panels + unsure


@given(rooms(measured=False), RATIOS, ARRANGEMENTS, st.data())
def test_a_plain_picture_passes_the_screen_by_no_more_than_the_overfill_and_the_border(
    place: Room, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from(list(place.presets)))
    rect = fit(place, "plain", 0, aspect, preset, panels)
    at, cloth = place.presets[preset], place.screen
    pixel = at.raster_width / place.projector.columns
    for length, on_cloth in ((rect.width, cloth.width), (rect.height, cloth.height)):
        allowed = min(on_cloth * cloth.overfill / 10_000, 2 * cloth.border)
        assert length * pixel <= on_cloth + allowed + 2 * pixel


@given(rooms(measured=False), RATIOS, ARRANGEMENTS, st.data())
def test_a_plain_picture_is_as_large_as_raster_and_window_allow(
    place: Room, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from(list(place.presets)))
    rect = fit(place, "plain", 0, aspect, preset, panels)
    at, free = place.presets[preset], window(place, panels)
    pixel = at.raster_width / place.projector.columns
    width, height = min(free.width, at.raster_width), min(free.height, at.raster_height)
    largest = min(width, height * aspect / 10_000)
    assert rect.width * pixel >= largest - (3 + 3 * aspect / 10_000) * pixel


@given(rooms(), PICTURES, RATIOS, LIFTS, ARRANGEMENTS, st.data())
def test_the_same_question_has_the_same_answer_remembered_or_not(  # noqa: PLR0913, PLR0917
    place: Room, picture: str, aspect: int, lift: int, panels: str | None, data: st.DataObject
) -> None:
    question = (place, picture, lift, aspect, data.draw(presets_of(place)), panels)
    assert fit(*question) == fit(*question) == fit.__wrapped__(*question)


@given(rooms(), st.sampled_from(["stretched", "cropped"]), RATIOS, ARRANGEMENTS, st.data())
def test_a_named_picture_never_shows_less_than_plain(
    place: Room, picture: str, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(presets_of(place))
    plain = fit(place, "plain", 0, aspect, preset, panels)
    rect = fit(place, picture, 0, aspect, preset, panels)
    assert rect.width >= plain.width
    if can_show(place, picture, aspect, preset, panels):
        assert rect.width > plain.width


@given(rooms(), RATIOS, ARRANGEMENTS, st.data())
def test_a_named_picture_stays_within_its_limits(
    place: Room, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    preset = data.draw(presets_of(place))
    plain = fit(place, "plain", 0, aspect, preset, panels)
    for name, shape in place.pictures.items():
        rect = fit(place, name, 0, aspect, preset, panels)
        if isinstance(shape, RoomBelow) or rect[2:] == plain[2:]:
            continue
        exact = optics.field_of(place, preset, panels).exact
        width = (rect.width / (1 + unsure_share(place, aspect)) - WHISKER) * 10_000
        assert width / (exact.height * aspect) <= limit_of(shape)


@given(rooms(), RATIOS, ARRANGEMENTS, st.data())
def test_a_picture_for_lines_has_its_room_below_it_on_the_screen(
    place: Room, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    """To half a pixel, by which its lower edge is rounded, and a whole one at a panel below it."""
    preset = data.draw(presets_of(place))
    rect = fit(place, "lines", 0, aspect, preset, panels)
    field = optics.field_of(place, preset, panels)
    shape = place.pictures["lines"]
    assert isinstance(shape, RoomBelow)
    assume(rect.height > 1)
    share = Fraction(shape.room_below, 10_000)
    below = field.exact.bottom - rect.bottom
    pressed = rect.top == field.free.top  # off a panel above, so it may lie lower by a part of one
    assert below >= rect.height * share - (1 if pressed else Fraction(1, 2))


@given(rooms(), RATIOS, ARRANGEMENTS, st.data())
def test_a_picture_for_lines_is_a_plain_one_where_that_leaves_room_enough(
    place: Room, aspect: int, panels: str | None, data: st.DataObject
) -> None:
    """It is raised only where the bar below is too low for the lines."""
    preset = data.draw(presets_of(place))
    lines = fit(place, "lines", 0, aspect, preset, panels)
    field = optics.field_of(place, preset, panels)
    shape = place.pictures["lines"]
    assert isinstance(shape, RoomBelow)
    share = Fraction(shape.room_below, 10_000)
    assume(not lines.empty)
    assume(field.exact.height >= field.exact.width * 10_000 / aspect * (1 + 2 * share))
    bars = lines.top - field.exact.top, field.exact.bottom - lines.bottom
    assert abs(bars[0] - bars[1]) <= 2
    assert abs(lines.width - field.exact.width) <= 2


def test_lines_and_heads_of_a_scope_film_are_both_seen() -> None:
    """By hand: of 1706.67 rows a picture takes 1537.54 and keeps 169.13 below it, 11 % of its own.

    The screen ends in row 1933.33, so the picture ends in 1764.2; it begins at 226.67.
    """
    place = room(pictures={"lines": RoomBelow(1_100)}, fits={"broad": 24_000})
    rect = fit(place, "lines", 0, 23_900, "broad", "open")
    assert (rect.top, rect.height, rect.width) == (227, 1_537, 3_674)


def test_a_picture_for_lines_fills_a_screen_whose_corners_lie_between_pixels() -> None:
    """By hand: of 1820.2 rows the picture takes 1820.2 / 1.0101 = 1802.0."""
    off = corners((-0.01, 169.90), (4_096.01, 169.90), (4_096.01, 1_990.10), (-0.01, 1_990.10))
    place = room(
        screen(aspect=22_503),
        fits={"one": 22_503},
        measured={"one": off},
        pictures={"lines": RoomBelow(101)},
    )
    rect = fit(place, "lines", 0, 10_000, "one", "open")
    assert rect == Rect(1_147, 170, 1_802, 1_802)


def limit_of(shape: Stretch | Crop) -> Fraction:
    enlarged = Fraction(10_000, 10_000 - shape.rows_lost)
    if isinstance(shape, Crop):
        return enlarged
    middle, edge = Fraction(shape.middle_circle, 10_000), Fraction(shape.edge_circle, 10_000)
    uneven = 1 - Fraction(shape.even_middle, 10_000)
    return enlarged * (middle + (edge - middle) * uneven / 2)


@given(rooms(), PICTURES, RATIOS, ARRANGEMENTS, LIFTS, LIFTS, st.data())
def test_more_lift_never_lowers_the_picture_nor_changes_its_size(  # noqa: PLR0913, PLR0917
    place: Room,
    picture: str,
    aspect: int,
    panels: str | None,
    less: int,
    more: int,
    data: st.DataObject,
) -> None:
    less, more = sorted((less, more))
    preset = data.draw(presets_of(place))
    low = fit(place, picture, less, aspect, preset, panels)
    high = fit(place, picture, more, aspect, preset, panels)
    assert high.top <= low.top
    assert high == low._replace(top=high.top)


def test_a_dark_picture_is_empty_and_falls_on_no_panel() -> None:
    place = room()
    rect = fit(place, "dark", 0, 17_778, "broad", "sides")
    assert rect == UNLIT
    assert rect.empty
    assert not on_panel(place, Rect(0, 0, 0, 2_160), "broad", "sides")


def test_a_picture_of_the_screens_own_ratio_fills_it_at_the_preset_that_fits_it() -> None:
    # 4096 columns over 3.4 m; 4096 / 2.4 = 1706.67 rows
    assert fit(room(), "plain", 0, 24_000, "broad", "open") == Rect(0, 227, 4_096, 1_706)


def test_a_narrower_picture_leaves_unlit_sides() -> None:
    rect = fit(room(), "plain", 0, 17_778, "broad", "open")
    assert (rect.left, rect.width) == (531, 3_034)  # of 1706.67 x 1.7778 = 3034.1


def test_fitted_side_panels_make_a_wide_picture_smaller() -> None:
    open_wide = fit(room(), "plain", 0, 23_900, "broad", "open")
    between = fit(room(), "plain", 0, 23_900, "broad", "sides")
    assert open_wide.width == 4_096
    assert between.width == 3_036  # 1.78 of the height, 1706.67 rows, rounded to whole columns


@pytest.mark.parametrize(
    ("overfill", "border", "covers"),
    [(200, 80_000, True), (0, 80_000, False), (200, 0, False), (200, 2_000, False)],
)
def test_the_border_swallows_a_little_where_it_is_wide_enough(
    overfill: int, border: int, covers: bool
) -> None:
    place = room(screen(overfill=overfill, border=border))
    rect = fit(place, "plain", 0, 23_600, "broad", "open")
    assert (rect.width == 4_096) is covers


def test_nothing_is_lost_in_the_border_while_the_sides_stay_dark() -> None:
    """By hand: fitted to 1.85, a 16:9 raster passes the screen by 4.06 % of its height.

    The border takes 5 %. A picture of 16:9 covers all that is lit, on 2,160 rows; one of 1.33
    would cover no side of it, so it stays within the screen, on 2160 / 1.0406 of them.
    """
    at = room(screen(aspect=23_500, overfill=500), raster=(3_840, 2_160), fits={"one": 18_500})
    assert fit(at, "plain", 0, 17_778, "one", "open").height in {2_159, 2_160}
    narrow = fit(at, "plain", 0, 13_333, "one", "open")
    assert narrow.height in {2_075, 2_076}
    assert narrow.width == pytest.approx(2_160 / 1.0406 * 1.3333, abs=1)


def test_the_overfill_never_goes_on_to_a_panel() -> None:
    place = room(screen(overfill=1_000), openings={"sides": 17_800})
    rect = fit(place, "plain", 0, 18_000, "tall", "sides")
    assert rect.width == 3_844  # of 1.78 x 2160 = 3844.8: bars above and below instead
    assert rect.height < 2_160
    narrow = fit(place, "plain", 0, 17_500, "tall", "sides")
    assert narrow.width == 3_780  # the raster ends with the screen: no row can be lost


def test_lift_raises_a_picture_by_its_share_of_the_screens_height() -> None:
    low = fit(room(), "plain", 0, 24_000, "broad", "open")
    high = fit(room(), "plain", 500, 24_000, "broad", "open")
    assert low.top - high.top == 85  # 5 % of 1706 rows
    assert fit(room(), "plain", 5_000, 24_000, "broad", "open").top == 0


def test_a_stretch_takes_what_it_needs_and_no_more() -> None:
    rect = fit(room(), "gentle", 0, 21_000, "broad", "open")
    assert (rect.left, rect.width) == (0, 4_096)
    half = GENTLE._replace(fill=5_000)
    partly = fit(room(pictures={"gentle": half}), "gentle", 0, 21_000, "broad", "open")
    assert partly.width == int(3_584 + (4_096 - 3_584) / 2)  # 1706.67 x 2.10 = 3584.0


def test_a_stretch_beyond_its_limits_fills_what_it_may_and_is_said_not_to_show() -> None:
    rect = fit(room(), "gentle", 0, 17_778, "broad", "open")
    assert rect.width == int(1_706.67 * 1.7778 * 1.1245 / 0.97)
    assert not can_show(room(), "gentle", 17_778, "broad", "open")
    assert can_show(room(), "gentle", 21_000, "broad", "open")


@pytest.mark.parametrize("aspect", [23_900, 24_000, 27_600])
def test_a_stretch_with_nothing_to_fill_leaves_the_picture_plain(aspect: int) -> None:
    plain = fit(room(), "plain", 0, aspect, "broad", "open")
    for name in ("gentle", "cropped"):
        assert fit(room(), name, 0, aspect, "broad", "open") == plain
        assert not can_show(room(), name, aspect, "broad", "open")


def test_a_stretch_cannot_be_shown_where_the_raster_ends_before_the_screen() -> None:
    strong = GENTLE._replace(edge_circle=20_000)
    place = room(pictures={"strong": strong})
    assert can_show(place, "strong", 18_500, "broad", "open")
    assert not can_show(place, "strong", 18_500, "tall", "open")


def test_a_crop_pays_where_it_shows_more_and_the_rest_can_always_be_shown() -> None:
    place = room()
    assert can_show(place, "cropped", 21_000, "broad", "open")
    rect = fit(place, "cropped", 0, 21_000, "broad", "open")
    rows = Fraction(1_416_666 * 4_096, 3_400_000)  # 1706.666 of them are the screen's height
    assert rect.width == 21_000 * rows // (10_000 - CROPPED.rows_lost)
    assert all(can_show(place, name, 21_000, None, None) for name in ("plain", "whole", "dark"))


def test_the_window_is_the_screen_within_the_opening() -> None:
    place = room(screen(aspect=20_000), openings={"open": None, "sides": 17_800, "lids": 23_500})
    assert window(place, "open") == Window(3_400_000, 1_700_000)
    assert window(place, "sides") == Window(3_026_000, 1_700_000)
    assert window(place, "lids") == Window(3_400_000, 1_446_808)
    assert window(place, None) == Window(3_026_000, 1_446_808)


def test_taking_panels_off_and_changing_their_direction_remove_something() -> None:
    place = room(screen(aspect=20_000), openings={"open": None, "sides": 17_800, "lids": 23_500})
    assert removes(place, "sides", "open")
    assert removes(place, "sides", "lids")
    assert removes(place, None, "sides")
    assert not removes(place, "open", "sides")
    assert not removes(place, "sides", "sides")


def test_the_larger_preset_is_the_one_with_the_larger_raster_and_unknown_is_the_largest() -> None:
    place = room()
    assert larger_preset(place, "broad", "tall") == larger_preset(place, "tall", "broad") == "broad"
    assert larger_preset(place, None, "tall") is None
    assert larger_preset(place, "tall", None) is None
    assert optics.largest_preset(place) == "broad"


def test_an_unknown_lens_counts_as_the_largest_raster() -> None:
    place = room()
    at_broad = fit(place, "plain", 0, 17_778, "broad", "sides")
    assert fit(place, "plain", 0, 17_778, None, "sides") == at_broad
    small = fit(place, "plain", 0, 17_778, "tall", "sides")
    assert on_panel(place, small, None, "sides")
    assert not on_panel(place, small, None, "open")
    assert on_panel(place, small, "broad", None)
    assert not on_panel(place, small, "tall", None)


@given(rooms(measured=False), RATIOS)
def test_a_raster_makes_the_ratio_it_fits_touch_the_screen_and_pass_it_nowhere(
    place: Room, fits: int
) -> None:
    columns, rows = place.projector.columns, place.projector.rows
    width, height = optics.raster_size(place.screen, columns, rows, fits)
    picture = min(Fraction(width), Fraction(height * fits, 10_000))
    high = Fraction(picture * 10_000, fits)
    slack = 4 + 4 * Fraction(columns, rows)  # whole micrometres on both sides
    assert picture <= place.screen.width + slack
    assert high <= place.screen.height + slack
    assert place.screen.width - picture <= slack or place.screen.height - high <= slack
    assert abs(Fraction(width, height) - Fraction(columns, rows)) * height <= slack
