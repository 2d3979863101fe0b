"""What `wear` says of a lens that goes with the warmth, before a whole year has been read."""

from __future__ import annotations

import json

import pytest

from adapters.render.wear_text import preset_sentences
from engine.events import moment_of
from engine.state import DAY
from simulator.wear.assessment import PresetWear, assess
from simulator.wear.ledger import Ledger, Travel
from simulator.wear.measurements import ENTRIES
from tests.adapters.wear_commands import HAYLOFT
from tests.golden.evenings import BEGINS

A_DAY = 5
"""Travels."""
HOUR = 3_600_000
Edges = tuple[float, float, float, float]

SPRING_TO_WINTER: tuple[tuple[int, Edges], ...] = (
    (0, (-1.9, 1.7, -0.6, -1.6)),
    (31, (-0.0, 0.3, 0.7, 1.5)),
    (62, (-1.4, -0.8, 0.5, -1.2)),
    (211, (-3.1, 0.9, -3.9, 0.1)),
    (414, (-8.2, -2.1, -10.5, -1.6)),
    (647, (-17.8, -1.8, -20.2, -4.7)),
    (851, (-24.7, -3.4, -29.8, -6.6)),
    (1007, (-26.4, -3.0, -31.8, -5.5)),
    (1191, (-27.4, -2.9, -29.2, -5.3)),
    (1403, (-27.8, 1.1, -23.8, 3.8)),
    (1403, (-28.1, 0.1, -23.3, 3.9)),
    (1684, (-25.4, 4.2, -14.9, 11.2)),
)
"""Read at so many travels over eleven months (made up, by seed): it swings, and creeps a little."""


def wear_of(readings: tuple[tuple[int, Edges], ...]) -> tuple[PresetWear, str]:
    """Return how `tall` stands, and what is said of it; aligned at the first reading."""
    last = readings[-1][0]
    travels = tuple(
        Travel(moment, 0, "tall", "broad", True, True, None, "flat", 9_000, number)
        for number in range(1, last + 1)
        for moment in [BEGINS + number * DAY // A_DAY]
    )
    book = []
    for number, (count, edges) in enumerate(readings, 1):
        at = BEGINS + count * DAY // A_DAY + number * HOUR // 12
        line = {"kind": "measured", "id": number, "at": moment_of(at).isoformat(), "lit": 60}
        line |= dict(zip(("left", "top", "right", "bottom"), edges, strict=True))
        line |= {"preset": "tall", "unit": "mm", "error": 1.0, "aligned": number == 1}
        book.append(ENTRIES.validate_json(json.dumps(line)))
    ends = BEGINS + last * DAY // A_DAY + HOUR * 2
    ledger = Ledger(travels, (), {"tall": last}, (), {"tall": HOUR}, BEGINS, ends)
    (wear,) = (one for one in assess(HAYLOFT, ledger, book) if one.preset == "tall")
    return wear, " ".join(preset_sentences(HAYLOFT, wear, ends))


@pytest.mark.parametrize("readings", [11, 12])
def test_what_warmth_may_have_done_is_no_bump_before_a_year_has_told(readings: int) -> None:
    """It had turned round since the reading before: a bump does that, and so does the winter."""
    wear, text = wear_of(SPRING_TO_WINTER[:readings])
    assert "moved" not in {one.kind for one in wear.disturbed}
    assert "it moved by about" not in text


def test_a_bump_within_the_first_year_is_named_all_the_same() -> None:
    """It stood still for half a year, and 20 mm to the right ever since: no winter does that."""
    still = ((0.1, 0.2, -0.3, 0.0), (0.4, -0.2, 0.1, 0.3), (-0.2, 0.1, 0.3, -0.4))
    counts = (0, 30, 200, 400, 600, 800, 900, 901, 1_050, 1_200)
    readings = []
    for number, count in enumerate(counts):
        left, top, right, bottom = still[number % 3]
        off = 20 if count >= 900 else 0
        readings.append((count, (left + off, top, right + off, bottom)))
    wear, text = wear_of((*readings,))
    assert [(one.kind, one.reading) for one in wear.disturbed] == [("moved", 6)]
    assert "it moved by about 20 mm sideways between" in text
    assert "as warmth does it" not in text
