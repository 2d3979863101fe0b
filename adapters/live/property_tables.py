"""The client library's tables of MQTT 5 properties, built once and not with every packet.

paho-mqtt 2.2 gives each `Properties` lists and dictionaries of its own about all 27 of them, and
reads or writes of every packet make one: as much work as all the rest of reading a packet. Nothing
ever changes these tables, so here all objects look into the same. A release of the library that
keeps anything else in its objects is left as it is.
"""

from __future__ import annotations

from typing import Any, Final

from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

_OWN_ATTRIBUTE: Final = "packetType"
_TABLE_ATTRIBUTES: Final = frozenset({"types", "names", "properties"})


def share_tables() -> bool:
    """Let all properties of this process look into one set of tables; tells whether they do."""
    made = vars(Properties(PacketTypes.PUBLISH))  # type: ignore[no-untyped-call]
    tables = {name: table for name, table in made.items() if name in _TABLE_ATTRIBUTES}
    if made.keys() != _TABLE_ATTRIBUTES | {_OWN_ATTRIBUTE}:
        return False

    def begin(self: Properties, packetType: int) -> None:  # noqa: N803 - the library's name
        # Past `__setattr__`, which looks every name up in a table.
        vars(self).update(tables, packetType=packetType)

    def clear(self: Properties) -> None:
        held: dict[str, Any] = vars(self)
        for name in held.keys() - made.keys():
            del held[name]

    Properties.__init__ = begin  # type: ignore[method-assign]
    Properties.clear = clear  # type: ignore[method-assign]
    return True
