"""The engine: what a projection room does about an event, as pure functions over immutable data.

Whole numbers go in and come out, the time is handed in with each event, and there is no clock, no
file, no network and no chance: the same events give the same decisions, byte for byte.

What other programs may touch stands in `__all__` below; `README.md` beside this file shows it in
ten lines. The project's own floors also import from the modules, which may change at any time.
`planning` computes what people read before a room is built and never decides anything.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.decisions import (
        CueOrder,
        Decision,
        Note,
        PictureOrder,
        Prompt,
        PromptOver,
        RecallOrder,
        Withdrawn,
        decision_json,
    )
    from engine.events import (
        Answer,
        BarsSeen,
        BlackSeen,
        Event,
        FormatCode,
        LensReport,
        Mark,
        Outcome,
        Override,
        OverrideLook,
        PanelReport,
        Playback,
        ProjectorReport,
        RatioSeen,
        Resumed,
        Service,
        Signal,
        SourceChosen,
        TimeOfDay,
        Title,
        ToldFact,
        event_json,
        read_event,
    )
    from engine.refusal import Refused
    from engine.room import Room
    from engine.room_engine import Reply, RoomEngine
    from engine.state import State

__all__ = [
    "Answer",
    "BarsSeen",
    "BlackSeen",
    "CueOrder",
    "Decision",
    "Event",
    "FormatCode",
    "LensReport",
    "Mark",
    "Note",
    "Outcome",
    "Override",
    "OverrideLook",
    "PanelReport",
    "PictureOrder",
    "Playback",
    "ProjectorReport",
    "Prompt",
    "PromptOver",
    "RatioSeen",
    "RecallOrder",
    "Refused",
    "Reply",
    "Resumed",
    "Room",
    "RoomEngine",
    "Service",
    "Signal",
    "SourceChosen",
    "State",
    "TimeOfDay",
    "Title",
    "ToldFact",
    "Withdrawn",
    "decision_json",
    "event_json",
    "read_event",
]

_MODULES = ("room_engine", "events", "decisions", "refusal", "room", "state")

if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """Import what is asked for when it is: a command that needs one module loads no others."""
        if name in __all__:
            for module in map(import_module, [f"engine.{each}" for each in _MODULES]):
                if hasattr(module, name):
                    return getattr(module, name)
        raise AttributeError(f"module 'engine' has no attribute '{name}'")

    def __dir__() -> list[str]:
        """List the names that may be used, whether they are loaded yet or not."""
        return [*__all__]
