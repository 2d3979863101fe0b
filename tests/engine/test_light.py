"""The light of a room: it falls on the whole raster, and only a smaller raster is brighter."""

from math import isclose

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.plane import raster_seen
from engine.planning.light import (
    Brightness,
    brightness,
    compare_to_reference,
    luminance,
    transmission,
)
from engine.planning.placement import reach
from engine.room import Light, Room, Throw
from tests.engine.planned import corners, room, screen

LIGHT = Light(
    lumens=2_200, remaining=0.85, measured=None, measured_preset=None, native_contrast=2_000
)
THROW = Throw(5_200_000, 13_500, 27_000, 5_000, 2_000, 0, 0)


def light_of(place: Room, preset: str) -> Brightness:
    found = brightness(place, preset)
    assert found is not None
    return found


def test_a_room_file_without_light_has_no_brightness() -> None:
    assert brightness(room(), "broad") is None


def test_scaling_and_stretching_light_more_screen_and_never_more_brightly() -> None:
    # Brightness knows no picture: whatever is shown at a preset, its luminance is the preset's.
    found = light_of(room(light=LIGHT), "broad")
    area = 3.4 * 3.4 * 2_160 / 4_096
    assert found.luminance == pytest.approx(luminance(2_200 * 0.85, 1.1, area), rel=1e-5)


def test_a_longer_zoom_adds_light_by_the_square_of_the_widths() -> None:
    place = room(light=LIGHT)
    broad, tall = light_of(place, "broad"), light_of(place, "tall")
    widths = place.presets["broad"].raster_width / place.presets["tall"].raster_width
    assert tall.luminance / broad.luminance == pytest.approx(widths**2, rel=1e-5)


def test_a_longer_zoom_loses_what_the_lens_swallows() -> None:
    place = room(light=LIGHT, throw=THROW, transmission=0.72)
    # 5.2 m at 3.4 m is a throw of 1.5294, 0.1329 of the way from 1.35 to 2.70
    assert transmission(place, place.presets["broad"]) == pytest.approx(
        1 - 0.13290 * 0.28, abs=1e-5
    )


def test_beyond_its_range_the_zoom_swallows_no_more_and_no_less_than_at_its_ends() -> None:
    near = room(throw=THROW._replace(distance=1_000_000), transmission=0.72)
    far = room(throw=THROW._replace(distance=30_000_000), transmission=0.72)
    assert transmission(near, near.presets["broad"]) == 1
    assert transmission(far, far.presets["broad"]) == pytest.approx(0.72)


def test_a_meters_reading_overrides_the_lumens_and_carries_to_the_other_presets() -> None:
    metered = LIGHT._replace(measured=52.0, measured_preset="tall")
    place = room(light=metered, throw=THROW, transmission=0.72)
    plain = room(light=LIGHT, throw=THROW, transmission=0.72)
    tall, broad = light_of(place, "tall"), light_of(place, "broad")
    assert tall.luminance == 52.0
    assert tall.metered
    rated = light_of(plain, "tall").luminance / light_of(plain, "broad").luminance
    assert isclose(tall.luminance / broad.luminance, rated)


def test_a_meters_reading_without_a_preset_was_taken_at_the_largest_raster() -> None:
    place = room(light=LIGHT._replace(measured=52.0))
    found = light_of(place, "broad")
    assert found.luminance == 52.0


def test_black_is_white_over_the_native_contrast_and_darker_on_a_dark_wall() -> None:
    found = light_of(room(screen(gain=1.0), light=LIGHT), "broad")
    assert found.black == found.luminance / 2_000
    assert found.black_on_wall == pytest.approx(found.black * 0.2)
    assert found.panels_pay
    deep = light_of(room(light=LIGHT._replace(native_contrast=100_000)), "broad")
    assert not deep.panels_pay


@pytest.mark.parametrize(
    ("candelas", "review", "theatre"),
    [
        (48.0, True, True),
        (44.5, True, True),
        (51.5, True, True),
        (44.4, False, True),
        (58.2, False, True),
        (37.7, False, False),
        (58.3, False, False),
    ],
)
def test_the_tolerances_hold_up_to_their_limits(
    candelas: float, review: bool, theatre: bool
) -> None:
    found = compare_to_reference(candelas)
    assert (found.review, found.theatre) == (review, theatre)
    assert found.difference == pytest.approx(candelas - 48)


def test_measured_corners_say_how_large_the_raster_really_is() -> None:
    # The screen takes 2048 x 1080 of 4096 x 2160 pixels, so the raster has four times its area.
    seen = corners((1_000, 500), (3_048, 500), (3_048, 1_580), (1_000, 1_580))
    place = room(measured={"broad": seen})
    cloth = place.screen.width * place.screen.height / 1e12
    width, height = raster_seen(place, place.presets["broad"])
    assert width * height / 1e12 == pytest.approx(4 * cloth)


def test_light_throw_and_raster_of_a_measured_preset_are_of_one_zoom() -> None:
    """By hand: 3900 of 4096 columns are 3.4 m, so the raster is 3.5709 m and 5.2 m 1.4562 of it.

    That is 0.0787 of the way from 1.35 to 2.70; a zoom that fits 2.40 would be 0.1329 of it. A
    meter without a preset was read at the widest raster, and this one is wider than its equal.
    """
    seen = corners((98, 267.5), (3_998, 267.5), (3_998, 1_892.5), (98, 1_892.5))
    fits = {"broad": 24_000, "as_read": 24_000}
    place = room(fits=fits, measured={"as_read": seen}, throw=THROW, transmission=0.72, light=LIGHT)
    found, preset = reach(place, "as_read"), place.presets["as_read"]
    assert found is not None
    assert found.throw_ratio == pytest.approx(14_562, abs=2)
    assert transmission(place, preset) == pytest.approx(1 - 0.0787 * 0.28, abs=1e-4)
    metered = room(fits=fits, measured={"as_read": seen}, light=LIGHT._replace(measured=52.0))
    assert light_of(metered, "as_read").luminance == pytest.approx(52.0)
    assert light_of(metered, "broad").luminance == pytest.approx(
        52.0 * (4_096 / 3_900) ** 2, rel=1e-5
    )


@given(
    lumens=st.floats(50, 200_000),
    gain=st.floats(0.1, 5),
    one=st.integers(10_000, 40_000),
    other=st.integers(10_000, 40_000),
    kept=st.floats(0.05, 1),
    shortest=st.integers(5_000, 50_000),
    span=st.floats(1, 3),
    distance=st.integers(300_000, 60_000_000),
)
def test_a_bigger_raster_is_never_brighter(  # noqa: PLR0913, PLR0917
    lumens: float,
    gain: float,
    one: int,
    other: int,
    kept: float,
    shortest: int,
    span: float,
    distance: int,
) -> None:
    # Unless the lens swallowed more over its range than a longer zoom gathers, which none does:
    # the light on the screen goes with transmission x ratio^2, rising as long as this holds.
    longest = int(shortest * span)
    assume(kept * (3 * longest - 2 * shortest) >= longest)
    place = room(
        screen(gain=gain),
        fits={"one": one, "other": other},
        light=LIGHT._replace(lumens=lumens),
        throw=Throw(distance, shortest, longest, 0, 0, 0, 0),
        transmission=kept,
    )
    bigger, smaller = sorted(place.presets.values(), key=lambda at: -at.raster_width)
    dim, bright = light_of(place, bigger.name).luminance, light_of(place, smaller.name).luminance
    assert 0 < dim <= bright * (1 + 1e-9)
