"""A room file becomes the room it means: units, rules, cells and defaults."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.aspect import meant
from engine.facts import room_columns
from engine.optics import window
from engine.planning.placement import screen_by_diagonal
from engine.room import (
    Corner,
    Crop,
    Lens,
    Panels,
    Show,
    Source,
    Stretch,
    Told,
)
from engine.table import Policy, choose
from rules.room.load import defaults_shown, load, read_room
from tests.house.tree import beside
from tests.rules.files import GOOD, room_text, said
from tests.rules.loaded import ATTIC, FACTS, HAYLOFT, RANKED, changed, shown, without_lines

# ---------------------------------------------------------------------- what a file means

TAKE_OFF = "Please take the panels off the screen."


def test_the_physics_are_read_in_the_units_of_the_room() -> None:
    screen, projector = HAYLOFT.screen, HAYLOFT.projector
    assert (HAYLOFT.name, HAYLOFT.time_zone) == ("hayloft", "Europe/Lisbon")
    assert (screen.width, screen.border, screen.overfill) == (3_400_000, 80_000, 200)
    assert screen.height == 1_416_667
    assert screen.aspect == 24_000
    assert (projector.columns, projector.rows) == (4_096, 2_160)
    assert projector.lens == Lens(18_000, reports=True, transmission_at_long_end=0.72)
    assert projector.throw is not None
    assert projector.throw == (5_200_000, 13_500, 27_000, 5_000, 2_000, 400_000, 0)
    assert projector.light is not None
    assert (projector.light.lumens, projector.light.remaining) == (2_200, 0.85)
    assert projector.light.native_contrast == 2_000


def test_presets_keep_their_order_and_know_how_large_the_raster_is() -> None:
    """By hand: 16:9 in 4096 x 2160 takes 3840 columns and every row of 1.416667 m."""
    assert [*HAYLOFT.presets] == ["broad", "tall"]
    broad, tall = HAYLOFT.presets.values()
    assert (broad.fits, broad.raster_width) == (24_000, 3_400_000)
    assert (tall.fits, tall.raster_height) == (17_778, 1_416_667)
    assert tall.raster_width == pytest.approx(1_416_667 * 4_096 / 2_160, abs=2)


def test_pictures_panels_sources_and_told_facts_are_what_the_file_says() -> None:
    assert HAYLOFT.pictures == {
        "gentle": Stretch(10_000, 13_000, 10_300, 3_000, 300),
        "cropped": Crop(800),
    }
    assert HAYLOFT.panels == {
        "open": Panels("open", None, TAKE_OFF),
        "sides": Panels("sides", 17_778, "Please fit the panels at the sides of the screen."),
    }
    assert HAYLOFT.sources["disc"] == Source(
        "disc", None, None, leave_alone=False, declares=True, says_titles=True
    )
    assert HAYLOFT.sources["console"].shape == 17_778
    assert HAYLOFT.sources["console"].leave_alone
    assert HAYLOFT.sources["streamer"].menu_shape == 17_778
    assert HAYLOFT.told == {
        "guests": Told("guests", (True, False), None, None, None),
        "quiet": Told("quiet", (True, False), None, None, default=False),
        "mood": Told("mood", ("calm", "bright", "off"), None, None, None),
        "seats": Told("seats", (), 0, 12, None),
    }
    assert HAYLOFT.cues == {"lamps": ("low", "half", "full")}
    assert HAYLOFT.answers


def test_the_pace_is_read_and_what_is_left_out_has_its_default() -> None:
    pace = HAYLOFT.pace
    assert (pace.settle.taller, pace.settle.wider) == (500, 4_000)
    assert (pace.first_minutes, pace.per_title, pace.per_night) == (90_000, 1, 12)
    assert (pace.pause, pace.linger, pace.session) == (1_200_000, 12_000, 10_800_000)
    assert (pace.remind, pace.give_up, pace.order) == (120_000, 600_000, 5_000)
    assert pace.linger_people == 12_000
    left_out = ATTIC.pace
    assert (left_out.first_minutes, left_out.per_title) == (240_000, 2)
    assert (left_out.linger, left_out.linger_people, left_out.give_up) == (45_000, 60_000, 900_000)
    assert (left_out.pause, left_out.session) == (pace.pause, pace.session)


def test_measured_corners_are_kept_to_the_hundredth_of_a_pixel() -> None:
    corners = RANKED.presets["near"].measured
    assert corners is not None
    assert corners.top_left == Corner(-45_225, 1_200)  # the screen is wider than this raster
    assert corners.bottom_right == Corner(454_675, 214_000)
    assert RANKED.presets["far"].measured is None


def test_a_meter_may_read_foot_lamberts() -> None:
    """15 x 3.4262590996 cd/m2 (GNU units 2.22, computed)."""
    light = RANKED.projector.light
    assert light is not None
    assert light.measured == pytest.approx(51.393886)
    assert light.measured_preset == "near"


def test_a_screen_may_be_given_by_its_diagonal() -> None:
    assert screen_by_diagonal(5_000_000, 13_333)[0] == pytest.approx(
        4_000_000, abs=50
    )  # 3, 4 and 5
    assert ATTIC.screen.width == pytest.approx(110 * 25_400 * 16 / 337**0.5, abs=20)


def test_a_wide_screen_s_diagonal_is_what_the_trade_says() -> None:
    """A 2.35:1 screen 150 in wide measures 163 in on the diagonal (common practice)."""
    assert screen_by_diagonal(163 * 25_400, 23_500)[0] == pytest.approx(150 * 25_400, rel=0.001)


@given(width=st.integers(300, 30_000), aspect=st.integers(10_000, 40_000))
def test_a_screen_has_the_very_ratio_that_was_written(width: int, aspect: int) -> None:
    screen = f"screen: {{width: {width} mm, aspect: {aspect / 10_000:.4f}}}"
    text = changed("screen: {diagonal: 110 in, aspect: 16:9}", screen, "attic.yaml")
    room = load(text, "attic.yaml")
    written = meant(aspect)  # 1.78 is 16:9, and 1.33 is 4:3
    assert room.screen.aspect == pytest.approx(written, abs=1 if width > 1_000 else 2)
    assert room.presets["fixed"].fits == written


# --------------------------------------------------------------------------- rules and cells


@pytest.mark.parametrize(
    ("facts", "label"),
    [
        ({"playback": "stopped"}, "menus"),
        ({"quiet": True, "time": 23 * 60}, "late"),
        ({"quiet": True, "time": 6 * 60 + 59}, "late"),
        ({"quiet": True, "time": 7 * 60}, "otherwise"),
        ({"varies": True, "subtitles": True}, "changing shape"),
        ({"subtitles": True, "mood": "calm"}, "read along"),
        ({"subtitles": True, "mood": "bright"}, "otherwise"),
        ({"aspect": 22_999, "guests": False}, "widened"),
        ({"aspect": 23_000, "guests": False}, "otherwise"),
        ({"aspect": 18_500, "seats": 2}, "flat titles"),
        ({"aspect": None, "seats": 1}, "flat titles"),
        ({"aspect": 19_000, "seats": 1}, "otherwise"),
        ({"aspect": 18_500, "seats": 0}, "otherwise"),
    ],
)
def test_the_first_row_whose_cells_all_pass_is_shown(
    facts: dict[str, str | bool | int | None], label: str
) -> None:
    assert shown(HAYLOFT, **facts)[0] == label


def test_a_row_s_look_is_what_it_shows_and_nothing_more() -> None:
    looks = [row.output for row in HAYLOFT.rules.table.rows]
    assert looks[0] == Show("plain", 0, "broad", "open", (("lamps", "half"),))
    assert looks[3] == Show("plain", 400)
    assert HAYLOFT.rules.table.default == Show("plain")


def test_rows_know_their_names_their_reasons_and_their_lines() -> None:
    text = room_text("hayloft.yaml").split("\n")
    for row in HAYLOFT.rules.rows:
        assert row.label in text[row.line - 1]
        assert row.because in text[row.line + 2]
    assert "otherwise" in text[HAYLOFT.rules.otherwise.line - 1]
    assert HAYLOFT.rules.otherwise.because == "What no row knows is shown as it was made."
    assert [row.label for row in RANKED.rules.rows] == ["row 1", "row 2", "row 3"]


@pytest.mark.parametrize(
    ("facts", "row"),
    [
        ({"aspect": 20_500}, "row 1"),
        ({"aspect": 20_500, "playback": "paused"}, "row 2"),
        ({"aspect": 20_500, "playback": "paused", "source": "games"}, "row 3"),
        ({"playback": "stopped"}, "otherwise"),
    ],
)
def test_under_priority_the_declared_order_of_looks_decides(
    facts: dict[str, str | bool | int | None], row: str
) -> None:
    assert RANKED.rules.table.policy is Policy.PRIORITY
    assert shown(RANKED, **facts)[0] == row


@pytest.mark.parametrize("policy", ["unique", "any", "first"])
def test_every_other_policy_needs_no_order(policy: str) -> None:
    text = changed("policy: first", f"policy: {policy}")
    assert load(text, "hayloft.yaml").rules.table.policy.value == policy


def test_a_table_s_columns_are_the_facts_of_the_room() -> None:
    for room in (HAYLOFT, ATTIC, RANKED):
        assert room.rules.table.columns == room_columns(room)


def test_a_promise_matches_where_it_is_broken() -> None:
    (promise,) = HAYLOFT.promises
    assert promise.label == "menus are never stretched"
    broken = {**FACTS, "playback": "stopped", "picture": "gentle", "lift": 0, "override": "rules"}
    broken["travelling"] = False
    assert choose(promise.never, broken).output is True
    assert choose(promise.never, {**broken, "picture": "plain"}).output is False
    assert choose(promise.never, {**broken, "playback": "paused"}).output is False


def test_a_shape_may_be_made_of_those_above_it() -> None:
    text = changed('  scope: ">= 2.30"', '  scope: ">= 2.30"\n  wide: nearly, scope')
    text = text.replace("aspect: scope, mood", "aspect: wide, mood")
    assert shown(load(text, "room.yaml"), subtitles=True, aspect=21_500, mood="calm")[0] == (
        "read along"
    )


# ---------------------------------------------------------------------------------- defaults


def test_twelve_lines_are_enough() -> None:
    assert room_text("attic.yaml").count("\n") <= 12
    assert [*ATTIC.presets] == ["fixed"]
    assert ATTIC.presets["fixed"].fits == ATTIC.screen.aspect == 17_778
    assert ATTIC.panels == {"open": Panels("open", None, TAKE_OFF)}
    assert (ATTIC.pictures, ATTIC.told, ATTIC.cues, ATTIC.promises) == ({}, {}, {}, ())
    assert ATTIC.waived == {}
    assert ATTIC.projector.lens == Lens(20_000, reports=False, transmission_at_long_end=1)
    assert (ATTIC.projector.light, ATTIC.projector.throw) == (None, None)
    assert not ATTIC.answers


def test_the_starter_rules_are_whole_move_nothing_and_stand_on_no_line() -> None:
    table = ATTIC.rules.table
    assert shown(ATTIC, playback="stopped", varies=True) == ("at rest", Show("plain"))
    assert shown(ATTIC, varies=True) == ("changing shape", Show("whole"))
    assert shown(ATTIC) == ("otherwise", Show("plain"))
    looks = [row.output for row in table.rows]
    assert all(look.preset is look.panels is None for look in looks)
    assert {row.line for row in (*ATTIC.rules.rows, ATTIC.rules.otherwise)} == {0}
    for playback in ("playing", "paused", "stopped", "unknown"):
        for varies in (True, False):
            facts = {**FACTS, "playback": playback, "varies": varies}
            assert choose(table, facts).violation is None


@pytest.mark.parametrize("name", GOOD)
def test_the_file_written_out_with_every_default_is_the_same_room(name: str) -> None:
    text = room_text(name)
    full = defaults_shown(read_room(text, name))
    assert without_lines(load(full, "full.yaml")) == without_lines(load(text, name))
    assert len(full.splitlines()) > len(text.splitlines())


def test_written_out_once_there_is_nothing_more_to_add() -> None:
    for name in GOOD:
        full = defaults_shown(read_room(room_text(name), name))
        again = defaults_shown(read_room(full, name))
        assert "# default" in full
        assert "# default" not in again
        assert without_lines(load(again, name)) == without_lines(load(full, name))


@given(because=st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1))
def test_whatever_a_reason_says_it_is_written_out_so_that_it_reads_back(because: str) -> None:
    quoted = because.replace("'", "''")
    text = changed("Menus carry text and circles.", f"'{quoted}'")
    room = load(text, "room.yaml")
    full = load(defaults_shown(read_room(text, "room.yaml")), "full.yaml")
    assert room.rules.rows[0].because == full.rules.rows[0].because == because


def test_sections_that_stand_there_empty_are_as_good_as_left_out() -> None:
    names = "presets pictures panels told cues shapes pace orders rules promises waived"
    empty = "".join(f"{name}:\n" for name in names.split())
    room = load(room_text("attic.yaml") + empty, "attic.yaml")
    assert without_lines(room) == without_lines(ATTIC)


def test_open_is_an_arrangement_of_every_room_and_comes_first() -> None:
    text = changed("  open: {}\n", "")
    assert [*load(text, "room.yaml").panels] == ["open", "sides"]


def test_the_text_goes_into_the_room_as_it_is() -> None:
    text = "\ufeff" + room_text("attic.yaml").replace("\n", "\r\n")
    assert load(text, "attic.yaml").text == text


def test_panels_may_say_the_width_that_they_leave_free() -> None:
    """By hand: 2.52 m beside a height of 3.4 m / 2.40 is 1.77882, and never a hair wider."""
    text = room_text("hayloft.yaml")
    room = load(text.replace("opening: 1.78", "opening: 2520 mm"), "hayloft.yaml")
    assert room.panels["sides"].opening == 17_788
    assert 2_519_000 < window(room, "sides").width <= 2_520_000
    assert window(room, "sides").height == room.screen.height


RENAMED_SINCE = {"\nzone: ": "\ntime_zone: ", "recalls: {opening:": "recalls: {first_minutes:"}
"""What the design's outline, which leaves names open, calls otherwise than room files do."""


def test_the_outline_in_the_design_loads_clean() -> None:
    page = beside("design.md", "the shipped rooms and README's are loaded all the same")
    outline = re.findall(r"```yaml\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    text = outline[0]
    for former, new in RENAMED_SINCE.items():
        assert former in text
        text = text.replace(former, new)
    assert said(text) == []
