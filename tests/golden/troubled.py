"""Nights in which something goes wrong: five scripts, and hubs that do not as they are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.decisions import RecallOrder
from engine.events import LensReport, Mark, Outcome, PanelReport, Playback, Title
from simulator.nights.stand_in_hub import Hub, TimedEvent
from tests.golden.scenes import (
    disc_begins,
    shape,
    streamer_begins,
    switched_off,
    switched_on,
    window,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from engine.decisions import Decision
    from tests.golden.scenes import Script


class RefusesRecalls(Hub):
    """A hub whose projector refuses to move its lens, two seconds after it is told to."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        """Yield a refusal for every recall, and for the rest what a hub yields."""
        for one in decisions:
            if isinstance(one, RecallOrder):
                yield TimedEvent(one.at + 2_000, Outcome(order=one.id, outcome="refused"))
            else:
                yield from super().follow([one], source)


class LosesRecalls(Hub):
    """A hub to which no recall ever comes through."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        """Yield nothing for a recall, and for the rest what a hub yields."""
        rest = [one for one in decisions if not isinstance(one, RecallOrder)]
        return super().follow(rest, source)


def refused_recall() -> Script:
    """A 1.78 film begins at the broad preset; the recall is refused, and somebody complains."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 1.778)
    yield 1_500, Mark(words="the picture is too small")
    yield 4_800, Playback(state="stopped", source="disc")
    yield from switched_off(4_900)


def nobody_there() -> Script:
    """A scope film with the side panels fitted: nobody answers, and it is shown between them."""
    yield from switched_on("tall", "sides")
    yield from disc_begins(45, 2.39)
    yield 5_400, Playback(state="stopped", source="disc")
    yield from switched_off(5_500)


def bumped_lens() -> Script:
    """Half an hour into a scope film somebody bumps the lens: it rests at no preset."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.39)
    yield 1_900, LensReport(moving=True, preset=None)
    yield 1_903, LensReport(moving=False, preset=None)
    yield 1_960, Mark(words="all blurred and crooked")
    yield 5_400, Playback(state="stopped", source="disc")
    yield from switched_off(5_500)


def false_word() -> Script:
    """The player declares 2.39 for a film whose picture is 1.78 throughout."""
    yield from switched_on("broad", "open")
    begun = Title(begun=True, name="a film", declared=2.39)
    for t, event in disc_begins(45, 1.778):
        if isinstance(event, Playback):
            yield t, begun
        yield t, event
    for minute in range(4, 80, 8):
        yield 60 * minute, window(20 + minute % 5, 24, 0, 0)
        yield 60 * minute + 2, shape(1.778)
    yield 5_400, Playback(state="stopped", source="disc")
    yield from switched_off(5_500)


def silent_lens() -> Script:
    """An episode of 1.78; nothing is heard of the recall, nor later of how the panels stand."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield 80, Title(begun=True, name="an episode")
    yield 80.5, Playback(state="playing", source="streamer")
    yield 81, shape(1.778)
    yield 842, PanelReport(panels=None)
    yield 3_600, Playback(state="stopped", source="streamer")
    yield from switched_off(3_700)
