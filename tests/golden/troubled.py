"""Nights in which something goes wrong: scripts, and hubs that do not as they are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.decisions import PictureOrder, RecallOrder
from engine.events import (
    BarsSeen,
    LensReport,
    Mark,
    Outcome,
    PanelReport,
    Playback,
    Signal,
    Title,
)
from simulator.nights.stand_in_hub import Hub, TimedEvent
from tests.golden.scenes import (
    disc_begins,
    shape,
    streamer_begins,
    streamer_ends,
    streamer_plays,
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


class RefusesStretches(Hub):
    """A hub whose projector refuses every stretched picture."""

    def follow(self, decisions: Iterable[Decision], source: str | None) -> Iterator[TimedEvent]:
        """Yield a refusal for every stretched picture, and for the rest what a hub yields."""
        for one in decisions:
            if isinstance(one, PictureOrder) and one.picture == "gentle":
                yield TimedEvent(one.at + 300, Outcome(order=one.id, outcome="refused"))
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


def refused_picture() -> Script:
    """A film of 2.20, whose stretched picture is refused; then one of 2.39 and one of 2.20."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.20)
    for begins, ratio in ((3_100, 2.39), (5_100, 2.20)):
        yield begins - 100, Playback(state="stopped", source="disc")
        yield begins - 99, shape(1.778)
        yield begins, Playback(state="playing", source="disc")
        yield begins + 3, shape(ratio)
    yield 7_000, Playback(state="stopped", source="disc")
    yield from switched_off(7_100)


def astray() -> Script:
    """The lens is sent to tall and comes to rest at broad; sent once more, it arrives.

    After the film it is sent to broad twice, and each time rests at tall: there it is left.
    """
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 1.778)
    for sets_off, rests in ((120.2, "broad"), (165.2, "tall")):
        yield sets_off, LensReport(moving=True, preset="tall")
        yield sets_off + 14, LensReport(moving=False, preset=rests)
    yield 3_000, Playback(state="stopped", source="disc")
    yield 3_100, Playback(state="playing", source="disc")
    yield 3_103, shape(2.39)
    for sets_off in (3_154, 3_214):
        yield sets_off, LensReport(moving=True, preset="broad")
        yield sets_off + 14, LensReport(moving=False, preset="tall")
    yield 6_000, Playback(state="stopped", source="disc")
    yield from switched_off(6_100)


def buffering() -> Script:
    """A stream buffers for four seconds in a small raster; much later it goes on in another."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield from streamer_plays(90, Title(begun=True, name="a film"), 2.39)
    yield 1_800, Signal(locked=True, columns=1_280, rows=720)
    yield 1_801, BarsSeen(top=92, bottom=92, left=0, right=0, columns=1_280, rows=720)
    yield 1_804, Signal(locked=True, columns=3_840, rows=2_160)
    yield 1_804.5, shape(2.39)
    yield 3_000, Signal(locked=True, columns=1_920, rows=1_080)
    yield 3_001, BarsSeen(top=138, bottom=138, left=0, right=0, columns=1_920, rows=1_080)
    yield from streamer_ends(5_400)
    yield from switched_off(5_500)


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
