"""The drawing hand: a palette for every eye, labels that never collide, true scales and lengths."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import combinations, pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000, rgb2lab

from adapters.render import svg
from adapters.render.labels import Frame, LabelSize, LabelWriter, keep_apart, place_labels
from adapters.render.measures import (
    LinearScale,
    dimension_line,
    length_words,
    round_steps,
    time_ticks,
)
from adapters.render.palette import DASHES, ON_BLACK, ON_PAPER, ROLES, Palette, hatches
from adapters.render.place_drawing import places_sheet
from adapters.render.stretch_drawing import stretch_sheet
from adapters.render.wall_drawing import draw_panels, wall_view
from engine.optics import window
from engine.planning.plan import plan
from tests.adapters.drawn_words import collisions
from tests.adapters.hayloft import HAYLOFT

Light = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
PALETTES = pytest.mark.parametrize("palette", [ON_PAPER, ON_BLACK], ids=["paper", "black"])

# Machado, Oliveira, Fernandes: A Physiologically-based Model for Simulation of Color Vision
# Deficiency (2009), the matrices for full severity, over linear red, green, blue.
EYES = {
    "all three cones": np.eye(3),
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
APART = 15.0
"""CIEDE2000: one colour beside another is another colour at a glance from about 10."""


def linear(colour: str) -> Light:
    part = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def seen(colour: str, eye: str) -> Light:
    light = np.clip(EYES[eye] @ linear(colour), 0, 1)
    shown = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(rgb2lab(shown[None, None])[0, 0])


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    lights = [float(linear(colour) @ (0.2126, 0.7152, 0.0722)) for colour in (one, other)]
    return (max(lights) + 0.05) / (min(lights) + 0.05)


@PALETTES
@pytest.mark.parametrize("eye", EYES)
def test_no_two_roles_look_alike_to_any_eye(palette: Palette, eye: str) -> None:
    colours = [*(palette.of(role) for role in ROLES), palette.ink, palette.faint]
    for one, other in combinations(colours, 2):
        far = deltaE_ciede2000(seen(one, eye), seen(other, eye))  # type: ignore[no-untyped-call]
        assert far >= APART, (one, other)


@PALETTES
def test_marks_and_words_stand_out_from_their_ground(palette: Palette) -> None:
    for ground in (palette.ground, palette.sheet):
        assert contrast(palette.ink, ground) >= 7
        assert contrast(palette.faint, ground) >= 4.5
        for role in ROLES:
            assert contrast(palette.of(role), ground) >= 3, role
    assert contrast(palette.lit, palette.screen) >= 3


def test_no_role_is_told_by_its_colour_alone() -> None:
    assert len(set(DASHES.values())) == len(ROLES) == len(DASHES)
    made = ET.fromstring(hatches(ON_PAPER))
    shapes = {
        (one.attrib["patternTransform"], one.attrib["width"])
        for one in made.iter()
        if one.tag == "pattern"
    }
    assert len(shapes) == len(ROLES) - 1  # one role's area is plain


sizes = st.floats(1, 90)
labels = st.builds(LabelSize, st.floats(-20, 320), st.floats(-20, 220), sizes, sizes)
frames = st.builds(lambda x, y, w, h: Frame(x, y, x + w, y + h), sizes, sizes, sizes, sizes)


@given(st.lists(labels, max_size=12), st.lists(frames, max_size=4))
def test_labels_never_collide(wanted: list[LabelSize], taken: list[Frame]) -> None:
    """Every label that is placed lies inside the drawing, off the others and off what is taken."""
    drawing = Frame(0, 0, 300, 200)
    placed = [one for one in place_labels(wanted, drawing, taken) if one is not None]
    assert all(map(drawing.covers, placed))
    for one, other in combinations(placed, 2):
        assert not one.meets(other)
    assert not any(one.meets(other) for one in placed for other in taken)


def test_a_label_stands_beside_its_point_and_elsewhere_only_if_it_must() -> None:
    drawing = Frame(0, 0, 300, 200)
    (near,) = place_labels([LabelSize(50, 50, 40, 12)], drawing)
    assert near == Frame(54, 44, 94, 56)
    (far,) = place_labels([LabelSize(50, 50, 40, 12)], drawing, [Frame(0, 0, 200, 200)])
    assert far is not None
    assert far.left >= 200
    assert place_labels([LabelSize(50, 50, 400, 12)], drawing) == [None]


@given(st.lists(st.tuples(st.floats(0, 900), st.floats(1, 90)), max_size=30))
def test_labels_of_an_axis_stand_clear_of_each_other(wanted: list[tuple[float, float]]) -> None:
    wanted.sort()
    places, widths = [x for x, _ in wanted], [width for _, width in wanted]
    kept = keep_apart(places, widths)
    assert not wanted or kept[0] == 0
    for before, after in pairwise(kept):
        ends = places[before] + widths[before] / 2
        assert places[after] - widths[after] / 2 >= ends


def test_words_that_must_stand_far_away_are_led_to_their_point() -> None:
    lettering = LabelWriter(Frame(0, 0, 300, 200), ON_PAPER)
    assert len(list(lettering.write(50, 50, "near"))) == 1
    lettering.keep_free(Frame(0, 0, 150, 200))
    assert [part[:5] for part in lettering.write(20, 50, "far")] == ["<line", "<text"]


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(2, 12))
def test_steps_of_an_axis_are_few_and_lie_on_it(low: float, span: float, most: int) -> None:
    steps = round_steps(low, low + span, most)
    slack = 1e-6 * (abs(low) + span)
    assert len(steps) <= most + 1
    assert all(low - slack <= one <= low + span + slack for one in steps)


def test_a_scale_leads_from_end_to_end() -> None:
    scale = LinearScale(100, 300, 10, 50)
    assert [scale.at(value) for value in (100, 200, 300)] == [10, 30, 50]
    assert LinearScale(5, 5, 10, 50).at(5) == 10


def test_an_axis_of_time_names_each_day_and_tells_the_two_hours_at_a_change_apart() -> None:
    """In Lisbon the clocks go back on 25 October 2026: from 02:00 to 01:00."""
    zone, hour = ZoneInfo("Europe/Lisbon"), 3_600_000
    begins = 1_792_879_200_000  # 2026-10-24T22:00:00Z
    words = [tick.words for tick in time_ticks(begins, begins + 5 * hour, zone, most=5)]
    assert words == [
        "24 Oct 23:00 (WEST)",
        "25 Oct 00:00 (WEST)",
        "01:00 (WEST)",
        "01:00 (WET)",
        "02:00 (WET)",
        "03:00 (WET)",
    ]
    evening = time_ticks(begins - 86_400_000, begins - 86_400_000 + 4 * hour, zone)
    assert [tick.words for tick in evening][:2] == ["23 Oct 23:00", "23:30"]


def test_a_dimension_line_says_its_length_and_nobody_reads_it_upside_down() -> None:
    for end, turn in (((200.0, 0.0), "rotate(0.0)"), ((-200.0, 1.0), "rotate(-0.3)")):
        drawn = "".join(dimension_line((0, 0), end, length_words(3_400_000), ON_PAPER))
        assert "3400 mm" in drawn
        assert turn in drawn
    short = "".join(dimension_line((0, 0), (10, 0), length_words(3_400_000), ON_PAPER))
    assert 'y="-7.04"' in short  # beside the line, for it is shorter than its words


def test_panels_are_drawn_as_wide_as_the_engine_says() -> None:
    room = HAYLOFT
    view = wall_view(room, 400)
    drawn = ET.fromstring(svg.group(draw_panels(room, view, ON_PAPER, "sides")))
    wide = {float(one.attrib["width"]) for one in drawn if "hatch" in one.attrib["fill"]}
    side = (room.screen.width - window(room, "sides").width) / 2 * view.scale
    assert sorted(wide) == [pytest.approx(side, abs=0.01)]


def test_no_words_collide_on_the_sheets_of_a_plan() -> None:
    planned = plan(HAYLOFT)
    for zoom in planned.zooms:
        assert collisions(places_sheet(planned, zoom)) == []
    for picture in ("gentle", "cropped"):
        assert collisions(stretch_sheet(planned, picture)) == []
