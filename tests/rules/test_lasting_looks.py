"""A part of a look that one row sets and none sets back is told at that row."""

from __future__ import annotations

from typing import Final

import pytest

from rules.room.load import load, read_room
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, Severity
from simulator.shipped import DEMO_ROOM
from tests.engine.story import Story, shape

HEAD: Final = """\
room: den
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40, border: 180 mm}
projector: {raster: 4096 x 2160, lens: {reports: yes}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
pictures: {closer: {crop: {rows_lost: 8 %}}}
panels: {sides: {opening: 1.78}}
sources: {disc: {}}
rules:
  policy: first
  rows:
    - name: lines
      case: {playback: playing, subtitles: yes}
      show: {one}
      because: It is so.
"""


def room(one: str, otherwise: str) -> str:
    return HEAD.replace("{one}", one) + f"  otherwise: {otherwise}\n"


def found(text: str) -> list[Finding]:
    loaded = read_room(text, "room.yaml")
    assert loaded.room is not None, loaded.findings
    return [one for one in table_findings(loaded) if one.code == "never-left"]


@pytest.mark.parametrize(
    ("show", "told", "back"),
    [
        ("lift: 6 %", "the lift to 6 %", "lift: 0 %"),
        ("picture: closer", "the picture to closer", "picture: plain"),
        ("preset: tall", "the preset to tall", "preset: broad"),
        ("panels: sides", "the panels to sides", "panels: open"),
    ],
)
def test_what_one_row_sets_and_none_sets_back_is_told_until_a_row_does(
    show: str, told: str, back: str
) -> None:
    rest = "{lift: 0 %}" if show.startswith("picture") else "{picture: plain}"
    text = room(f"{{{show}}}", rest)
    (one,) = found(text)
    assert (one.severity, one.line) == (Severity.WARNING, 14)
    assert one.message == (
        f"once lines (line 12) has set {told}, it stays so for good: no row shows another"
    )
    assert found(room(f"{{{show}}}", f"{{{back}}}")) == []


@pytest.mark.parametrize("show", ["picture: whole", "lift: 0 %", "preset: broad", "panels: open"])
def test_what_may_stand_for_ever_is_not_told(show: str) -> None:
    rest = "{lift: 0 %}" if show.startswith("picture") else "{picture: plain}"
    assert found(room(f"{{{show}}}", rest)) == []


def test_a_part_that_every_row_sets_does_not_stay_behind() -> None:
    assert found(room("{lift: 6 %}", "{lift: 6 %}")) == []


def test_the_engine_keeps_a_lift_that_no_row_takes_back() -> None:
    """The title with lines is over, and the next one has none."""
    story = Story(load(room("{lift: 6 %}", "{picture: plain}"), "room.yaml"))
    story.film(10, 2.39)
    story.at(20, shape(2.39, bottom=60))
    story.film(400, 2.39)
    assert story.core.wanted.lift == 600


@pytest.mark.parametrize("name", ["hayloft", "cellar", "longroom"])
def test_the_rooms_that_come_along_leave_every_look_again(name: str) -> None:
    """The long room's curtain stays drawn, but cues have others who see to them."""
    assert found(DEMO_ROOM.with_name(f"{name}.yaml").read_text("utf-8")) == []
