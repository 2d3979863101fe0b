"""What other rules would have done with a recorded night.

What the hub and the person said of orders belongs to the decisions of that night, and means
nothing to others. So these reports are taken out, and an obedient hub with a helpful person
answers in their place; all else happens as it was recorded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress

from engine.events import Answer, Event, LensReport, Outcome
from engine.state import Core
from engine.step import RoomEngine
from engine.turn import Refused
from simulator.hub import Happened, Hub, live_through
from simulator.nights import BadLine, Entry
from simulator.replay import Happening, PromiseWatch


def replay_otherwise(
    engine: RoomEngine,
    recorded: RoomEngine,
    entries: Iterable[Entry | BadLine],
    until: int | None = None,
) -> Iterator[Happening | BadLine]:
    """Play a night on an engine with other rules, up to and including `until` (ms UTC).

    `recorded` is an engine with the night's own room: it tells which reports answered its orders.
    """
    watch, bad = PromiseWatch(engine.room), list[BadLine]()
    script = _happened_anyway(recorded, entries, bad)
    for lived in live_through(engine, Hub(engine.room), script, until):
        yield from bad
        bad.clear()
        entry = Entry(0, lived.now, lived.event, None)
        yield Happening(entry, lived.decisions, lived.refused, watch.see(engine.state))


def _happened_anyway(
    recorded: RoomEngine, entries: Iterable[Entry | BadLine], bad: list[BadLine]
) -> Iterator[Happened]:
    """Give the events that would have come under other rules too; bad lines go into `bad`."""
    for entry in entries:
        if isinstance(entry, BadLine):
            bad.append(entry)
            continue
        before = recorded.state.core
        if recorded.due_before(entry.event, entry.now):
            recorded.advance(entry.now)
        if entry.event is None:
            continue
        if not _answers(entry.event, before) and not _answers(entry.event, recorded.state.core):
            yield Happened(entry.now, entry.event)
        with suppress(Refused):
            recorded.handle(entry.event, entry.now)


def _answers(event: Event, core: Core) -> bool:
    """Tell whether an event only answers what the recorded engine had ordered or asked."""
    if isinstance(event, Outcome | Answer):
        return True
    if not isinstance(event, LensReport):
        return False
    ours = core.recall is not None and event.preset in {None, core.preset}
    # A lens that says once more where it rests says nothing that other rules would not hear.
    return ours or (core.lens == "resting" and not event.moving and event.preset == core.preset)
