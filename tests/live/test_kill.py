"""Killed at any moment, roomcue loses no event, forgets no order and moves the lens once.

Kills at each of five named places of an event's way and at random moments, half of them with a
second room in the process, some with twenty: a sample every day, a thousand (times n) in
`make soak`.
"""

from __future__ import annotations

import json
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from threading import Timer

import pytest

from adapters.cli.night_export import export_night
from adapters.live.journal import Journal
from engine.decisions import CueOrder, PictureOrder, RecallOrder, Withdrawn
from engine.events import Outcome
from engine.snapshot import decode, finite_shape
from engine.state import NO_TIMERS, State
from rules.room.load import load
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import engine_for
from tests.adapters.staging import differences
from tests.live.broker import PATIENCE, Mosquitto, Port
from tests.live.household import LAST, Household, evening, room_text
from tests.live.process import ROOMCUE, Roomcue
from tests.live.strangers import Hub
from tests.live.victim import PLACES
from tests.soak import sample

AT_A_PLACE = sample(1, 160)
AT_RANDOM = sample(3, 160)
AMONG_MANY = sample(1, 40)
MANY = 20
AT_ONCE = 3
"""So many houses live at once: most of their time they wait."""
SEEDS = 4
VICTIM = (sys.executable, "-m", "tests.live.victim")


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path_factory.mktemp("broker")) as one:
        yield one


@dataclass(frozen=True)
class Doom:
    """How an evening is cut short: at a place, or after some seconds; or not at all."""

    name: str
    seed: int
    place: str | None = None
    count: int = 0
    after: float | None = None
    company: int = 0
    """How many other rooms live the same evening in the same process, without hardware: then
    pages are committed together."""


@dataclass(frozen=True)
class Lived:
    """What an evening left."""

    kills: int
    published: frozenset[str]
    house: Household
    journal: Path
    text: str


def live(doom: Doom, broker: Mosquitto | Port, folder: Path) -> Lived:
    """Live through an evening, however roomcue is killed in it, until the room rests."""
    room = folder / f"{doom.name}.yaml"
    text = room_text(doom.name)
    journal = folder / f"{doom.name}.journal"
    program = ROOMCUE if doom.place is None else (*VICTIM, doom.place, str(doom.count))
    names = [doom.name, *(f"{doom.name}_beside{number}" for number in range(doom.company))]
    rooms = [room, *(folder / f"{name}.yaml" for name in names[1:])]
    for name, path in zip(names, rooms, strict=True):
        path.write_text(room_text(name))
    roomcue = Roomcue(rooms, journal, port=broker.port, program=program)
    published, kills = set(), 0

    def revived() -> int:
        """Start roomcue again where it has died; gives how often it had."""
        if roomcue.lives():
            return 0
        assert roomcue.process is not None
        assert roomcue.process.returncode == -signal.SIGKILL, roomcue.said()
        roomcue.program = ROOMCUE
        roomcue.start(ready=False)
        return 1

    with Household(broker.port, doom.name) as house, Hub(broker.port) as hub, closing(roomcue):
        roomcue.start(ready=False)
        death = Timer(doom.after or 0, roomcue.kill)
        if doom.after is not None:
            death.start()
        while not house.welcomed.wait(0.05):
            kills += revived()
        for wait, subtopic, body in evening(doom.seed):
            time.sleep(wait)  # the evening's own pace
            kills += revived()
            for name in names:
                hub.publish(f"roomcue/{name}/in/{subtopic}", json.dumps(body))
            published.add(body["id"])
        assert all(one.get("error") is None for one in hub.done())
        if doom.after is not None:
            death.join()
        until_rest = time.monotonic() + PATIENCE
        while not house.rests(LAST, roomcue.lives) or (kills == 0 and doom.place is not None):
            kills += revived()
            patience = until_rest + roomcue.starved()
            assert time.monotonic() < patience, f"{house.standing}\n{roomcue.where_it_stands()}"
        assert roomcue.stop() == 0, roomcue.said()
    assert "Traceback" not in roomcue.said(), roomcue.said()
    return Lived(kills, frozenset(published), house, journal, text)


def judge(lived: Lived, undisturbed: tuple[object, ...]) -> None:
    """Hold what an evening left against what must hold."""
    room = load(lived.text, "room")
    night = export_night(lived.journal, room.name, "2000-01-01", None, without_titles=False)
    lines = [*night.lines]
    assert differences(room, lines) == [], "its journal replays to the byte"
    head = read_head(lines[0])
    entries = [one for one in read_lines(head.start, lines[1:]) if isinstance(one, NightEntry)]

    engine = engine_for(room, head)  # its ids begin with the journal's epoch
    taken: Counter[str] = Counter()
    for entry in entries:
        reply = engine.receive(entry.event, entry.now)
        if entry.event is not None and reply.refusal is None:
            taken[entry.event.id or ""] += 1
    del taken[""]
    assert set(taken.values()) == {1}, "an event with an id takes effect once"
    heard = {one.event.id for one in entries if one.event is not None}
    assert lived.published <= heard, "what was acknowledged is in the journal"

    state = engine.state
    decisions = [one.decision for one in entries if one.decision is not None]
    gone = {one.order for one in decisions if isinstance(one, Withdrawn)}
    answered = {one.event.order for one in entries if isinstance(one.event, Outcome)}
    orders = [one for one in decisions if isinstance(one, PictureOrder | RecallOrder | CueOrder)]
    counted = {one.preset: one.ordered + one.by_hand for one in state.tally.travels}
    assert counted == dict(lived.house.travels), "what was counted is what the lens did"
    latest = {(one.kind, getattr(one, "cue", "")): one.id for one in orders}
    assert {*latest.values()} - gone <= {*lived.house.orders}, "every open order was delivered"
    assert answered <= {one.id for one in orders}
    assert lived.house.changed == [], "an order keeps its number"
    assert at_rest(state) == undisturbed, "and the room stands as after an undisturbed evening"


def at_rest(state: State) -> tuple[object, ...]:
    """Give how a room stands, but for what counts recalls, runs on, or belongs to a travel.

    What moved last is left out as well: after a kill the same orders come in another order.
    """
    core = state.core.copy()
    core.undo = None
    core.left_title = core.left_night = core.recalls = core.asks = 0
    core.timers = NO_TIMERS
    core.echo = core.night = core.minute = core.origin = core.back_to = None
    core.set_off = False
    return finite_shape(state._replace(core=core, due=None))


def final(lived: Lived) -> tuple[object, ...]:
    with closing(Journal(lived.journal)) as journal:
        kept = journal.kept(load(lived.text, "room").name)
        assert kept is not None
        return at_rest(decode(kept.state))


@pytest.fixture(scope="module")
def undisturbed(
    broker: Mosquitto, tmp_path_factory: pytest.TempPathFactory
) -> dict[int, tuple[object, ...]]:
    """How evenings stand at their end when nothing befalls them."""
    folder = tmp_path_factory.mktemp("undisturbed")

    def ends(seed: int) -> tuple[object, ...]:
        lived = live(Doom(f"calm{seed}", seed), broker, folder)
        assert lived.kills == 0
        stands = final(lived)
        judge(lived, stands)
        return stands

    with ThreadPoolExecutor(AT_ONCE) as houses:
        return dict(enumerate(houses.map(ends, range(SEEDS))))


def all_live(
    dooms: list[Doom], broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], folder: Path
) -> None:
    def one(doom: Doom) -> int:
        lived = live(doom, broker, folder)
        judge(lived, undisturbed[doom.seed])
        return lived.kills

    with ThreadPoolExecutor(AT_ONCE) as houses:
        kills = [*houses.map(one, dooms)]
    assert kills == [1] * len(dooms), "each of them was killed"


@pytest.mark.parametrize("place", PLACES)
def test_killed_at_a_named_place_nothing_is_lost(
    place: str, broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    number = PLACES.index(place)
    apart = 1 if place == "at the outbox mark" else 2
    dooms = [
        Doom(
            f"p{number}x{index}",
            (number + index) % SEEDS,
            place,
            1 + (number + index) % 10 * apart,
            company=(number + index) % 2,
        )
        for index in range(AT_A_PLACE)
    ]
    all_live(dooms, broker, undisturbed, tmp_path)


def test_killed_at_any_moment_nothing_is_lost(
    broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    chance = random.Random(5)
    dooms = [
        Doom(f"r{index}", index % SEEDS, after=chance.uniform(0.3, 2.2), company=index % 2)
        for index in range(AT_RANDOM)
    ]
    all_live(dooms, broker, undisturbed, tmp_path)


def test_killed_among_many_rooms_each_of_them_loses_nothing(
    broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    """What many rooms hear at one moment is one commit: it is there for all, or for none."""
    chance = random.Random(6)
    dooms = [
        Doom(f"m{index}", index % SEEDS, after=chance.uniform(1.0, 4.0), company=MANY)
        for index in range(AMONG_MANY)
    ]
    all_live(dooms, broker, undisturbed, tmp_path)
