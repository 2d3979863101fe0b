"""What `wear` says of odd books: each sentence agrees with the others and with the readings."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from adapters.render.wear_text import preset_sentences
from engine.events import moment_of
from engine.state import DAY
from simulator.shipped import DEMO_ROOM
from simulator.wear.assessment import assess
from simulator.wear.ledger import Ledger, Travel
from simulator.wear.measurements import ENTRIES, Measured, Measurement
from tests.adapters.months import A_DAY, months
from tests.adapters.wear_commands import HAYLOFT, align, told
from tests.golden.evenings import BEGINS

DAYS = 30
HOUR = 3_600_000


@pytest.fixture(scope="module")
def nights(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A month of the hayloft."""
    return months(HAYLOFT, tmp_path_factory.mktemp("month"), DAYS)


def said(nights: list[Path], folder: Path, *readings: tuple[float, float, str]) -> str:
    """What is said of `tall`: each reading has its day, how far it moved, and its side."""
    for number, (day, moved, side) in enumerate(readings):
        at = moment_of(BEGINS + round(day * A_DAY)).isoformat()
        options = ["--realigned"] * (number == 0) + (["--side", side] if side else [])
        edges = ("--edges", f"{moved} 0 {moved} 0 mm", "--error", "0.5 mm", "--at", at)
        assert align(folder, "--preset", "tall", *edges, *options).exit_code == 0
    named = [part for night in nights for part in ("--night", str(night))]
    return " ".join(told("wear", DEMO_ROOM, *named, "--book", folder / "book").output.split())


def test_two_readings_of_one_place_that_contradict_each_other_are_named(
    nights: list[Path], tmp_path: Path
) -> None:
    """Two people enter the same place within the hour, one of them with the wrong sign."""
    text = said(
        nights, tmp_path, (1, 0, ""), (8, 1, ""), (16, 2.2, ""), (16.01, -2.2, ""), (24, 3, "")
    )
    assert "differ by 4.4 mm, and no travel is known between them: is one of them wrong?" in text


def test_every_column_of_the_table_that_tells_of_an_edge_is_explained_below_it(
    nights: list[Path], tmp_path: Path
) -> None:
    text = said(nights, tmp_path, (1, 0, ""), (8, 1, ""), (16, 2.2, ""), (24, 3, ""))
    head = ("edge", "offset", "limits", "in 100", "look in")
    assert all(f" {name}: " in text for name in head)
    assert "in 100: how far it creeps in a hundred travels, mm" in text


def test_a_reading_that_is_left_out_contradicts_no_other_one(
    nights: list[Path], tmp_path: Path
) -> None:
    """The wrong sign, and read again as asked: it is named once, and no more is asked of it."""
    moved = ((1, 0, ""), (8, 0.3, ""), (12, 0.5, ""), (16, -8.7, ""), (16.01, 0.7, ""))
    text = said(nights, tmp_path, *moved)
    assert "is off by 9 mm sideways, and the next ones are not: was it misread" in text
    assert "or was it bumped and put back, or did the lens come from its other side?" in text
    assert "is one of them wrong" not in text


def test_a_preset_stored_anew_is_asked_about_until_the_readings_tell(
    nights: list[Path], tmp_path: Path
) -> None:
    """It crept 2 mm every three days, and somebody put it back without writing that down."""
    far = (0, 2, 4, 6, 8, 0.2, 0.1)
    moved = [*zip((1, 7, 10, 13, 16, 19, 19.01), far, [""] * 7, strict=True)]
    for count, words in (
        (6, "was it bumped, or stored anew, or misread"),
        (7, "and when it was read once more it stood there: was it bumped, or stored anew"),
    ):
        folder = tmp_path / str(count)
        folder.mkdir()
        text = said(nights, folder, *moved[:count])
        assert words in text, count
        assert "it was read 9 mm sideways from where it was expected" in text, count
        assert "align it now" not in text, count
        assert ("if nobody has moved it, it shows already" in text) is (count == 7), count
    later = said(nights, tmp_path, *moved, (22, 2.1, ""), (25, 3.3, ""))
    assert "it moved by about" in later
    assert "correct the line of 2026-12-11 with --realigned" in later


@pytest.mark.parametrize(
    ("day", "far", "advice"),
    [
        (20, 0.8, "tall: look at it within"),
        (22, 2.1, "align it now, whatever the answer below: if nobody has moved it, it shows"),
    ],
)
def test_while_it_is_asked_what_happened_to_a_preset_it_is_aligned_only_if_that_is_right_anyway(
    nights: list[Path], tmp_path: Path, day: int, far: float, advice: str
) -> None:
    """The same preset, one look later: near where it should stand, or two fifths of its way off."""
    moved = [*zip((1, 7, 10, 13, 16, 19, 19.01), (0, 2, 4, 6, 8, 0.2, 0.1), [""] * 7, strict=True)]
    text = said(nights, tmp_path, *moved, (day, far, ""))
    assert "and when it was read once more it stood there: was it bumped, or stored anew" in text
    assert advice in text
    assert ("align it now" in text) is ("align it now" in advice)
    assert "if nobody has moved it, it shows already with a probability of 99 %" in text


def test_a_preset_that_goes_out_and_back_with_the_year_is_told_to(tmp_path: Path) -> None:
    """Read four times a year over two years, on nights that tell of the first and the last one."""
    (tmp_path / "nights").mkdir()
    first, *_ = months(HAYLOFT, tmp_path / "nights", 1)
    moved = (0, 2.5, 5, 2.4, 0.1, 2.7, 5.1, 2.6, 0.2)
    readings = ((1 + 91.3 * number, far, "shorter") for number, far in enumerate(moved))
    text = said([first], tmp_path, *readings)
    assert "it goes out and back with the year, by some 2 mm sideways either way" in text
    assert "Read it again at the same time of the year" in text
    assert "it moved by about" not in text


def test_readings_of_one_place_that_agree_are_not(nights: list[Path], tmp_path: Path) -> None:
    text = said(nights, tmp_path, (1, 0, ""), (8, 1, ""), (16, 2.2, ""), (16.01, 2.6, ""))
    assert "is one of them wrong" not in text


def test_what_shows_within_its_limits_is_said_to_scatter(
    nights: list[Path], tmp_path: Path
) -> None:
    """Where it stands on average is far from where it shows; single travels end there."""
    text = said(nights, tmp_path, *zip(range(1, 26, 4), IN_TURNS, [""] * 6, strict=False))
    assert "it shows already with a probability of" in text
    assert "for it ends elsewhere by some" in text


IN_TURNS = (0, 4, -4, 4.2, -3.8, 4.1)


def test_readings_that_take_turns_tell_how_far_the_sides_end_apart(
    nights: list[Path], tmp_path: Path
) -> None:
    """The same readings: what comes and goes with the side is no chance, and is told to be none."""
    sides = ("", *("shorter", "longer") * 3)
    text = said(nights, tmp_path, *zip(range(1, 26, 4), IN_TURNS, sides, strict=False))
    assert re.search(r"its two sides end [78]\.\d mm apart sideways and 0\.\d mm up and down", text)
    assert re.search(r"it shows already .* for its two sides end [78]\.\d mm apart", text)
    assert "nothing tells how far these end apart" not in text
    assert "was it bumped" not in text


def test_two_sides_that_were_read_once_each_are_not_told_apart(
    nights: list[Path], tmp_path: Path
) -> None:
    readings = zip(range(1, 17, 4), (0, 0.2, 0.1, 4), ("shorter",) * 3 + ("longer",), strict=False)
    text = said(nights, tmp_path, *readings)
    assert "readings come from both sides, and nothing tells how far these end apart" in text
    assert "each with 90 % if its two sides end alike, which nothing tells" in text


def test_readings_from_one_side_alone_tell_of_no_other_one(
    nights: list[Path], tmp_path: Path
) -> None:
    text = said(nights, tmp_path, *((day, 0.1 * day, "shorter") for day in (0, 4, 8, 12)))
    assert "each with 90 %, where it comes from its shorter side as it did for every" in text


def of_a_busy_lens(*readings: tuple[int, float, str], session: tuple[float, ...] = ()) -> str:
    """What is said of `tall` where the lens travels there six times on each day."""
    days = readings[-1][0] + 1
    moments = [BEGINS + day * DAY + hour * HOUR for day in range(days) for hour in range(6)]
    travels = tuple(
        Travel(at, 0, "tall", "broad", True, True, None, "flat", 9_000, number)
        for number, at in enumerate(moments, 1)
    )
    ends = BEGINS + days * DAY
    counts, watched = {"tall": len(travels)}, {"tall": HOUR}
    ledger = Ledger(travels, (), counts, (), watched, BEGINS, ends)
    book = [
        measured(day, moved, side, number) for number, (day, moved, side) in enumerate(readings, 1)
    ]
    kept = [*book, session_on_the_first_day(session, len(book) + 1)] if session else book
    (wear,) = (one for one in assess(HAYLOFT, ledger, kept) if one.preset == "tall")
    return " ".join(preset_sentences(HAYLOFT, wear, ends))


@pytest.mark.parametrize("last", [0.5, 0.7, 1.0, 1.1, 1.2])
def test_a_look_that_is_due_and_a_reading_that_says_most_are_of_one_travel(last: float) -> None:
    """Where the look comes first, both are one number, and none is a travel before the other."""
    text = of_a_busy_lens((0, 0, ""), (10, 0.1, ""), (20, 0.2, ""), (30, last, ""))
    found = re.search(r"look at it within (\d+) travels.* says most after (\d+) more", text)
    assert found is not None, text
    assert found[1] == found[2]


def session_on_the_first_day(ends: tuple[float, ...], number: int) -> Measurement:
    """Thirty travels, half of them from either side, which end at these two places."""
    line: dict[str, object] = {"kind": "repeated", "id": number, "preset": "tall", "unit": "mm"}
    line |= {"at": moment_of(BEGINS + 9 * HOUR).isoformat(), "error": 0.1, "lit": 60}
    for side, end in zip(("shorter", "longer"), ends, strict=True):
        line[side] = [[end + 0.1 * (one % 3 - 1), 0.0] for one in range(15)]
    return ENTRIES.validate_json(json.dumps(line))


def measured(day: int, moved: float, side: str, number: int) -> Measured:
    """One line of the book: sideways alone, the first after a realignment."""
    at = moment_of(BEGINS + day * DAY + 8 * HOUR).isoformat()
    line = {"kind": "measured", "id": number, "at": at, "preset": "tall", "unit": "mm"}
    line |= {"left": moved, "top": 0, "right": moved, "bottom": 0, "error": 0.5, "lit": 60}
    line |= {"side": side or None, "aligned": number == 1}
    read = ENTRIES.validate_json(json.dumps(line))
    assert isinstance(read, Measured)
    return read


def test_what_is_aligned_in_good_time_is_told_how_far_it_has_gone() -> None:
    """That it shows with 1 % is no reason that anybody would believe."""
    text = of_a_busy_lens(*((30 * n, -0.22 * n + 0.6 * (n % 2), "shorter") for n in range(19)))
    assert re.search(r"align it now: its \w+ edge has gone \d\d % of its way", text), text
    assert "shows already with a probability" not in text
    assert "is no longer sure not to show within 60 travels (more than 1 in 200)" in text


SIDES = ("shorter", "longer", "longer", "shorter")


def test_a_lens_whose_sides_end_further_apart_than_a_session_says_is_told_to() -> None:
    """They were alike once, and end 5 mm apart after a year and a half."""
    readings = [
        (30 * n, -0.05 * n + (0.14 * n if SIDES[n % 4] == "shorter" else -0.14 * n), SIDES[n % 4])
        for n in range(19)
    ]
    text = of_a_busy_lens(*readings, session=(0.2, -0.2))
    said = re.search(r"by the latest readings its two sides end some (\d+) mm apart", text)
    assert said is not None, text
    assert 3 <= int(said[1]) <= 5
    assert "and no session says so: measure one (--session)" in text


def test_of_sides_that_end_as_far_apart_as_a_session_says_nothing_is_told() -> None:
    readings = [
        (30 * n, -0.05 * n + (1.5 if SIDES[n % 4] == "shorter" else -1.5), SIDES[n % 4])
        for n in range(19)
    ]
    assert "by the latest readings its two sides" not in of_a_busy_lens(
        *readings, session=(1.5, -1.5)
    )


def test_creep_read_from_both_sides_in_turn_is_no_matter_of_sides() -> None:
    readings = [(30 * n, -0.4 * n, SIDES[n % 4]) for n in range(19)]
    assert "by the latest readings its two sides" not in of_a_busy_lens(*readings)


def test_a_jump_that_may_be_no_more_than_the_other_side_asks_for_what_tells_them_apart(
    nights: list[Path], tmp_path: Path
) -> None:
    moved = (0, 0.2, 0.1, 0.3, 9.0, 9.2)
    text = said(nights, tmp_path, *((1 + 5 * n, far, "") for n, far in enumerate(moved)))
    assert "was it bumped, or stored anew, or did it come from its other side?" in text
    assert "nothing tells how far its two sides end apart: measure a session" in text


def test_a_jump_between_two_readings_from_the_same_side_is_no_matter_of_sides(
    nights: list[Path], tmp_path: Path
) -> None:
    """Of earlier readings nobody wrote down from which side they came."""
    moved = ((0, ""), (0.2, ""), (0.1, "shorter"), (0.3, "shorter"), (9.0, "shorter"))
    for far in (9.2, 0.4):
        folder = tmp_path / str(far)
        folder.mkdir()
        readings = enumerate([*moved, (far, "shorter"), (far, "shorter")])
        text = said(nights, folder, *((1 + 4 * n, far, side) for n, (far, side) in readings))
        assert "was it bumped" in text
        assert "other side" not in text
        assert "nothing tells how far its two sides end apart" not in text


def test_a_jump_read_from_one_side_alone_is_a_bump(nights: list[Path], tmp_path: Path) -> None:
    moved = (0, 0.2, 0.1, 0.3, 9.0, 9.2)
    text = said(nights, tmp_path, *((1 + 5 * n, far, "shorter") for n, far in enumerate(moved)))
    assert "was it bumped, or stored anew? What came before" in text
    assert "sides end apart" not in text
