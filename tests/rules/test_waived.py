"""A room file switches a built-in promise off by its name, and says why."""

from __future__ import annotations

import pytest

from engine.room import BUILT_IN_PROMISES
from rules.room.load import defaults_shown, load, read_room
from rules.room.schema_json import room_file_schema
from tests.rules.files import room_text, said

ATTIC = room_text("attic.yaml")
AT = ATTIC.count("\n") + 1
"""The line on which a section stands that is added to the attic."""
KNOWN = "Here may stand: menus plain, no travel in mid-title or no picture on panels."


def waiving(*entries: str) -> str:
    return ATTIC + "waived:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries)


def test_three_promises_are_built_in_and_each_says_what_it_is() -> None:
    assert [*BUILT_IN_PROMISES] == [
        "menus plain",
        "no travel in mid-title",
        "no picture on panels",
    ]
    assert all(sentence.endswith(".") for sentence in BUILT_IN_PROMISES.values())


@pytest.mark.parametrize("name", BUILT_IN_PROMISES)
def test_a_waived_promise_is_known_to_the_room_with_its_reason(name: str) -> None:
    room = load(waiving(f"promise: {name}, because: So we agreed."), "attic.yaml")
    assert room.waived == {name: "So we agreed."}


def test_all_of_them_may_be_waived_and_a_room_cannot_change_that_afterwards() -> None:
    entries = (f"promise: {name}, because: So." for name in BUILT_IN_PROMISES)
    room = load(waiving(*entries), "attic.yaml")
    assert [*room.waived] == [*BUILT_IN_PROMISES]
    with pytest.raises(TypeError):
        room.waived["menus plain"] = "Never mind."  # type: ignore[index]


def test_a_room_that_waives_nothing_says_so_where_defaults_are_shown() -> None:
    assert "\nwaived: []  # default\n" in defaults_shown(read_room(ATTIC, "attic.yaml"))
    ranked = defaults_shown(read_room(room_text("ranked.yaml"), "ranked.yaml"))
    assert load(ranked, "ranked.yaml").waived == {
        "menus plain": 'The player says "stopped" all evening.'
    }


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("menu plain", "menus plain"),
        ("menus stay plain", "menus plain"),
        ("Menus-Plain", "menus plain"),
        ("no travel mid title", "no travel in mid-title"),
        ("no travel in mid-titel", "no travel in mid-title"),
        ("pictures on panels", "no picture on panels"),
        ("no picture on pannels", "no picture on panels"),
    ],
)
def test_a_name_that_is_not_quite_right_gets_the_right_one_suggested(
    written: str, meant: str
) -> None:
    assert said(waiving(f"promise: {written}, because: So.")) == [
        f"{AT + 1}:15: error: promise: {written} is not known here. Did you mean {meant}? {KNOWN}"
    ]


def test_a_name_that_is_near_to_none_gets_all_of_them_listed() -> None:
    assert said(waiving("promise: silence, because: So.")) == [
        f"{AT + 1}:15: error: promise: silence is not known here. {KNOWN}"
    ]


def test_nobody_waives_a_promise_without_a_reason_or_a_reason_without_a_promise() -> None:
    text = waiving("promise: menus plain", "because: So.", 'promise: menus plain, because: ""')
    assert [one.split(". ")[0] for one in said(text)] == [
        f"{AT + 1}:5: error: because is missing",
        f"{AT + 2}:5: error: promise is missing",
        f"{AT + 3}:15: error: menus plain is waived twice, first at line {AT + 1}, column 15",
        f"{AT + 3}:37: error: a reason is missing here",
    ]


def test_a_promise_is_waived_once_however_often_it_is_written() -> None:
    once, again = "promise: menus plain, because: So.", "promise: ' menus plain', because: No."
    other = "promise: no picture on panels, because: There are none."
    twice = "menus plain is waived twice, first at line {}, column 15. Keep one of the two."
    assert said(waiving(once, other, again, once)) == [
        f"{line}:15: error: {twice.format(AT + 1)}" for line in (AT + 3, AT + 4)
    ]


def test_a_name_that_nobody_knows_is_not_told_a_second_time_for_standing_there_twice() -> None:
    text = waiving("promise: silence, because: So.", "promise: silence, because: So.")
    assert [one.code for one in read_room(text, "room.yaml").findings] == ["bad-value", "bad-value"]


def test_a_promise_of_ones_own_does_not_go_by_the_name_of_a_built_in_one() -> None:
    promise = "{name: menus plain, never: {playback: stopped, lift: '> 1 %'}, because: So.}"
    (finding,) = read_room(f"{ATTIC}promises: [{promise}]\n", "room.yaml").findings
    assert (finding.code, finding.line) == ("name-taken", len(ATTIC.splitlines()) + 1)
    assert "another name" in finding.suggestion


@pytest.mark.parametrize(
    ("section", "sentence"),
    [
        ("waived: menus plain", "waived takes a list"),
        ("waived: {promise: menus plain, because: So.}", "waived takes a list"),
        ("waived: [menus plain]", "It takes promise and because."),
        ("waived: [{promises: menus plain, because: So.}]", "Did you mean promise?"),
        ("waived: [{promise: [menus plain], because: So.}]", "a single value is awaited here"),
        ("waive: []", "Did you mean waived?"),
    ],
)
def test_what_is_written_otherwise_is_told_how_to_be_written(section: str, sentence: str) -> None:
    (finding,) = said(f"{ATTIC}{section}\n")
    assert finding.startswith(f"{AT}:")
    assert sentence in finding


def test_an_editor_offers_the_names_and_says_what_each_of_them_promises() -> None:
    promise = room_file_schema()["$defs"]["Waived"]["properties"]["promise"]
    assert promise["enum"] == [*BUILT_IN_PROMISES]
    for name, sentence in BUILT_IN_PROMISES.items():
        assert f"{name}: {sentence}" in promise["description"]
