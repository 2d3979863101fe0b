"""A process that is stopped (SIGSTOP) and goes on: roomcue, or its broker.

libfaketime shows roomcue that minutes have passed meanwhile, by every clock; nobody waits for them.
"""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.live.broker import Mosquitto, until
from tests.live.household import Household, room_text
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish_all
from tests.live.test_clock import Watch

NAME = "stopped"
IN, OUT = f"roomcue/{NAME}/in", f"roomcue/{NAME}/out"
TEXT = (
    room_text(NAME)
    .replace("taller: 40 ms", "taller: 3 s")
    .replace("order: 60 s", "order: 5 s")
    .replace("wait: 12 s", "wait: 1 s")
)
"""A shape needs 3 s to settle; an order ends after 5 s."""


class Stopping:
    """A live room that can be stopped for as long as it takes to show it another time."""

    def __init__(self, folder: Path, broker: Mosquitto) -> None:
        self._watch, self._passed = Watch(folder), 0
        env = {**self._watch.env, "FAKETIME_DONT_FAKE_MONOTONIC": "0"}
        file = folder / "room.yaml"
        file.write_text(TEXT)
        self.room = Roomcue([file], folder / "journal", port=broker.port, env=env)

    def stands_still(self, seconds: int) -> None:
        """Stop it, let so many seconds pass, and let it go on."""
        assert self.room.process is not None
        self.room.process.send_signal(signal.SIGSTOP)
        self._passed += seconds
        self._watch.off(self._passed)
        self.room.process.send_signal(signal.SIGCONT)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as one:
        yield one


def told(broker: Mosquitto, *facts: tuple[str, dict[str, object]]) -> None:
    publish_all(broker.port, [(f"{IN}/{kind}", json.dumps(body)) for kind, body in facts])


def film(broker: Mosquitto) -> None:
    told(
        broker,
        ("projector", {"state": "lit"}),
        ("lens", {"moving": False, "preset": "tall"}),
        ("panels", {"panels": "open"}),
        ("source", {"source": "disc"}),
        ("playback", {"state": "playing"}),
        ("title", {"begun": True}),
    )


def test_an_order_that_was_due_while_roomcue_was_stopped_is_given_with_its_whole_time(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """Its end has not passed as it leaves, the hub carries it out, and is asked what it missed."""
    stopping = Stopping(tmp_path, broker)
    with (
        stopping.room as room,
        Household(broker.port, NAME) as house,
        Listener(broker.port, f"{OUT}/ask") as asked,
    ):
        film(broker)
        told(broker, ("ratio", {"ratio": 2.39}))
        until(lambda: shows(house, "2.39") and house.is_idle(room.lives), "it is wide")
        known, questions = set(house.orders), len(asked.questions())
        told(broker, ("ratio", {"ratio": 1.78}), ("mark", {"words": "by the way"}))
        until(lambda: "by the way" in room.said(), "it is heard")
        stopping.stands_still(10)
        until(lambda: set(house.orders) - known, "what was due is ordered")
        later = [one for number, one in house.orders.items() if number not in known]
        for order in later:
            assert order["ends_in"] >= 4, order
            assert moment(order["ends"]) > moment(order["at"])
        until(lambda: shows(house, "1.78") and house.is_idle(room.lives), "it stands")
        asked.wait_for(lambda _: len(asked.questions()) > questions, "the hub is asked")
        assert house.changed == []
        assert room.stop() == 0


def test_whoever_is_at_the_screen_is_warned_first_where_roomcue_was_stopped(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """It was stopped for longer than they had: no light comes before the warning."""
    stopping = Stopping(tmp_path, broker)
    with stopping.room as room, Listener(broker.port, f"{OUT}/#") as heard:
        film(broker)
        told(broker, ("ratio", {"ratio": 1.78}))
        prompt = heard.wait_for(lambda one: one.data.get("kind") == "prompt", "a prompt").data["id"]
        told(broker, ("answer", {"prompt": prompt, "answer": "ready", "who": "Ana"}))
        dark = heard.wait_for(
            lambda one: one.data.get("picture") == "dark" and one.subtopic == "order", "darkness"
        )
        told(broker, ("outcome", {"order": dark.data["id"], "outcome": "done"}))
        heard.wait_for(lambda one: one.data.get("stage") == "at the screen", "they may begin")
        before = len(heard.messages)
        stopping.stands_still(60 * 60)
        heard.wait_for(lambda one: one.data.get("stage") == "light comes back", "they are warned")
        stopping.stands_still(60 * 60)
        heard.wait_for(lambda one: one.data.get("kind") == "prompt over", "then it is over")
        said = [*map(lit_or_said, heard.messages[before:])]
        assert said.index("light comes back") < said.index("prompt over")
        assert "light" not in said[: said.index("light comes back")]
        assert room.stop() == 0


def lit_or_said(message: object) -> str | None:
    """Tell a warning, an end, or a picture that is ordered with light."""
    subtopic, data = message.subtopic, message.data  # type: ignore[attr-defined]
    if subtopic == "order" and data["kind"] == "picture" and data["picture"] != "dark":
        return "light"
    return data.get("stage") or data.get("kind") if subtopic == "ask" else None


def test_the_hub_is_asked_after_a_stop_in_which_nothing_was_due(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """A reading may have been lost meanwhile, and nobody else would notice that."""
    stopping = Stopping(tmp_path, broker)
    with stopping.room as room, Listener(broker.port, f"{OUT}/ask") as asked:
        told(broker, ("projector", {"state": "off"}), ("mark", {"words": "by the way"}))
        until(lambda: "by the way" in room.said(), "it is heard")
        questions = asked.questions()
        stopping.stands_still(10)
        until(lambda: asked.questions() > questions, "it is asked again")
        assert room.stop() == 0


def test_a_broker_that_was_stopped_hands_everything_on_once(
    broker: Mosquitto, tmp_path: Path
) -> None:
    """What falls due meanwhile waits in the outbox; the connection is the same afterwards."""
    file = tmp_path / "room.yaml"
    file.write_text(TEXT.replace("taller: 3 s", "taller: 2 s"))
    with (
        Roomcue([file], tmp_path / "journal", port=broker.port) as room,
        Household(broker.port, NAME) as house,
    ):
        film(broker)
        told(broker, ("ratio", {"ratio": 2.39}))
        until(lambda: shows(house, "2.39") and house.is_idle(room.lives), "it is wide")
        told(broker, ("ratio", {"ratio": 1.78}), ("mark", {"words": "by the way"}))
        until(lambda: "by the way" in room.said(), "it is heard")
        before = room.said().count(": picture ")
        broker.pause()
        until(lambda: room.said().count(": picture ") > before, "the order is decided")
        broker.go_on()
        until(lambda: shows(house, "1.78") and house.is_idle(room.lives), "it stands")
        assert room.said().count("broker is there") == 1
        assert house.changed == []
        assert room.stop() == 0


def shows(house: Household, shape: str) -> bool:
    """Tell whether the room has settled on a shape, and its picture is known to stand."""
    standing = house.standing
    ordered = standing["parts"]["picture"]["ordered"] if "parts" in standing else ""
    return standing.get("shape") == shape and ordered is None


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
