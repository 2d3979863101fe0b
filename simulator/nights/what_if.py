"""What other rules would have done with a recorded night.

Outcomes and answers recorded in a night belong to the orders and prompts of that night; they
mean nothing to the orders of other rules. So these reports are taken out, and an obedient hub
with a helpful person answers instead. Everything else happens as it was recorded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine import RoomEngine
from engine.decisions import Decision, RecallOrder
from engine.events import Answer, Event, LensReport, Outcome, PanelReport
from engine.state import Core
from simulator.nights.night_file import BadLine, NightEntry
from simulator.nights.promises import PromiseWatch
from simulator.nights.replay import ReplayStep, See
from simulator.nights.stand_in_hub import Hub, TimedEvent, TimePasses, play_script


def replay_with_other_rules(
    engine: RoomEngine,
    recorded: RoomEngine,
    entries: Iterable[NightEntry | BadLine],
    until: int | None = None,
    see: See | None = None,
) -> Iterator[ReplayStep | BadLine]:
    """Replay a night on an engine with other rules, up to and including `until` (ms UTC).

    `recorded` is an engine with the night's own room, which tells the reports that answered its
    own orders from all others.
    """
    watch, bad = PromiseWatch(engine), list[BadLine]()
    script = happened_anyway(recorded, entries, bad)
    for lived in play_script(engine, Hub(engine.room), script, until):
        yield from bad
        bad.clear()
        if see is not None:
            see(lived.now, lived.decisions)
        entry = NightEntry(0, lived.now, lived.event, None)
        broken = watch.see(lived.decisions)
        yield ReplayStep(entry, lived.decisions, lived.refused, broken)
    yield from bad


def happened_anyway(
    recorded: RoomEngine, entries: Iterable[NightEntry | BadLine], bad: list[BadLine]
) -> Iterator[TimedEvent | TimePasses]:
    """Yield the events that would have come under other rules too; bad lines go into `bad`."""
    night = _Recorded(recorded)
    for entry in entries:
        if isinstance(entry, BadLine):
            bad.append(entry)
            continue
        night.pass_time(entry.event, entry.now)
        if entry.event is None:
            yield TimePasses(entry.now)  # A decision was recorded: the engine was there to make it.
        elif not night.answers(entry.event):
            yield TimedEvent(entry.now, entry.event)
        if entry.event is not None:
            night.hear(entry.event, entry.now)


class _Recorded:
    """The night under its own rules, to tell which events only answered their orders."""

    def __init__(self, engine: RoomEngine) -> None:
        self.engine = engine
        self.sent: str | None = None
        """Where the latest recall sent the lens, until it is known to have arrived or stayed."""
        self.brought: str | None = None
        """The panels that stand because a prompt has asked for them."""

    def answers(self, event: Event) -> bool:
        """Tell whether an event that comes next only answers an order or a prompt."""
        core = self.engine.state.core
        match event:
            case Outcome() | Answer():
                return True
            case LensReport():
                return event.known and self._travelled(event, core)
            case PanelReport():
                return event.panels is not None and event.panels in {self.brought, _asked(core)}
            case _:
                return False

    def pass_time(self, event: Event | None, now: int) -> None:
        """Let the recorded engine do what falls due before an event."""
        if self.engine.is_due_before(event, now):
            self._follow(self.engine.receive(None, now).decisions)

    def hear(self, event: Event, now: int) -> None:
        """Let the recorded engine take an event."""
        before = self.engine.state.core
        asked = _asked(before)
        if isinstance(event, LensReport) and not self._travelled(event, before):
            self.sent = None
        reply = self.engine.receive(event, now)
        if reply.refusal is None:
            self._follow(reply.decisions)
        after = self.engine.state.core
        if asked is not None and after.arrangement == asked:
            self.brought = asked
        elif after.arrangement != self.brought:
            self.brought = None

    def _follow(self, decisions: Iterable[Decision]) -> None:
        """Remember where the lens was sent, until it rests."""
        for decision in decisions:
            if isinstance(decision, RecallOrder):
                self.sent = decision.preset
        if self.engine.state.core.lens == "resting":
            self.sent = None

    def _travelled(self, report: LensReport, core: Core) -> bool:
        """Tell whether a report is about an ordered travel, or repeats where the lens is."""
        preset = report.preset
        if core.lens == "resting":
            heard = not report.moving or (report.id is None and core.echo == preset)
            return heard and preset == core.preset
        waits = core.recall is not None and not core.set_off
        if waits and not report.moving and preset == core.origin:
            return True
        known = not report.moving or core.lens == "travelling" or core.echo == self.sent
        return self.sent is not None and known and preset in {None, self.sent}


def _asked(core: Core) -> str | None:
    """Return the panels that an open prompt asks for."""
    return None if core.asked is None else core.asked.panels
