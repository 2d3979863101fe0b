"""The embedded broker is one of another make: evenings go at it as they do at mosquitto.

It speaks MQTT 5, and yet it is another broker in these: it hands clients their own messages back
although they ask it not to ("no local"), it does not answer whoever leaves a topic that they never
listened to, and it keeps nothing over a restart of its own. So no story here restarts it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.live.broker import Broker
from adapters.live.embedded_broker import running_broker
from rules.room.load import load
from simulator.nights.night_file import NightEntry, decision_line, read_head, read_lines
from simulator.shipped import NIGHTS
from tests.adapters.staging import differences
from tests.golden.evenings import BEGINS
from tests.live.broker import Port, until
from tests.live.household import room_text
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish
from tests.live.test_first_evening import listening_at, two_free_ports
from tests.live.test_golden_evenings import kept, lines_of
from tests.live.test_kill import AtPlace, Doom, final, judge, live
from tests.live.victim import PLACES
from tests.soak import sample

GOLDEN = "evening"
AT_PLACES = PLACES[3:4] if sample(0, 1) == 0 else PLACES
ALIVE = "roomcue/loud/out/alive"


@pytest.fixture(scope="module")
def broker() -> Iterator[Port]:
    port = two_free_ports()
    with running_broker(port):
        until(lambda: listening_at(port), "it listens")
        yield Port(port)


def test_an_evening_goes_as_it_does_elsewhere_whatever_kills_roomcue(
    broker: Port, tmp_path: Path
) -> None:
    """Nothing is lost, every order is carried out once, and the room ends as undisturbed."""
    calm = live(Doom("calm", 0), broker, tmp_path)
    stands = final(calm)
    judge(calm, stands)
    lived = live(Doom("killed", 0, [AtPlace(place, 3) for place in AT_PLACES]), broker, tmp_path)
    assert lived.kills == len(AT_PLACES)
    judge(lived, stands)


async def test_a_golden_evening_leads_to_its_decisions_here_too(
    broker: Port, tmp_path: Path
) -> None:
    first, *rest = (NIGHTS / f"{GOLDEN}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    journal, room = tmp_path / "journal", load(head.room_file, head.room)
    async with kept(room, journal, head.start, Broker("127.0.0.1", broker.port)) as evening:
        for entry in read_lines(head.start, rest):
            assert isinstance(entry, NightEntry)
            assert entry.event is not None
            await evening.pass_to(entry.now)
            await evening.hear(entry.event)
    lines = lines_of(journal)
    assert differences(room, lines) == []
    made = [
        decision_line(BEGINS, one.decision)
        for one in read_lines(head.start, lines[1:])
        if isinstance(one, NightEntry) and one.decision is not None
    ]
    assert made == (NIGHTS / f"{GOLDEN}.decisions.jsonl").read_bytes().splitlines()


def test_a_room_that_hears_itself_here_does_not_answer_itself(broker: Port, tmp_path: Path) -> None:
    """It said a thousand times a second that it was alive, each time because it had heard so."""
    file = tmp_path / "room.yaml"
    file.write_text(room_text("loud"))
    with (
        Listener(broker.port, ALIVE) as listener,
        Roomcue([file], tmp_path / "journal", port=broker.port) as room,
    ):
        listener.wait_for(lambda one: one.data["alive"], "it is alive")
        publish(broker.port, "roomcue/loud/in/source", '{"source": "disc"}')
        until(lambda: ": picture " in room.said(), "it decides")
        assert len(listener.messages) < 5, "once as it begins, and once as it is greeted"
        assert room.stop() == 0
