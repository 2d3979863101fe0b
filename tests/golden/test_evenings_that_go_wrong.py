"""What a projector or a stream does wrong in an evening: told of the golden nights about it."""

from __future__ import annotations

from engine.decisions import Note, PictureOrder, PromptOver
from tests.golden.test_evenings_of_titles import asked, between, recalls, seconds
from tests.golden.test_golden_nights import of, played


def test_a_lens_that_comes_to_rest_elsewhere_is_said_to_and_sent_once_more() -> None:
    """It is nobody's hand. Where the second try ends elsewhere too, it is left there."""
    decisions = played("astray")
    assert recalls(decisions) == [(120, "tall"), (165, "tall"), (3_153, "broad"), (3_213, "broad")]
    said = [(seconds(one), one.code) for one in of(decisions, Note)]
    assert [one for one in said if one[1] == "lens_elsewhere"] == [
        (134, "lens_elsewhere"),
        (3_168, "lens_elsewhere"),
        (3_228, "lens_elsewhere"),
    ]
    assert not [one for one in said if one[1] == "override_begun"]
    assert len(asked(decisions)) == 1  # The panels wait for the lens, and for nothing more.


def test_a_refused_picture_is_tried_again_twice_each_time_later_and_then_said() -> None:
    """So it is with the next title too; in between, another picture has its own chance."""
    decisions = played("refused-picture")
    tried = [seconds(one) for one in of(decisions, PictureOrder) if one.picture == "gentle"]
    assert tried == [82, 92, 152, 5_107, 5_117, 5_177]
    said = [(seconds(one), one.code) for one in of(decisions, Note)]
    assert said == [(152, "picture_failed"), (5_177, "picture_failed")]
    film = of(between(decisions, 3_100, 5_000), PictureOrder)
    assert [(one.picture, one.aspect) for one in film] == [("plain", 2.39)]


def test_a_stream_that_buffers_in_another_raster_changes_nothing() -> None:
    """Neither for four seconds nor for the rest of the film, whose bars are the same."""
    decisions = played("buffering")
    assert between(decisions, 96, 5_400) == []
    assert {one.facts["varies"] for one in decisions} == {False}


def test_a_bumped_lens_is_offered_to_be_found_when_the_film_stops() -> None:
    """During the film it is left as somebody put it; how the next one goes, `power-cut` tells."""
    decisions = played("bumped-lens")
    said = [(seconds(one), one.code) for one in of(decisions, Note) if one.code != "marked"]
    assert said == [
        (1_900, "override_begun"),
        (5_400, "override_ended"),
        (5_400, "lens_nowhere"),
    ]
    assert recalls(decisions) == []


def test_where_nobody_answers_a_scope_film_is_shown_between_its_panels() -> None:
    """At once, and no smaller than the panels ask; the request ends, and nobody is asked again."""
    decisions = played("nobody-there")
    film = between(decisions, 75, 5_400)
    assert [(seconds(one), one.picture, one.aspect) for one in of(film, PictureOrder)] == [
        (82, "plain", 2.39)
    ]
    assert of(film, PictureOrder)[0].region.width == 3_840
    assert len(asked(decisions)) == 1
    assert [one.how for one in of(decisions, PromptOver)] == ["expired"]
    assert recalls(decisions) == []
