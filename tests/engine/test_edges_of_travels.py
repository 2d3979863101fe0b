"""Travels at the edges: whose they are when reports come late, twice or not at all."""

from __future__ import annotations

import pytest

from engine.events import (
    LensReport,
    Override,
    OverrideLook,
    Playback,
    RatioSeen,
    Resumed,
    Service,
    SourceChosen,
    ToldFact,
)
from engine.refusal import Refused
from tests.engine.shed import shed
from tests.engine.story import SILENT, UNANSWERED, Story


def test_the_word_that_a_recall_is_done_and_the_lens_s_own_word_are_one_travel() -> None:
    """A wish that changed meanwhile sends the lens on; the trailing report is no override."""
    room = shed(
        "case: {guests: yes}, show: {preset: tall}", "case: {guests: no}, show: {preset: broad}"
    )
    story = Story(room)
    story.at(1, SourceChosen(source="disc"))
    story.at(2, Playback(state="stopped"))
    story.at(5, ToldFact(fact="guests", value=True))
    story.at(18, ToldFact(fact="guests", value=False))
    story.at(60, None)
    assert story.recalls() == ["tall", "broad"]
    assert story.core.override == "rules"


def test_a_lens_that_still_rests_where_it_was_has_only_not_set_off_yet() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    story.at(25.5, LensReport(moving=False, preset="broad"))
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    story.at(45, LensReport(moving=True, preset="tall"))
    assert story.core.override == "rules"
    assert story.travels() == {"tall": (1, 0, 0)}


def test_our_own_travel_reported_after_a_restart_is_still_ours() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    story.at(27, Resumed())
    story.at(28, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"tall": (1, 0, 1)}
    assert story.core.override == "rules"


def test_an_override_by_remote_goes_before_what_the_same_person_asked_for() -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(20, Override(taken=True, look=OverrideLook(preset="tall")))
    story.at(60, LensReport(moving=True, preset="broad"))
    story.at(75, LensReport(moving=False, preset="broad"))
    story.at(300, None)
    assert story.recalls() == ["tall"]


@pytest.mark.parametrize("state", ["paused", "unknown"])
def test_a_person_has_the_lens_in_a_pause_and_when_nobody_knows_what_plays(state: str) -> None:
    story = Story(SILENT)
    story.film(10, 2.39)
    story.at(300, Playback(state=state))  # type: ignore[arg-type]
    story.at(310, Override(taken=True, look=OverrideLook(preset="tall")))
    story.at(400, None)
    assert story.recalls() == ["tall"]


def test_nobody_is_asked_for_panels_while_the_lens_travels() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.core.lens == "travelling"
    assert story.prompts() == []


def test_ids_of_readings_do_not_push_out_the_ids_of_travels() -> None:
    story = Story(UNANSWERED)
    story.at(5, LensReport(moving=True, preset="tall", id="L1"))
    story.at(6, LensReport(moving=False, preset="tall"))
    for number in range(300):
        story.at(7 + number / 24, RatioSeen(ratio=2.39, id=f"r{number}"))
    with pytest.raises(Refused, match="heard before"):
        story.at(30, LensReport(moving=True, preset="tall", id="L1"))
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_technician_who_moves_the_lens_overrides_nothing() -> None:
    story = Story(UNANSWERED)
    story.at(5, Service(begun=True))
    story.at(10, LensReport(moving=True, preset="tall"))
    story.at(20, LensReport(moving=False, preset="tall"))
    story.at(30, Service(begun=False))
    assert story.core.override == "rules"
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_travel_without_a_name_gets_it_when_it_is_known() -> None:
    story = Story(UNANSWERED)
    story.at(5, LensReport(moving=True, preset=None))
    story.at(9, LensReport(moving=True, preset="tall"))
    story.at(15, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


def test_a_restart_in_mid_travel_says_nothing_of_whether_the_preset_was_reached() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    story.at(27, Resumed())
    assert (story.core.lens, story.core.unreached) == ("unknown", None)


UNKNOWN = LensReport(moving=False, preset=None, known=False)


def test_a_lens_of_which_nobody_knows_any_more_has_not_travelled() -> None:
    """Neither is a travel counted, nor has anybody taken the room over."""
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(20, LensReport(moving=False, preset="broad"))
    travels = story.travels()
    story.at(30, UNKNOWN)
    assert (story.core.lens, story.core.preset) == ("unknown", None)
    assert story.core.override == "rules"
    story.at(40, LensReport(moving=False, preset="tall"))
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    assert story.travels() == travels


def test_a_lens_on_its_way_goes_on_though_nobody_knows_where_it_is() -> None:
    story = Story(UNANSWERED)
    story.film(10, 1.78)
    story.at(25, None)
    story.at(26, LensReport(moving=True, preset="tall"))
    story.at(28, UNKNOWN)
    assert story.core.lens == "travelling"
    story.at(40, LensReport(moving=False, preset="tall"))
    assert story.travels() == {"tall": (1, 0, 0)}


@pytest.mark.parametrize(("moving", "preset"), [(True, None), (False, "tall")])
def test_what_is_known_of_a_lens_and_not_known_at_once_is_refused(
    *, moving: bool, preset: str | None
) -> None:
    story = Story(UNANSWERED)
    with pytest.raises(Refused, match="does not move and has no preset") as refused:
        story.at(10, LensReport(moving=moving, preset=preset, known=False))
    assert refused.value.code == "malformed"


def test_outside_a_title_a_lens_that_stops_elsewhere_gives_no_recall_back() -> None:
    story = Story(UNANSWERED)
    story.at(10, SourceChosen(source="disc"))
    story.at(11, Override(taken=True, look=OverrideLook(preset="tall")))
    left = story.core.left_title
    story.at(12, LensReport(moving=True, preset=None))
    story.at(20, LensReport(moving=False, preset="broad"))
    assert (story.core.missed, story.core.left_title) == ("tall", left)
