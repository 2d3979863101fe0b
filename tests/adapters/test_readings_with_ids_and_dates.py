"""Readings with ids and dates: what the journal keeps of them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from adapters.live.messages import InboundMessage, rfc3339
from engine.events import LensReport, Playback, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
BARS = {"top": 138, "bottom": 138, "left": 0, "right": 0, "columns": 1_920, "rows": 1_080}


def tell(stage: Stage, subtopic: str, said: dict[str, Any]) -> None:
    stage.note(stage.durable.take([InboundMessage(subtopic, json.dumps(said).encode())]))


def begin(stage: Stage) -> None:
    stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
    stage.hear(LensReport(moving=False, preset="broad"), Playback(state="playing"))


def with_date(now: int) -> dict[str, str]:
    return {"at": rfc3339(now)}


@pytest.mark.parametrize(
    ("subtopic", "said"),
    [
        ("bars", BARS),
        ("ratio", {"ratio": 2.39}),
        ("format", {"code": 10, "frame": "16:9"}),
        ("black", {}),
    ],
)
def test_a_reading_that_holds_is_not_kept_whatever_its_date(
    subtopic: str, said: dict[str, Any], tmp_path: Path
) -> None:
    """And it leads to what it leads to without them."""
    told = []
    for name, adds in (("plain", lambda _: {}), ("dated", with_date)):
        with staged(HAYLOFT, tmp_path / name, BEGINS) as stage:
            begin(stage)
            for _ in range(100):
                stage.pass_to(stage.clock.time + 100)
                tell(stage, subtopic, said | adds(stage.clock.time))
            stage.pass_to(stage.clock.time + 20_000)
            assert stage.refusals == []
            lines = stage.lines()
            assert differences(HAYLOFT, lines) == []
            kept = sum(f'"event":{{"kind":"{subtopic}"'.encode() in line for line in lines)
            assert kept < 10, "but where something was decided meanwhile"
            told.append((kept, [(one.kind, one.at) for one in stage.decisions]))
    assert told[0] == told[1]


def test_a_reading_that_says_something_new_is_kept_with_its_id(tmp_path: Path) -> None:
    """So whoever has sent it finds it in the journal; it may come again, which changes nothing."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        begin(stage)
        for number in range(20):
            tell(stage, "bars", BARS | {"top": 130 + number, "id": f"hub-{number}"})
        tell(stage, "bars", BARS | {"id": "hub-3"})
        assert stage.refusals == []
        lines = stage.lines()
        assert sum(b'"id":"hub-' in line for line in lines) == 21
        assert differences(HAYLOFT, lines) == []


def test_the_id_of_another_event_is_none_for_a_reading_though_it_says_what_holds(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        begin(stage)
        tell(stage, "bars", BARS)
        tell(stage, "playback", {"state": "playing", "id": "hub-1"})
        tell(stage, "bars", BARS)
        tell(stage, "bars", BARS | {"id": "hub-1"})
        assert stage.refusals == ["repeated"]


def test_a_dated_reading_is_refused_where_something_newer_is_known(tmp_path: Path) -> None:
    """Also where it says what holds."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        begin(stage)
        stage.pass_to(BEGINS + 60_000)
        tell(stage, "bars", BARS | {"at": rfc3339(BEGINS + 50_000)})
        tell(stage, "bars", BARS | {"at": rfc3339(BEGINS + 40_000)})
        assert stage.refusals == ["stale"]
        tell(stage, "bars", BARS | {"at": rfc3339(BEGINS + 50_000)})
        tell(stage, "bars", BARS)
        tell(stage, "bars", BARS | {"at": rfc3339(BEGINS - 10_000)})
        assert stage.refusals == ["stale", "stale"]
        assert differences(HAYLOFT, stage.lines()) == []
