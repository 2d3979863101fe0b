"""Build the client library's tables of MQTT 5 properties once, and not with every packet.

paho-mqtt 2.2 builds its tables of all 27 properties anew in every `Properties` object, and makes
such an object for every packet. That costs as much as all other work of reading a packet. The
tables never change, so here all objects share one set. If a release of the library keeps other
attributes in these objects, it is left unchanged.
"""

from __future__ import annotations

from typing import Any, Final

from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

_OWN_ATTRIBUTE: Final = "packetType"
_TABLE_ATTRIBUTES: Final = frozenset({"types", "names", "properties"})


def share_tables() -> bool:
    """Let all `Properties` objects of this process share one set of tables.

    Return False, and change nothing, if this release of the library is not known.
    """
    made = vars(Properties(PacketTypes.PUBLISH))  # type: ignore[no-untyped-call]
    tables = {name: table for name, table in made.items() if name in _TABLE_ATTRIBUTES}
    if made.keys() != _TABLE_ATTRIBUTES | {_OWN_ATTRIBUTE}:
        return False

    def begin(self: Properties, packetType: int) -> None:  # noqa: N803 - the library's name
        # Bypass `__setattr__`, which looks every name up in a table.
        vars(self).update(tables, packetType=packetType)

    def clear(self: Properties) -> None:
        held: dict[str, Any] = vars(self)
        for name in held.keys() - made.keys():
            del held[name]

    Properties.__init__ = begin  # type: ignore[method-assign]
    Properties.clear = clear  # type: ignore[method-assign]
    return True
