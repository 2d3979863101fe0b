"""What a technician measures is written into the book: lines that stay, checked before they do."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.shipped import DEMO_ROOM, NIGHTS
from simulator.wear.measurements import Measured, read_book
from tests.adapters.wear_commands import align, told


def test_measurements_are_lines_that_stay_and_corrections_are_lines_of_their_own(
    tmp_path: Path,
) -> None:
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 2 0 mm").exit_code == 0
    assert align(tmp_path, "--preset", "tall", "--edges", "30 0 31 0 px").exit_code == 0
    before = (tmp_path / "book").read_bytes()
    corrected = align(tmp_path, "--preset", "tall", "--edges", "3 0 3 0 px", "--corrects", "2")
    assert corrected.exit_code == 0
    assert (tmp_path / "book").read_bytes().startswith(before)
    printed = align(tmp_path).output.splitlines()
    assert ["corrected since" in line for line in printed] == [False, True, False]


def test_a_session_tells_repeatability_by_both_standards(tmp_path: Path) -> None:
    session = tmp_path / "session"
    rows = [
        f"{side} {0.2 * (n % 3) + (0.5 if side == 'longer' else 0)} {0.1 * (n % 2)}"
        for side in ("shorter", "longer")
        for n in range(30)
    ]
    session.write_text("\n".join(rows))
    written = align(tmp_path, "--preset", "tall", "--session", str(session))
    assert written.exit_code == 0, written.output
    night = NIGHTS / "evening.jsonl"
    result = told("wear", DEMO_ROOM, "--night", night, "--book", tmp_path / "book")
    text = " ".join(result.output.split())
    assert "a session of 60 travels finds its place to" in text
    assert "ISO 9283 RP" in text
    assert "of which 0.5 mm depend on where the lens comes from" in text


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--preset", "taller", "--edges", "1 0 2 0 mm"), "this room has no preset 'taller'"),
        (("--preset", "tall", "--edges", "1 0 2 mm"), "is not four offsets and a unit"),
        (("--preset", "tall", "--edges", "1 0 2 x mm"), "these are not four numbers"),
        (("--preset", "tall", "--edges", "1 0 2 0 inches"), "is not four offsets and a unit"),
        (("--preset", "tall", "--edges", "1 0 9999 0 mm"), "is larger than the screen"),
        (("--preset", "tall", "--edges", "nan 0 0 0 mm"), "left"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "2 px"), "use one unit"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0 mm"), "error"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--side", "left"), "side"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--corrects", "9"), "no line 9 to correct"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "yesterday"), "at"),
        (("--preset", "tall"), "give either --edges or --session"),
    ],
)
def test_what_cannot_be_written_down_is_said_and_nothing_is_lost(
    options: tuple[str, ...], words: str, tmp_path: Path
) -> None:
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 2 0 mm").exit_code == 0
    before = (tmp_path / "book").read_bytes()
    result = align(tmp_path, *options)
    assert result.exit_code == 2
    assert words in " ".join(result.output.split())
    assert (tmp_path / "book").read_bytes() == before


def test_what_is_older_than_the_realignment_is_refused(tmp_path: Path) -> None:
    now = ("--preset", "tall", "--edges", "0 0 0 0 mm", "--realigned")
    assert align(tmp_path, *now, "--at", "2026-11-20T12:00:00Z").exit_code == 0
    old = ("--preset", "tall", "--edges", "5 0 5 0 mm", "--at", "2026-11-19T12:00:00Z")
    result = align(tmp_path, *old)
    assert result.exit_code == 2
    assert "older than the realignment" in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--edges", "1 0 1 0 mm", "--at", "2999-01-01T00:00:00Z"), "it lies in the future"),
        (("--edges", "450 0 400 0 mm"), "is it a slip?"),
    ],
)
def test_what_is_hardly_so_is_taken_and_flagged(
    options: tuple[str, ...], words: str, tmp_path: Path
) -> None:
    result = align(tmp_path, "--preset", "tall", *options)
    assert result.exit_code == 0
    assert words in " ".join(result.output.split())


def test_a_correction_is_of_the_moment_and_the_preset_of_the_line_that_it_corrects(
    tmp_path: Path,
) -> None:
    first = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "2026-05-01T20:00:00Z")
    assert align(tmp_path, *first).exit_code == 0
    other = align(tmp_path, "--preset", "broad", "--edges", "2 0 2 0 mm", "--corrects", "1")
    assert other.exit_code == 2
    assert "line 1 is about tall, not broad" in " ".join(other.output.split())
    assert (
        align(tmp_path, "--preset", "tall", "--edges", "2 0 2 0 mm", "--corrects", "1").exit_code
        == 0
    )
    assert align(tmp_path).output.count("2026-05-01 21:00") == 2


def test_a_correction_keeps_what_it_does_not_say_and_a_line_is_corrected_once(
    tmp_path: Path,
) -> None:
    first = ("--preset", "tall", "--edges", "0 0 0 0 mm", "--realigned", "--side", "longer")
    assert align(tmp_path, *first, "--lit", "50", "--focus", "0.2").exit_code == 0
    again = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--corrects")
    assert align(tmp_path, *again, "1").exit_code == 0
    *_, corrected = read_book((tmp_path / "book").read_bytes().splitlines(), "book")
    assert isinstance(corrected, Measured)
    assert (corrected.aligned, corrected.side) == (True, "longer")
    assert (corrected.lit, corrected.focus) == (50.0, 0.2)
    twice = align(tmp_path, *again, "1")
    assert twice.exit_code == 2
    assert "was corrected by line 2: correct that one" in " ".join(twice.output.split())
    assert align(tmp_path, *again, "2", "--not-realigned").exit_code == 0
    *_, corrected = read_book((tmp_path / "book").read_bytes().splitlines(), "book")
    assert isinstance(corrected, Measured)
    assert not corrected.aligned


def test_every_line_of_a_session_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    session = tmp_path / "session"
    session.write_text("longer 1 2\nlonger 1\nwider 1 2\nshorter 1 2\nshorter x y\n")
    result = align(tmp_path, "--preset", "tall", "--session", str(session))
    assert result.exit_code == 2
    assert "line 2, 3, 5:" in " ".join(result.output.split())


def test_a_reading_from_a_cold_lens_is_taken_and_flagged(tmp_path: Path) -> None:
    result = align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm", "--lit", "5")
    assert result.exit_code == 0
    assert "a lens moves until it is warm" in " ".join(result.output.split())


def test_a_book_that_is_none_is_said_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "book").write_text('{"kind":"measured"}\n')
    result = align(tmp_path)
    assert result.exit_code == 2
    assert "book, line 1:" in " ".join(result.output.split())
