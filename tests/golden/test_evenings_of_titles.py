"""What moves, and when, in an evening: told of the golden nights that are about it."""

from __future__ import annotations

from engine.decisions import Decision, PictureOrder, Prompt, PromptOver, RecallOrder
from tests.golden.evenings import BEGINS
from tests.golden.test_golden_nights import after, of, played


def recalls(decisions: list[Decision]) -> list[tuple[int, str]]:
    """Give the recalls: after how many seconds, and of which preset."""
    return [(seconds(one), one.preset) for one in of(decisions, RecallOrder)]


def asked(decisions: list[Decision]) -> list[tuple[int, str]]:
    """Give the prompts as they were first sent: after how many seconds, for which panels."""
    prompts = of(decisions, Prompt)
    return [(seconds(one), one.panels) for one in prompts if one.stage == "asked"]


def seconds(decision: Decision) -> int:
    """Give the whole seconds from the night's begin to a decision."""
    return (decision.at - BEGINS) // 1_000


def between(decisions: list[Decision], begins: float, ends: float) -> list[Decision]:
    """Give what was decided after one second of the night and before another."""
    return [one for one in after(decisions, begins) if one.at < BEGINS + ends * 1_000]


def test_a_declared_film_behind_an_ident_takes_one_travel_and_asks_once() -> None:
    """Asked during the ident, for the film's shape; the lens goes as soon as the panels are off."""
    decisions = played("ident")
    assert asked(decisions) == [(75, "open")]
    assert [one.how for one in of(decisions, PromptOver)] == ["done"]
    assert recalls(decisions) == [(135, "broad")]
    last = of(between(decisions, 100, 3_000), PictureOrder)[-1]
    assert (last.picture, last.aspect) == ("plain", 2.39)


def test_a_named_film_ends_at_full_size_whatever_played_before_it() -> None:
    """After trailers of two shapes, and after three minutes of a menu that "plays"."""
    decisions = played("trailers")
    for begins, ends in ((400, 3_000), (3_210, 5_400)):
        film = between(decisions, begins, ends)
        assert [preset for _, preset in recalls(film)] == ["broad"]
        assert [panels for _, panels in asked(film)] == ["open"]
        last = of(film, PictureOrder)[-1]
        assert (last.picture, last.aspect, last.region.width) == ("plain", 2.39, 4_096)


def test_a_pause_uses_up_no_first_minutes_and_is_the_time_to_ask_for_panels() -> None:
    """In a pause the lens waits; where it is not in the way, panels are asked for meanwhile."""
    decisions = played("early-pause")
    assert recalls(between(decisions, 75, 2_400)) == [(273, "tall")]
    assert asked(between(decisions, 75, 2_400)) == [(288, "sides")]
    assert asked(between(decisions, 2_700, 4_800)) == [(2_722, "open")]
    assert recalls(between(decisions, 2_700, 4_800)) == [(2_898, "broad")]
