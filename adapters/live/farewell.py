"""The last word of a room that is stopped between two connections: one more, to say goodbye.

Without it the broker would go on telling that the room is alive, up to the end of that word.
"""

from __future__ import annotations

from time import monotonic
from typing import Final

from paho.mqtt.client import Client, ConnectFlags
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from adapters.live.announcements import gone_message
from adapters.live.broker import Broker, ClientName
from adapters.live.connection import KEEPALIVE, client_with_will
from adapters.live.messages import TOPIC_ROOT
from adapters.live.publish_properties import session_properties

LOOK_EVERY: Final = 0.1
"""Seconds between two looks at whether the time is over."""


def say_gone(name: ClientName, broker: Broker, within: float) -> None:
    """Connect, say that nobody keeps the room, and leave; raises OSError.

    It blocks for up to `within` seconds for each of connecting and saying so. What the session
    brings is not acknowledged: it comes again to whoever keeps the room next.
    """
    topic = f"{TOPIC_ROOT}/{name.room}/out/alive"
    body = gone_message(name.epoch, name.run).body

    def say(
        client: Client, _data: object, _flags: ConnectFlags, reason: ReasonCode, _props: object
    ) -> None:
        if reason.is_failure:
            client.disconnect()
        else:
            client.publish(topic, body, qos=1, retain=True)

    def leave(
        client: Client, _data: object, _packet: int, _reason: ReasonCode, _props: Properties
    ) -> None:
        client.disconnect()

    client = client_with_will(name.client_id, topic, body)
    broker.introduce(client)
    client.connect_timeout = within
    client.on_connect, client.on_publish = say, leave
    properties = session_properties()
    client.connect(broker.host, broker.port, KEEPALIVE, clean_start=False, properties=properties)
    ends = monotonic() + within
    while client.loop(LOOK_EVERY) == MQTTErrorCode.MQTT_ERR_SUCCESS and monotonic() < ends:
        pass
