"""A promise says what must never be, or how soon a title's look stands, and not both."""

from __future__ import annotations

import pytest
from jsonschema import Draft202012Validator

from engine.table import choose
from rules.room.load import defaults_shown, load, read_room
from rules.room.schema_json import room_file_schema
from rules.table.table_findings import table_findings
from rules.text.recovery import read_source
from rules.text.yaml_nodes import plain_data
from tests.rules.files import room_text, said
from tests.rules.loaded import FACTS

ATTIC = room_text("attic.yaml")
AT = ATTIC.count("\n") + 2
"""The line on which the first promise stands that is added to the attic."""
STANDING: dict[str, str | bool | int | None] = {
    "picture": "plain",
    "lift": 0,
    "travelling": False,
    "override": "rules",
}


def promising(*promises: str) -> str:
    return ATTIC + "promises:\n" + "".join(f"  - {{{one}}}\n" for one in promises)


SOON = "name: soon, within: 40 s, unless: {helper: asked}, because: Nobody waits."


def test_a_promise_of_time_is_read_with_its_excuse() -> None:
    room = load(promising(SOON), "attic.yaml")
    assert room.promises == ()
    (soon,) = room.timely
    assert (soon.label, soon.because, soon.line) == ("soon", "Nobody waits.", AT)
    assert soon.within == 40_000
    facts: dict[str, str | bool | int | None] = {**FACTS, **STANDING}
    assert choose(soon.unless, {**facts, "helper": "asked"}).output is True
    assert choose(soon.unless, facts).output is False


def test_without_unless_nothing_excuses_it() -> None:
    (soon,) = load(promising("within: 1 min, because: So."), "attic.yaml").timely
    assert choose(soon.unless, {**FACTS, **STANDING}).output is False


def test_both_kinds_stand_side_by_side_and_are_counted_together() -> None:
    never = "never: {playback: stopped, picture: whole}, because: So."
    room = load(promising(never, "within: 1 min, because: So.", never), "attic.yaml")
    assert [one.label for one in room.promises] == ["promise 1", "promise 3"]
    assert [one.label for one in room.timely] == ["promise 2"]
    assert [one.line for one in room.timely] == [AT + 1]


def test_it_is_written_out_with_the_defaults_and_read_again() -> None:
    shown = defaults_shown(read_room(promising(SOON), "attic.yaml"))
    assert load(shown, "attic.yaml").timely[0].within == 40_000


@pytest.mark.parametrize(
    ("promise", "column", "says"),
    [
        ("because: So.", 5, "never or within is missing in this promise"),
        (
            "never: {playback: stopped}, within: 40 s, because: So.",
            34,
            "this promise has both never and within",
        ),
        (
            "never: {playback: stopped}, unless: {helper: asked}, because: So.",
            34,
            "unless goes with within, and this promise has never",
        ),
        ("within: 40 s, unless: {}, because: So.", 28, "this would excuse everything"),
        ("within: 2 h, because: So.", 14, "1 s to 1 h"),
        ("within: 40 s, unless: {lenses: 2}, because: So.", 29, "lenses is no fact"),
    ],
)
def test_a_promise_that_cannot_be_meant_is_told_at_its_place(
    promise: str, column: int, says: str
) -> None:
    sentence = next(one for one in said(promising(promise)) if says in one)
    assert sentence.startswith(f"{AT}:{column}: error: ")


def test_an_excuse_that_nothing_passes_is_told() -> None:
    text = promising(SOON.replace("helper: asked", "aspect: 1.7778"))
    findings = table_findings(read_room(text, "attic.yaml"))
    (one,) = (one for one in findings if one.code == "never-matches")
    assert one.line == AT
    assert one.message.endswith("so that soon never matches")


@pytest.mark.parametrize(
    ("promise", "valid"),
    [
        (SOON, True),
        ("within: 40 s, because: So.", True),
        ("because: So.", False),
        ("never: {playback: stopped}, within: 40 s, because: So.", False),
        ("never: {playback: stopped}, unless: {helper: asked}, because: So.", False),
    ],
)
def test_editors_are_told_the_same(promise: str, valid: bool) -> None:
    root = read_source(promising(promise), "attic.yaml").mapping
    assert root is not None
    assert Draft202012Validator(room_file_schema()).is_valid(plain_data(root)) is valid
