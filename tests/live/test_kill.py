"""Killed at any moment, roomcue loses no event, forgets no order and moves the lens once.

Kills at each of five named places of an event's way and at random moments, half of the evenings
with a second room in the process, some with twenty. An evening has several kills, one after
another, so that what is being taken up again is cut short as well: a sample every day, a thousand
kills (times n) in `make soak`.
"""

from __future__ import annotations

import json
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import NamedTuple

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

AT_PLACES = sample(1, 160)
"""So many evenings, each with a kill at every place."""
AT_RANDOM, KILLS_AT_RANDOM = sample(1, 32), sample(3, 5)
"""So many evenings, with so many kills each."""
AMONG_MANY, KILLS_AMONG_MANY = sample(1, 8), sample(1, 5)
MANY = 20
AT_ONCE = 3
"""So many houses live at once: most of their time they wait."""
SEEDS = 4
VICTIM = (sys.executable, "-m", "tests.live.victim")


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path_factory.mktemp("broker")) as one:
        yield one


class AtPlace(NamedTuple):
    """A death at the n-th time that roomcue comes by a place."""

    place: str
    nth: int


class After(NamedTuple):
    """A death some seconds after roomcue was started."""

    seconds: float


@dataclass(frozen=True)
class Doom:
    """How an evening is cut short, again and again; or not at all."""

    name: str
    seed: int
    deaths: Sequence[AtPlace | After] = ()
    """How roomcue dies at its first start, at its second and so on; after them it lives."""
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


class Mortal:
    """roomcue, started again each time that it dies; it dies as it is doomed to."""

    def __init__(self, roomcue: Roomcue, deaths: Sequence[AtPlace | After]) -> None:
        self.kills = 0
        self._roomcue, self._deaths = roomcue, deaths
        self._timers: list[Timer] = []

    @property
    def doomed(self) -> bool:
        """Whether it is to die yet."""
        return self.kills < len(self._deaths)

    def start(self) -> None:
        """Start it; it dies in the way whose turn it is."""
        death = self._deaths[self.kills] if self.doomed else None
        self._roomcue.program = (
            (*VICTIM, *map(str, death)) if isinstance(death, AtPlace) else ROOMCUE
        )
        self._roomcue.start(ready=False)
        if isinstance(death, After):
            self._timers.append(Timer(death.seconds, self._roomcue.kill))
            self._timers[-1].start()

    def look(self) -> None:
        """Start it again where it has died."""
        if self._roomcue.lives():
            return
        assert self._roomcue.process is not None
        assert self._roomcue.process.returncode == -signal.SIGKILL, self._roomcue.said()
        if self._timers:
            self._timers[-1].join()
        self.kills += 1
        self.start()

    def let_go(self) -> None:
        """Kill nobody any more."""
        for timer in self._timers:
            timer.cancel()


def live(doom: Doom, broker: Mosquitto | Port, folder: Path) -> Lived:
    """Live through an evening, however often roomcue is killed in it, until the room rests."""
    room = folder / f"{doom.name}.yaml"
    text = room_text(doom.name)
    journal = folder / f"{doom.name}.journal"
    names = [doom.name, *(f"{doom.name}_beside{number}" for number in range(doom.company))]
    rooms = [room, *(folder / f"{name}.yaml" for name in names[1:])]
    for name, path in zip(names, rooms, strict=True):
        path.write_text(room_text(name))
    roomcue = Roomcue(rooms, journal, port=broker.port)
    mortal, published = Mortal(roomcue, doom.deaths), set()
    with (
        Household(broker.port, doom.name) as house,
        Hub(broker.port) as hub,
        closing(roomcue),
        ExitStack() as stack,
    ):
        stack.callback(mortal.let_go)
        mortal.start()
        while not house.welcomed.wait(0.05):
            mortal.look()
        for wait, subtopic, body in evening(doom.seed):
            time.sleep(wait)  # the evening's own pace
            mortal.look()
            for name in names:
                hub.publish(f"roomcue/{name}/in/{subtopic}", json.dumps(body))
            published.add(body["id"])
        assert all(one.get("error") is None for one in hub.done())
        kills, until_rest = mortal.kills, time.monotonic() + PATIENCE
        while not house.rests(LAST, roomcue.lives) or mortal.doomed:
            mortal.look()
            if mortal.kills != kills:  # each start may have to wait for a processor
                kills, until_rest = mortal.kills, time.monotonic() + PATIENCE
            patience = until_rest + roomcue.starved()
            assert time.monotonic() < patience, f"{house.standing}\n{roomcue.where_it_stands()}"
        assert roomcue.stop() == 0, roomcue.said()
    assert "Traceback" not in roomcue.said(), roomcue.said()
    return Lived(mortal.kills, frozenset(published), house, journal, text)


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
    assert kills == [len(doom.deaths) for doom in dooms], "each of them was killed so often"


def test_killed_at_each_named_place_nothing_is_lost(
    broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    """Each evening begins at another place, and comes by each of them once, early or late."""
    dooms = []
    for number in range(AT_PLACES):
        deaths = []
        for turn in range(len(PLACES)):
            place = PLACES[(number + turn) % len(PLACES)]
            apart = 1 if place == "at the outbox mark" else 2
            deaths.append(AtPlace(place, 1 + (number // len(PLACES) + turn) % 10 * apart))
        dooms.append(Doom(f"p{number}", number % SEEDS, deaths, company=number % 2))
    all_live(dooms, broker, undisturbed, tmp_path)


def test_killed_at_any_moment_nothing_is_lost(
    broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    chance = random.Random(5)
    dooms = [
        Doom(
            f"r{number}",
            number % SEEDS,
            moments(chance, 0.3, 2.2, KILLS_AT_RANDOM),
            company=number % 2,
        )
        for number in range(AT_RANDOM)
    ]
    all_live(dooms, broker, undisturbed, tmp_path)


def moments(chance: random.Random, earliest: float, latest: float, kills: int) -> list[After]:
    """Draw when roomcue dies, in seconds after each start."""
    return [After(chance.uniform(earliest, latest)) for _ in range(kills)]


def test_killed_among_many_rooms_each_of_them_loses_nothing(
    broker: Mosquitto, undisturbed: dict[int, tuple[object, ...]], tmp_path: Path
) -> None:
    """What many rooms hear at one moment is one commit: it is there for all, or for none."""
    chance = random.Random(6)
    dooms = [
        Doom(f"m{number}", number % SEEDS, moments(chance, 1.0, 4.0, KILLS_AMONG_MANY), MANY)
        for number in range(AMONG_MANY)
    ]
    all_live(dooms, broker, undisturbed, tmp_path)
