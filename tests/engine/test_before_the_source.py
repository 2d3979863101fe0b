"""What is heard before a source is known is about the source that is named later."""

from __future__ import annotations

import pytest

from engine.aspect import in_hundredths
from engine.events import Playback, RatioSeen, Signal, SourceChosen, Title
from engine.snapshot import decode, encode, first_foreign_name
from tests.engine.story import HAYLOFT, Story


def undeclaring() -> str:
    """Name a source of the hayloft that does not say a title's ratio."""
    return next(name for name, source in HAYLOFT.sources.items() if not source.declares)


def test_a_ratio_declared_before_the_source_is_known_stays_away_from_a_silent_one() -> None:
    story = Story()
    story.at(0, Title(begun=True, name="first", declared=2.0))
    story.at(1, Playback(state="playing"))
    story.at(2, Playback(state="paused"))
    story.at(2 + HAYLOFT.pace.pause / 1_000 + 1, None)
    assert story.core.interrupted is not None
    story.at(10_000, SourceChosen(source=undeclaring()))
    story.at(10_001, Playback(state="playing"))
    assert story.core.title_name == "first", "it is played on"
    assert story.core.declared is None


@pytest.mark.parametrize(
    ("columns", "rows", "frame", "fact"),
    [(1_080, 1_920, 5_625, 10_000), (16_384, 720, 227_556, 40_000)],
)
def test_a_raster_beyond_all_ratios_is_the_nearest_fact_and_survives_a_restart(
    columns: int, rows: int, frame: int, fact: int
) -> None:
    story = Story()
    story.at(0, SourceChosen(source="disc"))
    story.at(1, Signal(locked=True, columns=columns, rows=rows))
    story.at(2, RatioSeen(ratio=2.39))
    assert story.core.frame == frame
    assert in_hundredths(frame) == fact
    state = decode(encode(story.engine.state))
    assert state == story.engine.state
    assert first_foreign_name(HAYLOFT, state) is None
