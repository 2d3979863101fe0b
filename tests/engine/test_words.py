"""What the engine says beside its orders: every sentence, with its rule, at its moment.

The sentences of the holds and of the refusals are tried with them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final, get_args

import pytest

from engine.decisions import (
    Note,
    NoteCode,
    PromptEnd,
    PromptOver,
    Withdrawn,
)
from engine.events import (
    Answer,
    Event,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    Title,
    moment_of,
)
from engine.wording import HOLDS, NOTED, HoldCode
from tests.engine.meetings import START
from tests.engine.moments import BARE, OVERRIDE, films, ordered, prompted, taken, travelling
from tests.engine.story import Story, changed
from tests.engine.test_choosing import shed
from tests.engine.test_holds import TRAVELS, but, ripened, waiting

Said = tuple[str, str, str]
"""What was said: its code or how it ended, its rule, its reason."""


def clock(second: float) -> datetime:
    return moment_of(START + round(second * 1_000))


def said(story: Story, since: int = 0) -> list[Said]:
    """Give what was said beside orders and prompts."""
    words: list[Said] = []
    for one in story.made[since:]:
        if isinstance(one, Note):
            words.append((one.code, one.rule, one.reason))
        elif isinstance(one, PromptOver):
            words.append((one.how, one.rule, one.reason))
        elif isinstance(one, Withdrawn):
            words.append(("taken back", one.rule, one.reason))
    return words


ORDERS: Final = "engine: orders"
PROMPT: Final = "engine: prompt"
LENS: Final = "engine: lens"
RULES: Final = "engine: rules"

Row = tuple[str, Callable[[], Story], tuple[tuple[float, Event | None], ...], list[Said]]

OVERLAP = """
rules:
  rows:
    - {name: one, case: {playback: playing}, show: {picture: plain}, because: It plays.}
    - {name: two, case: {source: disc}, show: {picture: plain, lift: 5 %}, because: A disc.}
  otherwise: {picture: whole}
"""
CIRCLE = """
rules:
  policy: first
  rows:
    - {case: {helper: free}, show: {panels: sides}, because: Somebody may be asked.}
    - {case: {helper: asked}, show: {panels: open}, because: And then not.}
"""
WORN = changed(("orders: {answered: yes}\n", "wear: {travels: 2, a_night: 1}\n"))

AFTERWARDS: Final[tuple[Row, ...]] = (
    (
        "a person takes over",
        films,
        ((40, Override(taken=True)),),
        [("override_begun", OVERRIDE, "A person has taken over.")],
    ),
    (
        "and gives back",
        taken,
        ((50, Override(taken=False)),),
        [("override_ended", OVERRIDE, "The person has given back.")],
    ),
    (
        "an override's time is over",
        films,
        ((40, Override(taken=True, until=clock(50))), (50, None)),
        [
            ("override_begun", OVERRIDE, "A person has taken over."),
            ("override_ended", OVERRIDE, "The override was to end at this time."),
        ],
    ),
    (
        "an override's title ends",
        films,
        ((40, Override(taken=True, until="title")), (50, Title(begun=False))),
        [
            ("override_begun", OVERRIDE, "A person has taken over."),
            ("override_ended", OVERRIDE, "The title has ended, and the override with it."),
        ],
    ),
    (
        "the session ends",
        taken,
        ((50, ProjectorReport(state="off")),),
        [("override_ended", OVERRIDE, "The session has ended, and the override with it.")],
    ),
    (
        "the lens is moved by hand",
        films,
        ((100, LensReport(moving=True, preset="tall")),),
        [
            (
                "override_begun",
                OVERRIDE,
                "The lens travels without an order: somebody has taken over.",
            )
        ],
    ),
    (
        "which is reported twice",
        taken,
        (
            (100, LensReport(moving=True, preset="tall")),
            (105, LensReport(moving=False, preset="tall")),
            (106, LensReport(moving=True, preset="tall")),
        ),
        [
            (
                "travel_repeated",
                "engine: wear",
                "An equal travel report within one travel time: counted as one travel.",
            )
        ],
    ),
    (
        "a recall is refused",
        travelling,
        ((26, Outcome(order=4, outcome="refused")),),
        [
            ("recall_refused", LENS, "The recall was refused."),
            ("per_title", "engine: pace", HOLDS["per_title"]),
        ],
    ),
    (
        "a lens does not arrive",
        travelling,
        ((60, None),),
        [
            ("lens_lost", LENS, "The lens has not said that it arrived."),
            ("lens_unknown", LENS, HOLDS["lens_unknown"]),
        ],
    ),
    (
        "roomcue was away while it travelled",
        travelling,
        ((26, Resumed()),),
        [
            ("lens_lost", LENS, "The lens has not said that it arrived."),
            ("lens_unknown", LENS, HOLDS["lens_unknown"]),
        ],
    ),
    (
        "a picture and a cue are refused",
        ordered,
        ((11, Outcome(order=1, outcome="refused")), (12, Outcome(order=2, outcome="refused"))),
        [
            ("picture_failed", ORDERS, "The picture was not set: refused."),
            ("cue_failed", ORDERS, "'lamps' was not set: refused."),
        ],
    ),
    (
        "nothing is heard of either",
        ordered,
        ((16, None),),
        [
            ("picture_failed", ORDERS, "The picture was not set: no answer."),
            ("cue_failed", ORDERS, "'lamps' was not set: no answer."),
        ],
    ),
    (
        "a technician comes meanwhile",
        ordered,
        ((11, Service(begun=True)),),
        [("taken back", ORDERS, "A technician is at work.")] * 2,
    ),
    (
        "the light goes meanwhile",
        ordered,
        ((11, ProjectorReport(state="cooling")),),
        [("taken back", ORDERS, "The projector gives no light any more.")] * 2,
    ),
    (
        "other lamps are wanted meanwhile",
        ordered,
        ((11, Playback(state="playing")),),
        [("taken back", ORDERS, "A newer value takes its place.")],
    ),
    (
        "another picture is wanted meanwhile",
        ordered,
        ((11, Signal(locked=True, columns=1_024, rows=768)),),
        [("taken back", ORDERS, "A newer picture order takes its place.")],
    ),
    (
        "somebody reports the panels that were asked for",
        prompted,
        ((40, PanelReport(panels="open")),),
        [("done", PROMPT, "Somebody has reported the panels.")],
    ),
    (
        "somebody answers no",
        prompted,
        ((40, Answer(prompt=5, answer="no")),),
        [
            ("declined", PROMPT, "Somebody has answered no."),
            ("helper", "engine: panels", HOLDS["helper"]),
        ],
    ),
    (
        "nobody answers",
        prompted,
        ((630, None),),
        [
            ("expired", PROMPT, "Nobody has answered in time."),
            ("helper", "engine: panels", HOLDS["helper"]),
        ],
    ),
    (
        "a technician comes instead",
        prompted,
        ((40, Service(begun=True)),),
        [("withdrawn", PROMPT, "A technician is at work.")],
    ),
    (
        "the session ends first",
        prompted,
        ((40, ProjectorReport(state="off")),),
        [("withdrawn", PROMPT, "The session has ended.")],
    ),
    (
        "its picture is not wanted any more",
        prompted,
        (
            (40, PanelReport(panels=None)),
            (41, Override(taken=True, look=OverrideLook(panels="sides"))),
        ),
        [
            ("override_begun", OVERRIDE, "A person has taken over."),
            ("withdrawn", PROMPT, "It is not wanted any more."),
        ],
    ),
    (
        "rows of a table match at once",
        lambda: Story(shed(OVERLAP)),
        ((10, SourceChosen(source="disc")), (10, Playback(state="playing"))),
        [
            (
                "rules_overlap",
                "engine: rules",
                "Rows one, two match at once: the otherwise row is shown.",
            )
        ],
    ),
    (
        "rules follow their own prompts",
        lambda: Story(shed(CIRCLE)),
        ((10, SourceChosen(source="disc")),),
        [
            ("withdrawn", PROMPT, "It is not wanted any more."),
            ("withdrawn", PROMPT, "It is not wanted any more."),
            ("rules_circle", RULES, "The rules follow their own orders in a circle."),
        ],
    ),
    (
        "a preset has been travelled to so often",
        lambda: Story(WORN),
        tuple(
            (20 + 40 * n, LensReport(moving=False, preset=("tall", "broad")[n % 2]))
            for n in range(3)
        ),
        [
            (
                "override_begun",
                OVERRIDE,
                "The lens travels without an order: somebody has taken over.",
            ),
            (
                "many_travels",
                "engine: wear",
                "More than 1 travels in one night: see what moves the lens.",
            ),
            (
                "look_at_lens",
                "engine: wear",
                "2 travels to 'tall': see whether it still stands where it should.",
            ),
        ],
    ),
    (
        "a tap",
        films,
        ((40, Mark()), (41, Mark(words="too dark"))),
        [
            ("marked", "engine: mark", "Somebody said: that was wrong."),
            ("marked", "engine: mark", "too dark"),
        ],
    ),
)
"""What is said: after which story, when which things happen."""


@pytest.mark.parametrize("row", AFTERWARDS, ids=[row[0] for row in AFTERWARDS])
def test_this_is_said(row: Row) -> None:
    _, lead, events, words = row
    story = lead()
    before = len(story.made)
    for second, event in events:
        story.at(second, event)
    assert said(story, before) == words


@pytest.mark.parametrize("code", [code for code in TRAVELS if code in NOTED])
def test_a_hold_that_is_worth_a_note_is_noted_under_its_principle(code: HoldCode) -> None:
    _, made = ripened(BARE, but(waiting(), **TRAVELS[code]))
    notes = [(one.rule, one.reason) for one in made if isinstance(one, Note) and one.code == code]
    assert notes == [("engine: " + NOTED[code], HOLDS[code])]


def test_every_code_has_a_test() -> None:
    """A new one fails here until it has."""
    text = Path(__file__).read_text("utf-8")
    for code in (*get_args(NoteCode), *get_args(PromptEnd)):
        assert f'"{code}"' in text
