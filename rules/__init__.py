"""From the text of a room file to a compiled room, or to every finding at once.

Other programs may use `load_room`, and `BadRoom`, which it raises with all findings:

    room = load_room(text, "hayloft.yaml")

`text` reads YAML, quantities and cells. `room` reads the file's sections and compiles the room.
`words` holds the sentences that people read. `table` analyses its rules. `starter` writes a first
room file. Each package imports only from those named before it.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rules.room.load import load as load_room
    from rules.text.findings import BadRoom

__all__ = ["BadRoom", "load_room"]

if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """Import a name when it is first used, so that a part of this floor loads without all."""
        if name == "load_room":
            return import_module("rules.room.load").load
        if name == "BadRoom":
            return import_module("rules.text.findings").BadRoom
        raise AttributeError(f"module 'rules' has no attribute '{name}'")

    def __dir__() -> list[str]:
        """List the names that may be used, whether they are loaded yet or not."""
        return [*__all__]
