"""What the drawings of a preset's wear say, and where."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

from adapters.cli.wear_files import ledger_of_nights
from simulator.shipped import DEMO_ROOM
from simulator.wear.ledger import count_at
from tests.adapters.months import A_DAY, book, months
from tests.adapters.wear_commands import HAYLOFT, told
from tests.golden.evenings import BEGINS


def test_a_bump_is_marked_at_the_edges_that_it_moved_and_at_no_other(
    tmp_path: Path,
) -> None:
    nights, path = months(HAYLOFT, tmp_path, 60), tmp_path / "book"
    ledger = ledger_of_nights(nights, "hayloft")[0]
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in (0, 10, 20, 30, 40, 59)}
    book(path, days, 0.02, "tall", bump=(30, 22.0))
    named = [part for night in nights for part in ("--night", str(night))]
    result = told("wear", DEMO_ROOM, *named, "--book", path, "--charts", tmp_path / "charts")
    assert "it moved by about 21 mm sideways between" in " ".join(result.output.split())
    drawing = ET.parse(tmp_path / "charts" / "hayloft-tall.svg").getroot()
    words = [one for one in drawing.iter() if one.text]
    panels = {one.text: float(one.attrib["y"]) for one in words if "edge, mm" in str(one.text)}
    marks = [float(one.attrib["y"]) for one in words if one.text == "moved at once"]
    above = [max(at for at in panels.values() if at < mark) for mark in marks]
    assert above == [panels["at its left edge, mm"], panels["at its right edge, mm"]]


def test_a_latest_reading_of_which_nobody_can_tell_is_not_marked_as_a_bump(
    tmp_path: Path,
) -> None:
    nights, path = months(HAYLOFT, tmp_path, 30), tmp_path / "book"
    ledger = ledger_of_nights(nights, "hayloft")[0]
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in (0, 8, 16, 29)}
    book(path, days, 0.02, "tall", bump=(20, 22.0))
    named = [part for night in nights for part in ("--night", str(night))]
    result = told("wear", DEMO_ROOM, *named, "--book", path, "--charts", tmp_path / "charts")
    assert "was it bumped, or stored anew, or misread?" in " ".join(result.output.split())
    drawing = ET.parse(tmp_path / "charts" / "hayloft-tall.svg").getroot()
    words = [one.text for one in drawing.iter()]
    assert words.count("moved, or misread?") == 2
    assert "moved at once" not in words


def test_where_nothing_is_foretold_what_was_measured_takes_half_of_the_drawing(
    tmp_path: Path,
) -> None:
    """A limit far off drew the years to come, and what was measured was a tenth of it."""
    nights, path = months(HAYLOFT, tmp_path, 20), tmp_path / "book"
    ledger = ledger_of_nights(nights, "hayloft")[0]
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in (0, 6, 12, 19)}
    book(path, days, 0.0, "tall")
    room = tmp_path / "lenient.yaml"
    room.write_text(HAYLOFT.text + "\nwear: {strip: 100 mm}\n", "utf-8")
    named = [part for night in nights for part in ("--night", str(night))]
    told("wear", room, *named, "--book", path, "--charts", tmp_path / "charts")
    drawing = ET.parse(tmp_path / "charts" / "hayloft-tall.svg").getroot()
    words = {one.text: one.attrib for one in drawing.iter() if one.text}
    assert 0.4 < float(words["now"]["x"]) / float(drawing.attrib["width"]) < 0.7
