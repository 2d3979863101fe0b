"""What a technician measures is written into the book: lines that stay, checked before they do."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from adapters.cli.book_files import append_measurement
from adapters.cli.wear_files import ledger_of_nights
from engine.events import moment_of
from simulator.shipped import DEMO_ROOM, NIGHTS
from simulator.wear.measurements import Measured, read_book
from tests.adapters.wear_commands import HAYLOFT, align, told


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
        (("--preset", "tall", "--edges", "1 mm"), "do not write 0 for an edge that nobody read"),
        (("--preset", "tall", "--edges", "1 0 2 x mm"), "these are not four numbers"),
        (
            ("--preset", "tall", "--edges", "1 0 2 0 inches"),
            "right, bottom and mm or px, such as",
        ),
        (("--preset", "tall", "--edges", "1,5 0 2 0 mm"), "write a decimal point"),
        (("--preset", "tall", "--edges", "1 0 9999 0 mm"), "is larger than the screen"),
        (("--preset", "tall", "--edges", "nan 0 0 0 mm"), "left"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "2 px"), "use one unit"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0 mm"), "error"),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--corrects", "9"), "no line 9 to correct"),
        (
            ("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "1in"),
            "--error 1in is no length: write one such as 0.5 mm",
        ),
        (
            ("--preset", "tall", "--edges", "1 0 1 0 mm", "--side", "left"),
            "this cannot be written down: side: 'shorter' or 'longer' is expected",
        ),
        (("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "yesterday"), "no moment: write"),
        (
            ("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "0005-01-01T00:00:00Z"),
            "lies outside the years 1970 to 2200: is the year right?",
        ),
        (("--preset", "tall"), "give --edges or --session"),
        (
            ("--preset", "tall", "--session", str(NIGHTS / "evening.jsonl")),
            "evening.jsonl, lines 1, 2, 3, 4, 5 and 173 more: write a side",
        ),
        (("--lit", "5"), "name with --preset the preset that was measured"),
        (("--preset", "tall", "--corrects", "9", "--lit", "5"), "no line 9 to correct"),
        (
            ("--preset", "tall", "--edges", "1 0 1 0 mm", "--unit", "px"),
            "--unit goes with --session",
        ),
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


def test_a_realignment_whose_date_was_corrected_stands_in_the_way_of_nothing(
    tmp_path: Path,
) -> None:
    """Somebody types next year, and mends it: readings since the true date are written again."""
    now = ("--preset", "tall", "--edges", "0 0 0 0 mm", "--realigned")
    assert align(tmp_path, *now, "--at", "2027-11-20T12:00:00Z").exit_code == 0
    mended = ("--preset", "tall", "--corrects", "1", "--at", "2026-11-20T12:00:00Z")
    assert align(tmp_path, *mended).exit_code == 0
    later = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "2026-12-19T12:00:00Z")
    result = align(tmp_path, *later)
    assert result.exit_code == 0, result.output
    earlier = align(tmp_path, *later[:-1], "2026-11-19T12:00:00Z")
    assert "older than the realignment of 2026-11-20 12:00" in " ".join(earlier.output.split())


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--edges", "1 0 1 0 mm", "--at", "2199-01-01T00:00:00Z"), "it lies in the future"),
        (("--edges", "450 0 400 0 mm"), "is it a slip?"),
    ],
)
def test_what_is_hardly_so_is_taken_and_flagged(
    options: tuple[str, ...], words: str, tmp_path: Path
) -> None:
    result = align(tmp_path, "--preset", "tall", *options)
    assert result.exit_code == 0
    assert words in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("edges", "odd"),
    [
        ("1.5 0.5 1.2 0.4 mm", False),
        ("-18 -10 18 10 mm", False),  # grown: 18 mm at the sides of a 16:9 picture
        ("-18 -9.5 18 9.5 mm", False),  # the same read at the raster's edges
        ("3 0 -3 0 mm", True),  # a sign
        ("0.4 9 0.4 0 mm", True),  # one edge alone
        ("-18 0 18 0 mm", True),
    ],
)
def test_edges_that_no_shift_and_no_growth_explains_are_flagged(
    edges: str, odd: bool, tmp_path: Path
) -> None:
    result = align(tmp_path, "--preset", "tall", "--edges", edges)
    assert result.exit_code == 0
    assert ("is an edge or a sign wrong?" in " ".join(result.output.split())) is odd


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
    *_, corrected = read_book((tmp_path / "book").read_bytes().splitlines())[0]
    assert isinstance(corrected, Measured)
    assert (corrected.aligned, corrected.side) == (True, "longer")
    assert (corrected.lit, corrected.focus) == (50.0, 0.2)
    twice = align(tmp_path, *again, "1")
    assert twice.exit_code == 2
    assert "was corrected by line 2: correct that one" in " ".join(twice.output.split())
    assert align(tmp_path, *again, "2", "--not-realigned").exit_code == 0
    *_, corrected = read_book((tmp_path / "book").read_bytes().splitlines())[0]
    assert isinstance(corrected, Measured)
    assert not corrected.aligned


def test_every_line_of_a_session_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    session = tmp_path / "session"
    session.write_text("longer 1 2\nlonger 1\nwider 1 2\nshorter 1 2\nshorter x y\n")
    result = align(tmp_path, "--preset", "tall", "--session", str(session))
    assert result.exit_code == 2
    assert "lines 2, 3, 5:" in " ".join(result.output.split())


def test_a_reading_from_a_cold_lens_is_taken_and_flagged(tmp_path: Path) -> None:
    result = align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm", "--lit", "5")
    assert result.exit_code == 0
    assert "a lens moves until it is warm" in " ".join(result.output.split())


DAMAGED = b'{"kind":"measured","id":2,"at":"2026-1'


def test_a_damaged_line_is_passed_over_with_its_number_and_stays_where_it_is(
    tmp_path: Path,
) -> None:
    """A full disk has left half a line, without its end, where others are to follow."""
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm").exit_code == 0
    book = tmp_path / "book"
    book.write_bytes(book.read_bytes() + DAMAGED)
    printed = align(tmp_path)
    assert printed.exit_code == 1
    assert "line 2: passed over" in " ".join(printed.output.split())
    assert align(tmp_path, "--preset", "tall", "--edges", "2 0 2 0 mm").exit_code == 0
    assert book.read_bytes().splitlines()[1] == DAMAGED
    entries, bad = read_book(book.read_bytes().splitlines())
    assert ([one.id for one in entries], [one.line for one in bad]) == ([1, 3], [2])
    result = told("wear", DEMO_ROOM, "--night", NIGHTS / "evening.jsonl", "--book", book)
    assert result.exit_code == 1, result.output
    assert "line 2: passed over" in " ".join(result.output.split())
    assert told("visit", DEMO_ROOM, "--book", book).exit_code == 1


def test_what_is_no_book_is_told_in_a_few_lines_and_not_called_an_empty_one(
    tmp_path: Path,
) -> None:
    (tmp_path / "book").write_text("Ring the owner.\n" * 50, "utf-8")
    printed = align(tmp_path)
    assert printed.exit_code == 1
    assert "more lines are passed over" in printed.output
    assert printed.output.count("note:") == 6
    assert "Nothing has been measured yet" not in printed.output


@pytest.mark.parametrize("command", ["align", "visit", "wear"])
def test_a_book_that_is_named_and_not_there_is_missed(command: str, tmp_path: Path) -> None:
    night = ("--night", NIGHTS / "evening.jsonl") if command == "wear" else ()
    result = told(command, DEMO_ROOM, *night, "--book", tmp_path / "bok")
    assert result.exit_code == 2
    assert "there is no such book of measurements" in " ".join(result.output.split())


def test_the_book_names_the_edge_beside_each_offset(tmp_path: Path) -> None:
    """Four bare numbers told nobody which of them was the top."""
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 -1.5 0.5 mm").exit_code == 0
    said = " ".join(align(tmp_path).output.split())
    assert "tall: left +1, top +0, right -1.5, bottom +0.5 mm, each read to 0.5 mm, lit for" in said


def test_a_book_without_a_newline_at_its_end_glues_no_lines_together(tmp_path: Path) -> None:
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm").exit_code == 0
    book = tmp_path / "book"
    book.write_bytes(book.read_bytes().rstrip(b"\n"))
    assert align(tmp_path, "--preset", "tall", "--edges", "2 0 2 0 mm").exit_code == 0
    assert len(read_book(book.read_bytes().splitlines())[0]) == 2


def test_a_disk_that_fills_up_leaves_the_book_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm").exit_code == 0
    before = (tmp_path / "book").read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    result = align(tmp_path, "--preset", "tall", "--edges", "2 0 2 0 mm")
    assert result.exit_code == 2
    assert "No space left on device; the book is as it was" in " ".join(result.output.split())
    assert (tmp_path / "book").read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["book"]


def test_two_writers_at_once_lose_no_line(tmp_path: Path) -> None:
    with ThreadPoolExecutor(4) as crew:
        said = [
            *crew.map(
                lambda n: append_measurement(HAYLOFT, tmp_path / "book", measured(n)).id, range(24)
            )
        ]
    assert sorted(said) == [*range(1, 25)]
    entries, bad = read_book((tmp_path / "book").read_bytes().splitlines())
    assert (len(entries), bad) == (24, [])


def measured(number: int) -> Measured:
    return Measured(
        id=1,
        at=moment_of(1_795_375_800_000 + number * 60_000),
        preset="tall",
        left=1.0,
        top=0.0,
        right=1.0,
        bottom=0.0,
        unit="mm",
        error=0.5,
        lit=45,
    )


def test_a_link_to_the_book_leads_to_the_book_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "book").symlink_to(tmp_path / "elsewhere" / "real")
    assert align(tmp_path, "--preset", "tall", "--edges", "1 0 1 0 mm").exit_code == 0
    assert (tmp_path / "book").is_symlink()
    assert (tmp_path / "elsewhere" / "real").read_bytes().count(b"\n") == 1


def test_only_an_option_may_be_corrected_and_the_error_of_a_line_is_kept(tmp_path: Path) -> None:
    first = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0.2 mm")
    assert align(tmp_path, *first, "--lit", "5").exit_code == 0
    assert align(tmp_path, "--preset", "tall", "--corrects", "1", "--lit", "45").exit_code == 0
    edges = ("--preset", "tall", "--edges", "2 0 2 0 mm", "--corrects", "2")
    assert align(tmp_path, *edges).exit_code == 0
    entries, _ = read_book((tmp_path / "book").read_bytes().splitlines())
    *_, lit, moved = [one for one in entries if isinstance(one, Measured)]
    assert (lit.left, lit.error, lit.lit) == (1.0, 0.2, 45.0)
    assert (moved.left, moved.error, moved.lit) == (2.0, 0.2, 45.0)


@pytest.mark.parametrize("kind", ["link", "pipe"])
def test_a_drawing_replaces_neither_links_nor_pipes(kind: str, tmp_path: Path) -> None:
    charts = tmp_path / "charts"
    charts.mkdir()
    for preset in ("broad", "tall"):
        path = charts / f"hayloft-{preset}.svg"
        if kind == "link":
            path.symlink_to(tmp_path / "kept")
        else:
            os.mkfifo(path)
    (tmp_path / "kept").write_text("kept")
    night = ("--night", NIGHTS / "evening.jsonl")
    result = told("wear", DEMO_ROOM, *night, "--charts", charts, "--force")
    assert result.exit_code == 2
    words = {"link": "is a link", "pipe": "is no plain file"}
    assert words[kind] in " ".join(result.output.split())
    assert (tmp_path / "kept").read_text() == "kept"


def test_a_folder_without_a_night_is_no_ledger(tmp_path: Path) -> None:
    result = told("wear", DEMO_ROOM, "--night", tmp_path)
    assert result.exit_code == 2
    assert "there is no night in this folder" in " ".join(result.output.split())


def test_of_many_lines_that_cannot_be_used_five_are_named_and_the_others_counted(
    tmp_path: Path,
) -> None:
    broken = tmp_path / "night.jsonl"
    broken.write_bytes((NIGHTS / "evening.jsonl").read_bytes() + b"{\n" * 40)
    _, said = ledger_of_nights([broken], "hayloft")
    assert [words.endswith(": passed over") for words in said] == [True] * 5 + [False]
    assert said[-1] == f"{broken}: 35 more lines are passed over"


def test_a_book_in_a_folder_that_is_not_there_is_refused_by_its_name(tmp_path: Path) -> None:
    result = align(tmp_path / "nosuch", "--preset", "tall", "--edges", "1 0 1 0 mm")
    assert result.exit_code == 2
    assert f"there is no folder {tmp_path / 'nosuch'}" in " ".join(result.output.split())
    assert not (tmp_path / "nosuch").exists()


# ------------------------------------------------------------------------------------- the visit


def test_the_sheet_for_a_visit_says_what_to_measure_from_where_and_what_it_means(
    tmp_path: Path,
) -> None:
    assert (
        align(
            tmp_path,
            *("--preset", "tall", "--edges", "1 0 1 0 mm", "--at", "2026-05-01T20:00:00Z"),
        ).exit_code
        == 0
    )
    result = told("visit", DEMO_ROOM, "--book", tmp_path / "book")
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert len(lines) <= 60, "one page"
    assert max(len(line.replace(str(DEMO_ROOM), "room.yaml")) for line in lines) <= 80
    text = " ".join(result.output.split())
    assert "Lens and lamp are hot" in text
    assert "local codes come first" in text
    assert "wait 30 minutes" in text
    assert "From tall to broad it comes from the longer side (--side longer)" in text
    assert "broad, come from tall (longer) (never read before)" in text
    assert "tall, come from broad (shorter) (last read 2026-05-01)" in text
    assert result.output.count("left ______") == 6, "a third one where two differ"
    assert "write down the middle one of the three" in text
    assert "On a later day give the moment as well: --at" in text
    assert "any movement outwards throws light on a panel" in text
    assert "bumped, stored anew, or come to from its other side: read it once more" in text


def test_a_lens_that_is_fixed_has_no_side_to_come_from() -> None:
    text = told("visit", DEMO_ROOM.with_name("cellar.yaml")).output
    assert "come from" not in text
    assert "--side" not in text
    assert "fixed (never read before)" in " ".join(text.split())


def test_the_sheet_asks_for_both_sides_of_a_preset_between_two_others(tmp_path: Path) -> None:
    """The widest and the narrowest are reached from one side alone."""
    room = tmp_path / "three.yaml"
    text = DEMO_ROOM.read_text("utf-8")
    room.write_text(text.replace("presets:\n", "presets:\n  between: {fits: 2.00}\n", 1), "utf-8")
    _, *after = told("visit", room).output.split("never read before")
    asked = ["The lens comes to it from both sides" in part for part in after]
    assert asked == [False, True, False]
