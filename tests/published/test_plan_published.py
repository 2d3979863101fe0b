"""The whole plan against published figures: what an integrator reads off it is what is known.

Trust, as far as each figure is known: read, second-hand, memory, computed, common practice.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from adapters.render.plan_sentences import BEAM
from engine.aspect import ratio_of, same_shape
from engine.planning.plan import LEAST_ANGLE, RATIOS, Plan, plan
from engine.room import Light
from tests.engine.planned import room, screen
from tests.published.units import units


def test_every_ratio_that_has_a_name_in_the_trade_is_planned_for() -> None:
    # Registered rasters: 1.85, 2.39, 1.90 (ISDCF, read); pillarboxed 1.33 and letterboxed 2.66
    # (ISDCF naming convention, read); 2.35, 2.39, 2.55 (PH22.106, second-hand); 1.37, 1.66, 1.85
    # (SMPTE 195, memory); 2.20, 2.76, 2.00 (memory, common practice); 16:9 (BT.2020, second-hand);
    # 2.40 (common practice)
    named = (1.33, 1.37, 1.66, 1.78, 1.85, 1.90, 2.00, 2.20, 2.35, 2.39, 2.40, 2.55, 2.66, 2.76)
    assert [round(ratio / 10_000, 2) for ratio in RATIOS] == list(named)


def test_2_76_is_the_widest_to_plan_for() -> None:
    # Common practice, no source
    assert max(RATIOS) == 27_600


def test_every_registered_raster_is_one_of_the_planned_shapes(standards: Path) -> None:
    # ISDCF registry of projector aspect ratios (read; CC BY 4.0)
    text = (standards / "isdcf" / "projectoraspectratios.json").read_text(encoding="utf-8")
    for entry in json.loads(text):
        area = entry["cplMetadata"]["4K"]["MainPictureStoredArea"]
        shape = ratio_of(area["Width"] / area["Height"])
        assert any(same_shape(shape, ratio) for ratio in RATIOS)


def lit() -> Plan:
    """A room of 2200 lm, gain 1.1 and 3.44 m at 4096x2160."""
    light = Light(2_200, 1.0, None, None, 2_000)
    return plan(room(screen(width=3_440_000), light=light))


def test_the_plan_gives_the_rasters_light_to_every_ratio_and_picture() -> None:
    # 123.44 cd/m2 whatever ratio is shown, not the 156.23 of a 2.40 picture area (computed)
    found = lit()
    light = found.zoom("broad").light
    assert light is not None
    assert light.luminance == pytest.approx(123.44, abs=0.005)
    assert {way.picture for shape in found.shapes for way in shape.ways} == {
        "plain",
        "whole",
        "gentle",
        "cropped",
    }


def test_a_longer_zoom_adds_light_by_the_square_of_the_widths() -> None:
    # Arithmetic (computed), and pint's own luminance of the smaller raster
    found = lit()
    broad, tall = found.zooms
    assert broad.light is not None
    assert tall.light is not None
    gain = tall.light.luminance / broad.light.luminance
    assert gain == pytest.approx((broad.width / tall.width) ** 2, rel=1e-6)
    area = units().Quantity(tall.width, "micrometer") * units().Quantity(tall.height, "micrometer")
    white = (
        units().Quantity(2_200, "lumen") * 1.1 / (area * units().Quantity(3.141592653589793, "sr"))
    )
    assert tall.light.luminance == pytest.approx(float(white.to("cd / m ** 2").magnitude), rel=1e-9)
    flat = next(trade for trade in found.trades if trade.ratio == 17_778)
    assert flat.light == pytest.approx(gain)


def test_a_seat_at_1_866_widths_sees_the_least_angle_that_is_wanted() -> None:
    # SMPTE EG 18-1994: 30 degrees (second-hand); the distance is arithmetic (computed)
    seat = round(1.8660 * 3_400_000)
    (found,) = plan(replace(room(), seats={"row": seat}), (24_000,)).seats
    assert found.angle == pytest.approx(LEAST_ANGLE, abs=1e-3)
    assert LEAST_ANGLE == 30.0


def test_a_seat_at_three_heights_of_a_full_hd_screen_has_a_pixel_a_minute_of_arc() -> None:
    # ITU-R BT.1127: designed for 3 picture heights (read); 56.55 pixels in the middle degree,
    # for a row is 1 / 3,240 of the distance (computed)
    at = room(screen(width=1_777_800, aspect=17_778), raster=(1_920, 1_080), fits={"all": 17_778})
    (seat,) = plan(replace(at, seats={"row": 3_000_000}), (17_778,)).seats
    assert seat.seen[0].pixels == pytest.approx(56.55, abs=0.01)


def test_the_cautions_name_the_risk_groups_of_projector_light() -> None:
    # IEC 62471-5:2015, RG0 to RG3, consumer use at most RG2 (second-hand)
    assert "IEC 62471-5" in BEAM
