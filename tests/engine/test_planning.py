"""The plan of a room: every ratio in every way, one zoom against several, panels and seats."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from engine.optics import fit, largest_preset
from engine.planning.alignment import align
from engine.planning.light import brightness
from engine.planning.placement import place, presets_for, viewing_angle, widest
from engine.planning.plan import RATIOS, Plan, Trade, Way, plan
from engine.room import WHOLE, Light, Look, Room, RoomBelow, Throw
from tests.engine.planned import RATIOS as ANY_RATIO
from tests.engine.planned import corners, room, rooms, screen

LIGHT = Light(2_200, 0.85, None, None, 2_000)
THROW = Throw(5_200_000, 13_500, 27_000, 5_000, 2_000, 0, 0)


def lit(**others: object) -> Room:
    """The usual room with its light and its lens known."""
    return room(light=LIGHT, throw=THROW, transmission=0.72, **others)  # type: ignore[arg-type]


def way(found: Plan, ratio: int, preset: str, picture: str) -> Way:
    """One way to show one ratio."""
    (shape,) = (shape for shape in found.shapes if shape.ratio == ratio)
    (one,) = (way for way in shape.ways if (way.preset, way.picture) == (preset, picture))
    return one


def trade(found: Plan, ratio: int) -> Trade:
    """What a preset gives for one ratio."""
    (one,) = (trade for trade in found.trades if trade.ratio == ratio)
    return one


@given(rooms(), ANY_RATIO)
def test_every_preset_shows_every_ratio_in_every_picture_once(at: Room, ratio: int) -> None:
    found = plan(at, (ratio,))
    (shape,) = found.shapes
    ways = [(way.preset, way.picture) for way in shape.ways]
    assert ways == [
        (preset, picture) for preset in at.presets for picture in ("plain", "whole", *at.pictures)
    ]
    assert shape.best.preset == presets_for(at, ratio)[0].preset


@given(rooms(), ANY_RATIO)
def test_what_is_planned_is_what_would_be_ordered(at: Room, ratio: int) -> None:
    for one in plan(at, (ratio,)).shapes[0].ways:
        shown = 17_778 if one.picture == WHOLE else ratio
        picture = "plain" if one.as_plain else one.picture
        assert one.placement.rect == fit(at, one.picture, 0, shown, one.preset, widest(at))
        assert one.placement == place(at, Look(picture, 0, one.preset, widest(at)), shown)


@given(rooms(), ANY_RATIO)
def test_a_picture_with_nothing_to_gain_stands_where_plain_stands(at: Room, ratio: int) -> None:
    found = plan(at, (ratio,))
    for one in found.shapes[0].ways:
        if one.as_plain:
            assert one.placement == way(found, ratio, one.preset, "plain").placement


@given(rooms(measured=False), ANY_RATIO)
def test_a_whole_frame_has_the_picture_of_its_ratio_within_it(at: Room, ratio: int) -> None:
    for one in plan(at, (ratio,)).shapes[0].ways:
        if one.picture == WHOLE:
            assert one.area.width / one.area.height == pytest.approx(ratio / 10_000, rel=0.02)
            assert one.columns <= one.placement.rect.width
            assert one.rows <= one.placement.rect.height


def test_a_tall_preset_is_worth_its_travels_for_flat_pictures_and_not_for_wide_ones() -> None:
    """By hand: the raster is 3.400 x 1.793 m and 2.686 x 1.417 m, 1.602 times the area."""
    found = plan(lit())
    assert found.fixed == "broad"
    flat, wide = trade(found, 17_778), trade(found, 24_000)
    assert (flat.moves, flat.best.preset, flat.travel) == (True, "tall", 18_000)
    lens = (1 - 0.28 * (1.9357 - 1.35) / 1.35) / (1 - 0.28 * (1.5294 - 1.35) / 1.35)
    assert flat.light == pytest.approx(1.602 * lens, rel=1e-3)
    assert flat.pixels == pytest.approx(3_840 * 2_160 / (3_032 * 1_706), rel=1e-3)
    assert flat.size == pytest.approx(1, abs=2e-3)
    assert (wide.moves, wide.travel, wide.light, wide.pixels) == (False, 0, 1, 1)


def test_a_room_with_one_preset_is_held_against_presets_made_to_fit() -> None:
    alone = lit(fits={"broad": 24_000})
    found = plan(alone)
    made = trade(found, 20_000)
    assert (made.made, made.moves) == (True, True)
    assert made.light is not None
    assert made.light > 1.2
    assert not trade(found, 24_000).moves
    assert [zoom.preset for zoom in found.zooms] == ["broad"]


def test_no_preset_is_made_up_that_the_lens_does_not_reach() -> None:
    short = THROW._replace(longest=15_310)
    alone = replace(lit(fits={"broad": 24_000}), projector=lit().projector._replace(throw=short))
    assert not any(trade.moves for trade in plan(alone).trades)


def test_light_does_not_hang_on_the_picture() -> None:
    found = plan(lit())
    for zoom in found.zooms:
        assert zoom.light == brightness(found.room, zoom.preset)
    assert found.zoom("tall").light != found.zoom("broad").light


def test_panels_cost_a_picture_wider_than_their_opening_its_width() -> None:
    (masking,) = plan(room()).maskings
    assert (masking.panels, masking.opening, masking.end) == ("sides", 17_800, 0)
    assert 2 * masking.side == pytest.approx(3_400_000 - 1_416_666 * 1.78, abs=2)
    kept = dict(masking.kept)
    assert kept[17_778] == pytest.approx(1, abs=2e-3)
    assert kept[24_000] == pytest.approx(1.78 / 2.40, rel=2e-3)


def test_a_picture_for_lines_that_is_plain_in_the_open_is_smaller_between_panels() -> None:
    """By hand: on a screen of 1.60, 2.00 has 10 % dark above and below, enough for 10 % of lines.

    Panels of 2.00 above and below leave no row dark: the lines then take theirs from the picture.
    """
    at = room(
        screen(aspect=16_000),
        fits={"tall": 16_000},
        openings={"open": None, "lids": 20_000},
        pictures={"lines": RoomBelow(1_000)},
    )
    one = way(plan(at, (20_000,)), 20_000, "tall", "lines")
    assert one.as_plain
    assert dict(one.left)["lids"].share == pytest.approx(1 / 1.10, rel=2e-3)


def test_panels_are_said_to_be_in_the_way_of_what_would_fall_on_them() -> None:
    found = plan(room())
    assert way(found, 24_000, "broad", "plain").covered == ("sides",)
    assert way(found, 13_333, "broad", "plain").covered == ()


def test_each_seat_sees_the_best_picture_under_its_angle() -> None:
    seated = replace(room(), seats={"front": 3_000_000, "back": 6_000_000})
    front, back = plan(seated).seats
    assert front.angle == pytest.approx(viewing_angle(3.0, 3.4))
    assert back.angle < 33 < front.angle
    for near, far in zip(front.seen, back.seen, strict=True):
        assert near.ratio == far.ratio
        assert near.angle > far.angle
        assert near.pixels < far.pixels


def test_a_measured_preset_comes_with_its_alignment_and_its_own_raster() -> None:
    seen = corners((48, 250), (4_048, 254), (4_040, 1_910), (52, 1_914))
    at = room(measured={"broad": seen})
    found = plan(at)
    assert found.aligned == (("broad", align(at, seen)),)
    broad, tall = found.zooms
    assert (broad.measured, tall.measured) == (True, False)
    assert broad.width == pytest.approx(3_400_000 * 4_096 / 4_000, rel=0.01)


def test_the_ratios_planned_are_those_of_the_trade_in_order() -> None:
    assert len(RATIOS) == 14
    assert sorted(set(RATIOS)) == list(RATIOS)


@given(rooms(), ANY_RATIO)
def test_the_fixed_zoom_has_the_largest_raster_and_no_trade_loses(at: Room, ratio: int) -> None:
    found = plan(at, (ratio,))
    (one,) = found.trades
    assert found.fixed == largest_preset(at)
    assert one.fixed.preset == found.fixed
    assert not one.moves or max(one.pixels, one.size) > 1.01


def test_a_screen_of_any_size_has_the_same_pixels() -> None:
    small, large = plan(room(screen(1_000_000))), plan(room(screen(10_000_000)))
    for one, other in zip(small.shapes, large.shapes, strict=True):
        assert one.best.columns == pytest.approx(other.best.columns, abs=1)
