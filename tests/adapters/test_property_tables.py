"""MQTT 5 properties (2.2.2) are read and written as the client library itself does it."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec, module_from_spec
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from adapters.live import property_tables

OURS: Any = Properties
UNTOUCHED: Any
"""The library's own module, loaded a second time: nothing was changed in it."""
_SPEC = find_spec("paho.mqtt.properties")
assert _SPEC is not None
assert _SPEC.loader is not None
UNTOUCHED = module_from_spec(_SPEC)
_SPEC.loader.exec_module(UNTOUCHED)

WORDS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=9)
OF_A_MESSAGE = st.fixed_dictionaries(
    {},
    optional={
        "PayloadFormatIndicator": st.integers(0, 1),
        "MessageExpiryInterval": st.integers(0, 2**32 - 1),
        "ContentType": WORDS,
        "ResponseTopic": WORDS,
        "CorrelationData": st.binary(max_size=9),
        "SubscriptionIdentifier": st.integers(1, 268_435_455),
        "TopicAlias": st.integers(1, 65_535),
        "UserProperty": st.tuples(WORDS, WORDS),
    },
)
"""What a message may carry (MQTT 5.0, 3.3.2.3), each within its range."""


@pytest.fixture(autouse=True, scope="module")
def _shared() -> Iterator[None]:
    """Share the tables for these tests, whether or not another test has done so."""
    kept = OURS.__init__, OURS.clear
    OURS.__init__, OURS.clear = UNTOUCHED.Properties.__init__, UNTOUCHED.Properties.clear
    assert property_tables.share_tables()
    yield
    OURS.__init__, OURS.clear = kept


def filled(made: Any, values: dict[str, object]) -> Any:  # noqa: ANN401 - of either module
    for name, value in values.items():
        setattr(made, name, value)
    return made


@given(OF_A_MESSAGE)
def test_the_bytes_are_those_of_the_library(values: dict[str, object]) -> None:
    ours = filled(OURS(PacketTypes.PUBLISH), values)
    theirs = filled(UNTOUCHED.Properties(PacketTypes.PUBLISH), values)
    assert ours.pack() == theirs.pack()


@given(OF_A_MESSAGE, OF_A_MESSAGE)
def test_what_is_read_is_what_was_written_and_nothing_of_before(
    values: dict[str, object], before: dict[str, object]
) -> None:
    data = filled(UNTOUCHED.Properties(PacketTypes.PUBLISH), values).pack()
    ours = filled(OURS(PacketTypes.PUBLISH), before)
    theirs = UNTOUCHED.Properties(PacketTypes.PUBLISH)
    assert ours.unpack(data)[1] == theirs.unpack(data)[1] == len(data)
    assert ours.json() == theirs.json()


@pytest.mark.parametrize("packet", [PacketTypes.PUBACK, PacketTypes.CONNECT, PacketTypes.PUBLISH])
def test_what_does_not_go_with_a_packet_is_still_refused(packet: int) -> None:
    ours: Any = OURS(packet)
    theirs: Any = UNTOUCHED.Properties(packet)
    for name in theirs.names:
        outcomes = []
        for made in (ours, theirs):
            try:
                setattr(made, name, 1)
            except Exception as error:  # noqa: BLE001 - whatever the library raises
                outcomes.append(type(error).__name__)
            else:
                outcomes.append("taken")
        assert outcomes[0] == outcomes[1], name


def test_one_object_knows_nothing_of_another() -> None:
    one: Any = OURS(PacketTypes.PUBLISH)
    one.MessageExpiryInterval = 30
    assert OURS(PacketTypes.PUBLISH).isEmpty()


def test_a_library_that_keeps_other_things_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    class Other(UNTOUCHED.Properties):  # type: ignore[misc]
        def __init__(self, packet_type: int) -> None:
            super().__init__(packet_type)
            self.__dict__["another"] = {}

    begin = Other.__init__
    monkeypatch.setattr(property_tables, "Properties", Other)
    assert not property_tables.share_tables()
    assert Other.__init__ is begin
