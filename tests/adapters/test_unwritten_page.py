"""A page that cannot be written leaves everything as it was: the next one brings it all."""

from __future__ import annotations

from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path
from unittest.mock import patch
from zoneinfo import ZoneInfo

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.journal_reader import JournalReader
from adapters.live.retained_facts import EARLY
from engine.events import Mark, Playback, ProjectorReport, SourceChosen
from rules.room.load import load
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, ZonedClock, differences, inbound, staged
from tests.golden.evenings import BEGINS

LIT = ProjectorReport(state="lit")
FULL = JournalError("the disk is full")


def test_what_plays_before_its_source_still_waits_for_it(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, SourceChosen(source="streamer"), Playback(state="playing", source="disc"))
        shown = [inbound(SourceChosen(source="disc"))]
        with patch.object(Journal, "commit", side_effect=FULL), pytest.raises(JournalError):
            stage.durable.take(shown)
        stage.note(stage.durable.take(shown))
        assert stage.durable.engine.state.core.playback == "playing"
        assert differences(HAYLOFT, stage.lines()) == []


def test_the_hub_is_asked_where_a_source_plays_that_is_not_shown(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "j", BEGINS) as stage:
        stage.hear(LIT, SourceChosen(source="streamer"), Playback(state="playing", source="disc"))
        stage.pass_to(BEGINS + EARLY - 1)
        stage.clock.time += 1
        with patch.object(Journal, "commit", side_effect=FULL), pytest.raises(JournalError):
            stage.durable.pass_time()
        told = stage.note(stage.durable.pass_time())
        assert stage.refusals == ["not_shown"]
        assert [one.message.slot for one in told.messages] == ["question"]


def fail_among_others(stage: Stage) -> None:
    """Let the pages of several rooms fail together, after this room's has been drafted."""
    before = stage.durable.savepoint()
    with suppress(JournalError), stage.journal.together():
        stage.durable.hear(Mark(words="lost"))
        raise FULL
    stage.durable.roll_back(before)


def test_the_first_night_ends_at_noon_although_its_first_page_has_failed(tmp_path: Path) -> None:
    """At ten in the morning in New York it is afternoon by UTC, and another night."""
    text, local = HAYLOFT.text.replace("Europe/Lisbon", "America/New_York"), "America/New_York"
    begins = int(datetime(2028, 2, 29, 10, tzinfo=ZoneInfo(local)).timestamp()) * 1_000
    path, evening = tmp_path / "j", begins + 10 * 3_600_000
    with staged(load(text, "hayloft.yaml"), path, begins, ZonedClock) as stage:
        fail_among_others(stage)
        stage.hear(Mark(words="in the morning"))
        stage.clock.time = evening
        stage.hear(Mark(words="in the evening"))
    with closing(JournalReader(path)) as past:
        nights = [one.begins for one in past.nights("hayloft")]
    assert nights == [begins, evening]
