"""How far both sides of a lens end apart is told by readings that take turns, and by no others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from adapters.render.wear_text import preset_sentences
from engine.events import moment_of
from engine.state import DAY
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from simulator.wear.approach import with_sides
from simulator.wear.assessment import assess
from simulator.wear.creep import unit_of
from simulator.wear.estimates import Basis, estimate_of
from simulator.wear.ledger import Ledger, MissingTravels, Travel
from simulator.wear.measurements import ApproachSide, Measured
from simulator.wear.sides import sided
from tests.golden.evenings import BEGINS
from tests.soak import sample

HAYLOFT = load(DEMO_ROOM.read_text(), DEMO_ROOM.name)
EVERY = 100
"""Travels between two readings."""


def basis_of(read: list[float], sides: list[ApproachSide | None], error: float = 0.5) -> Basis:
    """Read a preset every hundred travels, sideways alone; it was aligned at the first reading."""
    book = [
        Measured(
            id=number + 1,
            at=moment_of(BEGINS + number * 20 * DAY),
            preset="tall",
            left=far,
            right=far,
            top=0.0,
            bottom=0.0,
            unit="mm",
            error=error,
            lit=60,
            side=side,
            aligned=number == 0,
        )
        for number, (far, side) in enumerate(zip(read, sides, strict=True))
    ]
    counts = [EVERY * number for number in range(len(read))]
    return Basis(HAYLOFT, book, counts, (), counts[-1], unit_of(HAYLOFT), (0.0, 0.0))


def lens(
    seed: int, readings: int = 12
) -> tuple[list[float], list[ApproachSide | None], float, float]:
    """Make a lens that creeps; return its readings, their sides, the gap and where it stands."""
    chance = np.random.default_rng((seed, 19))
    gap, rate = chance.uniform(1, 14), chance.normal(0, 0.01)
    shorter = chance.random(readings) < 0.5
    ends = np.where(shorter, gap / 2, -gap / 2)
    middle = rate * EVERY * np.arange(readings)
    read = middle + ends - ends[0] + chance.normal(0, 0.45, readings)
    read[0] = chance.normal(0, 0.35)
    sides: list[ApproachSide | None] = ["shorter" if one else "longer" for one in shorter]
    return [float(one) for one in read], sides, float(gap), float(middle[-1] - ends[0])


def test_where_it_stands_in_the_middle_is_held_nine_times_in_ten() -> None:
    """Seeded: 1 to 14 mm between both sides, which no session has measured."""
    held, off = [], []
    for seed in range(sample(40, 400)):
        read, sides, gap, middle = lens(seed)
        basis = with_sides(basis_of(read, sides))
        low, _, high = estimate_of(basis, "across", ()).offset
        held.append(low <= middle <= high)
        off.append(abs(basis.apart[0] - gap))
    assert np.mean(held) >= 0.85
    assert np.median(off) < 0.5


def test_how_far_apart_is_what_least_squares_have_it() -> None:
    """NumPy's `lstsq` of a line and a step for the side; a walk that is small beside the errors."""
    for seed in range(8):
        read, sides, *_ = lens(seed, 30)
        side = np.array([1.0 if one == "shorter" else -1.0 for one in sides])
        travels = EVERY * np.arange(30.0)
        columns = np.stack([travels, side - side[0]], axis=1)
        (_, half), *_ = np.linalg.lstsq(columns, np.array(read), rcond=None)
        basis = with_sides(basis_of(read, sides))
        assert basis.apart[0] == pytest.approx(2 * half, abs=4 * basis.unsure[0] + 0.05), seed
        assert basis.unsure[0] < 0.25, seed


@pytest.mark.parametrize(
    "sides",
    [
        ["shorter", "shorter", "shorter", "longer", "longer"],
        ["shorter", "shorter", "shorter", "shorter", "longer"],
    ],
)
def test_a_side_that_never_comes_back_tells_nothing_but_makes_intervals_wider(
    sides: list[ApproachSide | None],
) -> None:
    """A bump that falls together with the turn would look the same."""
    basis = with_sides(basis_of([0.0, 0.2, 0.1, 6.0, 6.1], sides))
    assert (basis.told_apart, basis.apart) == (False, (0.0, 0.0))
    assert basis.unsure[0] > 0.5


@pytest.mark.parametrize("side", [None, "shorter", "longer"])
def test_readings_from_one_side_or_from_any_are_left_as_they_are(side: ApproachSide | None) -> None:
    basis = basis_of([0.0, 0.2, 0.1, 0.3], [side] * 4)
    assert with_sides(basis) == basis


THREE = load(
    HAYLOFT.text.replace("presets:\n", "presets:\n  between: {fits: 2.00}\n", 1), "hayloft.yaml"
)


def travel(day: int, origin: str | None, preset: str) -> Travel:
    at = BEGINS + day * DAY
    return Travel(at, 0, preset, origin, True, True, None, "flat", 9_000, day)


@pytest.mark.parametrize(
    ("travels", "side"),
    [
        ([travel(1, "broad", "between")], "shorter"),
        ([travel(1, "tall", "between")], "longer"),
        ([travel(1, "broad", "tall"), travel(2, "tall", "between")], "longer"),
        ([travel(1, None, "between")], None),
        ([travel(1, "tall", "between"), travel(2, "between", "tall")], None),  # gone since
        ([travel(30, "tall", "between")], None),  # read before it
        ([], None),
    ],
)
def test_the_side_that_nobody_wrote_down_is_that_of_the_travel_before(
    travels: list[Travel], side: ApproachSide | None
) -> None:
    """The larger raster has the shorter focal length."""
    ledger = Ledger(tuple(travels), (), {}, (), {}, BEGINS, BEGINS + 40 * DAY)
    aligned, read = basis_of([0.0, 0.1], [None, None]).read
    written = replace(read, side="shorter")
    found = sided(THREE, ledger, "between", [aligned, read, written])
    assert [one.side for one in found] == [None, side, "shorter"]


@pytest.mark.parametrize(("day", "side"), [(1, None), (10, None), (30, "longer")])
def test_where_travels_are_missing_before_a_reading_nobody_knows_its_side(
    day: int, side: ApproachSide | None
) -> None:
    """It was read on day 20, and the last travel of which a night is left was on day 1."""
    hole = MissingTravels("tall", BEGINS + day * DAY, 2)
    travels = (travel(1, "tall", "between"),)
    ledger = Ledger(travels, (hole,), {}, (), {}, BEGINS, BEGINS + 40 * DAY)
    read = basis_of([0.0, 0.1], [None, None]).read
    assert [one.side for one in sided(THREE, ledger, "between", read)] == [None, side]
    later = ledger._replace(travels=(*travels, travel(40, "tall", "between")))
    assert sided(THREE, later, "between", read)[1].side == side


@pytest.mark.parametrize(("origins", "both"), [(("broad",), False), (("broad", "tall"), True)])
def test_where_the_lens_comes_from_both_sides_the_one_that_was_never_read_is_counted(
    origins: tuple[str, ...], both: bool
) -> None:
    """Every reading came from the shorter side, and stands still; the picture ends at the edge."""
    travels = tuple(
        travel(day, origins[day % len(origins)], "between")._replace(total=day)
        for day in range(1, 200)
    )
    ledger = Ledger(travels, (), {"between": 199}, (), {}, BEGINS, BEGINS + 200 * DAY)
    read = [
        replace(one, preset="between") for one in basis_of([0.0, 0.1, -0.1], ["shorter"] * 3).read
    ]
    wide = load(THREE.text + "\nwear: {strip: 5 mm}\n", "hayloft.yaml")
    (wear,) = (one for one in assess(wide, ledger, read) if one.preset == "between")
    text = " ".join(preset_sentences(wide, wear, ledger.ends))
    assert (wear.other_side > 1) is both
    assert ("the lens comes to it from both sides, and nothing tells" in text) is both
