"""Whatever the engine remembers is explored, tried or argued away; a new memory fails here first.

A state of an exploration keeps little of a `Core`. Each part of the rest stands below with the
reason why it may be left out. Random values of it are put into explored states: a real step from
there must lead to no state that is not known, and break none of the engine's invariants.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import fields
from typing import Any, Final

import pytest
from hypothesis import given, settings

from engine.decisions import Decision, RecallOrder
from engine.room import PLAIN, WHOLE, Look, Room, Show
from engine.settle import Settling
from engine.state import (
    Core,
    CueOverride,
    OpenCue,
    OrderedPicture,
    ParkedReading,
    State,
    Timers,
    UnheededWord,
    first_state,
)
from engine.step import choose_and_reconcile
from engine.title_records import Detour, InterruptedTitle, LastChoice, RememberedTitle, StoodShape
from engine.transaction import Transaction
from simulator.proof.environments import LATER, entered
from simulator.proof.equipment import LEFT
from simulator.proof.half_steps import NOW, TALLY
from simulator.proof.invariants import picture_on_panels, step_violations
from simulator.proof.standing_pictures import StandingPictures
from tests.simulator.evenings import Move, every_look, lived, moves
from tests.simulator.small import explored, room_of
from tests.soak import sample

KEPT: Final = {"lens", "preset", "origin", "recall", "panels", "arrangement", "asked"}
"""What identifies a state (`simulator.proof.equipment.state_key`)."""
ANY_ENVIRONMENT: Final = {
    *("projector", "service", "source", "playback", "pause_over", "frame", "range", "three_d"),
    *(
        "minute",
        "told",
        "title",
        "declared",
        "longest",
        "remembered",
        "first_left",
        "varies",
        "tallest",
        "subtitles",
        "doubt",
        "override",
        "override_look",
    ),
}
"""What an environment sets: any may follow any other between two half steps."""
ONLY_ENVIRONMENT: Final = {
    "parked": "a reading that waits; when it counts, it only changes the settled aspect",
    "detected": "whether a format code counts; it only changes the settled aspect",
    "coded": "whether readings count; they only change the settled aspect",
    "unheeded": "what a note says when a title ends",
    "locked": "whether readings count; they only change the settled aspect",
    "columns": "what the coded frame is worked out from",
    "rows": "what the coded frame is worked out from",
    "apart": "when a night's recalls are granted anew; none left and some left are both tried",
    "night": "when a night's recalls were granted; none left and some left are both tried",
    "title_name": "whether a title is another one: titles begin and end at any time",
    "shapes": "what `varies` is worked out from",
    "seen_in": "what `varies` is worked out from",
    "turns": "what `varies` is worked out from",
    "detour": "what `varies` and `tallest` may be again: an environment may have any",
    "stood": "what `longest` and `varies` are worked out from",
    "stands": "what `longest` is worked out from",
    "line": "what `subtitles` is worked out from",
    "series": "by what a title is remembered: any title may begin at any time",
    "left": "what is known of a title that is played on: any may begin, and any wish and any no",
    "titles": "shape and choice of a title: it may have any shape, and a person may wish anything",
    "interrupted": "as for `left`: it may begin at any time, and so may any wish and any no",
    "override_until": "when an override ends: it may end at any time",
    "refused_until": "when a refusal ends: it may end at any time",
    "undo": "what a person may take back: any wish of a person's may come at any time",
}
"""What only decides how the environment goes on, and is read by no order."""
ONLY_HOLDS_BACK: Final = {
    "set_off": "tried with every report of the lens",
    "echo": "tried with every report of the lens",
    "awaited": "tried with every report of the lens; else it holds a recall back",
    "put_back": "holds a recall back as used-up recalls do, which are tried",
    "missed": "tried with every report of the lens",
    "ripe": "a wish is tried before it has lingered and after",
    "picture": "an open picture order is tried wherever one was given",
    "failed": "a failed picture is tried wherever one was ordered",
    "tries": "only decides whether a failed picture is tried again once more",
    "unreached": "holds a recall back as used-up recalls do, which are tried",
    "left_title": "holds a recall back as the night's do, which are tried",
    "back_to": "holds a recall back as used-up recalls do, which are tried",
    "sent_in_vain": "lets a wish linger for longer, and each is tried before it has and after",
    "left_night": "none and some are tried wherever a recall was ordered",
    "recalls": "holds a recall back as used-up recalls do, which are tried",
    "asks": "none and too many are tried wherever somebody was asked",
    "holds": "codes for notes; `flash` alone is read, and tried as a timer",
    "news": "whether recalls and asks are counted anew: both are tried",
    "violated": "whether a note was written before",
    "row": "whether anything was chosen before: tried with a pause",
    "title_row": "names the row of a decision, and whether a note was written before",
    "wanted": "looks that a pause may hold are tried, and all pictures that may be left standing",
    "shown": "pictures of every kind are tried wherever one may be left standing",
    "cues": "orders for cues touch nothing else; promises count any value that was ever ordered",
    "open_cues": "orders for cues touch nothing else; promises count any value ever ordered",
    "cue_wish": "only keeps a cue's order back; promises count any value ever ordered",
    "cue_overrides": "cues touch nothing else; of one that a person has set nothing is promised",
}
"""What only ever keeps an order back, is tried in its way, or touches nothing else."""
TIMERS: Final = {
    "travel": "kept: whether it runs",
    "picture": "tried with an open picture order",
    "retry": "runs out at any time: a failed picture, and none known, are tried everywhere",
    "cue": "runs out at any time and only closes a cue's order",
    "remind": "runs out at any time while a prompt is open",
    "give_up": "runs while a prompt is open, and runs out at any time",
    "pause": "part of the environment",
    "first_minutes": "part of the environment",
    "shape": "only changes what is known of the title",
    "longest": "only changes what is known of the title",
    "lines": "only changes what is known of the title",
    "linger": "a wish is tried before and after",
    "linger_people": "a wish is tried before and after",
    "override": "runs out at any time",
    "cue_wait": "runs out at any time and only lets a cue be ordered",
    "cue_override": "runs out at any time and only gives cues back",
    "session": "runs out at any time while nothing plays",
    "echo": "runs out at any time: its memory is tried and left out",
    "unseen": "tried with every report of the lens",
    "flash": "tried wherever a picture was ordered",
}

ROOMS: Final = ("talking", "silent", "parts", "told", "hayloft")

Drawn = Callable[[Room, Core, random.Random], Any]


def _name(names: Any) -> Drawn:  # noqa: ANN401 - of a room
    return lambda room, _core, rng: rng.choice([None, *names(room)])


def _picture(room: Room, core: Core, rng: random.Random) -> OrderedPicture | None:
    """Draw a picture that may stand here: nobody orders one that falls on panels."""
    standing = StandingPictures(room)
    return rng.choice([None, *standing.safe(core)])


def _cues(room: Room, _core: Core, _rng: random.Random) -> tuple[tuple[str, str], ...]:
    return tuple((name, words[0]) for name, words in room.cues.items())


def _look(room: Room, core: Core, rng: random.Random) -> Look:
    picture = rng.choice([PLAIN, WHOLE, *room.pictures])
    presets, panels = [core.preset, *room.presets], [core.arrangement, *room.panels]
    return Look(picture, rng.choice([0, 400]), rng.choice(presets), rng.choice(panels))


def _chosen(rng: random.Random) -> LastChoice:
    return LastChoice(rng.choice([None, Show(WHOLE)]), rng.choice([(), (("lamps", "low"),)]))


def _interrupted(rng: random.Random) -> InterruptedTitle:
    refused = rng.random() < 0.5
    return InterruptedTitle("a", 20_000, refused=refused, choice=_chosen(rng))


def _remembered(rng: random.Random) -> RememberedTitle:
    return RememberedTitle("a", rng.choice([None, 20_000]), _chosen(rng))


VALUES: Final[dict[str, Drawn]] = {
    "parked": lambda _room, _core, rng: rng.choice([None, ParkedReading(17_778, 13_333)]),
    "locked": lambda _room, _core, rng: rng.random() < 0.5,
    "columns": lambda _room, _core, rng: rng.choice([None, 720, 5_760]),
    "rows": lambda _room, _core, rng: rng.choice([None, 576, 1_080]),
    "apart": lambda _room, _core, rng: rng.randrange(-96, 96) * 900_000,
    "night": lambda _room, _core, rng: rng.choice([None, 0, NOW]),
    "title_name": lambda _room, _core, rng: rng.choice([None, "first"]),
    "shapes": lambda _room, _core, rng: rng.choice([(), (17_778, 23_900)]),
    "turns": lambda _room, _core, rng: rng.choice([0, 5]),
    "seen_in": lambda _room, _core, rng: rng.choice([None, (3_840, 2_160)]),
    "detour": lambda _room, _core, rng: rng.choice(
        [None, Detour((1_920, 1_080), (23_900,), True, 23_900, NOW + 1_000)]
    ),
    "stood": lambda _room, _core, rng: rng.choice([(), (StoodShape(17_778, 9_000),)]),
    "stands": lambda _room, _core, rng: rng.choice([None, StoodShape(23_900, NOW)]),
    "line": lambda _room, _core, rng: rng.choice([None, NOW]),
    "series": lambda _room, _core, rng: rng.choice([None, "second"]),
    "left": lambda _room, _core, rng: rng.choice([(), (_interrupted(rng),)]),
    "titles": lambda _room, _core, rng: rng.choice([(), (_remembered(rng),)]),
    "interrupted": lambda _room, _core, rng: rng.choice([None, _interrupted(rng)]),
    "override_until": lambda _room, _core, rng: rng.choice(["title", "session", "time", "arrival"]),
    "refused_until": lambda _room, _core, rng: rng.choice(["title", "session"]),
    "undo": lambda room, _core, rng: rng.choice([None, _wish(room, rng)]),
    "set_off": lambda _room, _core, rng: rng.random() < 0.5,
    "echo": _name(lambda room: ["", *room.presets]),
    "awaited": lambda _room, _core, rng: rng.choice([None, "ours", "by hand"]),
    "put_back": lambda room, _core, rng: rng.choice([(), ((next(iter(room.sources)), 17_778),)]),
    "missed": _name(lambda room: room.presets),
    "ripe": lambda _room, _core, rng: rng.random() < 0.5,
    "picture": lambda _room, _core, rng: rng.choice([None, 1]),
    "failed": lambda room, _core, rng: room.answers and rng.random() < 0.5,
    "tries": lambda _room, _core, rng: rng.randrange(3),
    "unreached": _name(lambda room: room.presets),
    "left_title": lambda _room, _core, rng: rng.randrange(9),
    "detected": lambda _room, _core, rng: rng.random() < 0.5,
    "coded": lambda _room, _core, rng: rng.choice([None, 17_778]),
    "unheeded": lambda _room, _core, rng: rng.choice([None, UnheededWord(23_900, agreed=False)]),
    "back_to": _name(lambda room: room.presets),
    "left_night": lambda _room, _core, rng: rng.randrange(9),
    "sent_in_vain": lambda _room, _core, rng: rng.randrange(3),
    "recalls": lambda _room, _core, rng: rng.randrange(4),
    "asks": lambda _room, _core, rng: rng.randrange(4),
    "holds": lambda _room, _core, rng: rng.choice([(), ("flash",), ("linger", "nearest")]),
    "news": lambda _room, _core, rng: rng.choice([(), ("disc",)]),
    "violated": lambda _room, _core, rng: rng.random() < 0.5,
    "row": lambda room, _core, rng: rng.choice([None, -1, *range(len(room.rules.rows))]),
    "title_row": lambda room, _core, rng: rng.choice([None, -1, *range(len(room.rules.rows))]),
    "wanted": _look,
    "shown": _picture,
    "cues": _cues,
    "cue_wish": _cues,
    "cue_overrides": lambda room, _core, _rng: tuple(
        CueOverride(name, words[-1], "session", None) for name, words in room.cues.items()
    ),
    "open_cues": lambda room, _core, _rng: tuple(
        OpenCue(900, name, words[0], LATER) for name, words in [*room.cues.items()][:1]
    ),
}


def test_whatever_the_engine_remembers_is_kept_tried_or_argued_away() -> None:
    covered = KEPT | ANY_ENVIRONMENT | {*ONLY_ENVIRONMENT} | {*ONLY_HOLDS_BACK} | {"timers"}
    assert {field.name for field in fields(Core)} == covered
    assert {*Timers._fields} == {*TIMERS}
    assert {*VALUES} == {*ONLY_ENVIRONMENT, *ONLY_HOLDS_BACK}


def remembering(room: Room, core: Core, names: list[str], rng: random.Random) -> Core:
    """Return a core that remembers random values of some parts, with fitting timers."""
    new = core.copy()
    for name in names:
        setattr(new, name, VALUES[name](room, core, rng))
    lingers = not new.ripe and rng.random() < 0.5
    new.timers = new.timers._replace(
        linger=rng.choice([NOW, LATER]) if lingers else None,
        flash=rng.choice([None, LATER]),
        picture=None if new.picture is None else LATER,
        cue=LATER if new.open_cues else None,
        echo=None if new.echo is None else LATER,
    )
    if new.picture is not None and new.shown is None:
        new.picture, new.timers = None, new.timers._replace(picture=None)
    return new


@pytest.mark.parametrize("name", ROOMS)
def test_what_a_state_leaves_out_leads_to_no_other_state(name: str) -> None:
    """From states and environments at random, with all that is left out at random."""
    explorer, _ = explored(name)
    room = explorer.room
    demands = [*explorer.successors.demands.every()]
    rng = random.Random(name)
    for _ in range(sample(800, 60_000)):
        demand = rng.choice(demands)
        core = entered(rng.choice(explorer.cores), demand.environment)
        core.override_look = _wish(room, rng) if core.override == "person" else None
        names = rng.sample([*VALUES], rng.randrange(1, len(VALUES)))
        start = remembering(room, core, names, rng)
        if demand.duties.inert:
            start.shown = start.picture = None
            start.timers = start.timers._replace(picture=None)
        before = start.copy()
        tx = Transaction(room, State(start, demand.environment.settling, TALLY, None), NOW)
        choose_and_reconcile(tx)
        key = explorer.successors.key(tx.core)
        assert key in explorer.index_of, (names, demand.environment)
        assert step_violations(before, tuple(tx.decisions), tx.core) == []
        if not tx.core.failed:
            assert [*picture_on_panels(room, tx.core)] == []


@pytest.mark.parametrize("name", ["talking", "silent", "told"])
def test_more_recalls_left_than_two_are_like_two(name: str) -> None:
    """So a proof looks at two: with any more the same is decided, from any state."""
    explorer, _ = explored(name)
    rng, recalls = random.Random(name), 0
    demands = [one for one in explorer.successors.demands.every() if one.show.preset is not None]
    for _ in range(sample(600, 20_000)):
        demand = rng.choice(demands)
        core = entered(rng.choice(explorer.cores), demand.environment)
        core.override_look = _wish(explorer.room, rng) if core.override == "person" else None
        names = [one for one in VALUES if rng.random() < 0.1]
        start = remembering(explorer.room, core, names, rng)
        start.ripe = True
        settling = demand.environment.settling
        two, many = (
            with_left(explorer.room, start, settling, left) for left in (LEFT, rng.randrange(3, 20))
        )
        assert two == many
        recalls += any(isinstance(one, RecallOrder) for one in two[0])
    assert recalls > 0


def with_left(room: Room, core: Core, settling: Settling, left: int) -> tuple[list[Decision], Core]:
    """Choose and reconcile with so many recalls left; give decisions, and the core without them."""
    new = core.copy()
    new.left_title = new.left_night = left
    tx = Transaction(room, State(new, settling, TALLY, None), NOW)
    choose_and_reconcile(tx)
    after = tx.core.copy()
    after.left_title = after.left_night = 0
    return tx.decisions, after


@pytest.mark.parametrize("name", ["talking", "hayloft"])
@settings(max_examples=sample(20, 500))
@given(todo=moves)
def test_of_a_title_that_has_not_played_no_shapes_are_known(name: str, todo: list[Move]) -> None:
    """So a proof need not try them while playback has stopped, or a pause has lasted."""
    room = room_of(name)
    for state in lived(room, first_state(room), [(13, 0), *todo], every_look(room)):
        core = state.core
        if core.playback == "stopped" or core.pause_over or not core.title:
            assert (core.tallest, core.varies, core.subtitles) == (None, False, False)


def _wish(room: Room, rng: random.Random) -> Show:
    """Draw what a person asks for, of any parts at once."""
    return Show(
        rng.choice([None, PLAIN, WHOLE, *room.pictures]),
        rng.choice([None, None, 0, 5_000]),
        rng.choice([None, *room.presets]),
        rng.choice([None, *room.panels]),
    )
