"""An event built in Python is checked as strictly as one read from JSON, and in the same words."""

import json
import pickle
import re
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from typing import Any

import pytest
from hypothesis import given

from engine.events import (
    KINDS,
    Event,
    Mark,
    Override,
    OverrideLook,
    Playback,
    RatioSeen,
    Title,
    event_json,
    read_event,
)
from engine.refusal import Refused
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.engine.meetings import events

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)

WRONG: tuple[tuple[str, dict[str, Any]], ...] = (
    ("ratio", {"ratio": 9}),
    ("ratio", {"ratio": 0.5}),
    ("ratio", {"ratio": float("nan")}),
    ("ratio", {"ratio": True}),
    ("ratio", {"ratio": "2.39"}),
    ("ratio", {"ratio": 23_900}),
    ("ratio", {}),
    ("ratio", {"ratio": 2.39, "kind": "title"}),
    ("playback", {"state": "plaing"}),
    ("playback", {"state": None}),
    ("playback", {"state": "playing", "source": ""}),
    ("playback", {"state": "playing", "colour": "red"}),
    ("title", {"begun": 1}),
    ("title", {"begun": True, "name": "a\nb"}),
    ("title", {"begun": True, "name": "x" * 201}),
    ("bars", {"top": 1.5, "bottom": 0, "left": 0, "right": 0, "columns": 99_999, "rows": 0}),
    ("answer", {"prompt": 0, "answer": "yes"}),
    ("told", {"fact": "guests", "value": [1]}),
    ("told", {"fact": "guests", "value": float("inf")}),
    ("override", {"taken": True, "until": "tomorrow"}),
    ("mark", {"at": 3}),
    ("mark", {"id": ""}),
)


def refusal(kind: str, said: dict[str, Any], *, in_python: bool) -> tuple[str, str]:
    text = json.dumps({"kind": kind} | said)
    make = partial(KINDS[kind], **said) if in_python else partial(read_event, text)
    with pytest.raises(Refused) as refused:
        make()
    return refused.value.code, refused.value.words


@pytest.mark.parametrize(("kind", "said"), WRONG, ids=lambda value: str(value)[:60])
def test_what_json_may_not_say_cannot_be_built_either(kind: str, said: dict[str, Any]) -> None:
    built = refusal(kind, said, in_python=True)
    assert built[0] == "malformed"
    if "kind" not in said:  # JSON would name another kind by it, and mean that one
        assert built == refusal(kind, said, in_python=False)


def test_a_part_of_an_event_is_checked_too() -> None:
    with pytest.raises(Refused, match="picture: text is expected"):
        OverrideLook(picture=3)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="look: OverrideLook is expected"):
        Override(taken=True, look={"picture": "plain"})  # type: ignore[arg-type]


def test_a_kind_that_nobody_knows_is_refused_with_those_that_there_are() -> None:
    with pytest.raises(Refused, match=r"'source', 'playback', .* as 'kind' is expected"):
        read_event('{"kind": "nope"}')
    with pytest.raises(Refused, match="an object with 'kind' is expected"):
        read_event("{}")


@pytest.mark.parametrize("ratio", [1, 1.33, 1.3333, 1.78, 1.85, 2.0, 2.39, 2.391234, 4])
def test_a_ratio_is_a_plain_number_in_python_as_in_json(ratio: float) -> None:
    built = RatioSeen(ratio=ratio)
    assert built == read_event(json.dumps({"kind": "ratio", "ratio": ratio}))
    assert Title(begun=True, declared=ratio).declared == built.ratio


@given(events(HAYLOFT))
def test_what_was_built_reads_back_as_itself(event: Event) -> None:
    assert read_event(event_json(event)) == event
    assert pickle.loads(pickle.dumps(event)) == event  # noqa: S301 - our own bytes
    assert hash(replace(event)) == hash(event)


def test_a_moment_may_be_given_as_python_has_it() -> None:
    moment = datetime(2026, 11, 20, 20, tzinfo=UTC)
    assert Mark(at=moment) == read_event('{"kind": "mark", "at": "2026-11-20T20:00:00Z"}')


def test_a_copy_with_a_wrong_part_is_refused() -> None:
    with pytest.raises(Refused, match="state: 'playing', 'paused', 'stopped' or 'unknown'"):
        replace(Playback(state="playing"), state="plaing")  # type: ignore[arg-type]


def test_a_whole_number_may_be_written_with_a_decimal_point() -> None:
    """JSON Schema counts 138.0 as an integer, so whoever checks against ours may send it."""
    bars = (
        '{"kind":"bars","top":138.0,"bottom":138,"left":0,"right":0.0,"columns":1920,"rows":1080}'
    )
    assert read_event(bars) == read_event(bars.replace(".0", ""))
    assert read_event('{"kind":"answer","prompt":3.0,"answer":"done"}').prompt == 3  # type: ignore[union-attr]
    told = read_event('{"kind":"told","fact":"guests","value":4.0}')
    assert (told.value, type(told.value)) == (4, int)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("138.5", "top: a whole number is expected (given: 138.5)"),
        ("-1.0", "top: at least 0 is expected (given: -1.0)"),
        ("20000.0", "top: at most 16384 is expected (given: 20000.0)"),
        ("true", "top: a whole number is expected (given: true)"),
    ],
)
def test_other_numbers_are_refused_in_the_words_for_integers(written: str, said: str) -> None:
    bars = '{"kind":"bars","top":%s,"bottom":0,"left":0,"right":0,"columns":1920,"rows":1080}'
    with pytest.raises(Refused, match=re.escape(said)):
        read_event(bars % written)


@pytest.mark.parametrize(
    ("written", "is_it"),
    [
        ("2016-12-31T23:59:60Z", "2017-01-01T00:00:00+00:00"),
        ("2016-12-31t23:59:60.5z", "2017-01-01T00:00:00+00:00"),
        ("2017-01-01T00:59:60+01:00", "2017-01-01T00:00:00+00:00"),
        ("2016-12-31T15:59:60-08:00", "2017-01-01T00:00:00+00:00"),
    ],
)
def test_a_leap_second_is_the_midnight_that_follows_it(written: str, is_it: str) -> None:
    heard = read_event(json.dumps({"kind": "mark", "at": written}))
    assert heard.at == datetime.fromisoformat(is_it)


@pytest.mark.parametrize(
    "written", ["2016-12-31T22:59:60Z", "2016-12-31T23:59:61Z", "9999-12-31T23:59:60Z"]
)
def test_no_other_second_has_sixty_behind_its_colon(written: str) -> None:
    with pytest.raises(Refused, match="at: "):
        read_event(json.dumps({"kind": "mark", "at": written}))
