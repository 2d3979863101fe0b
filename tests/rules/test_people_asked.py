"""People are asked only for what changes something, and have the time to do it."""

from __future__ import annotations

import pytest

from rules.room.load import read_room
from rules.text.findings import Finding, Severity
from tests.engine.story import Story, changed


def found(panels: str, give_up: str = "10 min", code: str = "") -> list[Finding]:
    """What is found of panels, each as `name: opening`, in a room with a screen of 2.40."""
    text = (
        "room: den\ntime_zone: Europe/Lisbon\nscreen: {width: 3 m, aspect: 2.40}\n"
        "projector: {raster: 3840 x 2160}\nsources: {disc: {}}\n"
        f"panels: {{{panels}}}\n"
        f"pace: {{prompts: {{remind: 5 s, give_up: {give_up}}}}}\n"
    )
    loaded = read_room(text, "room.yaml")
    assert loaded.room is not None, loaded.findings
    return [one for one in loaded.findings if one.code.startswith(code)]


def test_two_arrangements_that_leave_the_same_free_are_told_at_the_second() -> None:
    (one,) = found("sides: {opening: 1.78}, wings: {opening: 1.78}", code="panels")
    assert (one.code, one.severity) == ("panels-alike", Severity.WARNING)
    assert (one.line, one.column) == (6, 51)
    assert "whoever is asked to change one for the other changes nothing" in one.message


@pytest.mark.parametrize("other", ["1.85", "2.00", "2.76"])
def test_arrangements_that_leave_something_else_free_are_two(other: str) -> None:
    assert found(f"sides: {{opening: 1.78}}, other: {{opening: {other}}}", code="panels") == []


def test_arrangements_that_people_are_asked_for_in_the_same_words_are_told() -> None:
    (one,) = found("sides: {opening: 1.78}, wings: {opening: 2.00}")
    assert (one.code, one.severity) == ("words-alike", Severity.WARNING)
    assert "the panels sides and wings in the same words" in one.message
    wings = "wings: {opening: 2.00, words: Please fit the two wings.}"
    assert found(f"sides: {{opening: 1.78}}, {wings}") == []


def test_words_that_are_not_in_the_rooms_language_are_told() -> None:
    (one,) = found("sides: {opening: 1.78, words: {pt: Coloque os painéis.}}")
    assert (one.code, one.severity) == ("words-missing", Severity.WARNING)
    assert "no words in en" in one.message
    assert found("sides: {opening: 1.78, words: {en: Fit them., pt: Coloque-os.}}") == []


def test_a_prompt_that_ends_before_anybody_is_there_is_told() -> None:
    (one,) = found("sides: {opening: 1.78}", give_up="20 s")
    assert (one.code, one.severity, one.line) == ("prompt-too-short", Severity.WARNING, 7)
    assert one.suggestion == "Let give_up be 30 s at least."
    assert found("sides: {opening: 1.78}", give_up="30 s") == []
    assert found("", give_up="20 s") == []  # nobody is ever asked


def test_in_twenty_seconds_nobody_gets_panels_fitted() -> None:
    """Who answers after a minute answers a prompt that is over."""
    short = changed(("remind: 2 min, give_up: 10 min", "remind: 10 s, give_up: 20 s"))
    story = Story(short, lens="tall")
    story.film(10, 1.78)
    story.at(60, None)
    assert ("sides", "asked") in story.prompts()
    assert story.core.panels == "refused"
