"""Whatever a lens that tells the truth does with our order, it is one travel, and ours."""

from __future__ import annotations

from contextlib import suppress
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from engine.events import Event, LensReport, Outcome, OutcomeWord, Override, OverrideLook, Resumed
from engine.optics import on_panel
from engine.refusal import Refused
from tests.engine.moments import BARE
from tests.engine.story import Story
from tests.soak import sample

ORDERED = 41
"""By this second the recall has left."""
LAST = 29
"""After how many seconds the lens sets off at the latest: it is awaited for 45."""


class Hub(NamedTuple):
    """How a lens carries an order out, and what its hub says of it; seconds from the order on."""

    sets_off: int
    takes: int
    polls: int
    """How many seconds lie between two polls."""
    names: tuple[bool, ...]
    """Whether a report on the way names the target, in turn."""
    ids: bool
    gap: tuple[int, int]
    """From which second on nothing is told, and for how long."""
    restarts: tuple[int, ...]
    """When roomcue starts anew; the hub then tells where the lens is, as it is asked to."""
    outcome: OutcomeWord | None
    said: int
    """When that is said."""


HUBS = st.builds(
    Hub,
    sets_off=st.integers(0, LAST),
    takes=st.integers(2, 60),
    polls=st.integers(1, 4),
    names=st.lists(st.booleans(), min_size=1, max_size=3).map(tuple),
    ids=st.booleans(),
    gap=st.tuples(st.integers(0, 80), st.integers(0, 8)),
    restarts=st.lists(st.integers(1, 80), max_size=2).map(tuple),
    outcome=st.sampled_from([None, "done", "no answer", "refused"]),
    said=st.integers(0, 60),
)


class Evening:
    """A film for which the lens is sent once, and a hub that tells what becomes of it."""

    def __init__(self, hub: Hub, *, wished: bool) -> None:
        self.hub = hub
        self.origin, self.target = ("tall", "broad") if wished else ("broad", "tall")
        self.story = Story(BARE, lens=self.origin, panels="sides" if wished else "open")
        self.story.film(20 if wished else 28, 1.78)
        if wished:
            wish = Override(taken=True, until="session", look=OverrideLook(preset="broad"))
            self.story.at(40, wish)
        self.story.at(ORDERED, None)
        assert self.story.recalls() == [self.target]
        self.order = self.story.core.recall or 0
        self.owner = self.story.core.override
        self.told = 0

    def run(self) -> None:
        """Let it run until the lens has long arrived."""
        for second in range(100):
            if second in self.hub.restarts:
                self._hear(second, Resumed())
            if second == self.hub.said and self.hub.outcome is not None and self._may_be_said():
                with suppress(Refused):  # It may come too late.
                    self._hear(second, Outcome(order=self.order, outcome=self.hub.outcome))
            since, lasts = self.hub.gap
            told = second % self.hub.polls == 0 and not since <= second < since + lasts
            if told or second in self.hub.restarts:
                self._poll(second)

    def moved(self) -> bool:
        """Tell whether the lens sets off at all: not if its order is refused before."""
        refused = self.hub.outcome == "refused" and self.hub.said < self.hub.sets_off
        return not refused

    def _may_be_said(self) -> bool:
        """Tell whether an outcome is true: what has arrived, or is on its way, is not refused."""
        return self.hub.outcome != "refused" or not self.moved()

    def _poll(self, second: int) -> None:
        since = second - self.hub.sets_off
        moving = self.moved() and 0 <= since < self.hub.takes
        there = self.target if self.moved() and since >= 0 else self.origin
        name = self.hub.names[self.told % len(self.hub.names)]
        number = f"poll {second}" if self.hub.ids else None
        self.told += 1
        preset = None if moving and not name else there
        self._hear(second, LensReport(moving=moving, preset=preset, id=number))
        shown, panels = self.story.core.shown, self.story.core.arrangement
        if shown is not None and moving:
            assert self.story.core.lens == "travelling"
            ways = (self.origin, self.target)
            assert not any(on_panel(BARE, shown.region, way, panels) for way in ways)

    def _hear(self, second: int, event: Event) -> None:
        self.story.at(ORDERED + second, event)


@settings(max_examples=sample(150, 5_000), deadline=None)
@given(hub=HUBS, wished=st.booleans())
def test_one_travel_is_counted_once_is_nobody_else_s_and_lights_no_fitted_panel(
    hub: Hub, *, wished: bool
) -> None:
    """Set off early or late, slow, polled as may be, lost in gaps and restarts, or said done."""
    evening = Evening(hub, wished=wished)
    evening.run()
    story = evening.story
    counted = sum(ordered + by_hand for ordered, by_hand, _ in story.travels().values())
    by_hand = sum(by_hand for _, by_hand, _ in story.travels().values())
    assert (story.core.lens, story.core.override) == ("resting", evening.owner)
    assert story.core.preset == (evening.target if evening.moved() else evening.origin)
    assert "lens_moved" not in [getattr(one, "code", "") for one in story.made]
    if len(story.recalls()) == 1 and (evening.moved() or not hub.restarts):
        assert (counted, by_hand) == (int(evening.moved()), 0)
