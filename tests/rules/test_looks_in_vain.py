"""Rows whose look is never reached, or whose work is undone, are told at their part of the look."""

from __future__ import annotations

from typing import Final

import pytest

from rules.room.load import load, read_room
from rules.table.table_findings import table_findings
from rules.table.winners import Winners
from rules.text.findings import Finding, Severity
from simulator.shipped import DEMO_ROOM
from tests.engine.story import Story, shape

HEAD: Final = """\
room: den
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40, border: 180 mm}
projector: {raster: 4096 x 2160, lens: {reports: yes}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
panels: {sides: {opening: 1.78}}
sources: {disc: {}, console: {leave_alone: yes}}
"""
MENUS: Final = ("{playback: not(playing)}", "{picture: plain}")
SCOPE: Final = 'aspect: ">= 2.30"'
FLAT: Final = 'aspect: "< 2.30"'


def room(*rows: tuple[str, str], policy: str = "first", pace: str = "") -> str:
    """A room with rows of these cases and looks, and an otherwise that moves nothing."""
    text = HEAD + (f"pace: {pace}\n" if pace else "") + f"rules:\n  policy: {policy}\n  rows:\n"
    for case, show in rows:
        text += f"    - case: {case}\n      show: {show}\n      because: It is so.\n"
    return text + "  otherwise: {picture: plain}\n"


def found(text: str, code: str) -> list[Finding]:
    """What is found with this code."""
    loaded = read_room(text, "room.yaml")
    assert loaded.room is not None, loaded.findings
    return [one for one in table_findings(loaded) if one.code == code]


def line_of(text: str, piece: str) -> int:
    return text[: text.index(piece)].count("\n") + 1


# ------------------------------------------------------------------------------- never reached


@pytest.mark.parametrize(
    ("case", "show", "part", "why"),
    [
        ("{playback: playing, first_minutes: no}", "preset: tall", "preset", "nothing travels"),
        (
            "{playback: playing, first_minutes: no}",
            "panels: sides",
            "panels",
            "nothing is asked for",
        ),
        ("{playback: paused}", "preset: tall", "preset", "a pause moves nothing"),
        ("{helper: refused}", "panels: sides", "panels", "where helper is refused"),
        ("{helper: asked}", "panels: sides", "panels", "it takes back what somebody is asked for"),
        ("{source: null}", "preset: tall", "preset", "before a source is known"),
        (
            "{helper: refused, panels: sides}",
            "preset: tall, panels: open",
            "preset",
            "panels have to go first",
        ),
    ],
)
def test_a_look_that_is_held_wherever_its_row_wins_is_told(
    case: str, show: str, part: str, why: str
) -> None:
    text = room((case, f"{{picture: plain, {show}}}"))
    one = next(one for one in found(text, "never-reached") if one.message.startswith(part))
    assert one.severity is Severity.WARNING
    assert one.line == line_of(text, show)
    assert "of row 1" in one.message
    assert why in one.message


@pytest.mark.parametrize(
    ("case", "show"),
    [
        ("{playback: playing}", "preset: tall"),
        ("{first_minutes: no}", "preset: tall"),  # a menu has no first minutes
        ("{playback: not(paused)}", "preset: tall"),
        ("{playback: playing}", "panels: sides"),
        ("{playback: playing, first_minutes: no, preset: tall}", "preset: tall"),  # it stays
        ("{helper: refused}", "preset: tall"),
        ("{helper: refused}", "preset: tall, panels: open"),  # where they are open already
    ],
)
def test_a_look_that_is_reached_somewhere_is_not_told(case: str, show: str) -> None:
    told = found(room((case, f"{{picture: plain, {show}}}")), "never-reached")
    assert not [one for one in told if one.message.startswith(show[:6])]


def test_what_upper_rows_leave_to_a_row_counts() -> None:
    """The lower row names no first minutes, and still gets only what comes after them."""
    upper = ("{playback: playing, first_minutes: yes}", "{picture: plain}")
    lower = ("{}", "{picture: plain, preset: tall}")
    assert len(found(room(MENUS, upper, lower), "never-reached")) == 1
    assert found(room(upper, lower), "never-reached") == []


def test_nobody_is_asked_in_a_title_where_a_wish_lingers_past_its_first_minutes() -> None:
    row = ("{playback: playing}", "{panels: sides}")
    slow = "{linger: 90 s, recalls: {first_minutes: 90 s}}"
    (one,) = found(room(row, pace=slow), "never-reached")
    assert "a wish must linger longer than a title's first minutes last" in one.message


def test_the_engine_never_gets_to_what_is_told_as_never_reached() -> None:
    """A quarter of an hour of a flat film, and the lens has not moved."""
    case = f"{{playback: playing, first_minutes: no, {FLAT}}}"
    den = load(room((case, "{picture: plain, preset: tall}")), "room.yaml")
    story = Story(den)
    story.film(10, 1.78)
    story.at(900, None)
    assert story.recalls() == []


# ----------------------------------------------------------------------------------- undone


def test_a_prompt_that_a_row_withdraws_while_somebody_is_asked_is_told() -> None:
    free = (f"{{{FLAT}, helper: free}}", "{panels: sides}")
    asked = (f"{{{FLAT}, helper: asked}}", "{panels: open}")
    text = room(free, asked)
    (one,) = found(text, "wish-undone")
    assert (one.severity, one.line) == (Severity.WARNING, line_of(text, "{panels: sides}"))
    assert one.message == (
        f"row 1 (line {line_of(text, 'helper: free')}) asks for panels sides, and while somebody "
        f"is asked, row 2 (line {line_of(text, 'helper: asked')}) wants open and takes that back, "
        "always"
    )
    assert "take helper out of the cases" in one.suggestion


def test_a_row_that_leaves_panels_out_withdraws_nothing() -> None:
    """What somebody has just been asked for counts as standing."""
    free = (f"{{{FLAT}, helper: free}}", "{panels: sides}")
    assert found(room(free), "wish-undone") == []


def test_panels_that_are_to_go_again_once_they_stand_are_told() -> None:
    fit = (f"{{{FLAT}, panels: not(sides)}}", "{panels: sides}")
    one, other = found(room(fit, ("{}", "{panels: open}")), "wish-undone")
    assert other.message.startswith("row 2")
    assert "once they stand so, row 2" in one.message


def test_a_lens_that_is_sent_back_where_it_came_from_is_told_with_where() -> None:
    go = ("{preset: not(tall)}", "{preset: tall}")
    back = (f"{{preset: tall, {SCOPE}}}", "{preset: broad}")
    one, other = found(room(go, back), "wish-undone")
    assert other.message.startswith("row 2")
    assert "once the lens is on its way, row 2" in one.message
    assert "takes that back, where: " in one.message
    assert "aspect 2.30 or more" in one.message


def test_a_prompt_that_ends_with_the_first_minutes_is_told_if_nobody_has_time_to_act() -> None:
    fit = (f"{{playback: playing, first_minutes: yes, {FLAT}}}", "{panels: sides}")
    off = (f"{{playback: playing, {FLAT}}}", "{panels: open}")
    text = room(fit, off, pace="{linger: 12 s, recalls: {first_minutes: 30 s}}")
    (one,) = found(text, "prompt-too-short")
    assert (one.severity, one.line) == (Severity.WARNING, line_of(text, "{panels: sides}"))
    assert "takes that back 18 s later, when the title's first minutes are over" in one.message
    assert found(room(fit, off), "prompt-too-short") == []
    alone = room(fit, pace="{linger: 12 s, recalls: {first_minutes: 30 s}}")
    assert found(alone, "prompt-too-short") == []


# --------------------------------------------------------------------------------- to and fro


def test_rows_between_which_a_changing_title_asks_to_and_fro_are_told() -> None:
    scope = (f"{{playback: playing, {SCOPE}}}", "{panels: open}")
    flat = (f"{{playback: playing, {FLAT}}}", "{panels: sides}")
    text = room(MENUS, scope, flat)
    (one,) = found(text, "restless-rows")
    assert (one.severity, one.line) == (Severity.WARNING, line_of(text, "{panels: sides}"))
    assert "undo each other's work" in one.message
    assert "asks somebody to and fro" in one.message


def test_the_engine_does_ask_to_and_fro_where_that_is_told() -> None:
    scope = (f"{{playback: playing, {SCOPE}}}", "{panels: open}")
    flat = (f"{{playback: playing, {FLAT}}}", "{panels: sides}")
    pace = "{linger: 12 s, prompts: {wait: 12 s}, recalls: {first_minutes: 10 min}}"
    story = Story(load(room(MENUS, scope, flat, pace=pace), "room.yaml"))
    story.film(10, 1.78)
    for second, ratio in ((60, 2.39), (160, 1.78)):
        story.at(second, shape(ratio))
    story.at(300, None)
    assert story.prompts().count(("sides", "asked")) > 1


def test_presets_are_told_only_where_the_pace_allows_two_recalls_in_a_title() -> None:
    scope = (f"{{playback: playing, {SCOPE}}}", "{preset: broad}")
    flat = (f"{{playback: playing, {FLAT}}}", "{preset: tall}")
    once = "{recalls: {per_title: 1}}"
    assert found(room(MENUS, scope, flat, pace=once), "restless-rows") == []
    assert len(found(room(MENUS, scope, flat), "restless-rows")) == 1


@pytest.mark.parametrize(
    "rest",
    [
        ("{playback: playing, varies: yes}", "{picture: whole}"),
        ("{playback: playing, source: disc}", "{panels: open}"),
    ],
    ids=["a row for titles that vary", "only a source whose shape never changes is left"],
)
def test_a_row_for_titles_that_change_their_shape_keeps_the_peace(rest: tuple[str, str]) -> None:
    scope = (f"{{playback: playing, {SCOPE}}}", "{panels: open}")
    flat = (f"{{playback: playing, {FLAT}}}", "{panels: sides}")
    assert found(room(rest, scope, flat), "restless-rows") == []


def test_rows_that_test_the_tallest_shape_keep_the_peace() -> None:
    scope = (f"{{playback: playing, {SCOPE.replace('aspect', 'tallest')}}}", "{panels: open}")
    flat = (f"{{playback: playing, {FLAT.replace('aspect', 'tallest')}}}", "{panels: sides}")
    assert found(room(scope, flat), "restless-rows") == []


def test_rows_that_go_to_and_fro_at_one_shape_are_not_laid_at_a_title_that_changes() -> None:
    """There the lens itself leads from one row to the other, which is told as that."""
    there = (f"{{playback: playing, {SCOPE}, preset: tall}}", "{preset: broad}")
    back = (f"{{playback: playing, {SCOPE}, preset: broad}}", "{preset: tall}")
    text = room(MENUS, there, back)
    assert found(text, "restless-rows") == []
    assert len(found(text, "wish-undone")) == 2


# ------------------------------------------------------------------------------------ the rest


@pytest.mark.parametrize("name", ["hayloft", "cellar", "longroom"])
def test_the_rooms_that_come_along_show_nothing_in_vain(name: str) -> None:
    text = DEMO_ROOM.with_name(f"{name}.yaml").read_text("utf-8")
    codes = {one.code for one in table_findings(read_room(text, name))}
    assert codes.isdisjoint({"never-reached", "wish-undone", "restless-rows"})


def test_a_search_that_is_broken_off_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def short(table: object) -> Winners:
        return Winners(table, budget=1)  # type: ignore[arg-type]

    monkeypatch.setattr("rules.table.table_findings.Winners", short)
    scope = (f"{{playback: playing, {SCOPE}}}", "{panels: open}")
    (one,) = found(room(MENUS, scope), "looks-not-searched")
    assert one.severity is Severity.INFO
