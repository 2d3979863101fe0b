"""What a family chose for a title stands again the next time it is watched."""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.decisions import CueOrder, Note, PictureOrder, RecallOrder
from engine.events import (
    Answer,
    Forget,
    LensReport,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
    Undo,
)
from engine.room import Room, Show
from engine.snapshot import decode, encode
from engine.title_records import NO_CHOICE, LastChoice, RememberedTitle
from tests.engine.meetings import START
from tests.engine.moments import asked
from tests.engine.story import UNANSWERED, Story, changed, shape

PLAINLY = OverrideLook(picture="plain")
SLICED = changed(
    ("orders: {answered: yes}\n", ""),
    (
        "  cropped: {crop: {rows_lost: 8 %}}\n",
        "  cropped: {crop: {rows_lost: 8 %}}\n  sliced: {crop: {rows_lost: 4 %}}\n",
    ),
)
"""The hayloft with one more picture."""


def begin(story: Story, begins: float, name: str = "film", series: str | None = None) -> None:
    """Begin a title of 2.20, which the rules stretch a little."""
    story.at(begins, SourceChosen(source="disc"))
    story.at(begins, Title(begun=True, name=name, series=series))
    story.at(begins, Playback(state="playing"))
    story.at(begins + 0.5, shape(2.20))
    story.at(begins + 10, None)


def test_what_the_rules_move_is_nobody_s_doing_though_somebody_had_the_room_before() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    story.at(30, Override(taken=True, until="title", look=PLAINLY, who="Ana"))
    assert story.engine.state.tally.moved_who == "Ana"
    story.at(60, Override(taken=False, who="Ana"))
    tally = story.engine.state.tally
    assert (tally.moved_by, tally.moved_who) == ("rules", None)


def stop(story: Story, second: float) -> None:
    story.at(second, Playback(state="stopped"))


def take(story: Story, second: float, look: OverrideLook | None = PLAINLY) -> None:
    story.at(second, Override(taken=True, until="title", look=look))


def chosen_once(look: OverrideLook | None = PLAINLY, room: Room = UNANSWERED) -> Story:
    """Watch a film for a minute, under a choice that is to last for it, and stop."""
    story = Story(room)
    begin(story, 10)
    take(story, 30, look)
    stop(story, 70)
    return story


def choice_of(story: Story, name: str) -> LastChoice:
    return next((one.choice for one in story.core.titles if one.name == name), NO_CHOICE)


def why_begun(story: Story) -> list[object]:
    return [one.parameters["why"] for one in story.of(Note) if one.code == "override_begun"]


def test_a_picture_that_was_chosen_for_a_film_stands_again_when_it_begins() -> None:
    """However shortly it was watched: the choice was said, it need not be learnt."""
    story = chosen_once()
    assert (story.core.override, story.pictures()[-1]) == ("rules", "whole")
    begin(story, 200)
    assert (story.core.override, story.core.override_until) == ("person", "title")
    assert story.pictures()[-1] == "plain"
    assert "gentle" not in story.pictures()[story.pictures().index("plain") :]
    assert why_begun(story) == ["person", "last_time"]


def reasons(story: Story, second: float) -> dict[str, str]:
    """Give the reasons of what was ordered from a second on, by what it was."""
    made = (one for one in story.made if isinstance(one, PictureOrder | RecallOrder | CueOrder))
    return {one.kind: one.code for one in made if one.at >= START + second * 1_000}


def test_what_was_chosen_the_last_time_is_the_reason_until_somebody_says_something_new() -> None:
    """Of the lens, the picture and a cue; another word for the cues is of tonight, alone."""
    story = chosen_once(OverrideLook(picture="whole", preset="tall", cues={"lamps": "full"}))
    assert reasons(story, 30)["recall"] == "person_asked"
    story.at(100, LensReport(moving=False, preset="tall"))
    story.at(110, Override(taken=True, until="session", look=OverrideLook(preset="broad")))
    story.at(140, LensReport(moving=False, preset="broad"))
    story.at(150, Override(taken=False))
    begin(story, 200)
    assert reasons(story, 200)["recall"] == "chosen_last"
    assert {code for code in reasons(story, 200).values() if code != "row"} == {"chosen_last"}
    take(story, 230, OverrideLook(cues={"lamps": "low"}))
    assert reasons(story, 230) == {"cue": "person_asked"}
    take(story, 260, OverrideLook(picture="cropped"))
    assert reasons(story, 260) == {"picture": "person_asked"}


def test_whoever_asks_for_what_stands_by_choice_has_it_by_their_name() -> None:
    story = chosen_once()
    begin(story, 200)
    story.at(230, Override(taken=True, until="title", look=PLAINLY, who="Ana"))
    tally = story.engine.state.tally
    assert (tally.taken_by, tally.chosen_last) == ("Ana", ())


def test_another_film_begins_as_the_rules_have_it() -> None:
    story = chosen_once()
    begin(story, 200, "other")
    assert (story.core.override, story.pictures()[-1]) == ("rules", "gentle")


def test_leave_it_is_a_choice_too() -> None:
    story = chosen_once(None)
    begin(story, 200)
    assert (story.core.override, story.core.override_look) == ("person", Show())


def test_the_choice_is_the_series_where_a_title_belongs_to_one() -> None:
    story = Story(UNANSWERED)
    begin(story, 10, "first", "all of them")
    take(story, 30)
    stop(story, 70)
    begin(story, 80, "second", "all of them")
    assert (story.core.override, story.pictures()[-1]) == ("person", "plain")


def test_the_next_episode_goes_on_as_it_was_chosen_even_without_a_stop() -> None:
    story = Story(UNANSWERED)
    begin(story, 10, "first", "all of them")
    take(story, 30)
    story.at(70, Title(begun=True, name="second", series="all of them"))
    assert (story.core.override, story.core.override_look) == ("person", Show("plain"))


def test_the_last_of_several_choices_counts() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    take(story, 30)
    take(story, 40, OverrideLook(picture="cropped"))
    stop(story, 70)
    begin(story, 200)
    assert story.pictures()[-1] == "cropped"


def test_automatic_again_is_a_choice_and_takes_the_earlier_one_back() -> None:
    story = chosen_once()
    begin(story, 200)
    story.at(230, Override(taken=False))
    assert choice_of(story, "film") == NO_CHOICE
    stop(story, 270)
    begin(story, 300)
    assert (story.core.override, story.pictures()[-1]) == ("rules", "gentle")


def test_what_is_chosen_for_tonight_or_for_an_hour_is_not_the_film_s() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    story.at(30, Override(taken=True, until="session", look=PLAINLY))
    stop(story, 70)
    assert choice_of(story, "film") == NO_CHOICE


def test_whoever_has_taken_over_already_keeps_the_room() -> None:
    story = chosen_once()
    story.at(100, Override(taken=True, until="session", look=OverrideLook(picture="whole")))
    begin(story, 200)
    assert (story.core.override_until, story.core.override_look) == ("session", Show("whole"))
    assert choice_of(story, "film") == LastChoice(Show("plain"))


def test_a_lens_that_was_moved_by_hand_is_left_tonight_and_is_no_choice() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    story.at(400, LensReport(moving=True, preset="tall"))
    assert (story.core.override, story.core.override_until) == ("person", "title")
    assert choice_of(story, "film") == NO_CHOICE


def test_what_was_undone_stays_undone_the_next_time() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    assert story.core.undo is not None
    story.at(30, Undo())
    undone = story.core.override_look
    stop(story, 70)
    begin(story, 200)
    assert (story.core.override, story.core.override_look) == ("person", undone)


def test_panels_that_were_wanted_are_wanted_again_though_they_stood_meanwhile() -> None:
    """Once they stand the wish is carried out; the choice is the film's all the same."""
    story = Story(UNANSWERED, lens="tall")
    begin(story, 10)
    take(story, 100, OverrideLook(panels="sides"))
    story.at(130, Answer(prompt=asked(story), answer="done"))
    assert story.core.arrangement == "sides"
    assert choice_of(story, "film") == LastChoice(Show(panels="sides"))


def test_lamps_that_were_chosen_for_a_film_are_so_again() -> None:
    story = chosen_once(OverrideLook(cues={"lamps": "full"}))
    assert (story.core.override, choice_of(story, "film").look) == ("rules", None)
    begin(story, 200)
    assert dict(story.core.cues)["lamps"] == "full"
    assert story.engine.state.tally.chosen_last == ("lamps",)
    story.at(230, Override(taken=False, look=OverrideLook(cues={"lamps": "full"})))
    assert choice_of(story, "film") == NO_CHOICE


def test_lamps_that_are_chosen_after_a_picture_leave_it_chosen() -> None:
    story = Story(UNANSWERED)
    begin(story, 10)
    take(story, 30)
    take(story, 40, OverrideLook(cues={"lamps": "full"}))
    assert choice_of(story, "film") == LastChoice(Show("plain"), (("lamps", "full"),))


def test_lamps_that_are_given_back_leave_the_picture_chosen() -> None:
    """What is chosen of the film is forgotten by name, so nothing else goes with it."""
    story = chosen_once(OverrideLook(picture="plain", cues={"lamps": "full"}))
    begin(story, 200)
    story.at(230, Override(taken=False, look=OverrideLook(cues={"lamps": "full"})))
    assert choice_of(story, "film") == LastChoice(Show("plain"))


def test_lamps_that_are_set_for_tonight_stay_so_whatever_was_chosen_for_a_film() -> None:
    story = chosen_once(OverrideLook(cues={"lamps": "full"}))
    tonight = OverrideLook(cues={"lamps": "low"})
    story.at(100, Override(taken=True, until="session", look=tonight))
    begin(story, 200)
    (own,) = story.core.cue_overrides
    assert (own.value, own.until) == ("low", "session")


def test_a_choice_outlasts_the_session_a_stop_of_the_room_and_a_snapshot() -> None:
    story = chosen_once()
    story.at(100, ProjectorReport(state="off"))
    story.engine = RoomEngine(UNANSWERED, decode(encode(story.engine.state)))
    story.at(90_000, ProjectorReport(state="lit"))
    begin(story, 90_010)
    assert (story.core.override, story.core.override_look) == ("person", Show("plain"))


def test_a_choice_that_another_room_file_does_not_know_is_left_out() -> None:
    """With nothing left of it the rules have the film; nobody has said that it be left alone."""
    remembered = chosen_once(OverrideLook(picture="sliced"), SLICED).core.titles
    story = Story(UNANSWERED)
    core = story.core.copy()
    core.titles = remembered
    story.engine = RoomEngine(UNANSWERED, story.engine.state._replace(core=core))
    begin(story, 200)
    assert story.core.override == "rules"


@pytest.mark.parametrize(
    ("chosen", "stands"),
    [
        (Show("plain", 500, "tall", "sides"), Show("plain", 500, "tall", "sides")),
        (Show("plain", None, "x", "sides"), Show("plain", None, None, "sides")),
        (Show("plain", None, "tall", "x"), Show("plain", None, "tall", None)),
        (Show("x", None, "tall", None), Show(None, None, "tall", None)),
    ],
)
def test_of_a_choice_all_that_the_room_file_knows_stands_again(chosen: Show, stands: Show) -> None:
    """A cue that it does not know is left out as well."""
    story = Story(UNANSWERED)
    core = story.core.copy()
    cues = (("lamps", "full"), ("lamps too", "full"))
    core.titles = (RememberedTitle("film", None, LastChoice(chosen, cues)),)
    story.engine = RoomEngine(UNANSWERED, story.engine.state._replace(core=core))
    begin(story, 200)
    assert story.core.override_look == stands
    assert [(one.cue, one.value) for one in story.core.cue_overrides] == [cues[0]]


@pytest.mark.parametrize("name", ["film", None])
def test_a_choice_can_be_forgotten_and_the_rules_have_the_film_at_once(name: str | None) -> None:
    story = chosen_once()
    begin(story, 200)
    story.at(230, Forget(name=name))
    assert (story.core.override, story.core.titles) == ("rules", ())
    assert story.pictures()[-1] == "gentle"
    ended = [one.parameters["why"] for one in story.of(Note) if one.code == "override_ended"]
    assert ended == ["title", "forgotten"]
    stop(story, 270)
    begin(story, 300)
    assert story.core.override == "rules"


def test_forgotten_lamps_are_the_rules_again() -> None:
    story = chosen_once(OverrideLook(cues={"lamps": "full"}))
    begin(story, 200)
    story.at(230, Forget(name="film"))
    assert story.core.cue_overrides == ()


def test_people_are_told_that_a_film_is_remembered_and_by_what() -> None:
    story = Story(UNANSWERED)
    begin(story, 10, "first", "all of them")
    stop(story, 600)
    begin(story, 700, "second", "all of them")
    (note,) = (one for one in story.of(Note) if one.code == "title_remembered")
    assert note.parameters == {"by": "series", "shape": "2.20"}
    assert note.reason == "The room remembers from the last time how this one goes."


@pytest.mark.parametrize(("early", "names"), [(1, []), (0, ["film"])])
def test_a_shape_is_remembered_that_has_stood_as_long_as_the_first_minutes(
    early: int, names: list[str]
) -> None:
    """Watched for a millisecond less, nothing is known of the film."""
    story = Story(UNANSWERED)
    begin(story, 10)
    stands = story.core.stands
    assert stands is not None
    enough = stands.ms + story.room.pace.first_minutes - START
    story.at((enough - early) / 1_000, Playback(state="stopped"))
    assert [one.name for one in story.core.titles] == names
