"""Everything that is wrong with a room file is told at once, each at its place."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.room import (
    Show,
)
from engine.table import How, choose
from rules.room.load import defaults_shown, load, read_room
from rules.room.names import zones
from rules.text.findings import MOST_FINDINGS_LISTED, BadRoom, Finding, Severity
from tests.rules.files import BAD, found, marked, room_text, said, spoiled
from tests.rules.loaded import FACTS, HAYLOFT, changed, without_lines

# ---------------------------------------------------------------------------------- findings


DEN = """room: den
time_zone: Europe/Lisbon
screen: {width: 3.0 m, aspect: 2.40}
projector: {raster: 3840 x 2160}
sources: {player: {}}
rules:
  rows:
    - case: {aspect: ">= 2.30"}
      show: {picture: plain}
      because: It fills the screen.
  otherwise: {picture: plain}
"""


@pytest.mark.parametrize("name", BAD)
def test_every_marked_mistake_of_a_file_is_found_at_once_and_no_other(name: str) -> None:
    text = room_text(name)
    assert len(marked(text)) > 8
    assert found(read_room(text, name)) == marked(text)


@pytest.mark.parametrize("name", BAD)
def test_mending_one_line_takes_away_the_findings_of_that_line_alone(name: str) -> None:
    """Findings are independent: no mistake hides another, and none is told twice."""
    lines = room_text(name).split("\n")
    mended = re.sub(r"width: 4 mm|aspect: 0\.40|\t20 min", _right, "\n".join(lines))
    before, after = found(read_room("\n".join(lines), name)), found(read_room(mended, name))
    assert after < before
    assert sum((before - after).values()) == 1


def _right(wrong: re.Match[str]) -> str:
    return {"width: 4 mm": "width: 4 m", "aspect: 0.40": "aspect: 2.40"}.get(wrong[0], " 20 min")


def test_load_raises_all_of_it_in_one_error_that_people_can_read() -> None:
    text = room_text("crowded.yaml")
    with pytest.raises(BadRoom) as caught:
        load(text, "crowded.yaml")
    findings = caught.value.findings
    assert len(findings) == sum(marked(text).values())
    assert str(caught.value).split("\n") == [str(finding) for finding in findings]
    assert list(findings) == sorted(findings, key=lambda one: (one.line, one.column, one.code))
    assert str(findings[1]) == (
        "crowded.yaml:3:12: error: Europe/Lisboa is no time zone. Did you mean Europe/Lisbon?"
    )


FACT_NAMES = (
    "Here may stand: source, playback, aspect, declared, tallest, varies, subtitles, doubtful, "
    "first_minutes, preset, panels, helper, time, range, three_d, guests, quiet, mood or seats."
)
SECTIONS = (
    "Here may stand: room, time_zone, language, screen, projector, presets, pictures, panels, "
    "seats, sources, told, cues, shapes, labels, pace, wear, orders, rules, promises or waived."
)
RECALLS_KEYS = "Here may stand: first_minutes, per_title or per_night."
SCREEN_KEYS = "Here may stand: width, diagonal, aspect, gain, border or overfill."
MISPLACED = (
    "lumens is not known here. It belongs in projector: light. "
    "Here may stand: raster, light, throw or lens."
)
DARK_SHOWN = (
    "dark is ordered while somebody works at the screen, never by a rule. "
    "Here may stand: plain, whole, gentle or cropped."
)
LISTED_CELL = (
    "a single value is awaited here, not a list. "
    'Put the test in quotes: never: {playback: stopped, picture: "[1.85..2.20]"}'
)
NO_LIST = "a single value is awaited here, not a list. Write one, without brackets or dashes"
NO_REASON = "a reason is missing here. Say it in a sentence that people will read."
COMMA = "{}: {} has a comma. Write a decimal point: {}."
NAME_RULE = "A name is up to 40 lowercase letters, digits and _, a letter first."
NO_SPACE = "the character U+00A0 only looks like a space. Write a space."
COLON = (
    "YAML does not take a colon here. Put a text with a colon in quotes, and each entry on a line "
    "of its own."
)
NO_CHOICE = (
    "bool is no choice of words. Write yes or no, low or half or full, or a range such as 0 to 12."
)
AFTER = "there is no cue after. after stands in show, beside cues: {cues: {...}, after: 20 s}."
CURVED = "roomcue leaves warp for curved screens"
A_CUE = "It is a cue: write cues: {lamps: ...}."


@pytest.mark.parametrize(
    ("before", "after", "at", "sentence"),
    [
        ("gain:", "gian:", "gian:", f"gian is not known here. Did you mean gain? {SCREEN_KEYS}"),
        (
            "overfill: 2 %",
            "overfill: 2 %, curvature: 5 m",
            "curvature",
            f"curvature is not known here: {CURVED} to others. {SCREEN_KEYS}",
        ),
        (
            "time_zone:",
            "zone:",
            "zone:",
            f"zone is not known here. Did you mean time_zone? {SECTIONS}",
        ),
        ("  raster: 4096 x", "  lumens: 22\n  raster: 4096 x", "lumens: 22", MISPLACED),
        (
            "4096 x 2160",
            "[4096, 2160]",
            "[4096",
            f"{NO_LIST}, such as 4096 x 2160.",
        ),
        (
            "recalls: {first_minutes: 90 s",
            "recalls: {first_minutes: 4m",
            "4m",
            "first_minutes: m is no unit of time. Write 4 min.",
        ),
        (
            "room: hayloft",
            "room: São João",
            "São",
            f"'São João' is no name. {NAME_RULE} Write sao_joao.",
        ),
        (
            "playback: stopped}\n",
            "playback: stoped}\n",
            "stoped}",
            "stoped means nothing in playback. Did you mean stopped?",
        ),
        (
            "playback: stopped}\n",
            "opening: yes}\n",
            "opening: yes",
            f"opening is no fact. Did you mean first_minutes? {FACT_NAMES}",
        ),
        (
            "playback: stopped}\n",
            "hands: free}\n",
            "hands: free",
            f"hands is no fact. Did you mean helper? {FACT_NAMES}",
        ),
        (
            "recalls: {first_minutes:",
            "recalls: {opening:",
            "opening: 90",
            f"opening is not known here. Did you mean first_minutes? {RECALLS_KEYS}",
        ),
        (
            "playback: stopped}\n",
            "range: ordinary}\n",
            "ordinary}",
            "ordinary means nothing in range. Did you mean standard?",
        ),
        (
            "guests: no}",
            "guest: no}",
            "guest: no",
            f"guest is no fact. Did you mean guests? {FACT_NAMES}",
        ),
        (
            "preset: tall, panels",
            "preset: tal, panels",
            "tal,",
            "tal is no preset. Did you mean tall? Here may stand: broad or tall.",
        ),
        ("{picture: whole, preset", "{picture: dark, preset", "dark,", DARK_SHOWN),
        ("width: 3.4 m", "width: 3,4 m", "4 m", COMMA.format("width", "3,4 m", "3.4 m")),
        ("aspect: 2.40", "aspect: 2,40", "40", COMMA.format("aspect", "2,40", "2.40")),
        ("width: 3.4 m", "width:\u00a03.4 m", "\u00a0", NO_SPACE),
        ("room: hayloft", "room:\u00a0hayloft", "\u00a0", NO_SPACE),
        ("aspect: 2.40", "aspect: 2.40 : 1", ": 1", COLON),
        ("guests: yes or no", "guests: bool", "bool", f"guests: {NO_CHOICE}"),
        ("cues: {lamps: half}", "cues: {lamps: half, after: 20 s}", "after", AFTER),
        ("cues: {lamps: half}", "lamps: half", "lamps", f"lamps is not known here. {A_CUE}"),
        ("Europe/", "", "Lisbon", "Lisbon is no time zone. Did you mean Europe/Lisbon?"),
        ('picture: not("plain")}', "picture: [1.85..2.20]}", "[1.85", LISTED_CELL),
        ("because: A flat title gains most from the tall preset.", "because: >-", ">-", NO_REASON),
    ],
)
def test_a_finding_says_where_what_and_what_to_write_instead(
    before: str, after: str, at: str, sentence: str
) -> None:
    text = changed(before, after)
    (finding,) = read_room(text, "room.yaml").findings
    assert text.split("\n")[finding.line - 1][finding.column - 1 :].startswith(at)
    assert f"{finding.message}. {finding.suggestion}" == sentence


def test_a_mistake_inside_a_cell_is_shown_at_its_character() -> None:
    text = changed('time: ">= 22:00, < 7:00"', 'time: ">= 22:00, < 25:00"')
    (finding,) = read_room(text, "room.yaml").findings
    line = text.split("\n")[finding.line - 1]
    assert line[finding.column - 1 :].startswith("25:00")


def test_what_was_filled_in_from_a_wrong_value_is_no_second_mistake() -> None:
    """The one preset of a room without presets fits the screen, whose aspect is the slip."""
    text = DEN.replace("aspect: 2.40", "aspect: 240")
    assert [str(one) for one in read_room(text, "den.yaml").findings] == [
        "den.yaml:3:32: error: aspect: 240 is out of range. Write 1.00 to 4.00."
    ]


def test_a_section_that_is_lost_with_a_line_is_not_called_empty() -> None:
    text = DEN.replace('">= 2.30"}', '">= 2.30}')
    assert [one.line for one in read_room(text, "den.yaml").findings] == [8]


def test_names_are_only_held_against_sections_that_could_be_read() -> None:
    text = changed(
        "presets:\n  broad: {fits: 2.40}\n  tall", "presets:\n  broad: {fits: [2.40}\n  tall"
    )
    assert [one.code for one in read_room(text, "room.yaml").findings] == ["yaml"]
    text = changed("told:\n", "told: {\n")
    assert {one.code for one in read_room(text, "room.yaml").findings} == {"yaml"}


def test_a_fact_s_name_cannot_be_taken_for_what_is_told() -> None:
    for name in ("aspect", "panels", "lift", "override"):
        text = changed("  mood: calm or bright or off", f"  {name}: calm or bright or off")
        assert f"{name} is a fact that every room has" in "\n".join(said(text))


def test_warnings_leave_the_room_as_it_is() -> None:
    text = changed("linger: 12 s", "linger: 2 min")
    loaded = read_room(text, "room.yaml")
    assert loaded.room is not None
    assert [(one.severity, one.code) for one in loaded.findings] == [
        (Severity.WARNING, "never-recalled"),
    ]
    assert load(text, "room.yaml").pace.linger == 120_000


@pytest.mark.parametrize(
    ("prompts", "at", "message", "suggestion"),
    [
        (
            "remind: 20 min, give_up: 10 min",
            "remind",
            "prompts are given up after 10 min, but people are reminded after 20 min",
            "Let remind be shorter than 10 min.",
        ),
        (
            "remind: 2 min, give_up: 2 min",
            "remind",
            "prompts are given up after 2 min, but people are reminded after 2 min",
            "Let remind be shorter than 2 min.",
        ),
        (
            "remind: 30 min",
            "remind",
            "prompts are given up after 15 min, but people are reminded after 30 min",
            "Let remind be shorter than 15 min.",
        ),
        (
            "give_up: 1 min",
            "give_up",
            "prompts are given up after 1 min, but people are reminded after 2 min",
            "Add remind, shorter than 1 min; left out, it is 2 min.",
        ),
    ],
)
def test_a_prompt_that_ends_before_anybody_is_reminded_is_an_error_at_its_place(
    prompts: str, at: str, message: str, suggestion: str
) -> None:
    text = changed("remind: 2 min, give_up: 10 min", prompts)
    (one,) = read_room(text, "room.yaml").findings
    assert (one.severity, one.code) == (Severity.ERROR, "never-reminded")
    assert (one.message, one.suggestion) == (message, suggestion)
    before = text.splitlines()[one.line - 1][: one.column - 1]
    assert before.endswith(f"{at}: ")


def test_a_system_without_zone_data_cannot_check_the_zone_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("rules.room.names.zones", tuple)
    loaded = read_room(room_text("attic.yaml"), "attic.yaml")
    assert loaded.room is not None
    assert [one.code for one in loaded.findings] == ["zone-unchecked"]
    assert zones()


@pytest.mark.parametrize("zone", ["", '""'])
def test_a_zone_that_is_left_empty_is_missing(zone: str) -> None:
    text = room_text("attic.yaml").replace("Atlantic/Azores", zone)
    assert [(one.line, one.code) for one in read_room(text, "attic.yaml").findings] == [
        (3, "missing")
    ]


def test_of_very_many_findings_the_number_is_told() -> None:
    text = room_text("attic.yaml") + "".join(f"key{number}: 1\n" for number in range(1_000))
    findings = read_room(text, "attic.yaml").findings
    assert len(findings) == MOST_FINDINGS_LISTED + 1
    assert findings[-1].message == f"findings not listed here: {1_000 - MOST_FINDINGS_LISTED}"


def test_what_is_no_mapping_is_no_room() -> None:
    for text in ("- a\n- b\n", "just text\n"):
        (finding,) = read_room(text, "room.yaml").findings
        assert (finding.code, finding.line, finding.column) == ("wrong-kind", 1, 1)


def test_a_row_that_no_row_matches_falls_to_otherwise() -> None:
    choice = choose(HAYLOFT.rules.table, FACTS)
    assert (choice.how, choice.output) == (How.DEFAULT, Show("plain"))


# ---------------------------------------------------------------------------- whatever comes


@given(text=spoiled() | st.text(max_size=300))
def test_whatever_the_file_there_is_a_room_or_findings_that_lie_in_it(text: str) -> None:
    """Nothing is raised but BadRoom, and every finding has a place in the file."""
    loaded = read_room(text, "room.yaml")
    lines = text.replace("\r\n", "\n").split("\n")
    assert (loaded.room is None) == any(one.fatal for one in loaded.findings)
    for finding in loaded.findings:
        assert 1 <= finding.line <= len(lines)
        assert 1 <= finding.column <= len(lines[finding.line - 1]) + 1
        assert "\n" not in str(finding)
        assert str(finding).startswith(f"room.yaml:{finding.line}:{finding.column}: ")
    if loaded.room is not None:
        full = defaults_shown(read_room(text, "room.yaml"))
        assert without_lines(load(full, "full.yaml")) == without_lines(loaded.room)


def test_a_finding_reads_as_a_compiler_s() -> None:
    finding = Finding(Severity.ERROR, "missing", "a.yaml", 3, 7, "zone is missing", "Add it.")
    assert str(finding) == "a.yaml:3:7: error: zone is missing. Add it."
    assert str(finding._replace(suggestion="")) == "a.yaml:3:7: error: zone is missing."


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        (
            "panels: open, cues: {lamps: half}}",
            "panels: open, after: 20 s}",
            "after says how long cues wait, and there are none beside it",
        ),
        (
            "because: Menus carry text and circles.",
            r'because: "Menus carry\u001b text."',
            "because: this reason holds U+001B, which nobody can read",
        ),
    ],
)
def test_what_says_nothing_or_cannot_be_read_is_an_error_at_its_place(
    before: str, after: str, message: str
) -> None:
    text = changed(before, after)
    (one,) = read_room(text, "room.yaml").findings
    assert (one.severity, one.message) == (Severity.ERROR, message)
    assert text.splitlines()[one.line - 1][: one.column - 1].endswith(("after: ", "because: "))


# ------------------------------------------------------------------------- policy and its order

ORDER = "  order: {picture: [plain, whole, gentle, cropped]}"


def test_the_policy_priority_and_an_order_belong_together() -> None:
    (missing,) = said(changed("policy: first", "policy: priority"))
    assert missing == (
        "64:11: error: the policy priority needs an order. Add order: {picture: [plain]}, the "
        "highest first."
    )
    for policy in ("policy: first\n  ", "policy: any\n  ", ""):
        (error,) = said(changed("policy: first\n", f"{policy}order: {{picture: [plain]}}\n"))
        assert error.endswith(
            "error: an order has no effect without the policy priority. Leave it out, or write "
            "policy: priority."
        )


def test_a_slip_in_the_policy_is_told_once_and_hides_none_in_its_order() -> None:
    slip, wrong = "policy: priorty", ORDER.replace("cropped", "croped")
    before, after = (
        said(changed("policy: first", f"{slip}\n{ORDER}")),
        said(changed("policy: first", f"{slip}\n{wrong}")),
    )
    assert len(before) == 1
    assert "priority" in before[0]
    assert any("croped" in one for one in after)


# ------------------------------------------------------------------ places, and what ends a search


@pytest.mark.parametrize("wrong", ["12", "here", '"1,5 x 3"'])
def test_a_measured_corner_is_a_place_in_the_raster(wrong: str) -> None:
    others = "top_right: 3900 x 300, bottom_left: 100 x 1900, bottom_right: 3900 x 1900"
    measured = f"broad: {{fits: 2.40, measured: {{top_left: {wrong}, {others}}}}}"
    (error,) = said(changed("broad: {fits: 2.40}", measured))
    assert error == (
        f"18:44: error: top_left: {wrong.strip(chr(34))} is no place in the raster. Write columns "
        "x rows from its top left, such as 128.5 x 96."
    )


def test_a_long_file_with_too_many_slips_is_not_read_to_its_end() -> None:
    """Each slip costs another reading of all that stands before it."""
    slips = "".join(f"a{number}: b: c\n" for number in range(60))
    errors = said(f"# {'x' * 90}\n" * 2_200 + slips)
    told = "error: too much of this file cannot be read. Mend the places above first."
    assert sum(told in one for one in errors) == 1
    assert 2 < len(errors) < 60
