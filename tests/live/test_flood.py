"""Floods: whatever is no event changes no order of an evening, and readings take no memory.

A sample every day; 200,000 messages that are no events and 2,000,000 readings (times n) in
`make soak`.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, Final

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from adapters.live.messages import InboundMessage
from rules.room.load import load
from simulator.nights.night_file import NightEntry, decision_line, read_head, read_lines
from simulator.shipped import NIGHTS
from tests.adapters.staging import differences, staged
from tests.golden.evenings import BEGINS
from tests.live.broker import PATIENCE, SMALL, Mosquitto, until
from tests.live.fuzz import no_events
from tests.live.household import Household, room_text
from tests.live.process import Roomcue
from tests.soak import sample

STAGED_NIGHT: Final = "evening"
STAGED_FUZZ = sample(3_000, 100_000)
LIVE_FUZZ = sample(1_000, 100_000)
READINGS = sample(30_000, 2_000_000)
AHEAD: Final = 2_000
"""So many readings may wait in the broker."""
MOST_GROWTH: Final = 8
"""MB; two million readings would take hundreds if each left a trace."""
NOTHING_DROPPED: Final = (*SMALL, "max_queued_messages 0")
"""A broker that lets everything wait: what a flood makes others drop would be missed."""
SESSION_ROOM: Final = "flooded"

BETWEEN_EVENTS: Final = 0.5
"""Seconds between two events, so that none comes within the moments in which the room holds a
picture back: a calm evening would else be in a greater hurry than one beside a flood."""
EVENTS: Final[tuple[tuple[str, dict[str, Any]], ...]] = (
    ("projector", {"state": "lit"}),
    ("lens", {"moving": False, "preset": "broad"}),
    ("panels", {"panels": "open"}),
    ("source", {"source": "disc"}),
    ("helper", {"free": False}),
    ("playback", {"state": "playing"}),
    ("title", {"begun": True, "name": "Rain on slate", "declared": 2.39}),
    ("ratio", {"ratio": 2.39}),
    ("told/guests", {"value": True}),
    ("playback", {"state": "stopped"}),
    ("told/guests", {"value": False}),
    ("playback", {"state": "playing"}),
    ("title", {"begun": True, "name": "A quiet harvest", "declared": 2.39}),
    ("ratio", {"ratio": 2.39}),
    ("playback", {"state": "stopped"}),
    ("playback", {"state": "playing"}),
    ("title", {"begun": True, "name": "A match", "declared": 1.78}),
    ("ratio", {"ratio": 1.78}),
    ("projector", {"state": "off"}),
)
"""An evening; each is told once the room has done what followed from the one before, so that how
far apart two of them come decides nothing. Nobody is free to fit panels, so nobody's answer comes
at a moment of its own."""


def test_a_night_among_messages_that_are_no_events_leads_to_the_same_decisions(
    tmp_path: Path,
) -> None:
    """To the byte and to the millisecond; and the journal replays as ever."""
    first, *rest = (NIGHTS / f"{STAGED_NIGHT}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    room = load(head.room_file, head.room)
    entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
    each = STAGED_FUZZ // len(entries) + 1
    fuzz = no_events(1, each * len(entries))
    with staged(room, tmp_path / "journal", head.start) as stage:
        refused = 0
        for entry in entries:
            stage.pass_to(entry.now)
            rubbish = [InboundMessage(*next(fuzz)) for _ in range(each)]
            refused += len(stage.durable.take(rubbish).refusals)
            assert entry.event is not None
            stage.hear(entry.event)
        made = [decision_line(BEGINS, decision) for decision in stage.decisions]
        assert made == (NIGHTS / f"{STAGED_NIGHT}.decisions.jsonl").read_bytes().splitlines()
        assert refused == each * len(entries), "each was refused once, with a reason"
        assert differences(room, stage.lines()) == []


def client_of(port: int) -> Client:
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.max_inflight_messages_set(200)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    return client


def publish_all(client: Client, messages: Sequence[tuple[str, bytes]]) -> None:
    """Publish what is no event, every other message at QoS 1, and wait until the broker has it."""
    topics = f"roomcue/{SESSION_ROOM}/in"
    said = [
        client.publish(f"{topics}/{subtopic}", payload, number % 2)
        for number, (subtopic, payload) in enumerate(messages)
    ]
    for one in said:
        one.wait_for_publish(PATIENCE)


def orders_of(folder: Path, *, flooded: bool) -> list[dict[str, Any]]:
    """Live through the evening; gives its orders without what tells the time or the journal.

    An outcome waits behind the flood before it, on a busy machine for minutes: no order ends then.
    """
    folder.mkdir()
    room = folder / "room.yaml"
    text = room_text(SESSION_ROOM).replace("wait: 12 s", "wait: 10 min")
    room.write_text(text.replace("order: 60 s", "order: 10 min"))
    fuzz = no_events(2, LIVE_FUZZ)
    with (
        Mosquitto(folder / "broker", NOTHING_DROPPED) as broker,
        Roomcue([room], folder / "journal", "--log", "json", port=broker.port) as roomcue,
        Household(broker.port, SESSION_ROOM) as house,
    ):
        assert house.welcomed.wait(PATIENCE)
        hub, stranger = client_of(broker.port), client_of(broker.port)
        for subtopic, data in EVENTS:
            time.sleep(BETWEEN_EVENTS)  # the evening's own pace
            rubbish = [*islice(fuzz, LIVE_FUZZ // len(EVENTS) + 1)] if flooded else []
            flood = threading.Thread(target=publish_all, args=(stranger, rubbish))
            flood.start()
            topic = f"roomcue/{SESSION_ROOM}/in/{subtopic}"
            hub.publish(topic, json.dumps(data), 1).wait_for_publish(PATIENCE)
            flood.join()
            until(lambda: house.is_idle(roomcue.lives), f"it rests:\n{house.standing}")
        assert not flooded or next(fuzz, None) is None, "all of it was published"
        for client in (hub, stranger):
            client.disconnect()
            client.loop_stop()
        assert "Traceback" not in roomcue.said()
        assert roomcue.stop() == 0
        return [untimed(house.orders[number]) for number in sorted(house.orders)]


def untimed(order: dict[str, Any]) -> dict[str, Any]:
    """Leave out of an order what tells the time or the journal."""
    return {
        name: value for name, value in order.items() if name not in {"at", "ends", "ends_in", "id"}
    }


def test_an_evening_beside_a_flood_of_no_events_gives_the_orders_of_an_undisturbed_one(
    tmp_path: Path,
) -> None:
    calm = orders_of(tmp_path / "calm", flooded=False)
    assert {one["kind"] for one in calm} == {"picture", "cue", "recall"}
    assert orders_of(tmp_path / "flooded", flooded=True) == calm


def memory_of(roomcue: Roomcue) -> int:
    """Give the MB that a process takes."""
    assert roomcue.process is not None
    status = Path(f"/proc/{roomcue.process.pid}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) // 1_024


def trembling(count: int) -> Iterator[bytes]:
    """Give readings of which each differs from the one before."""
    for number in range(count):
        top, bottom = 138 + number % 7, 138 + number // 7 % 11
        body = {"top": top, "bottom": bottom, "left": 0, "right": 0, "columns": 1920, "rows": 1080}
        yield json.dumps(body).encode()


@pytest.mark.parametrize("count", [READINGS])
def test_readings_take_no_memory(count: int, tmp_path: Path) -> None:
    """Every reading differs, so each is a line of the journal, which packs them meanwhile.

    They come at QoS 0, as the contract has them, but for each tenth: what is drained from the
    socket is one commit. The hub waits now and then until the room has caught up.
    """
    room = tmp_path / "room.yaml"
    room.write_text(room_text(SESSION_ROOM))
    with (
        Mosquitto(tmp_path / "broker", NOTHING_DROPPED) as broker,
        Roomcue([room], tmp_path / "journal", "--log", "json", port=broker.port) as roomcue,
        Household(broker.port, SESSION_ROOM) as house,
    ):
        assert house.welcomed.wait(PATIENCE)
        hub = client_of(broker.port)
        topic = f"roomcue/{SESSION_ROOM}/in/bars"
        after_a_tenth = 0
        for number, reading in enumerate(trembling(count), 1):
            hub.publish(topic, reading, int(number % 10 == 0))
            if number % AHEAD == 0:
                until(lambda: house.hears(roomcue.lives), "it has caught up")
            if number == count // 10:
                until(lambda: house.is_idle(roomcue.lives), "a tenth is heard")
                after_a_tenth = memory_of(roomcue)
        until(lambda: house.is_idle(roomcue.lives), "all is heard")
        grown = memory_of(roomcue) - after_a_tenth
        assert grown <= MOST_GROWTH, f"{grown} MB more than after a tenth ({after_a_tenth} MB)"
        hub.disconnect()
        hub.loop_stop()
        assert roomcue.stop() == 0
