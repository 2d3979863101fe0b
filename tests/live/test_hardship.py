"""What must not stop a room: a full disk, a flood next door, and whatever anybody may publish."""

from __future__ import annotations

import json
import resource
import signal
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    RETAINABLE_TOPICS,
    ROOM_FILE_TOPIC,
    InboundMessage,
)
from engine.snapshot import encode
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, staged
from tests.golden.evenings import BEGINS
from tests.live.broker import SMALL, Mosquitto, until
from tests.live.household import room_text
from tests.live.process import Roomcue
from tests.live.strangers import Hub, Listener, publish, publish_all
from tests.soak import sample

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
ROOM_FOR_THE_JOURNAL = 200_000
FILM: tuple[tuple[str, dict[str, object]], ...] = (
    ("projector", {"state": "lit"}),
    ("lens", {"moving": False, "preset": "tall"}),
    ("panels", {"panels": "open"}),
    ("source", {"source": "disc"}),
    ("playback", {"state": "playing"}),
    ("title", {"begun": True, "declared": 1.78}),
)
KEEPS_ALL = (*SMALL, "max_queued_messages 0")
"""By itself a broker drops what a room has not taken past 1,000: a quicker hub meets that."""


def test_with_a_full_disk_nothing_is_acknowledged_and_with_room_again_nothing_was_lost(
    tmp_path: Path,
) -> None:
    """The limit of a file's size stands for the disk: writing past it fails as on a full one."""
    with (
        Mosquitto(tmp_path / "b", keeps=True) as broker,
        Roomcue([DEMO_ROOM], tmp_path / "j", "--log", "json", port=broker.port) as room,
        Listener(broker.port, "roomcue/hayloft/out/standing") as listener,
    ):
        assert room.process is not None
        _limit(room.process.pid, ROOM_FOR_THE_JOURNAL)
        mark = json.dumps({"words": "x" * 450})
        with Hub(broker.port) as hub:
            for _ in range(400):
                hub.publish("roomcue/hayloft/in/mark", mark)
            hub.publish("roomcue/hayloft/in/source", '{"source":"disc"}')
            until(lambda: "journal cannot be written" in room.said(), "it is said")
            assert "disc" not in "".join(one.payload for one in listener.messages)
            _limit(room.process.pid, resource.RLIM_INFINITY)
            listener.wait_for(lambda one: one.data["source"] == "disc", "what was held back")
            assert len(hub.done()) == 401
        until(lambda: room.said().count('"code":"marked"') == 400, "every mark, once")
        assert "Traceback" not in room.said()


def _limit(pid: int, size: int) -> None:
    """Limit how large a running process's files may become."""
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def test_a_disk_that_is_full_as_somebody_answers_costs_nothing_but_time(tmp_path: Path) -> None:
    """Their word counts once, the picture is darkened once, and nothing is thought to be lost.

    On a busy machine it may take minutes: no order ends, and is given anew, meanwhile.
    """
    file = tmp_path / "attic.yaml"
    file.write_text(room_text("attic").replace("order: 60 s", "order: 10 min"))
    with (
        Mosquitto(tmp_path / "b", keeps=True) as broker,
        Roomcue([file], tmp_path / "j", "--log", "json", port=broker.port) as room,
        Listener(broker.port, "roomcue/attic/out/+") as ears,
    ):
        assert room.process is not None
        facts = (*FILM, ("mark", {"words": "all told"}))
        publish_all(broker.port, [(f"roomcue/attic/in/{kind}", json.dumps(b)) for kind, b in facts])
        asked = ears.wait_for(lambda one: one.data.get("kind") == "prompt", "a prompt")
        ears.wait_for(lambda one: one.data.get("reason") == "all told", "all is heard")
        _limit(room.process.pid, 4_096)
        answer = {"prompt": asked.data["id"], "answer": "ready", "who": "Ana"}
        publish(broker.port, "roomcue/attic/in/answer", json.dumps(answer))
        ears.wait_for(lambda one: one.data.get("faults"), "that the disk is full")
        until(lambda: room.said().count("cannot be written") > 2, "it is tried again")
        before = len(ears.messages)
        _limit(room.process.pid, resource.RLIM_INFINITY)
        ears.wait_for(lambda one: one.data.get("picture") == "dark", "darkness")
        publish(broker.port, "roomcue/attic/in/mark", '{"words":"the end"}')
        ears.wait_for(lambda one: one.data.get("reason") == "the end", "the end")
        said = [one for one in ears.messages[before:] if one.subtopic in ("order", "reply")]
        assert [one.data["kind"] for one in said] == ["withdrawn", "picture", "reply", "reply"]


def test_a_flood_on_one_room_leaves_the_others_awake(tmp_path: Path) -> None:
    """Each room has a connection and a window of its own; the loud one is served too."""
    quiet_room = tmp_path / "quiet.yaml"
    quiet_room.write_text(HAYLOFT.text.replace("hayloft", "quiet"))
    flood = [
        ("roomcue/hayloft/in/ratio", json.dumps({"ratio": 1.33 + index % 140 / 100}))
        for index in range(8_000)
    ]
    with (
        Mosquitto(tmp_path / "b", KEEPS_ALL) as broker,
        Roomcue([DEMO_ROOM, quiet_room], tmp_path / "j", port=broker.port) as room,
        Listener(broker.port, "roomcue/+/out/standing") as listener,
        Hub(broker.port) as loud,
    ):
        until(lambda: room.said().count("broker is there") == 2, "both rooms are live")
        for topic, payload in flood:
            loud.publish(topic, payload)
        publish_all(broker.port, [("roomcue/quiet/in/source", '{"source":"disc"}')])
        publish(broker.port, "roomcue/hayloft/in/source", '{"source":"console"}')
        listener.wait_for(lambda one: one.data["source"] == "disc", "the quiet room")
        listener.wait_for(lambda one: one.data["source"] == "console", "the loud one")
        assert len(loud.done()) == len(flood)


def test_where_the_broker_has_dropped_that_a_source_is_shown_the_hub_is_asked(
    tmp_path: Path,
) -> None:
    """While roomcue stood still more came than its broker keeps: what was dropped nobody knows."""
    with (
        Mosquitto(tmp_path / "b", (*SMALL, "max_queued_messages 20")) as broker,
        Roomcue([DEMO_ROOM], tmp_path / "j", port=broker.port) as room,
        Listener(broker.port, "roomcue/hayloft/out/+") as ears,
    ):
        assert room.process is not None
        publish(broker.port, "roomcue/hayloft/in/source", '{"source":"disc"}')
        ears.wait_for(lambda one: one.data.get("source") == "disc", "the disc")
        room.process.send_signal(signal.SIGSTOP)
        marks = [("roomcue/hayloft/in/mark", json.dumps({"words": f"{n}"})) for n in range(100)]
        publish_all(broker.port, [*marks, ("roomcue/hayloft/in/source", '{"source":"console"}')])
        room.process.send_signal(signal.SIGCONT)
        ears.wait_for(lambda one: one.data.get("reason") == "29", "what the broker has kept")
        asked = len(ears.questions())
        play = '{"state":"playing","source":"console"}'
        publish(broker.port, "roomcue/hayloft/in/playback", play)
        ears.wait_for(lambda one: one.data.get("code") == "not_shown", "it is not shown")
        ears.wait_for(lambda _: len(ears.questions()) > asked, "the hub is asked")
        assert ears.of("standing")[-1].data["source"] == "disc"


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)
FIELDS = sorted(
    {name for event in EVENTS_FROM_OUTSIDE.values() for name in event.__dataclass_fields__}
)
DATES = st.sampled_from(
    ["0000-01-01T00:00:00Z", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "now", ""]
)
VALUES: st.SearchStrategy[Any] = (
    JSON | DATES | st.sampled_from([10**400, -1, float("nan"), float("inf"), "\ud800", "\x1b[2J"])
)
OBJECTS = st.dictionaries(st.sampled_from(FIELDS), VALUES, max_size=4)
BYTES = (
    st.binary(max_size=60)
    | st.sampled_from([b"[" * 5_000, b'{"a":' * 2_000, b'"' + b"x" * 70_000 + b'"', b"\xff\xfe"])
    | (OBJECTS | JSON).map(lambda data: json.dumps(data).encode("utf-8", "surrogatepass"))
)
LEAVES = st.sampled_from(
    [*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC, "told/guests", "told/", "told/a/b", "resumed", "time"]
) | st.text(max_size=12)
MESSAGES = st.builds(InboundMessage, LEAVES, BYTES, st.booleans(), st.none(), st.just(False))


@settings(
    max_examples=sample(60, 1_000),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.lists(MESSAGES, max_size=6))
def test_whatever_is_published_is_taken_or_refused_with_a_reason(
    tmp_path_factory: Any,  # noqa: ANN401 - pytest's
    messages: list[InboundMessage],
) -> None:
    """Nothing raises, a refusal changes nothing, and the room goes on."""
    folder = tmp_path_factory.mktemp("fuzz")
    with staged(HAYLOFT, folder / "journal", BEGINS) as stage:
        for message in messages:
            _either_or(stage, message)
        stage.durable.take([InboundMessage("source", b'{"source":"console"}')])
        assert stage.durable.engine.state.core.source == "console"


def _either_or(stage: Stage, message: InboundMessage) -> None:
    before = encode(stage.durable.engine.state)
    answer = stage.durable.take([message])
    if answer.refusals:
        ((refused, subtopic, _),) = answer.refusals
        assert refused.code
        assert refused.words
        assert subtopic == message.subtopic
        assert encode(stage.durable.engine.state) == before
    elif message.retained and message.payload:
        assert message.subtopic.partition("/")[0] in RETAINABLE_TOPICS
