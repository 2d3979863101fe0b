"""What was told is as old as it was, and stays older or newer than a date, once a clock is set.

What comes without a date counts from when it came, by the room's own clock, and that may be wrong.
A hub's date is by the hub's clock, which is right here.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from adapters.live.retained_facts import EARLY
from engine.events import Event, ProjectorReport, ToldFact, moment_of
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, differences, staged
from tests.adapters.test_retained_again import GUESTS, retained
from tests.adapters.test_retained_age import DATED, everything, hears_live
from tests.golden.evenings import BEGINS

HOUR = 3_600_000
SET = [5 * HOUR, 90_000, -90_000, -3 * HOUR]
"""By how many ms the clock is set (forward: it was slow)."""
NOBODY_THERE = "while roomcue is stopped"


def is_put_right(stage: Stage, by: int, when: str) -> None:
    """Set the clock by so much, and come over another connection."""
    stage.clock.set(by)
    if when == NOBODY_THERE:
        stage.restart()
    stage.durable.connected()


def dated(event: Event, after: int) -> Event:
    return replace(event, at=moment_of(BEGINS + after))


@pytest.mark.parametrize("when", ["while it lives", NOBODY_THERE])
@pytest.mark.parametrize("by", SET)
@pytest.mark.parametrize("change", DATED.values(), ids=[*DATED])
def test_what_was_so_before_it_was_told_otherwise_stays_old(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event], by: int, when: str
) -> None:
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS - by) as stage:
        stands = hears_live(stage, before, new)
        is_put_right(stage, by, when)
        stage.note(stage.durable.take(retained([dated(old, 5_000)])))
        stage.pass_to(stage.clock.time + EARLY)
        assert everything(stage) == stands
        assert stage.refusals == ["stale"]
        assert differences(HAYLOFT, stage.lines()) == []


@pytest.mark.parametrize("when", ["while it lives", NOBODY_THERE])
@pytest.mark.parametrize("by", SET)
@pytest.mark.parametrize("change", DATED.values(), ids=[*DATED])
def test_what_is_so_since_it_was_told_otherwise_is_news(
    tmp_path: Path, change: tuple[tuple[Event, ...], Event, Event], by: int, when: str
) -> None:
    before, old, new = change
    with staged(HAYLOFT, tmp_path / "j", BEGINS - by) as stage:
        stands = hears_live(stage, before, new)
        stage.clock.time += 60_000
        is_put_right(stage, by, when)
        stage.note(stage.durable.take(retained([dated(old, 15_000)])))
        assert everything(stage) != stands
        assert stage.refusals == []


@pytest.mark.parametrize("by", SET)
def test_what_somebody_told_is_newer_than_what_the_hub_knew_before_and_older_than_since(
    tmp_path: Path, by: int
) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS - by) as stage:
        stage.clock.time += 10_000
        stage.hear(ToldFact(fact="guests", value=False, who="Ana"))
        stage.clock.time += 60_000
        stage.clock.set(by)
        stage.hear(dated(GUESTS, 5_000))
        assert stage.refusals == ["stale"]
        stage.hear(dated(GUESTS, 15_000))
        assert dict(stage.durable.engine.state.core.told)["guests"] is True


@pytest.mark.parametrize("by", [one for one in SET if one > 0])
def test_a_date_that_lay_ahead_only_by_a_slow_clock_counts_once_the_clock_is_right(
    tmp_path: Path, by: int
) -> None:
    """It is compared with others as ever, however late it came."""
    lit, off = (ProjectorReport(state=state) for state in ("lit", "off"))
    with staged(HAYLOFT, tmp_path / "j", BEGINS - by) as stage:
        stage.clock.time += 10_000
        stage.hear(dated(lit, 5_000))
        stage.clock.time += 10_000
        stage.clock.set(by)
        for again in (dated(lit, 5_000), dated(off, 6_000)):
            stage.hear(again)
            assert stage.refusals == []
        stage.hear(dated(lit, 5_500))
        assert stage.refusals == ["stale"]
