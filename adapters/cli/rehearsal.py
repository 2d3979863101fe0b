"""An evening played against a live room as its hub, its hardware and its people would play it.

Everything goes over the broker. What the room orders and asks is heard there and answered after its
time; what the evening brings, and what somebody types meanwhile, is told there.
"""

from __future__ import annotations

import asyncio
import heapq
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import fields
from datetime import datetime
from itertools import count
from threading import Thread
from time import monotonic
from typing import Any, Final, NamedTuple, Protocol, get_args

from paho.mqtt.client import Client, MQTTMessage
from rich.console import Console

from adapters.cli.console import print_blocks
from adapters.cli.typed_words import TypedError, read_typed
from adapters.live.broker import Broker, BrokerError
from adapters.live.clock import RehearsalClock, WallClock
from adapters.live.live_room import LiveRoom
from adapters.live.messages import (
    ASKED_OF_HUB,
    EVENTS_FROM_OUTSIDE,
    payload_of,
)
from adapters.live.tell_client import ANSWER_WITHIN, listening_client, publish_to_room
from adapters.render.night_text import decision_blocks
from adapters.render.rehearsal_text import (
    HubSide,
    not_said_block,
    rehearsal_totals,
    room_says_blocks,
    waiting_block,
)
from adapters.render.styled import Block
from engine.decisions import DECISIONS, Decision, PromptOver, Withdrawn
from engine.events import (
    READINGS,
    Answer,
    Event,
    Outcome,
    SourceChosen,
    milliseconds,
    moment_of,
)
from simulator.nights.stand_in_hub import Hub, TimedEvent

TICK: Final = 0.005
"""Seconds between two looks at the clock."""
LONGEST_TICK: Final = 0.05
"""Seconds: a machine that was busy for longer than this does not make the staged time jump."""
LONGEST_HOLD: Final = 2.0
"""Seconds for which the staged time waits for a message that is under way."""
AFTERWARDS: Final = 20_000
"""How long (ms) nothing is said after the last event before the evening is over."""
MOST_TYPED_BYTES: Final = 1 << 16
READING: Final = "reading"
"""The key under which the latest reading of any kind is remembered."""
SEVERAL: Final = 2
"""How many presets or arrangements of panels a room has at least if anything can move."""


class RehearsalTime(Protocol):
    """The time in which an evening is played."""

    def now(self) -> int:
        """Say the time in ms UTC."""

    async def go_on(self, told: int, heard: int, up_to: int | None) -> None:
        """Let a moment pass, but nothing beyond `up_to` (ms UTC).

        `told` is how many messages the room was told so far, `heard` how many of its decisions and
        refusals have come.
        """


class LifeTime:
    """The time of a room that runs already: a second takes a second."""

    def __init__(self) -> None:
        self.now = WallClock().now

    async def go_on(self, told: int, heard: int, up_to: int | None) -> None:  # noqa: ARG002 - it waits for nobody
        """Let a moment pass."""
        await asyncio.sleep(TICK)


class StagedTime:
    """The time of a room that lives in this process, which passes as fast as it is wanted.

    It stands still at each deadline of the room, and while a message is under way, so that
    everything comes at its own time, however fast the evening runs.
    """

    def __init__(self, clock: RehearsalClock, room: LiveRoom) -> None:
        self._clock, self._room = clock, room
        self._ticked = self._moved = monotonic()
        self._lost = 0
        """How many decisions and refusals were waited for in vain."""
        self.now = clock.now

    async def go_on(self, told: int, heard: int, up_to: int | None) -> None:
        """Let a moment pass, unless a message is under way."""
        await asyncio.sleep(TICK)
        before, self._ticked = self._ticked, monotonic()
        durable, now = self._room.durable, self.now()
        counts = durable.counts
        unheard = counts.decisions.total() + counts.refusals.total() - heard - self._lost
        if counts.waited < told or unheard > 0:
            if self._ticked - self._moved < LONGEST_HOLD:
                return
            self._lost += unheard
        passed = min(self._ticked - before, LONGEST_TICK) * 1_000 * self._clock.speed
        stops = [one for one in (up_to, durable.deadline) if one is not None]
        self._clock.move_to(max(now, min([now + round(passed), *stops])))
        self._moved = self._ticked


class Heard(NamedTuple):
    """What came from outside: a message of the room, a typed line, or the broker's going."""

    subtopic: str
    payload: bytes
    retained: bool = False


TYPED: Final = "typed"
GONE: Final = "gone"
"""In place of a topic: a line that somebody typed; the broker is not there any more."""


class Rehearsal:
    """One evening with one room."""

    def __init__(self, hub: Hub, time: RehearsalTime, out: Console) -> None:
        self._hub, self._time, self._out = hub, time, out
        self._side = HubSide(hub.room)
        self._heard: asyncio.Queue[Heard] = asyncio.Queue()
        self._due: list[tuple[int, int, Event]] = []
        """What the hub and its people will say, by time and number."""
        self._numbers = count()
        self._told = 0
        self._last = 0
        """When something was last said by anybody (ms UTC)."""
        self._states: dict[str, Event] = {}
        """What was last said of how things are, by topic."""
        self._source: str | None = None
        self._there = False
        self._late = 0
        """By how much the evening is late, for somebody has let it wait (ms)."""
        self._waits_since: int | None = None
        self._quits = False
        self._made = self._refused = 0

    async def play(
        self, broker: Broker, script: Iterable[TimedEvent], heading: Iterable[Block] = ()
    ) -> None:
        """Play a script to its end; raises `BrokerError`.

        The heading is printed once the room is known to be there.
        """
        loop, room = asyncio.get_running_loop(), self._hub.room.name

        def hand_over(heard: Heard) -> None:
            with suppress(RuntimeError):  # the loop has ended meanwhile
                loop.call_soon_threadsafe(self._heard.put_nowait, heard)

        def on_message(message: MQTTMessage) -> None:
            subtopic = message.topic.rsplit("/", 1)[1]
            hand_over(Heard(subtopic, bytes(message.payload), message.retain))

        with listening_client(
            broker, room, on_message, lambda: hand_over(Heard(GONE, b""))
        ) as client:
            await self._await_room(client)
            print_blocks(self._out, heading)
            Thread(target=_read_typed, args=(hand_over,), daemon=True).start()
            await self._play(client, script)
        print_blocks(self._out, rehearsal_totals(self._made, self._refused))

    async def _await_room(self, client: Client) -> None:
        """Wait until the room says that it is there; raises `BrokerError`."""
        ends = monotonic() + ANSWER_WITHIN
        while not self._there:
            await asyncio.sleep(TICK)
            self._hear(client)
            if monotonic() > ends:
                name = self._hub.room.name
                raise BrokerError(f"nobody keeps a room '{name}' at this broker")

    async def _play(self, client: Client, script: Iterable[TimedEvent]) -> None:
        scripted = iter(script)
        coming = next(scripted, None)
        self._last = self._time.now()
        while not self._quits and not (coming is None and self._is_over()):
            self._hear(client)
            hub_next = self._due[0][0] if self._due else None
            waits = coming is None or self._waits_since is not None
            script_next = None if waits or coming is None else coming.now + self._late
            ours = hub_next is not None and (script_next is None or hub_next <= script_next)
            following = hub_next if ours else script_next
            if following is None or following > self._time.now():
                await self._time.go_on(self._told, self._made + self._refused, following)
            elif ours:
                self._tell(client, self._as_shown(heapq.heappop(self._due)[2]))
            elif coming is not None:
                self._tell(client, coming.event)
                coming = next(scripted, None)

    def _is_over(self) -> bool:
        """Say whether nothing more is said, once the script has ended."""
        quiet = not self._due and self._time.now() >= self._last + AFTERWARDS
        return quiet and self._waits_since is None

    def _as_shown(self, event: Event) -> Event:
        """Let the hub report the source that is shown by now, and not when it was ordered."""
        if isinstance(event, SourceChosen) and self._source is not None:
            return SourceChosen(source=self._source)
        return event

    # ---------------------------------------------------------------------------- what is told

    def _tell(self, client: Client, event: Event, *, by_hand: bool = False) -> None:
        """Tell the room something, and show it."""
        subtopic, payload = payload_of(event)
        self._last = self._time.now()
        if subtopic.partition("/")[0] in ASKED_OF_HUB:
            reading = isinstance(event, READINGS)
            self._states[READING if reading else subtopic] = event
        if isinstance(event, SourceChosen):
            self._source = event.source
        print_blocks(self._out, self._side.blocks(self._last, event, by_hand=by_hand))
        publish_to_room(client, self._hub.room.name, subtopic, payload)
        self._told += 1

    def _tell_typed(self, client: Client, line: bytes) -> None:
        """Tell the room what somebody has typed: a few words, or a topic and JSON."""
        words = line.decode(errors="replace").strip()
        if not words or self._is_command(words):
            return
        try:
            event = read_typed(words)
        except TypedError as error:
            print_blocks(self._out, [not_said_block(str(error))])
            return
        if isinstance(event, Answer):
            self._forget_answers(event.prompt)
        self._tell(client, event, by_hand=True)

    def _is_command(self, words: str) -> bool:
        """Do what a line asks of the rehearsal itself, if it asks for something."""
        now = self._time.now()
        match words:
            case "quit":
                self._quits = True
            case "pause":
                if self._waits_since is None:
                    self._waits_since = now
                print_blocks(self._out, [waiting_block()])
            case "go on":
                if self._waits_since is not None:
                    self._late += now - self._waits_since
                self._waits_since = None
            case _:
                return False
        return True

    def _forget_answers(self, prompt: int) -> None:
        """Let the people of the house say nothing more about a prompt."""
        self._forget(lambda event: isinstance(event, Answer) and event.prompt == prompt)

    def _forget(self, which: Callable[[Event], bool]) -> None:
        """Take back what hardware and people were about to say."""
        self._due = [due for due in self._due if not which(due[2])]
        heapq.heapify(self._due)

    # ----------------------------------------------------------------------------- what is heard

    def _hear(self, client: Client) -> None:
        """Take everything that has come; raises `BrokerError`."""
        while not self._heard.empty():
            heard = self._heard.get_nowait()
            if heard.subtopic == GONE:
                raise BrokerError("the broker is not there any more")
            if heard.subtopic == TYPED:
                self._tell_typed(client, heard.payload)
            else:
                self._hear_room(heard)

    def _hear_room(self, heard: Heard) -> None:
        """Take a message of the room."""
        match heard.subtopic:
            case "alive":
                self._there = bool(_data(heard.payload).get("alive"))
            case "order" | "ask" if not heard.retained:
                self._follow(_data(heard.payload))
            case "reason" if not heard.retained:
                self._show(_data(heard.payload))
            case _:
                pass

    def _follow(self, said: dict[str, Any]) -> None:
        """Let hardware and people answer what they were told, each after their time."""
        if said.get("kind") == "question":
            print_blocks(self._out, room_says_blocks(said))
            answers = [TimedEvent(self._time.now(), event) for event in self._states.values()]
        else:
            now = moment_of(self._time.now()).isoformat()
            decision = _decision({**said, "facts": {}, "at": now})
            answers = [] if decision is None else [*self._hub.follow([decision], self._source)]
        for answer in answers:
            heapq.heappush(self._due, (answer.now, next(self._numbers), answer.event))

    def _show(self, said: dict[str, Any]) -> None:
        """Show what the room has decided or refused."""
        self._last = self._time.now()
        decision = _decision(said)
        if decision is None:
            self._refused += said.get("kind") == "refused"
            print_blocks(self._out, room_says_blocks(said))
        else:
            self._made += 1
            print_blocks(self._out, decision_blocks(self._hub.room, decision))
        if isinstance(decision, PromptOver):
            self._forget_answers(decision.prompt)
        elif isinstance(decision, Withdrawn):
            order = decision.order
            self._forget(lambda event: isinstance(event, Outcome) and event.order == order)


def _read_typed(hand_over: Callable[[Heard], None]) -> None:
    """Read lines in a thread that nobody waits for: the last one may never come."""
    with suppress(OSError), open(0, "rb", closefd=False) as file:
        while line := file.readline(MOST_TYPED_BYTES):
            hand_over(Heard(TYPED, line))


FIELDS_OF_DECISIONS: Final = frozenset(
    field.name for decision in get_args(Decision) for field in fields(decision)
)
"""A message says more than its decision, such as the version of the contract."""


def _data(payload: bytes) -> dict[str, Any]:
    """Read a message of the room; what is none counts as empty."""
    try:
        data = json.loads(payload)
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}


def _decision(said: dict[str, Any]) -> Decision | None:
    """Read a decision as a room says it, its moments as RFC 3339; None: it is something else."""
    try:
        moments = {
            name: milliseconds(datetime.fromisoformat(said[name]))
            for name in ("at", "ends")
            if name in said
        }
        own = {name: value for name, value in said.items() if name in FIELDS_OF_DECISIONS}
        return DECISIONS.validate_json(json.dumps({**own, **moments}))
    except (ValueError, TypeError):
        return None


def shortened(script: Iterable[TimedEvent], begins: int, longest: int) -> Iterator[TimedEvent]:
    """Let a script begin at `begins`, and wait for nothing longer than `longest` (both ms)."""
    before: int | None = None
    now = begins
    for timed in script:
        now += 0 if before is None else min(timed.now - before, longest)
        before = timed.now
        yield TimedEvent(now, timed.event)


def longest_gap(hub: Hub) -> int:
    """Give how long the pace of a room may need before everything has followed (ms)."""
    room, pace = hub.room, hub.room.pace
    longest = max(pace.settle) + pace.order
    if len(room.presets) >= SEVERAL:
        longest += pace.linger + room.projector.lens.travel
    if len(room.panels) >= SEVERAL:
        longest += pace.linger_people + (hub.person.answer or 0)
    return longest


def tellable(script: Iterable[TimedEvent]) -> Iterator[TimedEvent]:
    """Leave out what a live room tells itself: the time of day, and that it was stopped."""
    return (timed for timed in script if timed.event.kind in EVENTS_FROM_OUTSIDE)
