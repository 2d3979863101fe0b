"""Cues: lamps go on under an override of the picture, and are overridden by themselves."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.confirmed import KnownPart, known_cues
from engine.decisions import CueOrder, Decision
from engine.events import (
    Event,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    Service,
    SourceChosen,
    moment_of,
)
from engine.facts import standing_of
from engine.refusal import Refused
from engine.state import Core
from tests.engine.meetings import START
from tests.engine.moments import core_of, films, ms, ordered
from tests.engine.story import HAYLOFT, UNANSWERED, WITH_A_BLIND, Story, changed

DARK_LAMPS = OverrideLook(cues={"lamps": "low"})
FULL_LAMPS = OverrideLook(cues={"lamps": "full"})


def lamps(story: Story) -> list[str]:
    return [one.value for one in story.of(CueOrder)]


def told(made: list[Decision]) -> list[tuple[str, str, str]]:
    return [(one.value, one.rule, one.code) for one in made if isinstance(one, CueOrder)]


def stands(core: Core) -> object:
    return standing_of(UNANSWERED, core)["cue lamps"]


def test_lamps_follow_the_film_while_a_person_has_the_picture() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(20, Override(taken=True, look=OverrideLook(picture="plain")))
    assert lamps(story) == ["full"]
    assert told(story.at(30, Playback(state="playing"))) == [("low", "otherwise", "row")]
    assert told(story.at(90, Playback(state="stopped"))) == [("full", "menus", "row")]


def test_a_person_sets_the_lamps_and_the_rules_keep_the_picture() -> None:
    story = films()
    made = story.at(100, Override(taken=True, look=FULL_LAMPS))
    assert told(made) == [("full", "engine: override", "person_asked")]
    assert story.core.override == "rules"
    story.at(200, Playback(state="stopped"))
    story.at(300, Playback(state="playing"))
    assert told(story.made)[-1] == ("full", "engine: override", "person_asked")
    assert story.pictures()[-1] == "plain"


def test_of_a_cue_that_a_person_has_set_nothing_is_promised() -> None:
    story = films()
    assert stands(story.core) == "low"
    story.at(100, Override(taken=True, look=FULL_LAMPS))
    assert stands(story.core) is None


@pytest.mark.parametrize(("until", "ends"), [("title", 200), ("session", 300), ("time", 250)])
def test_an_overridden_cue_has_its_own_end(until: str, ends: float) -> None:
    lasting = moment_of(START) + timedelta(seconds=250) if until == "time" else until
    story = Story(changed(("linger: 12 s", "linger: 12 s\n  session: 100 s")), lens="broad")
    story.film(10, 2.39)
    story.at(100, Override(taken=True, until=lasting, look=FULL_LAMPS))  # type: ignore[arg-type]
    story.at(200, Playback(state="stopped"))
    story.at(ends - 1, None)
    if until != "title":
        assert len(story.core.cue_overrides) == 1
    story.at(ends, None)
    assert story.core.cue_overrides == ()


def test_the_lamps_are_the_rules_again_once_they_are_given_back_by_name() -> None:
    story = films()
    story.at(90, Override(taken=True, look=OverrideLook(picture="whole")))
    story.at(100, Override(taken=True, look=FULL_LAMPS))
    story.at(110, Override(taken=False, look=FULL_LAMPS))
    assert (lamps(story)[-1], story.core.override) == ("low", "person")


def test_automatic_again_gives_everything_back() -> None:
    story = films()
    both = OverrideLook(picture="whole", cues={"lamps": "full"})
    story.at(100, Override(taken=True, look=both))
    assert (lamps(story)[-1], story.pictures()[-1]) == ("full", "whole")
    story.at(110, Override(taken=False))
    assert (lamps(story)[-1], story.pictures()[-1]) == ("low", "plain")


def test_a_cue_that_a_person_sets_takes_the_place_of_an_open_order() -> None:
    story = ordered()
    before = story.core.open_cues[0].id
    story.at(11, Override(taken=True, look=DARK_LAMPS))
    assert [one.value for one in story.core.open_cues] == ["low"]
    with pytest.raises(Refused, match="not open"):
        story.at(12, Outcome(order=before, outcome="done"))


@pytest.mark.parametrize(
    ("cues", "code"), [({"curtain": "shut"}, "unknown_name"), ({"lamps": "half"}, "out_of_range")]
)
def test_a_cue_that_the_room_has_not_or_that_is_never_so_is_refused(
    cues: dict[str, str], code: str
) -> None:
    story = films()
    with pytest.raises(Refused) as refused:
        story.at(100, Override(taken=True, look=OverrideLook(picture="whole", cues=cues)))
    assert refused.value.code == code
    assert story.core.override == "rules"


MENUS = "      because:\n        en: Menus carry text"
WAITING = changed(
    ("orders: {answered: yes}\n", ""),
    (f"cues: {{lamps: full}}}}\n{MENUS}", f"cues: {{lamps: full}}, after: 20 s}}\n{MENUS}"),
)
"""The hayloft, with lamps that wait before they come up in a menu."""


def test_lamps_that_wait_stay_low_between_two_episodes() -> None:
    story = Story(WAITING)
    story.film(10, 2.39)
    assert lamps(story) == ["low"]
    story.at(100, Playback(state="stopped"))
    story.at(108, Playback(state="playing"))
    story.at(300, None)
    assert lamps(story) == ["low"]


def test_the_first_lamps_of_an_evening_do_not_wait() -> None:
    """Nothing stands that would flash. Before it is known whether something plays they do wait."""
    story = Story(WAITING)
    story.at(10, SourceChosen(source="disc"))
    assert lamps(story) == []
    story.at(10, Playback(state="stopped"))
    assert lamps(story) == ["full"]
    in_mid_film = Story(WAITING)
    in_mid_film.film(10, 2.39)
    assert lamps(in_mid_film) == ["low"]


def test_lamps_that_wait_come_up_once_the_wish_has_stood() -> None:
    story = Story(WAITING)
    story.film(10, 2.39)
    story.at(100, Playback(state="stopped"))
    story.at(119.9, SourceChosen(source="disc"))
    assert lamps(story) == ["low"]
    assert told(story.at(120, None)) == [("full", "menus", "row")]
    story.at(121, Playback(state="playing"))
    assert lamps(story) == ["low", "full", "low"]


def test_lamps_that_have_come_up_wait_for_nothing_more() -> None:
    story = Story(WAITING)
    story.film(10, 2.39)
    story.at(100, Playback(state="stopped"))
    assert (core_of(story).cue_wish, core_of(story).timers.cue_wait) == (
        (("lamps", "full"),),
        ms(120),
    )
    story.at(121, Mark())
    assert (core_of(story).cue_wish, core_of(story).timers.cue_wait) == ((), None)


def test_the_least_wait_is_one_too() -> None:
    moment = changed(
        ("orders: {answered: yes}\n", ""),
        (f"cues: {{lamps: full}}}}\n{MENUS}", f"cues: {{lamps: full}}, after: 1 ms}}\n{MENUS}"),
    )
    story = Story(moment)
    story.film(10, 2.39)
    story.at(100, Playback(state="stopped"))
    assert lamps(story)[-1] == "low"
    story.at(100.001, None)
    assert lamps(story)[-1] == "full"


def test_a_light_that_somebody_set_for_a_film_stays_until_that_of_the_menu_comes() -> None:
    """It does not go down to the film's for the moment before it comes up; given back, it does."""
    story = Story(WAITING)
    story.film(10, 2.39)
    story.at(50, Override(taken=True, until="title", look=FULL_LAMPS))
    story.at(100, Playback(state="stopped"))
    story.at(200, None)
    assert lamps(story) == ["low", "full"]
    story.film(210, 2.39)
    assert lamps(story) == ["low", "full", "low"]
    story.at(220, Override(taken=True, until="title", look=FULL_LAMPS))
    story.at(230, Override(taken=False))
    assert lamps(story) == ["low", "full", "low", "full", "low"]


def test_a_wish_that_was_given_up_has_to_stand_anew() -> None:
    story = Story(WAITING)
    story.film(10, 2.39)
    for second in (100, 115):
        story.at(second, Playback(state="stopped"))
        story.at(second + 10, Playback(state="playing"))
    story.at(130, Playback(state="stopped"))
    story.at(149, None)
    assert lamps(story) == ["low"]
    story.at(150, None)
    assert lamps(story) == ["low", "full"]


def known_lamps(story: Story) -> KnownPart:
    state = story.engine.state
    return known_cues(story.room, state.core, state.tally)["lamps"]


def test_a_cue_is_ordered_until_it_is_answered_and_a_refused_one_has_failed() -> None:
    story = Story()
    story.at(10, SourceChosen(source="disc"))
    assert known_lamps(story) == KnownPart(ordered="full")
    story.at(11, Outcome(order=story.of(CueOrder)[0].id, outcome="done"))
    assert known_lamps(story) == KnownPart(stands="full")
    story.at(30, Playback(state="playing"))
    story.at(31, Outcome(order=story.of(CueOrder)[-1].id, outcome="refused"))
    assert known_lamps(story) == KnownPart(failed="low")


def test_where_nobody_answers_a_cue_is_never_more_than_ordered() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    assert known_lamps(story) == KnownPart(ordered="full")


@pytest.mark.parametrize(
    ("cues", "words"),
    [
        ({"lamsp": "full"}, r"^this room has no cue 'lamsp'"),
        ({"lamps": "dim"}, "^'lamps' is never 'dim': say one of full, low$"),
    ],
)
def test_what_no_cue_can_be_is_refused_with_what_it_can(cues: dict[str, str], words: str) -> None:
    with pytest.raises(Refused, match=words):
        films().at(40, Override(taken=True, look=OverrideLook(cues=cues)))


def test_each_overridden_cue_goes_back_at_its_own_end() -> None:
    """One at a moment, another with the title; the second override leaves the first as it is."""
    story = films(changed(("orders: {answered: yes}\n", ""), WITH_A_BLIND))
    until = moment_of(START + 100_000)
    lit = OverrideLook(cues={"lamps": "full"})
    story.at(40, Override(taken=True, until=until, look=lit))
    story.at(41, Override(taken=True, until="title", look=OverrideLook(cues={"blind": "down"})))
    assert [one.cue for one in core_of(story).cue_overrides] == ["blind", "lamps"]
    story.at(100, None)
    assert [one.cue for one in core_of(story).cue_overrides] == ["blind"]
    assert story.of(CueOrder)[-1].value == "low"


@pytest.mark.parametrize(
    ("stops", "goes_on"),
    [
        (ProjectorReport(state="cooling"), ProjectorReport(state="lit")),
        (Service(begun=True), Service(begun=False)),
    ],
)
def test_a_cue_that_was_withdrawn_may_have_been_set_and_is_given_again(
    stops: Event, goes_on: Event
) -> None:
    """What the hub has begun goes on to its end, and nobody is told of that."""
    story = Story()
    story.at(10, SourceChosen(source="disc"))
    story.done(10)
    assert known_cues(HAYLOFT, story.core, story.engine.state.tally)["lamps"].stands == "full"
    story.at(20, Override(taken=True, until="session", look=DARK_LAMPS))
    story.at(20.1, stops)
    assert known_cues(HAYLOFT, story.core, story.engine.state.tally) == {}
    story.at(20.2, Override(taken=False))
    assert ("full", "menus", "row") in told(story.at(40, goes_on))
