"""From facts to the wanted look: what a row leaves out, what overlaps, what runs in a circle."""

from __future__ import annotations

import pytest

from engine.decisions import Note
from engine.events import (
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    SourceChosen,
    Title,
    ToldFact,
)
from engine.facts import facts_of, room_columns
from engine.refusal import Refused
from engine.room import Room
from rules.room.load import load
from tests.engine.story import HAYLOFT, UNANSWERED, Story, shape

HEAD = """
room: shed
time_zone: Europe/Lisbon
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 4096 x 2160, lens: {travel: 10 s}}
presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}
panels: {open: {}, sides: {opening: 1.78}}
sources: {disc: {}}
told: {guests: yes or no, mood: calm or bright, seats: 0 to 12}
pace: {linger: 0 s, prompts: {wait: 0 s}}
"""


def shed(rules: str) -> Room:
    return load(HEAD + rules, "shed.yaml")


def test_the_facts_are_just_the_columns_of_the_rules() -> None:
    story = Story(HAYLOFT)
    facts = facts_of(HAYLOFT, story.core, story.engine.state.settling)
    assert [*facts] == [column.name for column in room_columns(HAYLOFT)]


def test_what_a_row_leaves_out_stays_as_it_stands() -> None:
    room = shed(
        """
rules:
  policy: first
  rows:
    - {case: {playback: stopped}, show: {picture: whole}, because: A menu.}
    - {case: {aspect: ">= 2.30"}, show: {preset: broad, panels: open, lift: 4 %}, because: Wide.}
    - {case: {aspect: "< 2.30"}, show: {preset: tall}, because: Tall.}
"""
    )
    story = Story(room)
    story.film(1, 2.39)
    story.at(30, None)
    assert (story.core.wanted.preset, story.core.wanted.lift) == ("broad", 400)
    story.at(40, Playback(state="stopped"))
    assert story.core.wanted == ("whole", 400, "broad", "open", ())
    story.film(50, 1.78)
    story.at(60, None)
    assert story.core.wanted == ("whole", 400, "tall", "open", ())


def test_rows_of_a_unique_table_that_match_at_once_give_the_otherwise_row_and_one_note() -> None:
    room = shed(
        """
rules:
  rows:
    - {name: one, case: {playback: playing}, show: {picture: plain}, because: It plays.}
    - {name: two, case: {guests: yes}, show: {picture: plain, lift: 5 %}, because: Guests.}
  otherwise: {picture: whole}
"""
    )
    story = Story(room)
    story.film(1, 1.78)
    story.at(5, ToldFact(fact="guests", value=True))
    assert story.pictures()[-1] == "whole"
    story.at(6, ToldFact(fact="mood", value="calm"))
    assert story.notes().count("rules_overlap") == 1
    (note,) = (one for one in story.of(Note) if one.code == "rules_overlap")
    assert note.parameters == {"rows": "one, two"}


def test_rows_that_match_at_once_only_for_the_shape_of_the_title_are_noted_too() -> None:
    room = load(
        HEAD.replace("{disc: {}}", "{disc: {declares: yes}}")
        + """
rules:
  rows:
    - {name: wide, case: {aspect: ">= 2.30"}, show: {preset: broad}, because: Wide.}
    - {name: guests, case: {guests: yes, aspect: ">= 2"}, show: {preset: tall}, because: Guests.}
""",
        "shed.yaml",
    )
    story = Story(room)
    story.at(1, ToldFact(fact="guests", value=True))
    story.film(2, 1.78)
    story.at(10, None)
    assert story.notes().count("rules_overlap") == 0
    story.at(11, Title(begun=True, declared=2.39))
    assert story.notes().count("rules_overlap") == 1
    assert story.core.violated


def test_rules_that_follow_their_own_prompts_in_a_circle_are_noted_and_rest() -> None:
    room = shed(
        """
rules:
  policy: first
  rows:
    - {case: {helper: free}, show: {panels: sides}, because: Somebody may be asked.}
    - {case: {helper: asked}, show: {panels: open}, because: And then not.}
"""
    )
    story = Story(room)
    story.film(1, 1.78)
    made = story.at(20, None)
    assert "rules_circle" in story.notes() or len(story.prompts()) <= 1
    before = len(story.made)
    story.at(20_000, None)
    assert len(story.made) - before <= 12
    assert made is not None


def test_what_stands_after_a_circle_is_of_a_row_that_matches() -> None:
    room = shed(
        """
cues: {lamps: low or full}
rules:
  policy: first
  rows:
    - {case: {helper: free}, show: {panels: sides, cues: {lamps: low}}, because: One may be asked.}
    - {case: {helper: asked}, show: {panels: open, cues: {lamps: full}}, because: And then not.}
"""
    )
    story = Story(room)
    assert story.notes() == []
    story.at(1, SourceChosen(source="disc"))
    assert "rules_circle" in story.notes()
    assert (story.core.panels, story.core.asked) == ("still", None)
    assert story.core.row == 0
    assert dict(story.core.wanted.cues) == {"lamps": "low"}


@pytest.mark.parametrize(
    ("fact", "value"),
    [
        ("guests", "yes"),
        ("guests", 1),
        ("mood", "grim"),
        ("seats", 13),
        ("seats", True),
        ("gusts", True),
    ],
)
def test_a_told_fact_has_only_the_values_it_was_declared_with(fact: str, value: object) -> None:
    story = Story(shed(""))
    with pytest.raises(Refused):
        story.at(1, ToldFact(fact=fact, value=value))  # type: ignore[arg-type]
    assert story.core.told == ()


def test_a_told_fact_can_be_taken_back() -> None:
    story = Story(shed(""))
    story.at(1, ToldFact(fact="seats", value=7))
    assert story.core.told == (("seats", 7),)
    story.at(2, ToldFact(fact="seats", value=None))
    assert dict(story.core.told) == {}


def test_ratios_are_facts_in_hundredths_and_places_in_full() -> None:
    story = Story(UNANSWERED)
    story.film(1, 1.78)
    story.at(10, None)
    facts = facts_of(UNANSWERED, story.core, story.engine.state.settling)
    assert facts["aspect"] == 17_800
    assert story.core.shown is not None
    assert story.core.shown.aspect == 17_778


@pytest.mark.parametrize(
    ("event", "near"),
    [
        (SourceChosen(source="dsc"), "did you mean 'disc'"),
        (LensReport(moving=False, preset="tal"), "did you mean 'tall'"),
        (PanelReport(panels="side"), "did you mean 'sides'"),
        (SourceChosen(source="zzz"), "disc, streamer, console"),
    ],
)
def test_a_name_that_the_room_does_not_know_is_refused_with_the_nearest(
    event: SourceChosen | LensReport | PanelReport, near: str
) -> None:
    story = Story(UNANSWERED)
    before = story.engine.state
    with pytest.raises(Refused, match=near):
        story.at(1, event)
    assert story.engine.state == before


def test_before_a_source_is_known_nothing_is_ordered() -> None:
    story = Story(UNANSWERED)
    story.at(5, shape(2.39))
    story.at(5, ProjectorReport(state="lit"))
    story.at(60, None)
    assert story.made == []
    assert story.core.holds == ("no_source",)


def test_a_wish_that_is_fulfilled_does_not_ripen_though_nobody_knows_where_the_lens_is() -> None:
    """Or panels that somebody changes by themselves would be asked back in the same moment."""
    story = Story(HAYLOFT, lens=None)
    story.at(10, SourceChosen(source="disc"))
    story.at(10, Playback(state="stopped"))
    story.at(200, None)
    assert story.core.ripe is False
    assert story.core.timers.linger is None
