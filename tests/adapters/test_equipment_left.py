"""Lens and panels that the journal has forgotten and the broker has not."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest

from adapters.live.batch import Batch
from adapters.live.pipeline import Pipeline
from adapters.live.session import Session
from engine.events import LensReport, PanelReport, Playback, Title, moment_of
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import Stage, staged
from tests.adapters.test_people_left import stands
from tests.adapters.test_pipeline import Line, living
from tests.adapters.test_retained_again import retained
from tests.brisk_hayloft import brisk_hayloft
from tests.golden.evenings import BEGINS

TALL = LensReport(moving=False, preset="tall")
SIDES, OPEN = PanelReport(panels="sides"), PanelReport(panels="open")
LATER = BEGINS + 3_600_000


@pytest.fixture
def kept(tmp_path: Path) -> bytes:
    """Give what the broker has kept of a room in which somebody has fitted panels."""
    with staged(HAYLOFT, tmp_path / "lost", BEGINS) as one:
        one.hear(*LIT, TALL, SIDES)
        return stands(one)


def connects(one: Stage, kept: bytes) -> None:
    """Let a room hear how it stood as it comes to the broker, which greets it."""
    one.clock.face = 1_200
    line = Line(Batch(entered=True, stood=(kept,), lost=True))
    Pipeline(one.journal, alone=True).readable(living(one.durable), cast("Session", line))
    assert line.failures == []


def equipment(one: Stage) -> tuple[str, str | None, str | None]:
    core = one.durable.engine.state.core
    return core.lens, core.preset, core.arrangement


def test_a_new_journal_takes_lens_and_panels_as_they_were_left(tmp_path: Path, kept: bytes) -> None:
    with staged(HAYLOFT, tmp_path / "new", LATER) as one:
        connects(one, kept)
        assert equipment(one) == ("resting", "tall", "sides")


@pytest.mark.parametrize("dated", [False, True])
def test_what_the_hub_has_retained_before_is_not_believed_over_it(
    tmp_path: Path, kept: bytes, *, dated: bool
) -> None:
    """A hub without a sensor tells once that the panels are open; light would fall on them."""
    old = replace(OPEN, at=moment_of(BEGINS - 60_000)) if dated else OPEN
    with staged(HAYLOFT, tmp_path / "new", LATER) as one:
        connects(one, kept)
        one.note(one.durable.take(retained([old])))
        assert equipment(one)[2] == ("sides" if dated else None)
        one.hear(*LIT, Playback(state="playing"), Title(begun=True, declared=2.39))
        assert not [each for each in one.decisions if each.kind == "recall"]
        one.hear(OPEN)
        assert equipment(one)[2] == "open", "told live, it is believed"


def test_what_was_not_known_then_is_in_doubt(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "lost", BEGINS) as one:
        one.hear(*LIT)
        kept = stands(one)
    with staged(HAYLOFT, tmp_path / "new", LATER) as one:
        connects(one, kept)
        one.note(one.durable.take(retained([OPEN, TALL])))
        assert equipment(one) == ("unknown", None, None)


def test_a_journal_that_knows_of_lens_and_panels_is_not_told_of_them(
    tmp_path: Path, kept: bytes
) -> None:
    """Nor is one that has greeted its broker: what it hears then is its own word."""
    with staged(HAYLOFT, tmp_path / "new", LATER) as one:
        one.hear(*LIT, replace(TALL, preset="broad"), OPEN)
        connects(one, kept)
        assert equipment(one) == ("resting", "broad", "open")
    with staged(HAYLOFT, tmp_path / "greeted", LATER) as one:
        one.note(one.durable.greeting(lost=True))
        connects(one, kept)
        assert equipment(one) == ("unknown", None, None)


@pytest.mark.parametrize(
    "strange",
    [
        {"panels": "nonesuch", "preset": "nonesuch"},
        {"panels": 7, "preset": ["tall"]},
        {"panels": {}, "lens": "travelling"},
    ],
)
def test_what_is_no_sense_is_not_known(
    tmp_path: Path, kept: bytes, strange: dict[str, object]
) -> None:
    with staged(HAYLOFT, tmp_path / "new", LATER) as one:
        connects(one, json.dumps({**json.loads(kept), **strange}).encode())
        assert equipment(one) == ("unknown", None, None)
        assert one.refusals == []


def test_of_a_lens_that_never_reports_nothing_is_taken(tmp_path: Path, kept: bytes) -> None:
    silent = load(brisk_hayloft().replace("reports: yes", "reports: no"), DEMO_ROOM.name)
    assert not silent.projector.lens.reports
    with staged(silent, tmp_path / "new", LATER) as one:
        connects(one, kept)
        assert equipment(one) == ("unknown", None, "sides")
