"""Every travel counts once, ours or somebody's, and those that nobody confirmed are marked."""

from __future__ import annotations

import pytest

from engine.events import Event, LensReport, Outcome, Playback, ProjectorReport, Resumed
from engine.refusal import Refused
from engine.room import Room
from tests.engine.story import SILENT, UNANSWERED, UNLIMITED, Story


def sets_off(preset: str | None, number: str | None = None) -> LensReport:
    return LensReport(moving=True, preset=preset, id=number)


def rests(preset: str | None, number: str | None = None) -> LensReport:
    return LensReport(moving=False, preset=preset, id=number)


def recalled(room: Room = UNANSWERED) -> Story:
    """A film of 1.78 has begun, and the lens was sent to the tall preset."""
    story = Story(room)
    story.film(10, 1.78)
    story.at(25, None)
    assert story.recalls() == ["tall"]
    return story


def test_a_recall_that_the_lens_confirms_counts_once() -> None:
    story = recalled()
    for second, report in ((26, sets_off("tall")), (27, sets_off("tall")), (40, rests("tall"))):
        story.at(second, report)
    story.at(41, rests("tall"))
    assert story.travels() == {"tall": (1, 0, 0)}
    assert story.core.override == "rules"


def test_a_recall_that_is_reported_done_needs_no_report_of_the_lens() -> None:
    story = recalled()
    assert story.core.recall is not None
    story.at(40, Outcome(order=story.core.recall, outcome="done"))
    assert story.travels() == {"tall": (1, 0, 0)}
    assert (story.core.lens, story.core.preset) == ("resting", "tall")


def test_a_refused_recall_is_no_travel_and_is_not_tried_again() -> None:
    story = recalled(UNLIMITED)
    assert story.core.recall is not None
    story.at(26, Outcome(order=story.core.recall, outcome="refused"))
    assert story.travels() == {}
    assert (story.core.lens, story.core.preset) == ("resting", "broad")
    story.at(90, None)
    assert story.recalls() == ["tall"]
    assert "unreached" in story.core.holds


def test_a_lens_that_reports_and_does_not_arrive_is_lost_and_counted_unconfirmed() -> None:
    story = recalled()
    story.at(60, None)
    assert (story.core.lens, story.core.preset) == ("unknown", None)
    assert story.travels() == {"tall": (1, 0, 1)}
    assert "lens_lost" in story.notes()
    story.at(3_000, None)
    assert story.recalls() == ["tall"]


def test_a_silent_lens_has_arrived_when_its_time_is_over() -> None:
    story = Story(SILENT)
    story.film(10, 1.78)
    story.at(60, None)
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    assert story.travels() == {"tall": (1, 0, 1)}


def test_a_travel_that_nobody_ordered_is_an_override_and_counts_once() -> None:
    story = Story(UNANSWERED)
    story.film(10, 2.39)
    story.at(500, sets_off("tall"))
    assert story.core.override == "person"
    story.at(501, sets_off("tall"))
    story.at(515, rests("tall"))
    story.at(3_000, None)
    assert story.travels() == {"tall": (0, 1, 0)}
    assert story.recalls() == []


def test_a_lens_found_elsewhere_has_travelled_unseen() -> None:
    story = Story(UNANSWERED)
    story.at(5, rests("tall"))
    assert story.travels() == {"tall": (0, 1, 0)}


def test_learning_where_the_lens_stands_is_no_travel() -> None:
    story = Story(UNANSWERED, lens=None)
    story.at(5, rests("tall"))
    assert story.travels() == {}
    assert story.core.override == "rules"


def test_equal_travel_reports_within_one_travel_time_are_one_travel_and_flagged() -> None:
    story = Story(UNANSWERED)
    for second, report in ((5, sets_off("tall")), (8, rests("tall")), (10, sets_off("tall"))):
        story.at(second, report)
    assert story.travels() == {"tall": (0, 1, 0)}
    assert "travel_repeated" in story.notes()


def test_equal_reports_with_ids_of_their_own_are_travels_of_their_own() -> None:
    story = Story(UNANSWERED)
    for second, report in (
        (5, sets_off("tall", "a")),
        (8, rests("tall")),
        (10, sets_off("tall", "b")),
    ):
        story.at(second, report)
    assert story.travels() == {"tall": (0, 2, 0)}


def test_an_equal_report_after_the_travel_time_is_another_travel() -> None:
    story = Story(UNANSWERED)
    for second, report in ((5, sets_off("tall")), (8, rests("tall")), (40, sets_off("tall"))):
        story.at(second, report)
    assert story.travels() == {"tall": (0, 2, 0)}


def test_our_travel_that_ends_elsewhere_is_counted_once_as_ordered() -> None:
    story = recalled()
    story.at(26, sets_off("tall"))
    story.at(30, rests("broad"))
    assert story.travels() == {"tall": (1, 0, 1)}
    assert story.core.override == "rules"


def test_a_lens_at_no_preset_was_moved_by_hand_to_a_place_without_a_name() -> None:
    story = Story(UNANSWERED)
    story.at(5, rests(None))
    assert story.travels() == {"": (0, 1, 0)}
    assert story.core.lens == "unknown"


@pytest.mark.parametrize("event", [Resumed(), ProjectorReport(state="off")])
def test_a_travel_under_way_survives_no_stop_but_still_counts_once(event: Event) -> None:
    story = recalled()
    story.at(30, event)
    story.at(40, rests("tall"))
    assert [sum(counts[:2]) for counts in story.travels().values()] == [1]


def test_after_a_restart_nothing_is_recalled_until_the_lens_reports() -> None:
    story = recalled()
    story.at(30, Resumed())
    assert story.core.lens == "unknown"
    story.at(500, None)
    assert story.recalls() == ["tall"]
    story.at(501, rests("broad"))
    story.at(502, Playback(state="stopped"))
    story.film(600, 1.78)
    story.at(620, None)
    assert story.recalls() == ["tall", "tall"]


def test_our_own_travel_reported_with_an_id_after_a_restart_is_still_ours() -> None:
    story = recalled()
    story.at(27, Resumed())
    story.at(28, sets_off("tall", "a"))
    story.at(40, rests("tall", "b"))
    assert story.travels() == {"tall": (1, 0, 1)}
    assert story.core.override == "rules"


def test_a_travel_by_hand_to_where_a_refused_recall_would_have_gone_is_an_override() -> None:
    story = recalled(UNLIMITED)
    assert story.core.recall is not None
    story.at(26, Outcome(order=story.core.recall, outcome="refused"))
    story.at(40, sets_off("tall"))
    assert story.core.override == "person"
    story.at(50, rests("tall"))
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_recall_that_is_refused_after_the_lens_has_set_off_counts_and_the_lens_is_lost() -> None:
    story = recalled(UNLIMITED)
    assert story.core.recall is not None
    story.at(26, sets_off("tall"))
    story.at(27, Outcome(order=story.core.recall, outcome="refused"))
    assert (story.core.lens, story.core.unreached) == ("unknown", "tall")
    assert story.travels() == {"tall": (1, 0, 1)}


def test_a_travel_that_gets_its_name_in_a_second_report_is_one_travel_though_both_have_ids() -> (
    None
):
    story = Story(UNANSWERED)
    story.at(5, sets_off(None, "a"))
    story.at(9, sets_off("tall", "b"))
    story.at(15, rests("tall", "c"))
    assert story.travels() == {"": (0, 0, 0), "tall": (0, 1, 0)}


@pytest.mark.parametrize("target", ["tall", None])
def test_a_travel_by_hand_that_is_polled_with_fresh_ids_counts_once(target: str | None) -> None:
    """Also where it takes longer than a travel may: whoever polls it says that it goes on."""
    story = Story(UNANSWERED)
    for poll in range(60):
        story.at(20 + poll, sets_off(target, f"poll {poll}"))
    story.at(80, rests("tall", "there"))
    assert story.travels()["tall"] == (0, 1, 0)
    assert story.travels().get("", (0, 0, 0)) == (0, 0, 0)
    assert (story.core.lens, story.core.preset) == ("resting", "tall")


def test_a_travel_by_hand_that_is_polled_too_seldom_counts_once() -> None:
    """Meanwhile it counts as lost, and the next report finds it on its way again."""
    story = Story(UNANSWERED)
    for poll in range(4):
        story.at(20 + 28 * poll, sets_off("tall", f"poll {poll}"))
    story.at(112, rests("tall", "there"))
    assert story.travels() == {"tall": (0, 1, 0)}


def test_a_recall_that_is_polled_with_fresh_ids_counts_once() -> None:
    story = recalled()
    for poll in range(14):
        story.at(26 + poll, sets_off("tall", f"poll {poll}"))
    story.at(40, rests("tall", "there"))
    assert story.travels() == {"tall": (1, 0, 0)}
    assert story.core.override == "rules"


def test_a_reported_travel_ends_with_its_report_and_not_when_its_order_is_accepted() -> None:
    story = recalled()
    number = story.core.recall or 0
    story.at(26, sets_off("tall"))
    story.at(27, Outcome(order=number, outcome="done"))
    assert (story.core.lens, story.core.recall) == ("travelling", number)
    story.at(40, rests("tall"))
    story.at(41, Outcome(order=number, outcome="done"))
    assert (story.core.lens, story.core.preset) == ("resting", "tall")
    assert story.travels() == {"tall": (1, 0, 0)}


@pytest.mark.parametrize("number", [None, "fresh"])
@pytest.mark.parametrize("target", ["tall", None])
def test_a_lens_that_sets_off_after_its_order_was_accepted_is_on_its_way_all_the_same(
    number: str | None, target: str | None
) -> None:
    """No picture is widened on the way, and nobody is taken to have moved the lens."""
    story = recalled()
    story.at(25.1, Outcome(order=story.core.recall or 0, outcome="done"))
    story.at(25.2, sets_off(target, number))
    assert (story.core.lens, story.core.preset) == ("travelling", "tall")
    story.at(40, rests("tall"))
    assert story.travels() == {"tall": (1, 0, 0)}
    assert story.core.override == "rules"


def test_where_the_lens_is_silent_done_is_its_arrival() -> None:
    story = recalled(SILENT)
    story.at(26, sets_off("tall"))
    story.at(27, Outcome(order=story.core.recall or 0, outcome="done"))
    assert (story.core.lens, story.core.preset) == ("resting", "tall")


def test_done_for_a_travel_that_was_lost_comes_too_late() -> None:
    story = recalled()
    number = story.core.recall or 0
    story.at(60, None)
    with pytest.raises(Refused, match="its end has passed"):
        story.at(61, Outcome(order=number, outcome="done"))
