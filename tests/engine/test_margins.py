"""How far a preset may move before it shows, held against the raster's edges on the screen."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import assume, given

from engine.planning.margins import margins
from engine.planning.plan import plan
from engine.room import Corners, Room
from tests.engine.exact_rectangles import Projection
from tests.engine.planned import corners, room, rooms

TENTHS = [Fraction(tenth, 10) for tenth in range(11)]


def quiet(at: Room) -> Room:
    """The room with rules that name no panels, so that it is planned with none fitted."""
    rules: Any = SimpleNamespace(table=SimpleNamespace(rows=()))
    return replace(at, rules=rules, panels={"open": at.panels["open"]})


def passed_on_the_left(at: Room, seen: Corners) -> list[float]:
    """How far the raster's first column passes the screen's left edge at each tenth of it, in um.

    Nothing where the raster does not reach that high or low.
    """
    a, b, c, d, e, f, g, h, _ = Projection(seen).parts
    passed = []
    for down in TENTHS:
        across = -(b * down + c) / a
        depth = g * across + h * down + 1
        if 0 <= (d * across + e * down + f) / depth <= at.projector.rows * 100:
            passed.append(float(-across * at.screen.width))
    return passed


@given(rooms())
def test_the_raster_passes_the_screen_by_what_it_does_along_its_edge(at: Room) -> None:
    measured = {name: one.measured for name, one in at.presets.items() if one.measured is not None}
    assume(measured)
    for name, seen in measured.items():
        passed = passed_on_the_left(at, seen)
        if len(passed) == len(TENTHS):
            (found,) = margins(quiet(at), name)
            assert found.bleed["left"] == pytest.approx(min(passed), abs=1)


def test_a_slanting_raster_that_takes_in_the_screen_is_not_said_to_end_short_of_it() -> None:
    """By hand: the screen's left edge runs from 5 to 35 columns in, over rows 430 to 1730.

    The raster passes it by 5 columns at least, of 4040 for 3.4 m: 4.2 mm. Far above the screen,
    where its edge would be at -5 columns, there is no screen.
    """
    seen = corners((5, 430), (4_045, 430), (4_045, 1_730), (35, 1_730))
    at = quiet(room(fits={"broad": 24_000}, measured={"broad": seen}))
    (found,) = margins(at, "broad")
    assert found.bleed["left"] == pytest.approx(5 / 4_040 * 3_400_000, rel=0.02)
    ((_, aligned),) = plan(replace(at, seats={})).aligned
    assert aligned.short == (0, 0, 0, 0)
