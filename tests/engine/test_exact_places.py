"""Where pictures stand, recomputed with exact fractions: never more than a pixel away.

The recomputation knows no raster pixels: it lays the screen, the opening and the raster over each
other in micrometres, picks the picture's size there, and only then asks where its edges lie in the
raster. It rounds nothing.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engine.aspect import WIDE_FRAME
from engine.optics import Rect, fit, window
from engine.planning.plan import plan
from engine.room import Crop, Room, RoomBelow, Stretch
from tests.engine.planned import OPENINGS, RATIOS, room, rooms, screen

WHOLE = 10_000


class Half(NamedTuple):
    """Half a width and half a height, from the middle that screen, raster and opening share."""

    across: Fraction
    down: Fraction


def exact_edges(
    at: Room, picture: str, aspect: int, preset: str, panels: str
) -> tuple[Fraction, ...]:
    """The picture's left, top, right and bottom in raster pixels, from corners nobody measured."""
    zoom = at.presets[preset]
    pixel = Fraction(zoom.raster_width, at.projector.columns)
    row = Fraction(zoom.raster_height, at.projector.rows)
    half = exact_half(at, at.pictures.get(picture), Fraction(aspect, WHOLE), preset, panels)
    middle = Fraction(at.projector.columns, 2), Fraction(at.projector.rows, 2)
    return (
        middle[0] - half.across / pixel,
        middle[1] - half.down / row,
        middle[0] + half.across / pixel,
        middle[1] + half.down / row,
    )


def exact_half(
    at: Room, shape: Stretch | Crop | RoomBelow | None, ratio: Fraction, preset: str, panels: str
) -> Half:
    """Half the picture's size in micrometres."""
    zoom, cloth, left_free = at.presets[preset], at.screen, window(at, panels)
    raster = Half(Fraction(zoom.raster_width, 2), Fraction(zoom.raster_height, 2))
    sheet = Half(Fraction(cloth.width, 2), Fraction(cloth.height, 2))
    # Where no panel stands at the sides, or above and below, light may pass the screen's edge.
    free = Half(
        raster.across
        if left_free.width >= cloth.width
        else min(raster.across, Fraction(left_free.width, 2)),
        raster.down
        if left_free.height >= cloth.height
        else min(raster.down, Fraction(left_free.height, 2)),
    )
    lit = Half(min(sheet.across, free.across), min(sheet.down, free.down))
    plain = covering(ratio, lit, free, passing(at))
    if shape is None:
        return plain
    assert not isinstance(shape, RoomBelow)
    kept = 1 - Fraction(shape.rows_lost, WHOLE)
    wanted = sheet.across if left_free.width >= cloth.width else Fraction(left_free.width, 2)
    bent = lit.down * ratio / kept
    if isinstance(shape, Stretch):
        middle, edge = Fraction(shape.middle_circle, WHOLE), Fraction(shape.edge_circle, WHOLE)
        even = Fraction(shape.even_middle, WHOLE)
        even_width = lit.down * ratio
        target = even_width + (wanted - even_width) * Fraction(shape.fill, WHOLE)
        bent = min(bent * (middle + (edge - middle) * (1 - even) / 2), target)
    larger = min(lit.across, max(bent, lit.down * ratio))
    return Half(larger, lit.down) if larger - plain.across > plain.across / 200 else plain


def passing(at: Room) -> Half:
    """How far a picture may reach, from the middle of the screen."""
    across, down = (
        length + min(Fraction(length * at.screen.overfill, WHOLE), Fraction(2 * at.screen.border))
        for length in (at.screen.width, at.screen.height)
    )
    return Half(across / 2, down / 2)


def covering(ratio: Fraction, lit: Half, free: Half, limit: Half) -> Half:
    """The plain picture: over the screen's edge where the border takes it, else within."""
    within = contained(ratio, lit)
    wider = lit.down * ratio > lit.across
    cover = Half(lit.down * ratio, lit.down) if wider else Half(lit.across, lit.across / ratio)
    if cover.across > free.across or cover.down > free.down:
        cover = contained(ratio, Half(min(cover.across, free.across), min(cover.down, free.down)))
    return within if cover.across > limit.across or cover.down > limit.down else cover


def contained(ratio: Fraction, place: Half) -> Half:
    """The largest picture of a ratio within a place."""
    across = min(place.across, place.down * ratio)
    return Half(across, across / ratio)


def edges(rect: Rect) -> tuple[int, ...]:
    return rect.left, rect.top, rect.right, rect.bottom


@given(
    rooms(measured=False),
    st.sampled_from(["plain", "stretched", "cropped"]),
    RATIOS,
    st.sampled_from(["open", "some", "more"]),
    st.data(),
)
def test_no_edge_of_a_picture_is_more_than_a_pixel_from_its_exact_place(
    at: Room, picture: str, aspect: int, panels: str, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from(list(at.presets)))
    # Only a preset whose raster is the smallest has the opening to itself: see `field_of`.
    assume(all(at.presets[preset].raster_width <= one.raster_width for one in at.presets.values()))
    rect = fit(at, picture, 0, aspect, preset, panels)
    exact = exact_edges(at, picture, aspect, preset, panels)
    assume(not rect.empty and exact[2] - exact[0] > 1 and exact[3] - exact[1] > 1)
    for found, wanted in zip(edges(rect), exact, strict=True):
        assert abs(found - wanted) <= 1
    if panels == "open":
        assert abs(rect.width - (exact[2] - exact[0])) < 1
        assert abs(rect.height - (exact[3] - exact[1])) < 1


class Box(NamedTuple):
    """Edges in raster pixels."""

    left: Fraction
    top: Fraction
    right: Fraction
    bottom: Fraction


def sheet_of(at: Room, preset: str) -> Box:
    """Where the screen lies in the raster: between its measured corners, or in the middle."""
    zoom = at.presets[preset]
    if zoom.measured is not None:
        corners = zip(*zoom.measured, strict=True)
        across, down = (sorted(Fraction(end, 100) for end in ends) for ends in corners)
        return Box(across[0], down[0], across[-1], down[-1])
    columns, rows = at.projector.columns, at.projector.rows
    half = Half(
        Fraction(at.screen.width * columns, 2 * zoom.raster_width),
        Fraction(at.screen.height * rows, 2 * zoom.raster_height),
    )
    x, y = Fraction(columns, 2), Fraction(rows, 2)
    return Box(x - half.across, y - half.down, x + half.across, y + half.down)


def raised_edges(at: Room, aspect: int, preset: str, lift: int) -> Box:
    """The edges of a plain picture without panels, raised by a share of the screen's height."""
    sheet, raster = sheet_of(at, preset), Half(*map(Fraction, at.projector[:2]))
    lit = Box(
        max(Fraction(0), sheet.left),
        max(Fraction(0), sheet.top),
        min(raster.across, sheet.right),
        min(raster.down, sheet.bottom),
    )
    limit = Half(
        (sheet.right - sheet.left) * passing(at).across / at.screen.width,
        (sheet.bottom - sheet.top) * passing(at).down / at.screen.height,
    )
    size = covering(
        Fraction(aspect, WHOLE),
        Half((lit.right - lit.left) / 2, (lit.bottom - lit.top) / 2),
        Half(raster.across / 2, raster.down / 2),
        limit,
    )
    left = (lit.left + lit.right) / 2 - size.across
    top = (lit.top + lit.bottom) / 2 - size.down - (sheet.bottom - sheet.top) * lift / WHOLE
    left = max(Fraction(0), min(left, raster.across - 2 * size.across))
    top = max(Fraction(0), min(top, raster.down - 2 * size.down))
    return Box(left, top, left + 2 * size.across, top + 2 * size.down)


@given(rooms(), RATIOS, st.one_of(st.just(0), st.integers(1, 3_000)), st.data())
def test_where_corners_are_measured_or_a_picture_is_raised_it_is_within_a_pixel_too(
    at: Room, aspect: int, lift: int, data: st.DataObject
) -> None:
    preset = data.draw(st.sampled_from(list(at.presets)))
    rect = fit(at, "plain", lift, aspect, preset, "open")
    exact = raised_edges(at, aspect, preset, lift)
    assume(not rect.empty and exact.right - exact.left > 1 and exact.bottom - exact.top > 1)
    for found, wanted in zip(edges(rect), exact, strict=True):
        assert abs(found - wanted) <= 1, (rect, exact)


@pytest.mark.parametrize("hundredths", range(100, 401))
def test_every_ratio_of_the_usual_room_is_within_a_pixel(hundredths: int) -> None:
    at = room()
    for preset in at.presets:
        for picture in ("plain", "gentle", "cropped"):
            for panels in OPENINGS:
                rect = fit(at, picture, 0, hundredths * 100, preset, panels)
                exact = exact_edges(at, picture, hundredths * 100, preset, panels)
                assert (
                    max(
                        abs(found - wanted)
                        for found, wanted in zip(edges(rect), exact, strict=True)
                    )
                    <= 1
                ), (preset, picture, panels)


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
        left, top, right, bottom = raised_edges(at, WIDE_FRAME, way.preset, 0)
        beside, above = (right - left) * (1 - shares[0]) / 2, (bottom - top) * (1 - shares[1]) / 2
        exact = left + beside, top + above, right - beside, bottom - above
        if exact[2] - exact[0] > 1 and exact[3] - exact[1] > 1:
            for found, wanted in zip(edges(way.shown), exact, strict=True):
                assert abs(found - wanted) <= 1, (way.preset, way.shown, exact)
            assert abs(way.columns - (exact[2] - exact[0])) <= 1
            assert abs(way.rows - (exact[3] - exact[1])) <= 1
