"""What is explored is all there is: no evening leaves it, and what is broken is found."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import engine.reconcile
from engine import RoomEngine
from engine.events import (
    Answer,
    BarsSeen,
    BlackSeen,
    Event,
    FormatCode,
    Mark,
    Outcome,
    Playback,
    RatioSeen,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from engine.facts import facts_of, standing_of
from engine.handlers import apply_event
from engine.refusal import Refused
from engine.room import (
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    Room,
)
from engine.state import Core, first_state
from engine.table import choose
from engine.transaction import Transaction
from simulator.nights.invention import BEGINS, NightPlan, invent_events
from simulator.nights.stand_in_hub import Hub, Person, play_script
from simulator.proof.alphabet import ALPHABET
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey
from simulator.proof.event_steps import Share
from simulator.proof.faults import ENGINE
from simulator.proof.reachability import Explorer
from simulator.shipped import DEMO_ROOM
from tests.engine.meetings import START, evenings
from tests.engine.story import HAYLOFT, Story
from tests.engine.test_step import steps
from tests.simulator.evenings import Move, begun, every_look, lived, moves
from tests.simulator.small import (
    PARTS,
    SILENT,
    SMALL,
    TALKING,
    changed,
    checked,
    explore,
    explored,
    room_of,
)
from tests.soak import sample

FULL = NightPlan(titles=4, minutes=9, pauses=0.9, slips=0.7)


# ------------------------------------------------------------------------- what may be heard


@pytest.fixture(scope="module")
def busy() -> Core:
    """Give a moment at which a picture, a cue, a recall and a prompt are under way."""
    story = Story()
    story.film(0, 2.39)
    story.done(1)
    story.at(3, Playback(state="stopped"))
    story.done(3.1)
    story.film(4, 1.78)
    story.done(5)
    story.at(25, None)
    core = story.core
    assert core.picture is not None or core.recall is not None
    return core


@pytest.mark.parametrize("kind", get_args(Event))
def test_every_kind_of_event_is_told_by_its_own_teller(kind: type[Event], busy: Core) -> None:
    told = list(ALPHABET[kind](HAYLOFT, busy))
    assert told
    assert {type(event) for event in told} == {kind}


def test_whatever_waits_for_a_word_is_given_one(busy: Core) -> None:
    waiting = {busy.picture, busy.recall, *(cue.id for cue in busy.open_cues)} - {None}
    outcomes = list(ALPHABET[Outcome](HAYLOFT, busy))
    assert waiting <= {one.order for one in outcomes if isinstance(one, Outcome)}
    story = Story(lens="tall")
    story.film(0, 1.78)
    story.at(13, None)
    asked = story.core.asked
    assert asked is not None
    answers = list(ALPHABET[Answer](HAYLOFT, story.core))
    assert asked.id in {one.prompt for one in answers if isinstance(one, Answer)}


# -------------------------------------------------------------- no evening leaves the states


def outside(explorer: Explorer, core: Core) -> StateKey | None:
    """Give the key of a state that the exploration does not know."""
    key = explorer.successors.key(core)
    return None if key in explorer.index_of else key


@pytest.mark.parametrize("name", SMALL)
@settings(max_examples=sample(15, 500))
@given(data=st.data())
def test_no_evening_gets_anywhere_that_was_not_explored(name: str, data: st.DataObject) -> None:
    """Whatever a room may meet: right, wrong, late and doubled."""
    explorer, _ = explored(name)
    for _, _, after in steps(explorer.room, data.draw(evenings(explorer.room))):
        assert outside(explorer, after.core) is None


@pytest.mark.parametrize("name", SMALL)
@settings(max_examples=sample(15, 500))
@given(todo=moves)
def test_no_evening_of_mishaps_gets_anywhere_either(name: str, todo: list[Move]) -> None:
    """Orders that end in every way, prompts answered in every way, all at any time."""
    explorer, _ = explored(name)
    room = explorer.room
    todo = [(13, 0), *todo]
    for state in lived(room, first_state(room), todo, every_look(room)):
        assert outside(explorer, state.core) is None


@pytest.mark.parametrize("name", SMALL)
@settings(max_examples=sample(30, 500))
@given(todo=moves, at=st.integers(0), number=st.integers(0), hurry=st.integers(0, 99))
def test_from_no_state_that_was_explored_does_a_way_lead_out(
    name: str, todo: list[Move], at: int, number: int, hurry: int
) -> None:
    """From wherever the equipment stands, in any environment, the real engine goes on."""
    explorer, _ = explored(name)
    room = explorer.room
    start = begun(explorer, at % len(explorer.cores), environment_of(explorer, number), hurry)
    for state in lived(room, start, todo[:12], every_look(room)):
        assert outside(explorer, state.core) is None


def environment_of(explorer: Explorer, number: int) -> Environment:
    """Pick one of a room's environments."""
    every = [*explorer.successors.demands.every()]
    return every[number % len(every)].environment


@pytest.mark.parametrize("name", SMALL)
@pytest.mark.parametrize("person", [Person(), Person(says_no=True), Person(answer=None)])
def test_no_made_night_with_an_obedient_hub_gets_anywhere_else(name: str, person: Person) -> None:
    explorer, _ = explored(name)
    room = explorer.room
    for seed in range(3):
        engine = RoomEngine(room)
        for _ in play_script(engine, Hub(room, person), invent_events(room, seed, BEGINS, FULL)):
            assert outside(explorer, engine.state.core) is None


# ------------------------------------------------------------------------- one stands for all


@given(todo=moves, at=st.integers(0), number=st.integers(0))
def test_no_picture_that_a_person_asks_for_leads_where_plain_and_whole_do_not(
    todo: list[Move], at: int, number: int
) -> None:
    """So a state need not remember the picture."""
    explorer, _ = explored("hayloft")
    room = explorer.room
    start = begun(explorer, at % len(explorer.cores), environment_of(explorer, number), 50)
    looks = every_look(room, wanted=tuple(room.pictures))
    for state in lived(room, start, todo[:12], looks):
        assert outside(explorer, state.core) is None


# ------------------------------------------------------ what is only said of the environment

OUTSIDE = (SourceChosen, Playback, Title, Signal, BarsSeen, BlackSeen, RatioSeen, FormatCode,
    ToldFact, TimeOfDay, Mark)  # fmt: skip
"""Events that say nothing of lens, panels or people."""
EQUIPMENT = ("lens", "preset", "origin", "recall", "set_off", "panels", "arrangement", "asked")


@pytest.mark.parametrize("name", SMALL)
@given(at=st.integers(0), number=st.integers(0), which=st.integers(0))
def test_an_event_about_the_environment_changes_nothing_of_the_equipment(
    name: str, at: int, number: int, which: int
) -> None:
    """So such events need not be tried one by one: to change the environment is enough."""
    explorer, _ = explored(name)
    room = explorer.room
    before = begun(explorer, at % len(explorer.cores), environment_of(explorer, number), 50)
    events = [event for kind in OUTSIDE for event in ALPHABET[kind](room, before.core)]
    turn = Transaction(room, before, START)
    try:
        apply_event(turn, events[which % len(events)])
    except Refused:
        return
    for part in EQUIPMENT:
        assert getattr(turn.core, part) == getattr(before.core, part)
    if before.core.failed:  # once more, for something has changed
        assert turn.core.shown in {None, before.core.shown}
    else:
        assert turn.core.shown == before.core.shown
    assert explorer.successors.key(turn.core) == explorer.successors.key(before.core)


# ------------------------------------------------------------------------ what is broken is found


def promised(*tests: str) -> tuple[str, str]:
    """Add promises to a small room, called by their numbers."""
    listed = "".join(
        f"  - {{name: p{number}, never: {{{test}}}, because: It is so.}}\n"
        for number, test in enumerate(tests)
    )
    return "rules:\n", f"promises:\n{listed}rules:\n"


def found(room: Room) -> set[str]:
    """Name the promises that an exploration finds broken."""
    explored = explore(room)
    assert explored.complete
    return {broken.promise for broken in explored.violations}


def soon_found(room: Room) -> set[str]:
    """Name those that are found broken among the first states."""
    return {broken.promise for broken in explore(room, limit=150).violations}


@pytest.mark.parametrize("name", SMALL)
def test_these_rooms_keep_all_their_promises(name: str) -> None:
    _, exploration = explored(name)
    assert exploration.complete
    assert exploration.violations == ()


@pytest.mark.parametrize("name", ["talking", "silent"])
def test_the_right_engine_moves_nothing_in_a_pause(name: str) -> None:
    """Wrong ones are found out in `test_pause`."""
    _, exploration = explored(name)
    assert [one for one in exploration.violations if one.promise.startswith(ENGINE)] == []


def test_check_says_that_the_room_that_comes_along_loads_and_keeps_its_promises() -> None:
    done, _ = checked(DEMO_ROOM)
    assert done.exit_code == 0
    assert "hayloft loads: 3 sources, 2 presets, 12 rules, 6 promises" in done.output
    assert "Proven in every state that the room can reach:" in done.output


def test_a_row_that_stretches_menus_is_found() -> None:
    room = changed(TALKING, ("show: {picture: whole, lift: 0 %}", "show: {picture: gentle}"))
    assert MENUS_PLAIN in soon_found(room)


def test_a_row_that_leaves_menus_as_a_stretched_film_stood_is_found() -> None:
    room = changed(
        PARTS, ("show: {picture: plain}\n      because: Menus", "show: {}\n      because: Menus")
    )
    assert MENUS_PLAIN in soon_found(room)


KEPT = (
    "playback: playing, aspect: '>= 2.30', override: rules, picture: 'gentle, closer'",
    "playback: stopped, picture: gentle",
    "override: rules, lift: '> 0 %'",
)
BROKEN = (
    "playback: playing, aspect: '>= 2.30', preset: tall",
    "override: person, picture: closer",
    "override: person, picture: whole, range: high",
    "playback: paused, picture: whole",
    "source: console, picture: null, preset: tall",
    "source: null, preset: broad",
    "playback: playing, travelling: yes",
)


def test_promises_that_cannot_hold_are_found_and_those_that_hold_are_not() -> None:
    """Pictures that stand on under an override or in a pause, and what holds without light."""
    wrong = {f"p{number}" for number in range(len(BROKEN))}
    assert found(changed(TALKING, promised(*BROKEN, *KEPT))) == wrong


PARTS_OF_PROMISES = {
    "playback": ("playing", "paused", "stopped", "unknown"),
    "aspect": ("'>= 2.30'", "'[1.70..1.95)'", "'[2.10..2.30)'", "null"),
    "source": ("disc", "console"),
    "first_minutes": ("yes", "no"),
    "preset": ("broad", "tall", "null"),
    "picture": ("plain", "whole", "gentle", "closer", "null", "not(plain)"),
    "lift": ("'> 0 %'", "null"),
    "travelling": ("yes", "no"),
    "override": ("rules", "person"),
}
TESTS = st.dictionaries(
    st.sampled_from(sorted(PARTS_OF_PROMISES)), st.integers(0), min_size=2, max_size=3
)


@settings(max_examples=5)
@given(
    tests=st.lists(TESTS, min_size=12, max_size=12),
    nights=st.lists(moves, min_size=20, max_size=20),
)
def test_whatever_promise_an_evening_breaks_the_exploration_has_found_broken(
    tests: list[dict[str, int]], nights: list[list[Move]]
) -> None:
    written = [
        ", ".join(
            f"{name}: {PARTS_OF_PROMISES[name][which % len(PARTS_OF_PROMISES[name])]}"
            for name, which in test.items()
        )
        for test in tests
    ]
    room = changed(TALKING, promised(*written))
    wrong = found(room)
    kept = [promise for promise in room.promises if promise.label not in wrong]
    for night in nights:
        for state in lived(room, first_state(room), [(13, 0), *night], every_look(room)):
            if "flash" in state.core.holds:
                continue  # the old picture stands on for a third of a second
            facts = facts_of(room, state.core, state.settling) | standing_of(room, state.core)
            assert [one.because for one in kept if choose(one.never, facts).output] == []


def never(*_: object) -> bool:
    return False


def always(*_: object) -> bool:
    return True


@pytest.mark.parametrize(
    ("part", "fault", "room", "promise"),
    [
        ("_unsafe", never, SILENT, NO_PICTURE_ON_PANELS),
        ("first_minutes_run", always, TALKING, NO_TRAVEL_IN_MID_TITLE),
        ("_menu", never, TALKING, MENUS_PLAIN),
    ],
)
def test_an_engine_with_a_fault_is_found_out(
    monkeypatch: pytest.MonkeyPatch, part: str, fault: Callable[..., bool], room: str, promise: str
) -> None:
    monkeypatch.setattr(engine.reconcile, part, fault)
    assert promise in soon_found(changed(room))


# ---------------------------------------------------------------------------- how far it goes


def test_what_is_cut_off_is_not_called_complete() -> None:
    whole = explored("talking")[1]
    cut = explore(room_of("talking"), limit=whole.states // 2)
    assert whole.complete
    assert not cut.complete
    assert cut.states <= whole.states // 2 + 1
    assert explore(room_of("talking"), limit=whole.states).complete


def test_who_helps_out_with_a_share_gives_each_state_that_its_own_worker_would_give() -> None:
    """What they found in another share may come later in the order of all."""
    successors, cores = Explorer(room_of("talking")).successors, explored("talking")[0].cores[:40]
    seen = [set[StateKey](), set[StateKey]()]
    for number in (1, 0):
        for at, core in enumerate(cores):
            for one in successors.after_events(at, core, Share(number, 2)).successors:
                assert one.core is not None or one.key in seen[number]
                seen[number].add(one.key)
    assert seen[0] & seen[1]


def test_more_workers_find_the_same() -> None:
    explorer = Explorer(room_of("talking"))
    assert explorer.run(workers=2) == explored("talking")[1]
