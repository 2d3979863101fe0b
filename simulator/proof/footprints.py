"""Footprints: what first halves of steps look at, so that none is taken twice for the same.

The handler of an event looks at a few fields of a core and changes a few. In another core in which
all that it looked at is the same, it changes the same; and so it is with the checks of what it did.
So an event is applied once for each difference that it sees, and not in every state. What is looked
at is watched and not declared, so nothing has to be known of the engine.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import fields
from functools import cache
from operator import attrgetter
from typing import Any, Final

from engine.state import Core

_FIELDS: Final = {field.name: getattr(Core, field.name) for field in fields(Core)}

Changes = tuple[tuple[str, Any], ...]
"""Fields that a half step has changed, with their new values."""
Glance = Callable[[Core], object]


class WatchedCore(Core):
    """A core that begins without fields: it takes each from another core when it is looked at."""

    __slots__ = ("_looked_at", "_origin", "_set")

    def __init__(self, origin: Core, looked_at: set[str]) -> None:
        """Begin; the names of fields that are taken from the other core go into `looked_at`."""
        put = object.__setattr__
        put(self, "_origin", origin)
        put(self, "_looked_at", looked_at)
        put(self, "_set", set[str]())

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever the field holds
        """Take over a field that was neither looked at nor set; Python asks for no other."""
        value = getattr(self._origin, name)
        self._looked_at.add(name)
        _FIELDS[name].__set__(self, value)
        return value

    def __setattr__(self, name: str, value: object) -> None:
        """Set a field, and note that."""
        self._set.add(name)
        _FIELDS[name].__set__(self, value)

    def changes(self) -> Changes:
        """Give the fields that were set, but for those that are seen to be what they were."""
        return tuple(
            (name, getattr(self, name))
            for name in self._set
            if name not in self._looked_at or getattr(self, name) is not getattr(self._origin, name)
        )


def differ(before: Core, after: Core, *names: str) -> bool:
    """Tell whether a later core holds something else in any of these fields.

    A field that has not been set on the way is not looked at for that.
    """
    put = after._set if isinstance(after, WatchedCore) else None  # noqa: SLF001
    for name in names:
        if put is not None and name not in put:
            continue
        if getattr(before, name) is not getattr(after, name):
            return True
    return False


class Footprint:
    """What one half step has looked at, in whatever cores, and what it has changed there."""

    __slots__ = ("_kept",)

    def __init__(self) -> None:
        self._kept: dict[tuple[str, ...], tuple[Glance, dict[object, Changes]]] = {}

    def changes(self, core: Core) -> Changes | None:
        """Give what the step changes in a core; None: it was not taken where all it sees is so."""
        for look, found in self._kept.values():
            changes = found.get(look(core))
            if changes is not None:
                return changes
        return None

    def keep(self, core: Core, looked_at: set[str], changes: Changes) -> None:
        """Keep what the step changes that has looked at these fields of a core."""
        names = tuple(sorted(looked_at))
        look, found = self._kept.setdefault(names, (_look(names), {}))
        found[look(core)] = changes


class Footprints:
    """The footprint of each half step."""

    def __init__(self) -> None:
        self._of: dict[Hashable, Footprint] = {}

    def of(self, step: Hashable) -> Footprint:
        """Give the footprint of a step; whatever is kept of it later is found there too."""
        found = self._of.get(step)
        if found is None:
            found = self._of[step] = Footprint()
        return found


@cache
def _look(names: tuple[str, ...]) -> Glance:
    """Give a function that looks at some fields of a core."""
    return attrgetter(*names) if names else lambda _core: None
