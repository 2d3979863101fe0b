"""Hubs that do not do as they are told, or tell it otherwise, for nights that go wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.decisions import CueOrder, PictureOrder, Prompt, RecallOrder
from engine.events import Answer, LensReport, Outcome
from simulator.nights.stand_in_hub import Hub, TimedEvent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from engine.decisions import Decision


class OnlySays(Hub):
    """A hub whose person says ready and never comes back with a word."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        for one in decisions:
            if isinstance(one, Prompt):
                if one.stage == "asked":
                    yield TimedEvent(one.at + 15_000, Answer(prompt=one.id, answer="ready"))
            else:
                yield from super().follow([one], source)


class ComesToRestElsewhere(Hub):
    """A hub whose lens always comes to rest at the broad preset."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        for one in decisions:
            if isinstance(one, RecallOrder):
                yield TimedEvent(one.at + 200, LensReport(moving=True, preset=one.preset))
                yield TimedEvent(one.at + 9_000, Outcome(order=one.id, outcome="done"))
                yield TimedEvent(one.at + 9_000, LensReport(moving=False, preset="broad"))
            else:
                yield from super().follow([one], source)


class RefusesPictures(Hub):
    """A hub that refuses every picture."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        for one in decisions:
            if isinstance(one, PictureOrder):
                yield TimedEvent(one.at + 300, Outcome(order=one.id, outcome="refused"))
            else:
                yield from super().follow([one], source)


class HasNoLamps(Hub):
    """A hub to which orders for cues never come through."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        return super().follow([one for one in decisions if not isinstance(one, CueOrder)], source)
