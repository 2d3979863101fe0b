"""Where pictures stand, recomputed with exact fractions: never more than a pixel away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.aspect import WIDE_FRAME
from engine.optics import Rect, fit
from engine.planning.plan import plan
from engine.room import Room
from tests.engine.exact_rectangles import WHOLE, exact_rectangle
from tests.engine.planned import OPENINGS, RATIOS, room, rooms, screen
from tests.soak import sample

LIFTS = st.one_of(st.just(0), st.integers(1, 3_000))
PICTURES = ("plain", "stretched", "cropped", "lines")
PANELS = ("open", "some", "more", None)


def off_by(rect: Rect, exact: tuple[Fraction, ...]) -> Fraction:
    """How far the worst of a picture's edges is from its exact place, in pixels."""
    found = rect.left, rect.top, rect.right, rect.bottom
    return max(abs(one - other) for one, other in zip(found, exact, strict=True))


def places_in(at: Room) -> Iterator[tuple[str, str | None, str | None]]:
    """Every picture at every preset and none, with every arrangement of panels and none."""
    for preset in (*at.presets, None):
        for panels in PANELS:
            yield from ((picture, preset, panels) for picture in PICTURES)


@settings(max_examples=sample(100, 3_000))
@given(rooms(), RATIOS, LIFTS)
def test_no_edge_of_a_picture_is_more_than_a_pixel_from_its_exact_place(
    at: Room, aspect: int, lift: int
) -> None:
    """Each of a hundred rooms has 32 to 64 places for a picture, most of them between panels."""
    for picture, preset, panels in places_in(at):
        rect = fit(at, picture, lift, aspect, preset, panels)
        exact = exact_rectangle(at, picture, lift, aspect, preset, panels)
        if exact is not None and not rect.empty:
            assert off_by(rect, exact) <= 1, (picture, preset, panels, rect, exact)


@given(rooms(), RATIOS, LIFTS)
def test_a_picture_is_left_out_only_where_less_than_two_pixels_are_left_for_it(
    at: Room, aspect: int, lift: int
) -> None:
    for picture, preset, panels in places_in(at):
        if fit(at, picture, lift, aspect, preset, panels).empty:
            exact = exact_rectangle(at, picture, lift, aspect, preset, panels)
            assert exact is None or min(exact.size) < 2


@pytest.mark.parametrize("hundredths", range(100, 401))
def test_every_ratio_of_the_usual_room_is_within_a_pixel(hundredths: int) -> None:
    at = room()
    for preset in at.presets:
        for picture in ("plain", "gentle", "cropped"):
            for panels in OPENINGS:
                rect = fit(at, picture, 0, hundredths * 100, preset, panels)
                exact = exact_rectangle(at, picture, 0, hundredths * 100, preset, panels)
                assert exact is not None
                assert off_by(rect, exact) <= 1, (preset, picture, panels)


def test_at_the_very_edge_of_the_overfill_the_exact_height_decides() -> None:
    """By hand: a screen of 3.4 m x 1.416666 m may be passed by 2 %, so 3.468 m x 1.444999 m.

    Plain 2.353 at full width is 1.444964 m high and covers; 2.352 would be 1.445578 m and stays
    within, 3.331998 m wide. Rounded rows would put the border between the two elsewhere.
    """
    at = room(screen(border=200_000))
    assert fit(at, "plain", 0, 23_530, "broad", "open").width == 4_096
    within = fit(at, "plain", 0, 23_520, "broad", "open")
    assert within.width == int(Fraction(1_416_666 * 23_520 * 4_096, 3_400_000 * WHOLE))


@given(rooms(), RATIOS)
def test_a_picture_between_the_bars_of_a_whole_frame_is_within_a_pixel_too(
    at: Room, aspect: int
) -> None:
    """It is a share of a frame that was rounded already: the roundings must not add up."""
    quiet: Any = SimpleNamespace(table=SimpleNamespace(rows=()))
    at = replace(at, panels={"open": at.panels["open"]}, rules=quiet, seats={})
    shares = (
        min(Fraction(1), Fraction(aspect, WIDE_FRAME)),
        min(Fraction(1), Fraction(WIDE_FRAME, aspect)),
    )
    for way in next(iter(plan(at, (aspect,)).shapes)).ways:
        if way.picture != "whole" or way.placement.rect.empty:
            continue
        frame = exact_rectangle(at, "whole", 0, WIDE_FRAME, way.preset, "open")
        assert frame is not None
        left, top, right, bottom = frame
        beside, above = (right - left) * (1 - shares[0]) / 2, (bottom - top) * (1 - shares[1]) / 2
        exact = left + beside, top + above, right - beside, bottom - above
        if exact[2] - exact[0] > 1 and exact[3] - exact[1] > 1:
            assert off_by(way.shown, exact) <= 1, (way.preset, way.shown, exact)
            assert abs(way.columns - (exact[2] - exact[0])) <= 1
            assert abs(way.rows - (exact[3] - exact[1])) <= 1
