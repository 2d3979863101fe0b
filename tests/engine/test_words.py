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
    Helper,
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
from engine.holds import HOLDS, NOTED, HoldCode
from rules.words.fluent_catalogue import DEFAULT_LANGUAGE
from tests.engine.meetings import START
from tests.engine.moments import BARE, OVERRIDE, films, ordered, prompted, taken, travelling
from tests.engine.story import Story, changed, shape
from tests.engine.test_choosing import shed
from tests.engine.test_holds import TRAVELS, but, ripened, waiting
from tests.rules.test_catalogue import read

Said = tuple[str, str, str | dict[str, str | int]]
"""What was said: a note's code or how it ended, its rule, its parameters or its reason's code."""


def clock(second: float) -> datetime:
    return moment_of(START + round(second * 1_000))


def said(story: Story, since: int = 0) -> list[Said]:
    """Give what was said beside orders and prompts; each in the catalogue's words, or one's own."""
    words: list[Said] = []
    say = story.room.catalogue.say
    for one in story.made[since:]:
        if isinstance(one, Note):
            ours = say("hold" if one.code in HOLDS else "note", one.code, one.parameters)
            told = read(DEFAULT_LANGUAGE).get(f"note-{one.code}")
            assert told is None or told.parameters <= one.parameters.keys()
            about = one.parameters if one.reason == ours else one.reason
            words.append((one.code, one.rule, about))
        elif isinstance(one, PromptOver | Withdrawn):
            assert one.reason == say("reason", one.code)
            how = one.how if isinstance(one, PromptOver) else "taken back"
            words.append((how, one.rule, one.code))
    return words


ORDERS: Final = "engine: orders"
NO_LABEL: Final = {"named": "no", "what": "", "value": ""}
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
        [("override_begun", OVERRIDE, {"why": "person"})],
    ),
    (
        "and gives back",
        taken,
        ((50, Override(taken=False)),),
        [("override_ended", OVERRIDE, {"why": "given_back"})],
    ),
    (
        "an override's time is over",
        films,
        ((40, Override(taken=True, until=clock(50))), (50, None)),
        [
            ("override_begun", OVERRIDE, {"why": "person"}),
            ("override_ended", OVERRIDE, {"why": "time"}),
        ],
    ),
    (
        "an override's title ends",
        films,
        ((40, Override(taken=True, until="title")), (50, Title(begun=False))),
        [
            ("override_begun", OVERRIDE, {"why": "person"}),
            ("override_ended", OVERRIDE, {"why": "title"}),
        ],
    ),
    (
        "the session ends",
        taken,
        ((50, ProjectorReport(state="off")),),
        [("override_ended", OVERRIDE, {"why": "session"})],
    ),
    (
        "the lens is moved by hand",
        films,
        ((100, LensReport(moving=True, preset="tall")),),
        [
            (
                "override_begun",
                OVERRIDE,
                {"why": "lens_moved"},
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
                {},
            )
        ],
    ),
    (
        "a recall is refused",
        travelling,
        ((26, Outcome(order=4, outcome="refused")),),
        [
            ("recall_refused", LENS, {}),
            ("per_title", "engine: pace", {}),
        ],
    ),
    (
        "a lens does not arrive",
        travelling,
        ((60, None),),
        [
            ("lens_lost", LENS, {}),
            ("lens_unknown", LENS, {}),
        ],
    ),
    (
        "it comes to rest elsewhere",
        travelling,
        (
            (26, LensReport(moving=True, preset="tall")),
            (30, LensReport(moving=False, preset="broad")),
        ),
        [("lens_elsewhere", LENS, {})],
    ),
    (
        "roomcue was away while it travelled",
        travelling,
        ((26, Resumed()),),
        [
            ("lens_lost", LENS, {}),
            ("lens_unknown", LENS, {}),
        ],
    ),
    (
        "a picture and a cue are refused",
        ordered,
        (
            (11, Outcome(order=1, outcome="refused")),
            (12, Outcome(order=2, outcome="refused")),
            (22, Outcome(order=3, outcome="refused")),
            (83, Outcome(order=4, outcome="refused")),
        ),
        [
            ("cue_failed", ORDERS, {"cue": "lamps", "outcome": "refused", **NO_LABEL}),
            ("picture_failed", ORDERS, {"outcome": "refused"}),
        ],
    ),
    (
        "nothing is heard of either",
        ordered,
        ((100, None),),
        [
            ("cue_failed", ORDERS, {"cue": "lamps", "outcome": "no answer", **NO_LABEL}),
            ("picture_failed", ORDERS, {"outcome": "no answer"}),
        ],
    ),
    (
        "a technician comes meanwhile",
        ordered,
        ((11, Service(begun=True)),),
        [("taken back", ORDERS, "technician")] * 2,
    ),
    (
        "the light goes meanwhile",
        ordered,
        ((11, ProjectorReport(state="cooling")),),
        [("taken back", ORDERS, "no_light")] * 2,
    ),
    (
        "other lamps are wanted meanwhile",
        ordered,
        ((11, Playback(state="playing")),),
        [("taken back", ORDERS, "newer_setting")],
    ),
    (
        "another picture is wanted meanwhile",
        ordered,
        ((11, Signal(locked=True, columns=1_024, rows=768)),),
        [("taken back", ORDERS, "newer_picture")],
    ),
    (
        "somebody reports the panels that were asked for",
        prompted,
        ((40, PanelReport(panels="open")),),
        [("done", PROMPT, "panels_reported")],
    ),
    (
        "somebody answers no",
        prompted,
        ((40, Answer(prompt=5, answer="no")),),
        [
            ("declined", PROMPT, "answered_no"),
            ("helper", "engine: panels", {}),
        ],
    ),
    (
        "nobody answers",
        prompted,
        ((630, None),),
        [
            ("expired", PROMPT, "not_answered"),
            ("helper", "engine: panels", {}),
        ],
    ),
    (
        "a technician comes instead",
        prompted,
        ((40, Service(begun=True)),),
        [("withdrawn", PROMPT, "technician")],
    ),
    (
        "the session ends first",
        prompted,
        ((40, ProjectorReport(state="off")),),
        [("withdrawn", PROMPT, "session_over")],
    ),
    (
        "its picture is not wanted any more",
        prompted,
        (
            (40, PanelReport(panels=None)),
            (41, Override(taken=True, look=OverrideLook(panels="sides"))),
        ),
        [
            ("override_begun", OVERRIDE, {"why": "person"}),
            ("withdrawn", PROMPT, "not_wanted"),
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
                {"rows": "one, two"},
            )
        ],
    ),
    (
        "rules follow their own prompts",
        lambda: Story(shed(CIRCLE)),
        ((10, SourceChosen(source="disc")),),
        [
            ("withdrawn", PROMPT, "not_wanted"),
            ("withdrawn", PROMPT, "not_wanted"),
            ("circle", RULES, {}),
            ("rules_circle", RULES, {}),
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
                {"why": "lens_moved"},
            ),
            (
                "many_travels",
                "engine: wear",
                {"travels": 2},
            ),
            (
                "look_at_lens",
                "engine: wear",
                {"preset": "tall", "travels": 2},
            ),
        ],
    ),
    (
        "the player contradicts the detector for a whole title",
        films,
        (
            (40, Title(begun=True, declared=2.2)),
            (41, shape(1.78)),
            (44, shape(2.39)),
            (1_800, Title(begun=False)),
        ),
        [
            (
                "contradicts",
                "engine: readings",
                {"reporter": "player", "said": "2.20", "stood": "2.39"},
            ),
        ],
    ),
    (
        "nobody is free",
        films,
        ((40, Helper(free=False)),),
        [("nobody_free", "engine: panels", {})],
    ),
    (
        "a film that was seen before",
        films,
        (
            (40, Title(begun=True, name="film")),
            (400, Playback(state="stopped")),
            (410, Title(begun=True, name="film")),
        ),
        [("title_remembered", "engine: titles", {"by": "name", "shape": "2.39"})],
    ),
    (
        "a tap",
        films,
        ((40, Mark()), (41, Mark(words="too dark"))),
        [
            ("marked", "engine: mark", {}),
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
    assert notes == [("engine: " + NOTED[code], BARE.catalogue.say("hold", code))]


def test_every_code_has_a_test() -> None:
    """A new one fails here until it has."""
    text = Path(__file__).read_text("utf-8")
    for code in (*get_args(NoteCode), *get_args(PromptEnd)):
        assert f'"{code}"' in text
