"""Each refusal: an evening in which just this event is refused, beside the nearest one that is not.

A refusal changes nothing and decides nothing; the reply carries its code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Final, NamedTuple, get_args

import pytest

from engine.decisions import PictureOrder
from engine.events import (
    Answer,
    BarsSeen,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    FormatCode,
    Helper,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Service,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    Undo,
    moment_of,
    read_event,
)
from engine.handlers import IDS_KEPT
from engine.refusal import NEVER_GIVEN, RefusalCode, Refused, suggest
from engine.snapshot import encode
from tests.engine.meetings import START
from tests.engine.moments import ordered
from tests.engine.story import UNANSWERED, Story, changed

ROOM = changed(
    (
        "  guests: yes or no\n",
        "  guests: yes or no\n  mood: calm or bright\n  people: 2 to 12\n",
    )
)
"""The hayloft with a word and a number that somebody tells."""
OVER: Final = "it was answered or withdrawn, or its end has passed"
"""What is said of an order that is not open any more."""
MOMENT: Final = 40
"""The second at which the event comes."""


def clock(second: float) -> datetime:
    return moment_of(START + round(second * 1_000))


def bars(*, top: int = 0, bottom: int = 0, left: int = 0, right: int = 0) -> BarsSeen:
    return BarsSeen(top=top, bottom=bottom, left=left, right=right, columns=1_920, rows=1_080)


DISC: Final = (20, SourceChosen(source="disc", at=clock(20)))
"""The disc has been shown since the twentieth second, and the report said since when."""
SHOWN: Final = (20, SourceChosen(source="disc"))
ORDERED: Final = (39, SourceChosen(source="disc"))
"""A picture and a cue are ordered for the menu: orders 1 and 2 are open at the moment."""
ASKED: Final = (
    SHOWN,
    (25, Override(taken=True, look=OverrideLook(panels="sides"))),
)
PROMPT: Final = 3
"""The number of the prompt that follows."""


READY: Final = (26, Answer(prompt=PROMPT, answer="ready", who="first"))
MOVED: Final = (
    (11, Override(taken=True, look=OverrideLook(preset="tall"))),
    (38, LensReport(moving=False, preset="tall")),
)
"""A person has had the lens brought elsewhere."""


class Case(NamedTuple):
    """What is refused, what is taken instead, and what was heard before (at which seconds)."""

    code: RefusalCode
    refused: Event
    taken: Event
    heard: tuple[tuple[float, Event], ...] = ()


def of_names() -> Iterable[Case]:
    """Name what the room does not know, in each field that holds a name of the room's."""
    fields: tuple[tuple[Callable[[str], Event], str], ...] = (
        (lambda name: SourceChosen(source=name), "streamer"),
        (lambda name: Playback(state="playing", source=name), "disc"),
        (lambda name: LensReport(moving=False, preset=name), "tall"),
        (lambda name: LensReport(moving=True, preset=name), "tall"),
        (lambda name: PanelReport(panels=name), "sides"),
        (lambda name: Override(taken=True, source=name), "disc"),
        (lambda name: Override(taken=True, look=OverrideLook(picture=name)), "gentle"),
        (lambda name: Override(taken=True, look=OverrideLook(picture=name)), "plain"),
        (lambda name: Override(taken=True, look=OverrideLook(picture=name)), "whole"),
        (lambda name: Override(taken=True, look=OverrideLook(preset=name)), "tall"),
        (lambda name: Override(taken=True, look=OverrideLook(panels=name)), "sides"),
    )
    for event, known in fields:
        yield Case("unknown_name", event("nonesuch"), event(known), (SHOWN,))
    dark = Override(taken=True, look=OverrideLook(picture="dark"))
    yield Case(
        "unknown_name", dark, Override(taken=True, look=OverrideLook(picture="plain")), (SHOWN,)
    )
    told = ToldFact(fact="nonesuch", value=True)
    yield Case("unknown_name", told, ToldFact(fact="guests", value=True))


def of_old_reports() -> Iterable[Case]:
    """Report what is older, by a millisecond, than what is known of the subject or the source."""
    told: tuple[Callable[[datetime], Event], ...] = (
        lambda at: SourceChosen(source="streamer", at=at),
        lambda at: Playback(state="playing", at=at),
        lambda at: LensReport(moving=False, preset="tall", at=at),
        lambda at: PanelReport(panels="sides", at=at),
        lambda at: ToldFact(fact="guests", value=True, at=at),
        lambda at: TimeOfDay(minute=7, at=at),
        lambda at: RatioSeen(ratio=2.39, at=at),
        lambda at: Override(taken=True, at=at),
    )
    for event in told:
        known = (30, event(clock(30)))
        yield Case("stale", event(clock(29.999)), event(clock(30)), (known,))
    about_the_source: tuple[Callable[[datetime], Event], ...] = (
        lambda at: Playback(state="playing", at=at),
        lambda at: Title(begun=True, at=at),
        lambda at: Override(taken=True, at=at),
        lambda at: RatioSeen(ratio=2.39, at=at),
        lambda at: BlackSeen(at=at),
        lambda at: FormatCode(code=8, frame="16:9", at=at),
        lambda at: BarsSeen(top=0, bottom=0, left=0, right=0, columns=9, rows=9, at=at),
    )
    for event in about_the_source:
        yield Case("stale", event(clock(19.999)), event(clock(20)), (DISC,))


CASES: Final = (
    *of_names(),
    *of_old_reports(),
    Case("stale", Override(taken=True, until=clock(40)), Override(taken=True, until=clock(40.001))),
    Case(
        "repeated",
        Playback(state="playing", id="a"),
        Playback(state="playing", id="b"),
        ((30, Mark(id="a")),),
    ),
    Case("repeated", BlackSeen(id="a"), BlackSeen(id="b"), ((30, Mark(id="a")),)),
    Case(
        "not_shown",
        Playback(state="playing", source="console"),
        Playback(state="playing", source="disc"),
        (SHOWN,),
    ),
    Case("not_shown", Playback(state="playing", source="disc"), Playback(state="playing")),
    Case(
        "not_shown",
        Override(taken=True, source="console"),
        Override(taken=True, source="disc"),
        (SHOWN,),
    ),
    Case("not_shown", Override(taken=False, source="console"), Override(taken=False), (SHOWN,)),
    Case("out_of_range", ToldFact(fact="guests", value=1), ToldFact(fact="guests", value=True)),
    Case(
        "out_of_range", ToldFact(fact="guests", value="yes"), ToldFact(fact="guests", value=False)
    ),
    Case("out_of_range", ToldFact(fact="mood", value="grim"), ToldFact(fact="mood", value="calm")),
    Case("out_of_range", ToldFact(fact="people", value=1), ToldFact(fact="people", value=2)),
    Case("out_of_range", ToldFact(fact="people", value=13), ToldFact(fact="people", value=12)),
    Case("out_of_range", ToldFact(fact="people", value=True), ToldFact(fact="people", value=None)),
    Case("out_of_range", ToldFact(fact="people", value="4"), ToldFact(fact="people", value=4)),
    Case(
        "not_open",
        Outcome(order=3, outcome="done"),
        Outcome(order=1, outcome="done"),
        (ORDERED,),
    ),
    Case(
        "not_open",
        Outcome(order=1, outcome="done"),
        Outcome(order=2, outcome="done"),
        (ORDERED, (39.5, Outcome(order=1, outcome="done"))),
    ),
    Case(
        "not_asked",
        Answer(prompt=PROMPT + 1, answer="no"),
        Answer(prompt=PROMPT, answer="no"),
        ASKED,
    ),
    Case(
        "at_screen",
        Answer(prompt=PROMPT, answer="no", who="second"),
        Answer(prompt=PROMPT, answer="no", who="first"),
        (*ASKED, READY),
    ),
    Case("not_lost", FindLens(), Undo(), ((10, SourceChosen(source="disc")), *MOVED)),
    Case("nothing_to_undo", Undo(), Mark()),
    Case("not_remembered", Forget(name=None), Mark(), (SHOWN,)),
    Case("at_screen", Helper(free=False), Helper(free=True), (*ASKED, READY)),
    Case("beyond_frame", bars(top=541, bottom=540), bars(top=540, bottom=540)),
    Case("beyond_frame", bars(left=960, right=961), bars(left=960, right=960)),
    Case(
        "format",
        FormatCode(code=0, frame="16:9", top_ends=131, bottom_starts=950),
        FormatCode(
            code=0, frame="16:9", top_ends=131, bottom_starts=950, columns=1_920, rows=1_080
        ),
    ),
    Case(
        "format",
        FormatCode(code=0, frame="16:9", top_ends=131, columns=1_920),
        FormatCode(code=0, frame="16:9", columns=1_920),
    ),
)


def led_to(case: Case) -> Story:
    story = Story(ROOM)
    for second, event in case.heard:
        story.at(second, event)
    story.at(MOMENT, None)
    return story


def receive(story: Story, event: Event) -> tuple[int, RefusalCode | None]:
    """Give how many decisions an event leads to, and why it was refused."""
    reply = story.engine.receive(event, START + MOMENT * 1_000)
    return len(reply.decisions), None if reply.refusal is None else reply.refusal.code


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.code}-{case.refused.kind}")
def test_this_is_refused_and_changes_nothing_and_its_neighbour_is_taken(case: Case) -> None:
    story = led_to(case)
    before = encode(story.engine.state)
    assert receive(story, case.refused) == (0, case.code)
    assert encode(story.engine.state) == before
    assert story.engine.refusals == {case.code: 1}
    _, code = receive(story, case.taken)
    assert code is None


def test_a_refusal_does_not_use_an_event_s_id_up() -> None:
    story = led_to(Case("not_asked", Mark(), Mark()))
    assert receive(story, Playback(state="playing", source="disc", id="a"))[1] == "not_shown"
    assert receive(story, SourceChosen(source="disc"))[1] is None
    assert receive(story, Playback(state="playing", source="disc", id="a"))[1] is None


@pytest.mark.parametrize(
    "text",
    ['{"kind": "time", "minute": 1440}', '{"kind": "nonesuch"}', "[", '{"kind": "mark", "a": 1}'],
)
def test_what_is_no_event_is_malformed(text: str) -> None:
    with pytest.raises(Refused) as refused:
        read_event(text)
    assert refused.value.code == "malformed"
    assert read_event('{"kind": "time", "minute": 1439}') == TimeOfDay(minute=1_439)


def test_an_event_built_wrong_is_malformed_too() -> None:
    with pytest.raises(Refused) as refused:
        TimeOfDay(minute=1_440)
    assert refused.value.code == "malformed"


# --------------------------------------------------------------------- what is never refused


def test_the_same_reading_may_come_twice_with_one_id() -> None:
    story = Story(ROOM)
    story.at(30, BlackSeen(id="a"))
    story.at(31, RatioSeen(ratio=2.39, id="a"))
    assert story.engine.state.tally.seen == ()


def test_the_latest_ids_are_remembered_and_no_more() -> None:
    story = Story(ROOM)
    for number in range(IDS_KEPT + 1):
        story.at(30, Mark(id=str(number)))
    story.at(31, Mark(id="0"))
    with pytest.raises(Refused, match="'2' was heard before"):
        story.at(31, Mark(id="2"))


def test_an_outcome_after_the_end_of_its_order_comes_too_late() -> None:
    story = Story(ROOM)
    story.at(30, ProjectorReport(state="lit"))
    order = story.at(30, SourceChosen(source="disc"))[0]
    assert isinstance(order, PictureOrder)
    with pytest.raises(Refused, match=f"order {order.id} is not open: {OVER}"):
        story.at(301, Outcome(order=order.id, outcome="done"))


def test_a_second_outcome_of_the_latest_order_is_refused_as_of_one_that_is_over() -> None:
    """The number of that order is the last one given, and given all the same."""
    story = ordered()
    latest = story.engine.state.tally.serial
    story.at(11, Outcome(order=latest, outcome="done"))
    with pytest.raises(Refused, match=f"order {latest} is not open: {OVER}"):
        story.at(12, Outcome(order=latest, outcome="done"))


def test_an_outcome_of_an_order_that_was_withdrawn_is_not_said_to_come_too_late() -> None:
    story = ordered()
    story.at(11, Service(begun=True))
    with pytest.raises(Refused, match=OVER):
        story.at(12, Outcome(order=story.engine.state.tally.serial, outcome="done"))


def test_an_outcome_for_which_nobody_waits_is_refused_for_that_reason() -> None:
    story = Story(UNANSWERED)
    with pytest.raises(
        Refused, match=r"or none is awaited, for the room file has no orders: {answered: yes}$"
    ):
        story.at(30, Outcome(order=9, outcome="done"))


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (Playback(state="playing", source="disc"), "'disc' plays, but no source is shown"),
        (Override(taken=True, source="disc"), "that override was for 'disc', which is not shown"),
        (Answer(prompt=9, answer="no"), f"prompt 9 is not open: {NEVER_GIVEN}"),
        (Outcome(order=9, outcome="done"), f"order 9 is not open: {NEVER_GIVEN}"),
        (Undo(), "nothing has moved in this title that could be put back"),
        (
            LensReport(moving=True, preset=None, known=False),
            "a lens of which nothing is known does not move and has no preset: leave one out",
        ),
        (
            Override(taken=True, until=clock(30)),
            "that override was to end at a time that is already past",
        ),
        (Mark(id="a"), "event 'a' was heard before and is done with"),
        (
            TimeOfDay(minute=3, at=clock(18.5)),
            (
                "this time report is 1.5 s older than what is known: tell how it is now, and leave "
                "'at' out where a clock may be slow"
            ),
        ),
        (
            FormatCode(code=0, frame="16:9", top_ends=131),
            "bar data count lines of a raster: send its columns and rows with them",
        ),
        (bars(top=1_081), "the bars are larger than the raster they are counted in"),
        (
            ToldFact(fact="guests", value="yes"),
            "'guests' is never \"yes\": say one of true, false, or null",
        ),
        (
            ToldFact(fact="people", value="x"),
            "'people' is a whole number from 2 to 12, not \"x\"",
        ),
        (
            PanelReport(panels="side"),
            "this room has no panel arrangement 'side': did you mean 'sides'?",
        ),
        (
            SourceChosen(source="zzz"),
            "this room has no source 'zzz': it knows disc, streamer, console.",
        ),
        (LensReport(moving=False, preset="tal"), "this room has no preset 'tal': did you mean"),
        (
            Override(taken=True, look=OverrideLook(picture="gentl")),
            "this room has no picture 'gentl': did you mean 'gentle'?",
        ),
        (Override(taken=True, look=OverrideLook(preset="tal")), "this room has no preset 'tal'"),
        (
            Override(taken=True, look=OverrideLook(panels="side")),
            "this room has no panel arrangement 'side'",
        ),
        (Override(taken=True, source="dsc"), "this room has no source 'dsc'"),
        (Playback(state="playing", source="dsc"), "this room has no source 'dsc'"),
        (ToldFact(fact="gests", value=True), "this room has no told fact 'gests'"),
    ],
)
def test_a_refusal_says_what_is_wrong(event: Event, words: str) -> None:
    story = Story(ROOM)
    story.at(20, Mark(id="a"))
    story.at(20, TimeOfDay(minute=1, at=clock(20)))
    reply = story.engine.receive(event, START + MOMENT * 1_000)
    assert reply.refusal is not None
    assert reply.refusal.words.startswith(words)
    assert str(reply.refusal) == reply.refusal.words


def test_where_a_room_knows_no_such_names_the_refusal_says_none() -> None:
    story = Story(changed(("told:\n  guests: yes or no\n", ""), (", guests: yes", "")))
    with pytest.raises(Refused, match=r"has no told fact 'guests': it knows none\.$"):
        story.at(30, ToldFact(fact="guests", value=True))


def test_a_refusal_names_the_source_that_is_shown_instead() -> None:
    story = Story(ROOM)
    story.at(20, SourceChosen(source="disc"))
    with pytest.raises(Refused, match="'console' plays, but 'disc' is shown"):
        story.at(30, Playback(state="playing", source="console"))


def test_a_former_word_is_known_though_it_is_not_near_the_new_one() -> None:
    assert suggest("hand", ("mark", "override")) == "did you mean 'override'?"
    assert suggest("hand", ("mark", "answer")) == ""


# --------------------------------------------------------------------------- all of them

TESTS: Final = Path(__file__).resolve().parents[1]
ABOVE: Final[dict[RefusalCode, str]] = {
    "bad_room": "live/test_new_room.py",
    "contract": "adapters/test_contract.py",
    "no_more_time": "engine/test_ways_out.py",
    "redelivered": "adapters/test_durable_room.py",
    "replaced": "adapters/test_adopted_room_file.py",
    "retained": "adapters/test_durable_room.py",
    "too_long": "adapters/test_durable_room.py",
    "unknown_topic": "adapters/test_durable_room.py",
}
"""What the live room refuses before it comes to an event, or what takes more than a moment, with
the file that holds its test."""


def test_every_code_has_a_test() -> None:
    """A new code fails here until it has one."""
    here = {case.code for case in CASES} | {"malformed"}
    assert here.isdisjoint(ABOVE)
    assert here | {*ABOVE} == {*get_args(RefusalCode)}
    for code, file in ABOVE.items():
        assert f'"{code}"' in (TESTS / file).read_text("utf-8")
