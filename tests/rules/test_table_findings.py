"""What is wrong with a room's rules is said at its place, in words, with what to write instead."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.aspect import NARROWEST, WIDEST, in_hundredths, same_shape
from engine.value_set import interval
from rules.room.load import defaults_shown, read_room
from rules.table.boundaries import FILM_CLUSTERS, FILM_RATIOS, fragile_boundaries
from rules.table.table_findings import table_findings
from rules.text.findings import Finding, Severity
from simulator.shipped import DEMO_ROOM
from tests.rules.files import BAD, GOOD, room_text

HEAD = """\
room: den
time_zone: Europe/Lisbon
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 3840 x 2160}
sources: {disc: {}, games: {}}
pictures: {gentle: {stretch: {}}}
"""
OTHERWISE = "  otherwise: {picture: plain, because: So be it.}\n"


def room(*cases: str, policy: str = "unique", otherwise: str = OTHERWISE, tail: str = "") -> str:
    """A room with rows of these cases; those that end in ! show the gentle picture."""
    rows = ""
    for case in cases:
        picture = "gentle" if case.endswith("!") else "plain"
        rows += f"    - case: {case.removesuffix('!')}\n"
        rows += f"      show: {{picture: {picture}}}\n      because: It is so.\n"
    head = f"{HEAD}rules:\n  policy: {policy}\n"
    order = "  order: {picture: [plain, gentle]}\n" if policy == "priority" else ""
    return f"{head}{order}  rows:\n{rows}{otherwise}{tail}"


def found(text: str, code: str = "") -> list[Finding]:
    assert read_room(text, "room.yaml").room is not None
    return [
        one for one in table_findings(read_room(text, "room.yaml")) if one.code.startswith(code)
    ]


def said(text: str, code: str = "") -> list[str]:
    return [str(one).removeprefix("room.yaml:") for one in found(text, code)]


def line_of(text: str, piece: str) -> tuple[int, int]:
    """Where a piece of a text begins."""
    before = text[: text.index(piece)]
    return before.count("\n") + 1, len(before) - before.rfind("\n")


def placed(finding: Finding) -> tuple[int, int]:
    return finding.line, finding.column


# ------------------------------------------------------------------------------------ overlaps


def test_rows_of_a_unique_table_that_both_match_are_an_error_at_the_later_one() -> None:
    text = room("{source: disc}", '{playback: paused, aspect: "[2.00..2.20)"}!')
    (finding,) = found(text, "overlap")
    assert placed(finding) == line_of(text, "case: {playback")
    assert str(finding) == (
        "room.yaml:13:7: error: row 2 and row 1 (line 10) both match, and show different things, "
        "where: source disc, paused, aspect 2.00 up to 2.20. "
        "Narrow one of the two, or write policy: first, by which the earlier wins."
    )
    assert finding.example == "source: disc, playback: paused, aspect: 2.00"


def test_rows_of_a_unique_table_may_not_overlap_even_where_they_show_the_same() -> None:
    (finding,) = found(room("{source: disc}", "{playback: paused}"), "overlap")
    assert finding.fatal
    assert "and show the same" in finding.message


def test_rows_of_an_any_table_overlap_at_fault_where_they_differ_and_else_in_order() -> None:
    text = room("{source: disc}", "{playback: paused}", "{varies: yes}!", policy="any")
    agreeing, *differing = found(text, "overlap")
    assert (agreeing.severity, placed(agreeing)) == (Severity.INFO, line_of(text, "policy"))
    assert agreeing.message == (
        "one pair of rows overlaps, and they show the same: "
        "row 1 with row 2, where source disc, paused"
    )
    assert [one.severity for one in differing] == [Severity.ERROR] * 2
    assert differing[0].suggestion.startswith("Let both show the same, or narrow one of the two")


@pytest.mark.parametrize(
    ("policy", "verdict"), [("first", "the earlier wins"), ("priority", "the order decides")]
)
def test_where_the_policy_decides_overlaps_are_one_piece_of_information(
    policy: str, verdict: str
) -> None:
    cases = [f"{{source: disc, aspect: '>= {wide}.00'}}!" for wide in (1, 2, 3)]
    (finding,) = found(room(*cases, "{varies: yes}", policy=policy), "overlap")
    assert finding.severity is Severity.INFO
    assert finding.message.startswith(f"6 pairs of rows overlap, and {verdict}: row ")
    assert finding.message.endswith("; 1 more")


def test_of_very_many_overlaps_a_hundred_are_listed_and_the_rest_is_counted() -> None:
    findings = found(room(*["{}"] * 20), "overlap")
    assert len(findings) == 101
    (more,) = (one for one in findings if one.code == "overlap-more")
    assert more.message == "overlaps not listed here: 90"


# ---------------------------------------------------------------------------------------- gaps


def test_what_no_row_covers_falls_to_otherwise_as_information() -> None:
    text = room(
        "{source: not(disc)}",
        "{source: null}",
        "{source: disc, playback: not(paused)}",
        '{source: disc, playback: paused, aspect: "null, < 2.00, >= 2.20"}',
    )
    (finding,) = found(text, "gap")
    assert placed(finding) == line_of(text, "otherwise")
    assert str(finding) == (
        "room.yaml:22:3: info: this falls to otherwise: source disc, paused, aspect 2.00 up to "
        "2.20. If a rule should decide, add a row with case: "
        '{source: disc, playback: paused, aspect: "[2.00..2.20)"}.'
    )


def test_where_no_otherwise_is_written_what_no_row_covers_is_an_error() -> None:
    text = room("{playback: paused}", otherwise="")
    (finding,) = found(text, "gap")
    assert (finding.severity, placed(finding)) == (Severity.ERROR, line_of(text, "rows"))
    assert finding.message == (
        "no row covers this, and no otherwise is written: playback not paused"
    )
    assert finding.suggestion.startswith("Write an otherwise, or add a row with case: {playback:")


ACCEPTED = "  gaps_accepted: {because: Nobody watches anything else.}\n"


def test_gaps_that_the_file_accepts_with_a_reason_are_one_piece_of_information() -> None:
    text = room("{playback: paused}", "{playback: stopped}", otherwise=ACCEPTED)
    (finding,) = found(text, "gap")
    assert (finding.severity, placed(finding)) == (Severity.INFO, line_of(text, "{because: Nob"))
    assert finding.message == (
        "plain is shown where no row covers the case, which is accepted: playback playing or "
        "unknown"
    )
    assert not any(one.fatal for one in found(text))


def test_accepting_gaps_takes_a_reason() -> None:
    loaded = read_room(room("{playback: paused}", otherwise="  gaps_accepted: {}\n"), "room.yaml")
    (finding,) = (one for one in loaded.findings if one.fatal)
    assert (finding.code, "because" in finding.message) == ("missing", True)


@pytest.mark.parametrize(
    ("cases", "tail", "why"),
    [
        (["{varies: yes}", "{varies: no}!"], "", "every case has its row"),
        (["{varies: yes}"], OTHERWISE, "otherwise says what to show there"),
    ],
)
def test_accepting_gaps_where_there_are_none_is_told(cases: list[str], tail: str, why: str) -> None:
    text = room(*cases, otherwise=ACCEPTED + tail)
    (finding,) = found(text, "no-gap")
    assert (finding.severity, placed(finding)) == (Severity.WARNING, line_of(text, "{because: Nob"))
    assert finding.message == f"gaps are accepted, and there are none: {why}"


def test_a_table_without_rows_leaves_everything_to_otherwise() -> None:
    text = f"{HEAD}rules:\n{OTHERWISE}"
    (sentence,) = said(text)
    assert sentence == (
        "8:3: info: this falls to otherwise: always. "
        "If a rule should decide, add a row with case: {}."
    )


def test_midnight_parts_the_evening_in_two_and_is_said_as_one() -> None:
    (finding,) = found(room('{time: "null, [07:00..22:00)"}'), "gap")
    assert "falls to otherwise: time 22:00 up to 07:00" in finding.message


CELLS = {
    "source": ["disc", "null", "not(games)"],
    "playback": ["paused", "not(stopped)", "playing, unknown"],
    "aspect": ["'>= 2.30'", "'[1.70..1.95)'", "'null, < 2.10'"],
    "varies": ["yes", "no"],
    "time": ["'>= 22:00, < 07:00'", "'null, [12:00..18:00)'"],
}


@st.composite
def cases(draw: st.DrawFn) -> str:
    facts = draw(st.lists(st.sampled_from([*CELLS]), max_size=3, unique=True))
    entries = (f"{fact}: {_quoted(draw(st.sampled_from(CELLS[fact])))}" for fact in facts)
    return f"{{{', '.join(entries)}}}"


def _quoted(cell: str) -> str:
    return cell if cell.startswith("'") or cell.isalpha() else f"'{cell}'"


@settings(max_examples=40)
@given(st.lists(cases(), min_size=1, max_size=5))
def test_rows_with_the_cases_that_are_suggested_close_every_gap(written: list[str]) -> None:
    gaps = found(room(*written, policy="first"), "gap")
    suggested = [one.suggestion.partition("case: ")[2].removesuffix(".") for one in gaps]
    closed = room(*written, *suggested, policy="first")
    assert not found(closed, "gap")
    assert bool(gaps) is bool(suggested)
    (unused,) = found(closed, "otherwise-unused")
    assert unused.severity is Severity.INFO


def test_of_very_many_gaps_a_hundred_are_listed_and_the_rest_is_counted() -> None:
    """Hundredths of a stripe pattern join to one box, crossed stripes do not."""
    stripes = [
        f'{{aspect: "{1 + at / 100:.2f}", time: "{at // 60:02}:{at % 60:02}"}}' for at in range(200)
    ]
    findings = found(room(*stripes, policy="first"), "gap")
    assert [one.code for one in findings].count("gap") == 100
    (more,) = (one for one in findings if one.code == "gap-more")
    assert more.message == "boxes that no row covers and that are not listed here: 101"


# ------------------------------------------------------------------------------------ dead rows


def test_a_row_behind_others_that_leave_it_nothing_names_them() -> None:
    text = room(
        "{playback: paused}", "{varies: yes}!", "{varies: yes, aspect: 2.10}", policy="first"
    )
    (finding,) = found(text, "dead-row")
    assert finding.severity is Severity.WARNING
    assert placed(finding) == line_of(text, "case: {varies: yes, aspect")
    assert str(finding).endswith(
        "row 3 can never win: row 2 (line 13) leaves it nothing. "
        "Put it before that row, narrow that row, or take it out."
    )


def test_several_rows_together_can_leave_a_row_nothing() -> None:
    text = room("{varies: yes}", "{varies: no}!", "{playback: paused}", policy="first")
    (finding,) = found(text, "dead-row")
    assert "row 3 can never win: row 1 (line 10) and row 2 (line 13) leave it" in finding.message


@pytest.mark.parametrize(
    ("policy", "advice"),
    [
        ("unique", "Narrow that row"),
        ("any", "Narrow that row"),
        ("priority", "Give its look a higher place in the order"),
    ],
)
def test_what_to_do_for_a_dead_row_hangs_on_the_policy(policy: str, advice: str) -> None:
    dead = found(room("{varies: yes}", "{varies: yes, aspect: 2.10}!", policy=policy), "dead-row")
    assert dead[-1].suggestion.startswith(advice)


def test_an_otherwise_that_nothing_falls_to_is_told() -> None:
    text = room("{varies: yes}", "{varies: no}!")
    (sentence,) = said(text)
    assert sentence == (
        f"{line_of(text, 'otherwise')[0]}:3: info: every case has its row, so that otherwise is "
        "never used. It may be left out."
    )


def test_an_otherwise_that_answers_for_an_overlap_is_used() -> None:
    assert not found(room("{varies: yes}", "{varies: no}!", "{playback: paused}"), "otherwise")


def test_rules_without_a_written_otherwise_and_without_a_gap_say_nothing() -> None:
    assert said(room("{varies: yes}", "{varies: no}!", otherwise="")) == []


# ---------------------------------------------------------------------------------------- cells


@pytest.mark.parametrize(
    ("cell", "advice"),
    [
        ("aspect: 1.7778", "Ratios among the facts are whole hundredths: write 1.78."),
        ('aspect: "(2.30..2.305)"', "Ratios among the facts are whole hundredths: write 2.30."),
        ("playback: null", "playback is always known: leave null out."),
        ("playback: not(playing, paused, stopped, unknown)", "Widen the test, or take it out."),
    ],
)
def test_a_cell_that_nothing_can_pass_is_told_at_its_place(cell: str, advice: str) -> None:
    if "not(" in cell:
        cell = cell.replace("not", '"not') + '"'
    text = room("{varies: yes}", f"{{{cell}}}!", policy="first")
    (finding,) = found(text, "never-matches")
    fact, _, test = cell.partition(": ")
    assert (finding.severity, placed(finding)) == (Severity.WARNING, line_of(text, test))
    assert finding.message == f"no {fact} can ever pass this test, so that row 2 never matches"
    assert finding.suggestion == advice
    assert not found(text, "dead-row")


def test_a_promise_that_can_never_be_broken_is_told_too() -> None:
    tail = "promises:\n  - {name: calm, never: {lift: null, playback: null}, because: So.}\n"
    text = room("{}", otherwise="", tail=tail)
    (finding,) = found(text, "never-matches")
    assert placed(finding) == line_of(text, "null}, because")
    assert "so that calm never matches" in finding.message


# ----------------------------------------------------------------------------------- boundaries


def test_a_boundary_through_a_film_is_told_with_the_nearest_that_cut_none() -> None:
    text = room('{aspect: ">= 2.38"}')
    (finding,) = found(text, "fragile")
    assert (finding.severity, placed(finding)) == (Severity.WARNING, line_of(text, '">= 2.38"'))
    assert finding.message == (
        "the boundary at 2.38 cuts through films of 2.35, 2.39 and 2.40: within 2 % shapes count "
        "as one"
    )
    assert finding.suggestion == "Put it at 2.31 or at 2.45."


def test_a_test_for_one_number_is_told_what_holds_the_film_whole() -> None:
    (finding,) = found(room("{tallest: 1.85}"), "fragile")
    assert finding.message == (
        "this holds a part of films of 1.85 and 1.90 only: within 2 % shapes count as one"
    )
    assert finding.suggestion == "[1.82..1.94) holds them whole."


def test_a_boundary_of_a_shape_is_told_once_where_the_shape_stands() -> None:
    shapes = 'shapes: {wide: ">= 2.20", both: "wide, null"}\n'
    rows = room("{aspect: wide}", "{tallest: not(wide)}", "{declared: both}", policy="first")
    text = rows.replace("rules:", f"{shapes}rules:")
    (finding,) = found(text, "fragile")
    assert placed(finding) == line_of(text, '">= 2.20"')


def test_no_suggested_boundary_cuts_through_a_film() -> None:
    for zone in FILM_CLUSTERS:
        for boundary in (zone.first, zone.after):
            assert not [*fragile_boundaries(interval(boundary, None))]
            assert not [*fragile_boundaries(interval(None, boundary, high_open=True))]
    assert all(one.after <= other.first for one, other in pairwise(FILM_CLUSTERS))


def nearest_film(ratio: int) -> int:
    """The film that is nearest to a ratio."""
    return min(FILM_RATIOS, key=lambda film: abs(film - ratio))


def test_a_boundary_is_fragile_when_a_film_may_settle_on_either_side() -> None:
    """Settling keeps what is within 2 % (`same_shape`): the very rule, hundredth by hundredth.

    Of two films that it tells apart it settles the nearer one: their middle cuts through neither.
    """
    ratios = range(NARROWEST, WIDEST + 1, 100)
    for before, after in pairwise(ratios):
        through = any(same_shape(before, film) and same_shape(after, film) for film in FILM_RATIOS)
        film, other = nearest_film(before), nearest_film(after)
        told_apart = film != other and not same_shape(film, other)
        assert bool([*fragile_boundaries(interval(after, None))]) is (through and not told_apart)


def test_flat_films_and_the_full_container_may_have_rows_of_their_own() -> None:
    assert not found(room("{tallest: '[1.82..1.88)'}", "{tallest: '[1.88..1.94)'}"), "fragile")
    (finding,) = found(room("{tallest: '>= 1.86'}"), "fragile")
    assert finding.suggestion == "Put it at 1.82, 1.88 or at 1.94."


def test_235_and_239_and_240_are_one_film_in_practice() -> None:
    """Common practice: discs of one film carry any of the three."""
    names = [{in_hundredths(film.ratio) for film in zone.films} for zone in FILM_CLUSTERS]
    assert {23_500, 23_900, 24_000} in names


# ----------------------------------------------------------------------------------- what is open


def test_a_spent_budget_is_an_error_that_says_what_is_not_proven() -> None:
    text = room("{varies: yes}", "{playback: paused, varies: no}!", "{aspect: 2.10}")
    findings = [
        one
        for one in table_findings(read_room(text, "room.yaml"), budget=0)
        if one.code == "not-proven"
    ]
    assert [one.line for one in findings] == [9, 10, 13, 16]
    assert all(one.fatal for one in findings)
    assert findings[0].message == (
        "not proven: after 0 steps not every case that no row covers is known; 0 boxes of them are"
    )
    assert findings[1].message.endswith("it is not known whether row 1 can ever win")
    assert findings[0].suggestion


# ------------------------------------------------------------------------------- whole room files


def test_the_shipped_room_has_nothing_but_information() -> None:
    findings = table_findings(read_room(DEMO_ROOM.read_text(encoding="utf-8"), "hayloft.yaml"))
    assert {one.severity for one in findings} == {Severity.INFO}
    assert {one.code for one in findings} == {"overlap", "gap"}


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_does_not_load_is_left_to_the_loader(name: str) -> None:
    assert table_findings(read_room(room_text(name), name)) == ()


@pytest.mark.parametrize("name", GOOD)
def test_a_finding_stands_where_something_is_written_and_says_what_to_do(name: str) -> None:
    text = room_text(name)
    for finding in table_findings(read_room(text, name)):
        written = text.split("\n")[finding.line - 1][finding.column - 1 :]
        assert re.match(r"[\w\"'\[{>-]", written)
        assert not finding.message[0].isupper()
        assert not finding.message.endswith(".")
        assert not finding.suggestion or finding.suggestion.endswith((".", "?"))
        assert finding.file == name


def test_rules_that_were_filled_in_are_nobodys_mistake() -> None:
    assert table_findings(read_room(room_text("attic.yaml"), "attic.yaml")) == ()


def test_the_rules_a_room_starts_with_are_clean_when_they_are_written_out() -> None:
    text = defaults_shown(read_room(room_text("attic.yaml"), "attic.yaml"))
    assert read_room(text, "attic.yaml").findings == ()
    assert [one.code for one in table_findings(read_room(text, "attic.yaml"))] == ["gap"]
