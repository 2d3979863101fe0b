"""From the text of a room file to a compiled room, or to every finding at once.

`load_room` is what other programs may touch, and `BadRoom`, which it raises with the findings:

    room = load_room(text, "hayloft.yaml")

`text` reads YAML with its places and quantities with their units, `room` the file's sections,
`table` what its rules cover, and `starter` writes a first file. Each stands on those before it.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rules.room.load import load as load_room
    from rules.text.findings import BadRoom

__all__ = ["BadRoom", "load_room"]

if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """Import what is asked for when it is: part of the rules is used without the rest."""
        if name == "load_room":
            return import_module("rules.room.load").load
        if name == "BadRoom":
            return import_module("rules.text.findings").BadRoom
        raise AttributeError(f"module 'rules' has no attribute '{name}'")
