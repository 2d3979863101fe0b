"""`roomcue report`: the page says at once what went wrong, is true, small, and takes no script."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.cli.night_records import report_input
from adapters.render.night_lanes import joined_bins, thinned
from adapters.render.night_report import ReportInput, night_report
from simulator.nights.night_record import LaneSpan, ShapeRead
from simulator.nights.sums import sums_of
from simulator.nights.troubles import troubles_of
from simulator.shipped import CELLAR, DEMO_NIGHT, NIGHTS
from tests.adapters.commands import run
from tests.night_records import record_of, record_of_lines

MOST_BYTES: Final = 3_000_000
FIRST_LINES: Final = {
    "refused-recall": (
        "19:55:00: Somebody said \"the picture is too small\". The lens stayed at 'broad' and "
        "never went to 'tall': its recall was refused."
    ),
    "nobody-there": (
        "19:47:22: Nobody answered the request for panels 'open': they stayed 'sides', and the "
        "lens waited at 'tall'."
    ),
    "bumped-lens": (
        '20:02:40: Somebody said "all blurred and crooked". The lens was moved from '
        "'broad' to no preset and no rule had ordered that"
    ),
    "false-word": (
        "19:31:15: The player said 2.39 for a whole title that was shown as 1.78; the lens went by "
        "what the player said and stood at 'broad', not at 'tall'."
    ),
    "silent-lens": (
        "19:32:32: The lens was sent to 'tall' and nobody said that it arrived: where it stood is "
        "not known."
    ),
}


class _Page(HTMLParser):
    """What a page holds: its text by element, its scripts, what it would fetch."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[str] = []
        self.texts: list[tuple[str, str]] = []
        self.fetched: list[str] = []
        self.handlers: list[str] = []
        self._within: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        if tag not in {"meta", "br", "link", "img", "input"}:
            self._within.append(tag)
        for name, value in attrs:
            if name.startswith("on"):
                self.handlers.append(name)
            if name in {"src", "href", "data", "action"} and not str(value).startswith("#"):
                self.fetched.append(str(value))

    def handle_endtag(self, tag: str) -> None:
        while self._within and self._within.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((self._within[-1] if self._within else "", " ".join(data.split())))

    def within(self, tag: str) -> list[str]:
        return [text for where, text in self.texts if where == tag]


def page_of(name: str) -> str:
    return night_report(told_of(name))


def told_of(name: str) -> ReportInput:
    return report_input(NIGHTS / f"{name}.jsonl", None, None, "0", skip=False)


@pytest.mark.parametrize("name", FIRST_LINES)
def test_the_first_line_of_a_report_says_what_went_wrong(name: str) -> None:
    page = _Page(page_of(name))
    (first,) = page.within("h1")
    assert first.startswith(FIRST_LINES[name])
    before = [text for where, text in page.texts if where not in {"style", "title"}]
    assert before.index(first) == 1  # after the room and the day alone


def test_a_report_is_written_and_its_first_line_printed(tmp_path: Path) -> None:
    out = tmp_path / "night.html"
    done = run("report", NIGHTS / "nobody-there.jsonl", "--out", out)
    assert done.exit_code == 0
    assert done.stdout.splitlines()[0] == FIRST_LINES["nobody-there"]
    assert "Nobody answered" in out.read_text("utf-8")
    again = run("report", NIGHTS / "nobody-there.jsonl", "--out", out)
    assert again.exit_code == 2
    assert "--force" in again.output


def test_a_report_fetches_nothing() -> None:
    page = page_of("evening")
    assert _Page(page).fetched == []
    assert "default-src 'none'" in page
    assert not re.search(r"url\((?!#)", page)


def test_no_text_of_a_night_becomes_markup_or_script() -> None:
    """A title, a mark and a person's name that are script stay words."""
    evil = "</script><script>alert(1)</script><img src=x onerror=alert(1)>"
    lines = [
        json.dumps({"t": t, "event": event}).encode()
        for t, event in (
            (10, {"kind": "source", "source": "disc"}),
            (20, {"kind": "title", "begun": True, "name": evil, "declared": 2.39}),
            (21, {"kind": "playback", "state": "playing"}),
            (30, {"kind": "mark", "words": evil}),
            (40, {"kind": "override", "taken": True, "until": "title", "who": "<b>Ana"}),
        )
    ]
    head = DEMO_NIGHT.read_bytes().splitlines()[0]
    record = record_of_lines([head, *lines])
    told = ReportInput(record, troubles_of(record), sums_of(record), (evil,), None, evil)
    page = night_report(told)
    read = _Page(page)
    assert read.elements.count("script") == 2  # the readings' figures, and ours
    assert "img" not in read.elements
    assert read.handlers == []
    assert evil in " ".join(read.within("h1"))
    assert page.count("alert(1)") == page.count("alert(1)&lt;/script&gt;") + page.count(
        "onerror=alert(1)&gt;"
    )


def test_every_decision_is_there_with_its_rule_and_the_cells_marked() -> None:
    page = page_of("evening")
    record = record_of("evening")
    read = _Page(page)
    assert read.elements.count("details") == len(record.moments)
    assert read.elements.count("figure") == len(record.moments)
    said = " ".join(text for _, text in read.texts)
    for moment in record.moments:
        for one in moment.decisions:
            assert f"{one.rule}" in said
    assert "✓ >= 2.30" in said
    assert "✗ console" in said
    assert "all that may be fitted are drawn" not in said


def test_a_lens_at_no_preset_is_drawn_and_said_so() -> None:
    said = " ".join(text for _, text in _Page(page_of("bumped-lens")).texts)
    assert "nobody knew where the lens stood: drawn at broad" in said


def test_figures_are_those_of_the_sums() -> None:
    sums, said = (
        sums_of(record_of("evening")),
        " ".join(t for _, t in _Page(page_of("evening")).texts),
    )
    assert sums.light is not None
    assert f"{sums.light:.0f} cd/m2 white" in said
    assert f"{sums.pixels:,} of 8,847,360" in said
    assert f"{sums.decisions}; 0 events refused" in said
    assert "to tall: 1 ordered, 1 by hand" in said


def test_another_room_file_beside_the_night_says_what_it_hides() -> None:
    """A stand-in hub obeys: that the recall was refused in the night is said all the same."""
    told = report_input(NIGHTS / "refused-recall.jsonl", CELLAR, None, "0", skip=False)
    said = " ".join(text for _, text in _Page(night_report(told)).texts)
    assert "With cellar.yaml in place of its own rules" in said
    assert "This night was recorded in another room: hayloft." in said
    assert "so what went wrong in the night itself does not show" in said
    assert "19:32:02 The lens stayed at 'broad'" in " ".join(said.split())


def test_another_night_beside_it_is_compared_in_sentences() -> None:
    other = NIGHTS / "evening.jsonl"
    told = report_input(NIGHTS / "refused-recall.jsonl", None, other, "0", skip=False)
    said = " ".join(text for _, text in _Page(night_report(told)).texts)
    assert "(evening.jsonl) beside this one" in said
    assert "The lens travelled 3 times instead of 0." in said


def test_four_hours_of_readings_that_never_stand_still_stay_small() -> None:
    """345,600 readings, each another one, and four hundred steps of decisions."""
    record = record_of("evening")
    readings = tuple(
        ShapeRead(record.begins + at * 1_000 // 24, 13_333 + at * 7_919 % 12_000, "ratio")
        for at in range(4 * 3_600 * 24)
    )
    ends = record.begins + 4 * 3_600_000
    many = record._replace(readings=readings, ends=ends, moments=record.moments * 20)
    page = night_report(told_of("evening")._replace(record=many))
    assert len(page.encode()) < MOST_BYTES


def test_a_night_without_end_stays_small_too_and_says_what_it_leaves_out() -> None:
    """Eight thousand steps, fifty thousand spans, ten thousand things that went wrong."""
    told = told_of("refused-recall")
    record = told.record
    flicker = tuple(
        LaneSpan(at, at + 1_000, "whole 1.78", at % 2_000 == 0)
        for at in range(record.begins, record.begins + 50_000_000, 1_000)
    )
    many = record._replace(
        moments=record.moments * 800,
        lanes={**record.lanes, "picture": flicker},
        ends=record.begins + 50_000_000,
    )
    page = night_report(told._replace(record=many, troubles=told.troubles * 3_300))
    assert len(page.encode()) < MOST_BYTES
    said = " ".join(text for _, text in _Page(page).texts)
    assert "9900 things went wrong; the worst are listed." in said
    assert "The first 1,000 decided steps are shown" in said


SPAN = 6_000
readings = st.dictionaries(st.integers(0, SPAN - 1), st.integers(10_000, 40_000), max_size=40)


@given(readings, st.integers(1, 8))
def test_thinning_keeps_every_extreme_in_its_place(told: dict[int, int], most: int) -> None:
    """Each bin holds the narrowest and the widest of what held at any millisecond of it."""
    bins = thinned([ShapeRead(at, told[at], "ratio") for at in sorted(told)], 0, SPAN, most)
    assert len(bins) == min(most, SPAN // 1_000)
    held: list[set[int]] = [set() for _ in bins]
    ratio = None
    for ms in range(SPAN):
        ratio = told.get(ms, ratio)
        if ratio is not None:
            held[ms * len(bins) // SPAN].add(ratio)
    assert bins == [(min(one), max(one)) if one else None for one in held]
    two = joined_bins(bins, 2)
    seen = [one for one in bins if one is not None]
    assert max((one.high for one in two if one), default=0) == max(
        (one.high for one in seen), default=0
    )
    assert min((one.low for one in two if one), default=0) == min(
        (one.low for one in seen), default=0
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("nowhere.jsonl",), "there is no such file"),
        ((DEMO_NIGHT, "--room", CELLAR, "--against", DEMO_NIGHT), "one thing can stand beside"),
        ((CELLAR,), "this is a room file, and a night is meant here"),
    ],
)
def test_what_cannot_be_reported_is_said(
    words: tuple[object, ...], says: str, tmp_path: Path
) -> None:
    done = run("report", *words, "--out", tmp_path / "out.html")
    assert done.exit_code == 2
    assert says in " ".join(done.output.split())
    assert not (tmp_path / "out.html").exists()


def _lanes_of(name: str) -> str:
    return page_of(name).split('<svg id="lanes"')[1].split("</svg>")[0]


def _span_named(drawing: str, name: str) -> str:
    """Give what is drawn of the first span of that name."""
    return drawing.split(f"<title>{name}</title>")[1].split("</g>", maxsplit=1)[0]


def test_what_somebody_marked_is_not_counted_once_more_beside_itself() -> None:
    (bumped,) = _Page(page_of("bumped-lens")).within("h1")
    assert "more thing" not in bumped
    (refused,) = _Page(page_of("refused-recall")).within("h1")
    assert refused.endswith("Besides that, 1 more thing below.")


def test_the_lanes_hatch_what_is_not_known_and_nothing_else() -> None:
    drawing = _lanes_of("silent-lens")
    assert drawing.count("<title>not known</title>") == 2  # the lens, and later the panels
    assert "url(#" in _span_named(drawing, "not known")
    assert "url(#" not in _span_named(_lanes_of("nobody-there"), "sides")


def test_a_night_with_a_name_that_is_no_utf_8_is_written_about_all_the_same(tmp_path: Path) -> None:
    """A file's name may be any bytes; Python keeps those that are no UTF-8 as surrogates."""
    other = tmp_path / "night-\udcff.jsonl"
    other.write_bytes((NIGHTS / "pause.jsonl").read_bytes())
    out = tmp_path / "page.html"
    assert run("report", DEMO_NIGHT, "--against", other, "--out", out).exit_code == 0
    assert "night-\\udcff" in out.read_text("utf-8")
