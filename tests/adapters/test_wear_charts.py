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


def charted(
    folder: Path,
    days: tuple[int, ...],
    creep: float,
    bump: tuple[int, float] = (0, 0.0),
    room: Path = DEMO_ROOM,
) -> tuple[str, ET.Element]:
    """Measure `tall` on some days of a hayloft's nights; give what `wear` says, and its drawing."""
    nights, path = months(HAYLOFT, folder, days[-1] + 1), folder / "book"
    ledger = ledger_of_nights(nights, "hayloft")[0]
    counts = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in days}
    book(path, counts, creep, "tall", bump=bump)
    named = [part for night in nights for part in ("--night", str(night))]
    said = told("wear", room, *named, "--book", path, "--charts", folder / "charts").output
    drawing = ET.parse(folder / "charts" / "hayloft-tall.svg").getroot()
    return " ".join(said.split()), drawing


def test_a_bump_is_marked_at_the_edges_that_it_moved_and_at_no_other(
    tmp_path: Path,
) -> None:
    said, drawing = charted(tmp_path, (0, 10, 20, 30, 40, 59), 0.02, bump=(30, 22.0))
    assert "it moved by about 21 mm sideways between" in said
    words = [one for one in drawing.iter() if one.text]
    panels = {one.text: float(one.attrib["y"]) for one in words if "edge, mm" in str(one.text)}
    marks = [float(one.attrib["y"]) for one in words if one.text == "moved at once"]
    above = [max(at for at in panels.values() if at < mark) for mark in marks]
    assert above == [panels["at its left edge, mm"], panels["at its right edge, mm"]]


def test_a_latest_reading_of_which_nobody_can_tell_is_not_marked_as_a_bump(
    tmp_path: Path,
) -> None:
    said, drawing = charted(tmp_path, (0, 8, 16, 29), 0.02, bump=(20, 22.0))
    assert "was it bumped, or stored anew, or misread?" in said
    words = [one.text for one in drawing.iter()]
    assert words.count("moved, or misread?") == 2
    assert "moved at once" not in words


def test_where_nothing_is_foretold_what_was_measured_takes_half_of_the_drawing(
    tmp_path: Path,
) -> None:
    """A limit far off drew the years to come, and what was measured was a tenth of it."""
    room = tmp_path / "lenient.yaml"
    room.write_text(HAYLOFT.text + "\nwear: {strip: 100 mm}\n", "utf-8")
    _, drawing = charted(tmp_path, (0, 6, 12, 19), 0.0, room=room)
    words = {one.text: one.attrib for one in drawing.iter() if one.text}
    assert 0.4 < float(words["now"]["x"]) / float(drawing.attrib["width"]) < 0.7
