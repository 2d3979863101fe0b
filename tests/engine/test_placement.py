"""What a look does on the screen: place, border, unlit parts, pixels, subtitles, the lens."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formats import Raster
from engine.optics import UNLIT, fit
from engine.planning.placement import (
    Area,
    Placement,
    Sides,
    place,
    presets_for,
    reach,
    screen_by_diagonal,
)
from engine.room import Look, Room, Throw
from tests.engine.planned import CROPPED, RATIOS, corners, room, rooms, screen

CONTAINER = Raster(4_096, 2_160)
THROW = Throw(
    distance=5_200_000,
    shortest=13_500,
    longest=27_000,
    shift_up=6_000,
    shift_across=2_500,
    offset_up=0,
    offset_across=0,
)


def look(
    picture: str = "plain", preset: str = "broad", panels: str = "open", lift: int = 0
) -> Look:
    return Look(picture, lift, preset, panels)


def shown(aspect: int, at: Look | None = None, of: Room | None = None) -> Placement:
    return place(of or room(), at or look(), aspect)


def test_a_scope_picture_fills_a_scope_screen() -> None:
    found = shown(24_000)
    assert found.picture == pytest.approx((0, 0, 3_400_000, 1_416_667), abs=900)  # a pixel
    assert found.unlit_width + found.unlit_height < 900
    assert found.raster_used == pytest.approx(4_096 / 2.4 / 2_160, abs=0.001)
    assert found.spill == Sides(0, 0, 0, 0)


def test_a_16_to_9_picture_leaves_a_quarter_of_a_scope_screen_grey() -> None:
    found = shown(17_778)
    unlit = 3_400_000 - 1_416_667 * 1.7778
    assert found.unlit_width == pytest.approx(unlit, abs=2_000)
    assert found.grey == pytest.approx(unlit / 3_400_000, abs=1e-3)


def test_what_a_smaller_raster_leaves_unlit_is_truly_dark() -> None:
    # The raster at `tall` is as high as the screen and 1.8963 of it wide.
    found = shown(17_778, look(preset="tall"))
    raster = 1_416_667 * 4_096 / 2_160
    assert found.grey == pytest.approx((raster - 1_416_667 * 1.7778) / 3_400_000, abs=1e-3)
    assert found.grey < shown(17_778).grey / 3


def test_fitted_panels_leave_nothing_grey_and_count_as_no_screen() -> None:
    found = shown(17_800, look(panels="sides", preset="tall"))
    assert found.unlit_width == pytest.approx(0, abs=2_000)
    assert found.grey == pytest.approx(0, abs=1e-3)
    assert not found.on_panel


def test_a_dark_look_has_a_place_nowhere() -> None:
    found = shown(17_778, look("dark"))
    assert found.rect == UNLIT
    assert (found.sampling, found.subtitles, found.enlarged) == (None, None, None)
    assert found.unlit_width == 3_400_000
    assert found.grey == pytest.approx(1.0)


def test_what_passes_the_screen_is_lost_in_the_border_and_then_spills() -> None:
    # 5 % of the height is 70.8 mm, 10 % is 141.7 mm: the border swallows 80 mm.
    inside = shown(24_000, look(lift=500))
    assert inside.lost.top == pytest.approx(70_800, abs=900)
    assert inside.spill == Sides(0, 0, 0, 0)
    beyond = shown(24_000, look(lift=1_000))
    assert beyond.lost.top == 80_000
    assert beyond.spill.top == pytest.approx(61_700, abs=900)
    assert (beyond.lost.bottom, beyond.spill.bottom) == (0, 0)


@pytest.mark.parametrize(
    ("aspect", "preset", "across", "one_to_one"),
    [
        (24_000, "broad", 4_096 / 3_840, 3_840 / 4_096),
        (17_778, "tall", 1.0, 1.0),
        (17_778, "broad", 3_034 / 3_840, None),
    ],
)
def test_the_sources_pixels_are_held_against_the_rasters(
    aspect: int, preset: str, across: float, one_to_one: float | None
) -> None:
    sampling = shown(aspect, look(preset=preset)).sampling
    assert sampling is not None
    assert sampling.across == pytest.approx(across)
    assert sampling.down == pytest.approx(across, abs=2e-3)
    assert sampling.one_to_one == pytest.approx(one_to_one)


def test_a_source_with_all_the_rasters_columns_is_not_scaled() -> None:
    sampling = place(room(), look(), 24_000, CONTAINER).sampling
    assert sampling is not None
    assert (sampling.columns, sampling.across, sampling.one_to_one) == (4_096, 1.0, 1.0)


def test_a_stretch_says_what_it_does_and_whether_it_keeps_its_word() -> None:
    kept = shown(21_000, look("gentle")).enlarged
    assert kept is not None
    assert kept.fill == pytest.approx(1, abs=1e-4)  # rounding down costs the last of it
    assert kept.kept
    assert kept.widening.curve.edge == pytest.approx(1.26, abs=0.01)
    limited = shown(17_778, look("gentle")).enlarged
    assert limited is not None
    assert not limited.kept
    assert limited.fill == pytest.approx(0.455, abs=0.002)
    assert limited.widening.curve.edge == pytest.approx(1.30, abs=0.001)
    assert shown(24_000, look("gentle")).enlarged is None
    assert shown(21_000).enlarged is None


def test_a_crop_magnifies_the_pixels_evenly() -> None:
    found = shown(20_000, look("cropped"))
    assert found.enlarged is not None
    assert found.sampling is not None
    assert found.enlarged.widening.rows_lost == pytest.approx(CROPPED.rows_lost / 10_000, abs=1e-3)
    assert found.sampling.across == pytest.approx(found.sampling.down, rel=2e-3)


def test_lines_in_the_bar_miss_a_scope_screen_until_the_picture_is_lifted() -> None:
    # In a 16:9 frame of which 5 % at the bottom stay free, lines end 0.45 x 2.40 / 1.7778 =
    # 60.75 % of the picture's height beneath its middle: 10.75 % beneath the screen.
    low = shown(24_000).subtitles
    assert low is not None
    assert not low.land
    assert low.lift == pytest.approx(1_075, abs=12)
    assert low.can
    lifted = shown(24_000, look(lift=low.lift)).subtitles
    assert lifted is not None
    assert lifted.land


def test_lines_in_the_picture_always_land() -> None:
    found = shown(17_778).subtitles
    assert found is not None
    assert (found.land, found.lift, found.can) == (True, 0, True)


def test_where_the_raster_ends_with_the_picture_no_lift_brings_the_lines_up() -> None:
    # A 2.40 picture at a raster of its own height: nothing is left above it to be raised into.
    at = room(screen(border=0, overfill=0), raster=(4_096, 1_716), fits={"broad": 24_000})
    found = shown(24_000, of=at).subtitles
    assert found is not None
    assert (found.land, found.can) == (False, False)


@given(rooms(), RATIOS, st.sampled_from(["plain", "stretched", "cropped"]), st.data())
def test_no_length_no_share_and_no_area_is_ever_negative(
    at: Room, aspect: int, picture: str, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from([*at.presets, None]))
    panels = data.draw(st.sampled_from([*at.panels, None]))
    lift = data.draw(st.integers(0, 5_000))
    found = place(at, Look(picture, lift, preset, panels), aspect)
    assert found.rect == fit(at, picture, lift, aspect, preset, panels)
    assert min(*found.lost, *found.spill, found.unlit_width, found.unlit_height) >= 0
    assert 0 <= found.grey <= 1
    assert 0 <= found.raster_used <= 1
    assert found.picture.width >= 0
    assert found.picture.height >= 0
    assert not found.on_panel
    for lost, spill in zip(found.lost, found.spill, strict=True):
        assert spill == 0 or lost == at.screen.border


@given(rooms(), RATIOS, st.data())
def test_the_lift_that_is_said_to_bring_lines_up_does(
    at: Room, aspect: int, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from([*at.presets]))
    found = place(at, Look("plain", 0, preset, "open"), aspect).subtitles
    if found is not None and found.can:
        lifted = place(at, Look("plain", found.lift, preset, "open"), aspect).subtitles
        assert lifted is not None
        assert lifted.land


def test_each_ratio_has_the_presets_that_show_it_largest_and_of_those_the_brightest() -> None:
    found = presets_for(room(), 17_778)
    assert [(one.preset, one.fits) for one in found] == [("tall", True), ("broad", True)]
    scope = presets_for(room(), 23_900)
    assert [(one.preset, one.fits) for one in scope] == [("broad", True), ("tall", False)]
    assert scope[1].size == pytest.approx(10_000 * 2_686_418 / (1_416_667 * 2.39), abs=10)


def test_the_border_lets_a_preset_fit_a_ratio_beside_its_own() -> None:
    # 2.36 on a 2.40 screen: within 2 % it covers the whole width.
    assert presets_for(room(), 23_600)[0].size == 10_000
    assert presets_for(room(screen(overfill=0)), 23_600)[0].fits


def test_a_measured_preset_is_placed_by_its_corners() -> None:
    # The screen takes 3600 x 1500 pixels, 100 to the right of the raster's middle.
    seen = corners((348, 330), (3_948, 330), (3_948, 1_830), (348, 1_830))
    found = shown(24_000, of=room(measured={"broad": seen}))
    assert tuple(found.rect) == (348, 330, 3_600, 1_500)
    assert found.picture == pytest.approx((0, 0, 3_400_000, 1_416_666), abs=1)


def test_a_picture_passes_a_measured_screen_by_no_more_than_its_overfill() -> None:
    """The screen was found 3600 columns wide where its preset says 4096."""
    seen = corners((248, 330), (3_848, 330), (3_848, 1_830), (248, 1_830))
    at = room(measured={"broad": seen})
    for aspect in (22_000, 23_000, 23_600, 24_400):
        found = shown(aspect, of=at)
        assert max(found.lost) <= 0.01 * 3_400_000
        assert found.spill == Sides(0, 0, 0, 0)


def test_the_lens_reaches_what_its_throw_ratios_allow() -> None:
    near = reach(room(throw=THROW), "broad")
    assert near is not None
    assert (near.throw_ratio, near.in_range) == (15_294, True)
    far = reach(room(throw=THROW._replace(longest=15_000)), "broad")
    assert far is not None
    assert not far.in_range
    assert reach(room(), "broad") is None


def test_the_shift_needed_grows_as_the_zoom_makes_the_raster_smaller() -> None:
    at = room(throw=THROW._replace(offset_up=700_000))
    broad, tall = reach(at, "broad"), reach(at, "tall")
    assert broad is not None
    assert tall is not None
    # the lens 0.7 m above the middle shifts down, 0.7 / 1.792967 and 0.7 / 1.416666 of the raster
    assert (broad.shift_up, tall.shift_up) == (-3_904, -4_941)


@pytest.mark.parametrize(
    ("up", "across", "shift"),
    [
        (0, 0, "within"),
        (1_000_000, 0, "within"),  # 5577 of 6000
        (1_100_000, 0, "beyond"),  # 6135
        (500_000, 400_000, "within"),  # 0.465 + 0.471 of the limits
        (600_000, 500_000, "doubtful"),  # 0.558 + 0.588
        (0, -900_000, "beyond"),  # 2647 of 2500
    ],
)
def test_shift_up_and_across_share_what_the_lens_can_do(up: int, across: int, shift: str) -> None:
    found = reach(room(throw=THROW._replace(offset_up=up, offset_across=across)), "broad")
    assert found is not None
    assert found.shift == shift


def test_a_lens_without_shift_must_stand_before_the_middle() -> None:
    fixed = THROW._replace(shift_up=0, shift_across=0)
    straight, above = (
        reach(room(throw=fixed), "broad"),
        reach(room(throw=fixed._replace(offset_up=1)), "broad"),
    )
    assert straight is not None
    assert above is not None
    assert (straight.shift, above.shift) == ("within", "beyond")


@given(st.integers(300_000, 30_000_000), RATIOS)
def test_a_screens_diagonal_gives_its_sides(diagonal: int, aspect: int) -> None:
    width, height = screen_by_diagonal(diagonal, aspect)
    assert (width**2 + height**2) ** 0.5 == pytest.approx(diagonal, abs=1.5)
    assert width / height == pytest.approx(aspect / 10_000, rel=1e-4)


def test_two_areas_that_do_not_meet_share_nothing() -> None:
    one, other = Area(0, 0, 10, 10), Area(20, 5, 30, 15)
    assert one.shared(other) == 0
    assert one.shared(Area(5, 5, 30, 15)) == 25
