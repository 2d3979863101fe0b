"""One message told as a hub would tell it, and what the room answers meanwhile."""

from __future__ import annotations

import json
import queue
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from secrets import token_bytes
from time import monotonic
from typing import Any, Final, NamedTuple

from paho.mqtt.client import Client, MQTTMessage, MQTTMessageInfo
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from adapters.live.broker import Broker, BrokerError
from adapters.live.messages import PEOPLES_TOPICS, TOPIC_ROOT, read_message
from adapters.safe_text import escaped
from engine.refusal import Refused

ANSWER_WITHIN: Final = 10.0
"""Seconds that the broker may take to answer."""


class RoomReply(NamedTuple):
    """One thing that the room has said."""

    words: str
    refused: bool = False


def tell_broker(
    broker: Broker, room: str, subtopic: str, payload: str, wait: float
) -> Iterator[RoomReply]:
    """Publish one message, then give what the room says for `wait` seconds; raises BrokerError."""
    subtopic = subtopic.removeprefix(f"{TOPIC_ROOT}/{room}/").removeprefix("in/")
    try:
        read_message(subtopic, payload.encode())
    except Refused as refused:
        raise BrokerError(f"the room would refuse this: {refused.words}") from refused
    except UnicodeEncodeError as error:
        raise BrokerError("the payload is no text: write it in UTF-8") from error
    heard: queue.SimpleQueue[MQTTMessage] = queue.SimpleQueue()
    with listening_client(broker, room, heard.put) as client:
        mark = token_bytes(16) if subtopic.partition("/")[0] in PEOPLES_TOPICS else None
        sent = publish_to_room(client, room, subtopic, payload.encode(), mark)
        sent.wait_for_publish(ANSWER_WITHIN)
        if sent.rc is not MQTTErrorCode.MQTT_ERR_SUCCESS or not sent.is_published():
            raise BrokerError("the broker did not take the message")
        yield from _replies(heard, wait, room, mark)


@contextmanager
def listening_client(
    broker: Broker,
    room: str,
    on_message: Callable[[MQTTMessage], None],
    on_gone: Callable[[], None] = lambda: None,
) -> Iterator[Client]:
    """Connect as a hub that hears all that a room says; raises `BrokerError`.

    `on_message` and `on_gone` (the broker is not there any more) are called in another thread.
    """
    ready: queue.SimpleQueue[ReasonCode] = queue.SimpleQueue()
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    broker.introduce(client)
    client.on_message = lambda _client, _data, message: on_message(message)
    client.on_connect = lambda _client, _data, _flags, reason, _props: ready.put(reason)
    client.on_subscribe = lambda _client, _data, _mid, reasons, _props: ready.put(reasons[0])
    client.on_disconnect = lambda _client, _data, _flags, _reason, _props: on_gone()
    try:
        client.connect(broker.host, broker.port)
    except OSError as error:
        raise BrokerError(
            f"no broker answers at {broker.host}:{broker.port} ({error.strerror or error}): start "
            "it, or name the room's own with --broker"
        ) from error
    client.loop_start()
    try:
        _await_answer(ready, "connect")
        client.subscribe(f"{TOPIC_ROOT}/{room}/out/+", qos=0)
        _await_answer(ready, "listen")
        yield client
    finally:
        client.disconnect()
        client.loop_stop()


def publish_to_room(
    client: Client, room: str, subtopic: str, payload: bytes, mark: bytes | None = None
) -> MQTTMessageInfo:
    """Publish one message to a room; a person's reply is known by the `mark`."""
    topic = f"{TOPIC_ROOT}/{room}/in/{subtopic}"
    return client.publish(topic, payload, qos=1, properties=_asking_for_reply(mark))


def _await_answer(ready: queue.SimpleQueue[ReasonCode], what: str) -> None:
    try:
        reason = ready.get(timeout=ANSWER_WITHIN)
    except queue.Empty:
        raise BrokerError(f"the broker does not let us {what}: it does not answer") from None
    if reason.is_failure:
        raise BrokerError(f"the broker does not let us {what}: {reason}")


def _asking_for_reply(mark: bytes | None) -> Properties | None:
    """Mark a person's word, so that its reply is known among those to others."""
    if mark is None:
        return None
    properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
    properties.CorrelationData = mark
    return properties


def _replies(
    heard: queue.SimpleQueue[MQTTMessage], wait: float, room: str, mark: bytes | None
) -> Iterator[RoomReply]:
    """Give what is said meanwhile, and what it means that nothing is; raises BrokerError.

    A person's word, which has a `mark`, gets a reply of its own: the last that is given, unless
    none comes in time.
    """
    there: bool | None = None
    silent = True
    ends = monotonic() + wait
    while (left := ends - monotonic()) > 0:
        try:
            message = heard.get(timeout=left)
        except queue.Empty:
            break
        data = _read(message.payload)
        if message.retain:
            there = data.get("alive", there)
            continue
        line = escaped(f"{message.topic} {message.payload.decode(errors='replace')}")
        refused = data.get("kind") == "refused" or data.get("taken") is False
        if mark is not None and getattr(message.properties, "CorrelationData", None) == mark:
            yield RoomReply(line, refused=refused)
            yield RoomReply(_in_short(data), refused=refused)
            return
        silent = False
        yield RoomReply(line, refused=refused)
    if wait <= 0 or (mark is None and not silent):
        return
    if there is None:
        raise BrokerError(f"nobody keeps a room '{room}' at this broker")
    yield RoomReply(_silence(wait, there=there, replied=mark is None))


def _silence(wait: float, *, there: bool, replied: bool) -> str:
    """Say what it means that nothing was heard."""
    if not there:
        return "roomcue is not there: the broker keeps it for when it is back."
    if replied:
        return "It is taken, and changes nothing."
    return f"No reply came within {wait:g} s, though roomcue is there: ask for how it stands."


def _in_short(data: dict[str, Any]) -> str:
    """Give a reply's sentences as one reads them."""
    following = data.get("next")
    steps = [one.get("words") for one in following or () if isinstance(one, dict)]
    sentences = [data.get("words"), data.get("help"), *steps]
    said = " ".join(one for one in sentences if isinstance(one, str))
    return escaped(f"{'Taken' if data.get('taken') else 'Not taken'}: {said}")


def _read(payload: bytes | bytearray) -> dict[str, Any]:
    try:
        data = json.loads(payload)
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}
