"""What went wrong in a night is found, with the chain of causes, and nothing else is."""

from __future__ import annotations

import json
from typing import get_args

import pytest

from adapters.render.trouble_text import count_words, headline_of
from engine import RoomEngine
from engine.snapshot import encode
from rules.room.load import load
from simulator.nights.marks import worst_first
from simulator.nights.remedies import KINDS, REMEDIES, TroubleCode
from simulator.nights.troubles import roots_at, standing_troubles, troubles_of
from simulator.shipped import NIGHTS
from tests.golden.evenings import BEGINS
from tests.golden.write import recorded
from tests.night_records import record_of, record_of_lines
from tests.simulator.wrong_nights import WRONG_NIGHTS

A_SECOND = 1_000


def told(name: str) -> list[tuple[float, str, str, list[tuple[float, str]]]]:
    """Give each trouble of a shipped night with times in seconds after its begin."""
    return [
        (
            (one.at - BEGINS) / A_SECOND,
            one.kind,
            one.words,
            [((cause.at - BEGINS) / A_SECOND, cause.words) for cause in one.causes],
        )
        for one in troubles_of(record_of(name))
    ]


def with_events(name: str, *events: tuple[float, dict[str, object]]) -> list[bytes]:
    """Give a shipped night's lines with further events, each in its place."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    more = [json.dumps({"t": t, "event": event}).encode() for t, event in events]
    return [first, *sorted([*rest, *more], key=lambda line: float(json.loads(line)["t"]))]


def test_a_refused_recall_has_its_whole_chain_from_the_wish_to_the_last_hold() -> None:
    (at, kind, words, chain), unanswered, marked = told("refused-recall")
    assert (at, kind) == (122, "refused")
    assert words.startswith("The lens stayed at 'broad' and never went to 'tall': its recall was")
    assert chain == [
        (75, "tall wanted by rule 'flat with panels' for 1.78"),
        (120, "recall #4 to tall"),
        (122, "refused"),
        (122, "That preset was refused or never reached: no new try until something changes."),
        (321, "The title's first minutes are over: no recall in mid-title."),
        (4_800, "tall no longer wanted"),
    ]
    assert unanswered[1] == "unanswered"
    assert marked[2].startswith('Somebody said "the picture is too small". The lens stayed at ')
    assert marked[3] == [(122, "it began; its causes stand there"), (1_500, "marked")]


def test_a_request_that_nobody_answers_is_told_with_the_wish_behind_it() -> None:
    ((at, kind, words, chain),) = told("nobody-there")
    assert (at, kind) == (1_042, "unanswered")
    assert words == (
        "Nobody answered the request for panels 'open': they stayed 'sides', and the lens waited "
        "at 'tall'."
    )
    assert [one for _, one in chain] == [
        "panels open wanted by rule 'scope' for 2.39",
        "The lens waits: panels that have to come off first are fitted, or may be.",
        "asked for panels open (prompt #5)",
        "reminded",
        "nobody had answered; the request ran out",
        "it was over",
    ]


def test_a_lens_that_is_bumped_is_told_with_where_it_was_and_how_long_it_was_left() -> None:
    bumped, marked = troubles_of(record_of("bumped-lens"))
    assert bumped.words.startswith("The lens was moved from 'broad' to no preset and no rule had")
    assert bumped.until == BEGINS + 5_400 * A_SECOND
    assert marked.words.startswith('Somebody said "all blurred and crooked". The lens was moved')


def test_a_player_that_contradicts_the_detector_is_named() -> None:
    ((_, kind, words, _),) = told("false-word")
    assert kind == "contradicted"
    assert words == (
        "The player said 2.39 for a whole title that was shown as 1.78; the lens went by what "
        "the player said and stood at 'broad', not at 'tall'."
    )


def test_reports_that_never_come_are_told_of_lens_and_panels() -> None:
    lens, panels, people = told("silent-lens")
    assert lens[2].startswith("The lens was sent to 'tall' and nobody said that it arrived")
    assert lens[3][-1][1] == "where the lens stands: still not known at the end"
    assert panels[2].startswith("Panels were 'open', then reported as not known")
    assert (
        people[2] == "Nobody answered the request for panels 'sides': how they stand is not known."
    )


@pytest.mark.parametrize("name", ["trailers", "early-pause", "guests", "pause", "match"])
def test_of_a_good_night_nothing_is_told(name: str) -> None:
    assert troubles_of(record_of(name)) == ()


def test_what_was_only_held_back_is_told_as_that() -> None:
    """Somebody has put the lens back: the rules want it elsewhere and leave it."""
    held = [one for one in troubles_of(record_of("put-back")) if one.kind == "held"]
    assert len(held) == 2
    assert held[0].words.startswith("The lens did not come to 'tall'. Somebody has put the lens")


def test_a_while_in_which_nothing_is_heard_tells_what_never_left() -> None:
    resumed: dict[str, object] = {"kind": "resumed", "minute": 1_178, "unsent": ["recall"]}
    record = record_of_lines(with_events("refused-recall", (500, resumed)))
    (gap,) = [one for one in troubles_of(record) if one.kind == "lost"]
    assert gap.words.startswith(
        "roomcue was not there for up to 6 min 18 s, and what it ordered never"
    )
    assert [one.words for one in gap.causes][:2] == [
        "tall wanted by rule 'flat with panels' for 1.78",
        "recall #4 to tall",
    ]


def test_a_signal_lost_for_long_while_something_plays_is_told_and_a_short_one_is_not() -> None:
    gone: dict[str, object] = {"kind": "signal", "locked": False}
    back: dict[str, object] = {"kind": "signal", "locked": True}
    times = ((1_000, gone), (1_030, back), (1_100, gone), (1_103, back))
    record = record_of_lines(with_events("pause", *times))
    (lost,) = troubles_of(record)
    assert lost.words == "The picture's signal was lost for 30 s while a title played."


def test_a_picture_and_a_cue_that_are_never_done_are_told() -> None:
    lines = (NIGHTS / "pause.jsonl").read_bytes().splitlines()
    record = record_of_lines([line for line in lines if b'"outcome"' not in line])
    said = [one.words for one in troubles_of(record)]
    assert any(one.startswith("The picture 'whole' was ordered and never answered") for one in said)
    assert "The cue 'lamps' was ordered and never answered." in said


def test_what_was_refused_is_told_once_for_each_reason() -> None:
    (refused,) = troubles_of(record_of("two-phones"))
    assert refused.kind == "refused"
    assert "was not taken, 3 times: Somebody is at the screen" in refused.words
    assert len(refused.causes) == 3
    assert refused.causes[0].words.startswith("'second' answered 'no': somebody is at the screen")


def test_what_was_left_out_heads_no_night_in_which_something_else_went_wrong() -> None:
    worst, *_, least = worst_first(troubles_of(record_of("bad-start")))
    assert worst.words.startswith("The lens was moved from 'broad' to 'tall'")
    assert least.words.startswith("Old news was sent: 1 playback report, 30 min 22 s old, was left")


def test_what_somebody_marked_comes_first_and_a_broken_promise_next() -> None:
    found = troubles_of(record_of("refused-recall"))
    assert [one.kind for one in worst_first(found)] == ["marked", "refused", "unanswered"]


def test_roots_are_what_had_happened_by_then_and_still_mattered() -> None:
    record = record_of("refused-recall")
    early = roots_at(record, BEGINS + 200 * A_SECOND)
    assert [one.words for one in early][:3] == [
        "tall wanted by rule 'flat with panels' for 1.78",
        "recall #4 to tall",
        "refused",
    ]
    assert all(one.at <= BEGINS + 200 * A_SECOND for one in early)
    assert roots_at(record, BEGINS + 60 * A_SECOND) == ()


def test_panels_that_are_reported_otherwise_than_they_were_answered_are_told() -> None:
    said = [one for one in troubles_of(record_of("bad-start")) if "said to be done" in one.words]
    assert [one.words for one in said] == [
        "Panels 'open' were said to be done, and reported as 'sides' afterwards."
    ]


@pytest.mark.parametrize("name", WRONG_NIGHTS)
def test_the_first_sentence_names_what_is_at_the_root_of_a_night_and_what_to_do(name: str) -> None:
    """A night a kind of trouble, each judged by its headline alone, and by what is to be done."""
    night = WRONG_NIGHTS[name]
    record = record_of_lines(recorded(night.evening)[0])
    found = troubles_of(record)
    worst = worst_first([one for one in found if one.kind != "held"])[0]
    assert worst.code == night.code
    assert night.says in headline_of(record, found)
    assert worst.remedy
    assert "{" not in worst.remedy
    for one in found:
        assert list(one.causes) == sorted(one.causes, key=lambda cause: cause.at)
        assert record.begins <= one.at <= one.until <= record.ends


def test_every_code_has_a_kind_and_a_remedy_that_differs_from_all_others() -> None:
    assert {*REMEDIES} == {*get_args(TroubleCode)}
    assert {kind for kind, _ in REMEDIES.values()} <= {*KINDS}
    assert len({words for _, words in REMEDIES.values()}) == len(REMEDIES)


def test_what_happens_again_is_told_once_with_how_often() -> None:
    record = record_of_lines(recorded(WRONG_NIGHTS["pictures refused"].evening)[0])
    (refused,) = troubles_of(record)
    assert refused.times > 1
    assert sum(one.words.startswith("again: ") for one in refused.causes) == 4
    assert f"the last of {refused.times}" in [one.words for one in refused.causes]
    assert refused.causes[-1].at == refused.until


def test_old_news_is_told_by_when_it_was_so_and_by_one_age_alone() -> None:
    (old,) = [one for one in troubles_of(record_of("bad-start")) if one.code == "old_news"]
    assert "30 min 22 s old" in old.words
    assert [one.words for one in old.causes] == ["playback, as it was at 19:30:08", "it was over"]


def test_what_is_wrong_to_the_end_of_the_night_is_not_said_to_be_over() -> None:
    record = record_of_lines(recorded(WRONG_NIGHTS["misnamed"].evening)[0])
    wrong = troubles_of(record)[0]
    assert wrong.causes[-1] == (record.ends, "not over when the night ended")


def test_between_two_times_of_the_same_nothing_is_wrong() -> None:
    """What somebody marks then, and what `why` names as a root, is not that."""
    resumed: dict[str, object] = {"kind": "resumed", "minute": None}
    marked: dict[str, object] = {"kind": "mark", "words": "too dark"}
    lines = [(1_000, resumed), (2_000, marked), (3_000, resumed), (3_030, marked)]
    record = record_of_lines(with_events("pause", *lines))
    (twice, between, after) = troubles_of(record)
    assert (twice.code, twice.times) == ("restarted", 2)
    assert between.code == "as_ruled"
    assert after.code == "restarted"
    assert standing_troubles(record, BEGINS + 2_000 * A_SECOND) == []
    assert count_words((twice, after)) == "1 thing went wrong, and somebody said so"


def test_a_room_that_begins_to_live_was_not_gone() -> None:
    """Its first start is a restart of nothing; the next one is a restart."""
    resumed: dict[str, object] = {"kind": "resumed", "minute": None}
    source: dict[str, object] = {"kind": "source", "source": "dsic"}
    lines = with_events("pause", (0, resumed), (1_000, resumed), (1_500, source))
    restarted, unknown = troubles_of(record_of_lines([lines[0], *sorted_first(lines[1:])]))
    assert (restarted.code, restarted.times) == ("restarted", 1)
    assert unknown.words.endswith("did you mean 'disc'?")


def test_a_room_of_a_live_journal_begins_with_a_number_and_was_not_gone_before_either() -> None:
    """Its orders count on from the journal's own number, and nothing else is known."""
    resumed: dict[str, object] = {"kind": "resumed", "minute": None}
    head, *rest = with_events("pause", (0, resumed))
    unborn = RoomEngine(load(json.loads(head)["room_file"], "pause")).state
    state = unborn._replace(tally=unborn.tally._replace(serial=482_139_071_000_000))
    begun = json.dumps(json.loads(head) | {"state": encode(state).decode()}).encode()
    found = troubles_of(record_of_lines([begun, *sorted_first(rest)]))
    assert "restarted" not in {one.code for one in found}


def test_a_gap_of_no_length_is_told_in_words() -> None:
    """A broker that has lost the session may do so at the very moment of a start."""
    resumed: dict[str, object] = {"kind": "resumed", "minute": None}
    (gone,) = troubles_of(record_of_lines(with_events("pause", (1_000, resumed), (1_000, resumed))))
    assert gone.times == 2
    said = [gone.words, *(one.words for one in gone.causes)]
    assert sum("roomcue was not there for less than a second" in one for one in said) == 1


def sorted_first(lines: list[bytes]) -> list[bytes]:
    """Put a `resumed` of the night's very beginning before whatever else came then."""
    return sorted(lines, key=lambda line: (float(json.loads(line)["t"]), b"resumed" not in line))


def test_a_wish_with_a_name_that_nobody_knows_is_over_soon() -> None:
    """What somebody marks long after it is about something else."""
    look: dict[str, object] = {"picture": "unheard_of"}
    wish: dict[str, object] = {"kind": "override", "taken": True, "until": "title", "look": look}
    marked: dict[str, object] = {"kind": "mark", "words": "too dark"}
    lines = with_events("pause", (1_000, wish), (1_060, marked), (1_500, marked))
    wrong, soon, later = troubles_of(record_of_lines(lines))
    assert (wrong.code, soon.code, later.code) == ("name_not_known", "name_not_known", "as_ruled")


def test_during_service_a_mark_says_that_nothing_is_ordered() -> None:
    began: dict[str, object] = {"kind": "service", "begun": True}
    over: dict[str, object] = {"kind": "service", "begun": False}
    marked: dict[str, object] = {"kind": "mark", "words": "a strange picture"}
    lines = with_events("pause", (1_500, began), (1_560, marked), (1_700, over))
    (found,) = [one for one in troubles_of(record_of_lines(lines)) if one.kind == "marked"]
    assert found.code == "service_left"
    assert "a technician's service was under way, in which roomcue orders nothing." in found.words


def test_what_went_wrong_names_who_marked_it() -> None:
    marked: dict[str, object] = {"kind": "mark", "words": "too dark", "who": "Ana"}
    (found,) = troubles_of(record_of_lines(with_events("pause", (1_060, marked))))
    assert found.words.startswith('Ana said "too dark". ')


def test_before_anything_is_shown_a_mark_says_that_no_source_was_told() -> None:
    marked: dict[str, object] = {"kind": "mark", "words": "nothing happens"}
    (found,) = troubles_of(record_of_lines(with_events("pause", (1, marked))))
    assert found.code == "source_not_told"
    assert found.words == (
        'Somebody said "nothing happens". Nothing had failed: nobody had said which source is '
        "shown, so nothing was ordered."
    )


def test_a_hub_that_sends_changes_only_is_not_taken_for_a_silent_one() -> None:
    """The evening's bars change with each line of text, and then nothing changes for long."""
    assert any(one.end - one.start > 2_000_000 for one in record_of("evening").silences)
    assert not any(one.code == "readings_stopped" for one in troubles_of(record_of("evening")))


def test_what_somebody_marked_is_not_counted_beside_its_own_cause() -> None:
    bumped = troubles_of(record_of("bumped-lens"))
    assert len(bumped) == 2
    assert count_words(bumped) == "1 thing went wrong, and somebody said so"
    as_ruled = record_of_lines(recorded(WRONG_NIGHTS["by the rules"].evening)[0])
    assert count_words(troubles_of(as_ruled)) == "1 thing said to be wrong"
    assert count_words(troubles_of(record_of("nobody-there"))) == "1 thing went wrong"
    assert count_words(()) == ""


def test_what_somebody_marked_without_a_fault_says_how_all_stood_and_since_when() -> None:
    """Source, playback, picture, lens and panels, each with who told of it or wanted it."""
    (marked,) = troubles_of(record_of_lines(recorded(WRONG_NIGHTS["by the rules"].evening)[0]))
    said = [cause.words for cause in marked.causes]
    assert said == [
        "lens at broad, as reported",
        "panels open, as reported",
        "source disc",
        "playback playing",
        "picture plain 2.39, by rule 'scope'",
        "marked",
    ]
