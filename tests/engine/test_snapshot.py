"""What tells two states apart, and which names in a State a room does not know."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any, Final

import pytest

from engine.aspect import NARROWEST, WIDEST
from engine.room import Look, Show
from engine.settle.rivals import Rival
from engine.snapshot import (
    LEFT_SEEN,
    VERSION,
    SnapshotError,
    decode,
    encode,
    finite_shape,
    first_foreign_name,
)
from engine.state import (
    Core,
    CueOverride,
    OpenCue,
    ParkedReading,
    PendingPrompt,
    State,
    Timers,
    UnheededWord,
    first_state,
)
from engine.title_records import Detour, InterruptedTitle, RememberedTitle, StoodShape
from tests.engine.moments import films
from tests.engine.story import HAYLOFT, UNANSWERED, Story, shape


def but(**core: Any) -> State:  # noqa: ANN401 - fields of every type
    """Give the State of a scope film that runs, with some of its core otherwise."""
    state = films().engine.state
    new = state.core.copy()
    for name, value in core.items():
        assert hasattr(new, name)
        setattr(new, name, value)
    return state._replace(core=new)


# ------------------------------------------------------------------------------- finite shapes

AWAY: Final = Detour((1_920, 1_080), (17_778,), True, 13_333, 9)
FILM: Final = films().core
"""What is so in `but`, so that each of these is another."""
TOLD_APART: Final[dict[str, Any]] = {
    "projector": "off",
    "service": True,
    "source": "console",
    "playback": "paused",
    "pause_over": True,
    "stood": (StoodShape(17_778, 9_000),),
    "stands": StoodShape(17_778, 9_000),
    "longest": 17_778,
    "first_left": 1,
    "back_to": "tall",
    "remembered": 17_778,
    "title_row": 1,
    "parked": ParkedReading(17_778),
    "locked": False,
    "frame": 13_333,
    "columns": 720,
    "rows": 576,
    "range": "high",
    "three_d": True,
    "minute": 1,
    "told": (("guests", True),),
    "title": False,
    "title_name": "one",
    "declared": 23_900,
    "shapes": (17_778,),
    "seen_in": (1_920, 1_080),
    "detour": AWAY,
    "varies": True,
    "tallest": 13_333,
    "subtitles": True,
    "line": 9,
    "doubt": 9,
    "detected": False,
    "coded": 17_778,
    "unheeded": UnheededWord(17_778, agreed=True),
    "interrupted": InterruptedTitle("one", None),
    "series": "all of them",
    "left": (InterruptedTitle("one", None, source="disc", until=1),),
    "lens": "travelling",
    "preset": "tall",
    "origin": "tall",
    "recall": 7,
    "set_off": False,
    "put_back": (("disc", 17_778),),
    "missed": "tall",
    "echo": "tall",
    "awaited": "ours",
    "panels": "refused",
    "arrangement": "sides",
    "asked": PendingPrompt(7, "sides"),
    "override": "person",
    "override_until": "title",
    "refused_until": "title",
    "undo": Show("whole"),
    "override_look": Show("whole"),
    "row": 0,
    "wanted": Look("whole", 0, "broad", "open"),
    "violated": True,
    "ripe": True,
    "shown": None,
    "picture": 7,
    "failed": True,
    "tries": 1,
    "unreached": "tall",
    "cues": (("lamps", "full"),),
    "open_cues": (OpenCue(7, "lamps", "full", 9),),
    "cue_wish": (("lamps", "full"),),
    "cue_overrides": (CueOverride("lamps", "low", "title", None),),
    "left_title": 0,
    "left_night": 0,
    "sent_in_vain": 1,
    "recalls": 1,
    "asks": 1,
    "holds": ("service",),
    "timers": FILM.timers._replace(travel=9),
}
NOT_TOLD_APART: Final[dict[str, Any]] = {
    "titles": (RememberedTitle("one", 17_778),),
    "apart": 3_600_000,
    "night": 1,
    "news": ("other",),
    "turns": 1,
}
"""Clocks, counts, what the rules saw last, and what is remembered of other titles."""


def test_every_field_of_the_core_stands_here() -> None:
    """A new field fails here until somebody has said whether it tells states apart."""
    assert {*TOLD_APART, *NOT_TOLD_APART} == {field.name for field in fields(Core)}
    assert not {*TOLD_APART} & {*NOT_TOLD_APART}


@pytest.mark.parametrize("name", TOLD_APART)
def test_states_that_differ_in_this_are_told_apart(name: str) -> None:
    assert getattr(FILM, name) != TOLD_APART[name]
    assert finite_shape(but(**{name: TOLD_APART[name]})) != finite_shape(but())


@pytest.mark.parametrize("name", NOT_TOLD_APART)
def test_states_that_differ_only_in_this_have_one_shape(name: str) -> None:
    assert getattr(FILM, name) != NOT_TOLD_APART[name]
    assert finite_shape(but(**{name: NOT_TOLD_APART[name]})) == finite_shape(but())


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"recall": 7}, {"recall": 8}),
        ({"picture": 7}, {"picture": 8}),
        ({"asked": PendingPrompt(7, "sides")}, {"asked": PendingPrompt(8, "sides")}),
        (
            {"open_cues": (OpenCue(7, "lamps", "full", 9),)},
            {"open_cues": (OpenCue(8, "lamps", "full", 10),)},
        ),
        ({"title_name": "one"}, {"title_name": "two"}),
        (
            {"interrupted": InterruptedTitle("one", None)},
            {"interrupted": InterruptedTitle("two", 23_900)},
        ),
        ({"left_title": LEFT_SEEN}, {"left_title": LEFT_SEEN + 1}),
        ({"left_night": LEFT_SEEN}, {"left_night": LEFT_SEEN + 1}),
        ({"timers": Timers(travel=7)}, {"timers": Timers(travel=8)}),
        (
            {"asked": PendingPrompt(7, "sides", who="Ana", latest=1)},
            {"asked": PendingPrompt(7, "sides", who="Bo", latest=2)},
        ),
        ({"detour": AWAY}, {"detour": AWAY._replace(until=10)}),
        ({"stands": StoodShape(17_778, 1)}, {"stands": StoodShape(17_778, 2)}),
    ],
    ids=lambda given: next(iter(given)),
)
def test_numbers_names_and_moments_do_not_tell_states_apart(
    one: dict[str, Any], other: dict[str, Any]
) -> None:
    assert finite_shape(but(**one)) == finite_shape(but(**other))


def test_a_room_that_has_heard_nothing_has_a_shape_too() -> None:
    assert finite_shape(first_state(HAYLOFT)) != finite_shape(but())


def test_another_height_before_a_detour_tells_states_apart() -> None:
    lower = AWAY._replace(tallest=17_778)
    assert finite_shape(but(detour=AWAY)) != finite_shape(but(detour=lower))


@pytest.mark.parametrize("name", ["left_title", "left_night"])
def test_the_last_recalls_are_counted(name: str) -> None:
    shapes = [finite_shape(but(**{name: left})) for left in range(LEFT_SEEN + 1)]
    assert len({*shapes}) == LEFT_SEEN + 1


def test_another_panel_or_cue_that_is_asked_for_tells_states_apart() -> None:
    asked = [PendingPrompt(7, "sides"), PendingPrompt(7, "open"), PendingPrompt(7, "open", True)]
    assert len({finite_shape(but(asked=one)) for one in asked}) == len(asked)
    cues = [OpenCue(7, "lamps", "full", 9), OpenCue(7, "lamps", "low", 9)]
    assert len({finite_shape(but(open_cues=(one,))) for one in cues}) == len(cues)


def test_of_the_filter_counts_what_it_has_settled_on_what_it_sees_and_whether_it_waits() -> None:
    story = films()
    story.at(40, shape(1.78))
    state = story.engine.state
    settling = state.settling
    assert isinstance(settling.rival, Rival)
    assert settling.deadline is not None
    apart: tuple[dict[str, Any], ...] = (
        {"aspect": 17_778},
        {"subtitles": True},
        {"deadline": None},
        {"reading": 17_778},
        {"evidence": settling.evidence + 1},
        {"rival": None},
        {"rival": settling.rival._replace(shape=settling.rival.shape._replace(ratio=20_000))},
    )
    for change in apart:
        other = state._replace(settling=settling._replace(**change))
        assert finite_shape(other) != finite_shape(state), change
    later = settling._replace(deadline=settling.deadline + 1, since=settling.since + 1)
    assert finite_shape(state._replace(settling=later)) == finite_shape(state)


# -------------------------------------------------------------------------------------- names


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"lens": "x"}, "lens 'x'"),
        ({"panels": "x"}, "panels 'x'"),
        ({"override": "x"}, "override 'x'"),
        ({"playback": "x"}, "playback 'x'"),
        ({"projector": "x"}, "projector 'x'"),
        ({"source": "x"}, "source 'x'"),
        ({"preset": "x"}, "preset 'x'"),
        ({"origin": "x"}, "preset 'x'"),
        ({"unreached": "x"}, "preset 'x'"),
        ({"wanted": Look("plain", 0, "x", None)}, "preset 'x'"),
        ({"override_look": Show(preset="x")}, "preset 'x'"),
        ({"arrangement": "x"}, "panels 'x'"),
        ({"wanted": Look("plain", 0, None, "x")}, "panels 'x'"),
        ({"asked": PendingPrompt(7, "x")}, "panels 'x'"),
        ({"override_look": Show(panels="x")}, "panels 'x'"),
        ({"shown": films().core.shown._replace(picture="x")}, "picture 'x'"),  # type: ignore[union-attr]
        ({"wanted": Look("x", 0, None, None)}, "picture 'x'"),
        ({"override_look": Show("x")}, "picture 'x'"),
        ({"told": (("x", True),)}, "told fact 'x'"),
        ({"cues": (("x", "full"),)}, "cue 'x'"),
        ({"cue_wish": (("x", "full"),)}, "cue 'x'"),
        ({"cue_overrides": (CueOverride("x", "low", "title", None),)}, "cue 'x'"),
        ({"cue_overrides": (CueOverride("lamps", "x", "title", None),)}, "'lamps' at 'x'"),
        ({"open_cues": (OpenCue(7, "x", "full", 0),)}, "cue 'x'"),
        ({"detour": AWAY._replace(shapes=(0,))}, "ratio 0"),
        ({"row": len(UNANSWERED.rules.rows)}, f"row {len(UNANSWERED.rules.rows)}"),
        ({"row": -2}, "row -2"),
        ({"echo": "x"}, "preset 'x'"),
        ({"tallest": 9_999}, "ratio 9999"),
        ({"declared": 40_001}, "ratio 40001"),
        ({"frame": 0}, "ratio 0"),
        ({"parked": ParkedReading(None, 0)}, "ratio 0"),
        ({"declared": 0}, "ratio 0"),
        ({"tallest": 0}, "ratio 0"),
        ({"shapes": (23_900, 0)}, "ratio 0"),
    ],
)
def test_the_first_thing_that_a_room_does_not_know_is_named(
    change: dict[str, Any], name: str
) -> None:
    assert first_foreign_name(UNANSWERED, but(**change)) == name


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"row": len(UNANSWERED.rules.rows) - 1},
        {"row": -1},
        {"row": None},
        {"echo": ""},
        {"override_look": Show("gentle", None, "tall", "sides")},
        {"asked": PendingPrompt(7, "sides")},
        {"parked": ParkedReading(None)},
        {"parked": ParkedReading(None, 1)},
        {"shapes": (NARROWEST, WIDEST)},
        {"shapes": (5_625, 7_500), "tallest": 5_625},
        *({"projector": one} for one in ("unknown", "off", "warming", "lit", "cooling")),
        {"told": (("guests", True),), "cues": (("lamps", "full"),)},
        {"wanted": Look("dark", 0, None, None), "shown": None},
    ],
)
def test_a_state_of_the_room_has_no_foreign_name(change: dict[str, Any]) -> None:
    assert first_foreign_name(UNANSWERED, but(**change)) is None


def test_a_settled_shape_that_no_picture_has_is_named_too() -> None:
    state = but()
    odd = state._replace(settling=state.settling._replace(aspect=5))
    assert first_foreign_name(UNANSWERED, odd) == "ratio 5"


# -------------------------------------------------------------------------------------- bytes


def test_a_state_that_is_written_and_read_falls_due_when_its_timers_say() -> None:
    state = Story(HAYLOFT).engine.state
    timers = Timers(travel=9, flash=7)
    core = state.core.copy()
    core.timers = timers
    assert decode(encode(state._replace(core=core, due=None))).due == timers.flash


def test_a_state_from_before_dates_ahead_were_remembered_is_read() -> None:
    """Whoever installs a newer roomcue keeps the room as it stands."""
    state = but()
    assert state.tally.ahead == ()
    version, (core, settling, tally, due) = json.loads(encode(state))
    before = json.dumps([version, [core, settling, tally[:-1], due]])
    assert encode(decode(before)) == encode(state)


def test_a_state_from_before_travels_were_awaited_is_read() -> None:
    state = but(lens="travelling", preset="tall", recall=7)
    version, (core, *rest) = json.loads(encode(state))
    del core["awaited"]
    assert encode(decode(json.dumps([version, [core, *rest]]))) == encode(state)


def test_what_is_no_snapshot_is_refused_with_a_sentence() -> None:
    no = rf"^this is no snapshot of version {VERSION}: Invalid JSON"
    with pytest.raises(SnapshotError, match=no):
        decode(b"")
    other = encode(but()).replace(b"%d," % VERSION, b"77,", 1)
    no = rf"^a snapshot of version 77, {VERSION} is needed$"
    for elsewhere in (other, other.decode(), b'[77,{"another": "field"}]'):
        with pytest.raises(SnapshotError, match=no):
            decode(elsewhere)
