"""What a rehearsal prints of both sides, word for word."""

from __future__ import annotations

from rich.console import Console

from adapters.cli.console import print_blocks
from adapters.render.rehearsal_text import (
    HubSide,
    RehearsalHead,
    not_said_block,
    rehearsal_heading,
    rehearsal_totals,
    room_says_blocks,
)
from adapters.render.styled import Block
from engine.events import BlackSeen, Event, Outcome, RatioSeen, Signal, SourceChosen, ToldFact
from simulator.nights.invention import BEGINS
from tests.adapters.hayloft import HAYLOFT

HEAD = RehearsalHead(
    room="hayloft",
    evening="an invented evening (seed 1)",
    people="willing",
    begins="19:30:00",
    speed=60,
    broker="mqtt://localhost:1883",
    example="source disc",
)


def printed(blocks: list[Block]) -> str:
    """Print as a command does."""
    out = Console(width=90, highlight=False, no_color=True)
    with out.capture() as captured:
        print_blocks(out, blocks)
    return "".join(f"{line.rstrip()}\n" for line in captured.get().splitlines())


def test_the_first_lines_say_what_is_played_and_how_fast() -> None:
    assert (
        printed([*rehearsal_heading(HEAD)])
        == """\
hayloft rehearses an invented evening (seed 1); its people are willing.
It begins at 19:30:00 and runs 60 times as fast as life; the room's own pace does
likewise.
Its broker is mqtt://localhost:1883 while it lasts.
Say something yourself at any time, in a few words: source disc

"""
    )


def test_of_a_room_that_runs_already_they_say_that_gaps_are_shortened() -> None:
    head = HEAD._replace(begins="", longest_gap=99_000)
    assert (
        printed([*rehearsal_heading(head)][1:2])
        == """\
The room runs already, at mqtt://localhost:1883, and keeps its own time: longer gaps of
the evening are shortened to 99 s. No other hub must answer it.
"""
    )


def test_the_hub_says_what_is_new_and_its_answers_go_unsaid() -> None:
    side = HubSide(HAYLOFT)
    events: list[Event] = [
        SourceChosen(source="disc"),
        Signal(locked=False),
        SourceChosen(source="disc"),
        RatioSeen(ratio=2.39),
        BlackSeen(),
        RatioSeen(ratio=2.39),
        Outcome(order=1, outcome="done"),
        Outcome(order=2, outcome="refused"),
        RatioSeen(ratio=1.78),
    ]
    told = [block for event in events for block in side.blocks(BEGINS, event, by_hand=False)]
    told += side.blocks(BEGINS, ToldFact(fact="guests", value=True), by_hand=True)
    told += side.blocks(BEGINS, SourceChosen(source="disc"), by_hand=True)
    assert (
        printed(told)
        == """\
19:30:00  source: disc
19:30:00  reading: 2.39
19:30:00  order 2: refused
19:30:00  reading: 1.78
19:30:00  told: guests is yes  (you)
19:30:00  source: disc  (you)
"""
    )


def test_what_a_room_says_beside_its_decisions_has_a_line_beneath_the_time() -> None:
    """A room at a broker may be anybody: nothing of it steers the terminal."""
    said = [
        *room_says_blocks({"kind": "refused", "topic": "in/source", "details": "no such source"}),
        *room_says_blocks({"kind": "question", "about": ["lens"]}),
        *room_says_blocks({"kind": "wear", "words": "look at \x1b[2J"}),
        not_said_block("a payload is expected"),
        *rehearsal_totals(1, 2),
    ]
    assert (
        printed(said)
        == """\
          refused (in/source): no such source
          the hub is asked how everything is
          wear: look at \\x1b[2J
          not said: a payload is expected

The evening is over: 1 decision, 2 events refused.
"""
    )
