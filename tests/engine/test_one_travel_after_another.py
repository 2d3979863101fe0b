"""While a travel that was ordered may still be under way, the lens is sent nowhere else."""

from __future__ import annotations

from contextlib import suppress
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.decisions import RecallOrder
from engine.events import (
    Event,
    FindLens,
    LensReport,
    Outcome,
    OutcomeWord,
    Override,
    OverrideLook,
    Playback,
    Resumed,
)
from engine.refusal import Refused
from tests.engine.moments import BARE, core_of, lost, ms
from tests.engine.story import UNANSWERED, Story, changed
from tests.engine.test_awaited_travels import IDS, outcome, polled, recalled
from tests.engine.test_stalls import stalled
from tests.soak import sample

BY_MENU = changed(
    ("orders: {answered: yes}\n", ""),
    ("tall, panels: sides", "tall"),
    (
        "show: {picture: whole, lift: 0 %, cues: {lamps: full}}",
        "show: {picture: whole, lift: 0 %, preset: broad, cues: {lamps: full}}",
    ),
)
"""A room whose menus want a preset as well."""
BROAD = Override(taken=True, until="session", look=OverrideLook(preset="broad"))


def by_hand(story: Story) -> int:
    """Give how many travels were counted as a person's."""
    return sum(one for _, one, _ in story.travels().values())


@IDS
def test_a_lens_that_is_late_is_not_sent_elsewhere_in_mid_travel(*, ids: bool) -> None:
    """The film has stopped meanwhile, and its order's time is over while the lens is under way."""
    story = recalled(BY_MENU)
    polled(story, 26, 37, "broad", ids=ids)
    story.at(37, Playback(state="stopped"))
    polled(story, 38, 40, "broad", ids=ids)
    polled(story, 40, 58, "tall", ids=ids, moving=True)
    assert story.recalls() == ["tall"]
    polled(story, 58, 60, "tall", ids=ids)
    assert (core_of(story).preset, story.recalls()) == ("broad", ["tall", "broad"])
    assert (by_hand(story), story.core.override) == (0, "rules")


@IDS
def test_a_person_s_wish_outlasts_a_lens_that_is_late(*, ids: bool) -> None:
    story = recalled()
    story.at(30, BROAD)
    polled(story, 31, 40, "broad", ids=ids)
    polled(story, 40, 58, "tall", ids=ids, moving=True)
    polled(story, 58, 60, "tall", ids=ids)
    assert story.recalls() == ["tall", "broad"]
    assert story.core.override_look is not None
    assert (story.core.override_look.preset, by_hand(story)) == ("broad", 0)


@pytest.mark.parametrize("wish", [BROAD, FindLens()])
def test_after_no_answer_nobody_sends_the_lens_off_before_it_is_heard_or_awaited_no_more(
    wish: Event,
) -> None:
    story = recalled()
    story.at(26, outcome(story, "no answer"))
    story.at(27, wish)
    story.at(28, None)
    assert (story.recalls(), story.core.holds) == (["tall"], ("lens_unknown",))
    story.at(29, LensReport(moving=True, preset="tall"))
    story.at(45, LensReport(moving=False, preset="tall"))
    assert story.travels()["tall"] == (1, 0, 1)


def test_a_lens_that_was_only_said_to_be_done_is_sent_off_once_it_is_heard_there() -> None:
    story = recalled(UNANSWERED)
    order = outcome(story, "done")
    story.at(25.05, BROAD)
    story.at(25.1, order)
    assert (story.recalls(), story.core.holds) == (["tall"], ("travelling",))
    story.at(25.2, LensReport(moving=True, preset="tall"))
    story.at(40, LensReport(moving=False, preset="tall"))
    assert (story.recalls(), by_hand(story)) == (["tall", "broad"], 0)


def test_a_lens_of_which_nothing_is_heard_is_sent_off_once_it_is_awaited_no_more() -> None:
    story = lost()
    story.at(27, BROAD)
    awaited = story.core.timers.echo
    assert awaited is not None
    story.at((awaited - ms(0)) / 1_000 - 1, None)
    assert story.recalls() == ["tall"]
    story.at((awaited - ms(0)) / 1_000, None)
    assert story.recalls() == ["tall", "broad"]


def test_a_lens_in_doubt_is_not_sent_where_it_most_likely_rests() -> None:
    """A hub knows nothing for a moment; the film goes on, and so does a person's wish."""
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(12, BROAD)
    story.at(30, LensReport(moving=False, preset=None, known=False))
    story.at(31, None)
    assert (story.recalls(), story.core.holds) == ([], ("lens_unknown",))
    story.at(32, LensReport(moving=False, preset="broad"))
    story.at(300, None)
    assert (story.recalls(), story.core.holds) == ([], ())


def test_a_lens_that_stays_in_doubt_is_found_for_whoever_wants_it() -> None:
    story = Story(BARE)
    story.film(10, 1.78)
    story.at(12, BROAD)
    story.at(30, LensReport(moving=False, preset=None, known=False))
    story.at(60, None)
    assert story.recalls() == ["broad"]


def test_an_order_that_never_left_counts_as_no_travel_though_its_time_was_over() -> None:
    story = recalled()
    story.at(60, None)
    assert story.travels() == {"tall": (1, 0, 1)}
    stalled(story, 61, Resumed(stalled=True, unsent=("recall",)))
    assert story.travels() == {"tall": (0, 0, 0)}


# -------------------------------------------------------------------- whatever an honest lens does


class Lens(NamedTuple):
    """How a lens carries out the latest order, and what its hub says of it; in seconds."""

    late: int
    takes: int
    polls: int
    names: tuple[bool, ...]
    ids: bool
    outcome: OutcomeWord | None
    restarts: tuple[int, ...]


LENSES = st.builds(
    Lens,
    late=st.sampled_from([0, 1, 3, 8]),
    takes=st.sampled_from([5, 12, 18, 24]),
    polls=st.integers(1, 4),
    names=st.lists(st.booleans(), min_size=1, max_size=3).map(tuple),
    ids=st.booleans(),
    outcome=st.sampled_from([None, "done", "no answer"]),
    restarts=st.lists(st.integers(25, 110), max_size=2).map(tuple),
)
WISHES = st.dictionaries(
    st.integers(20, 90), st.sampled_from(["tall", "broad"]), min_size=1, max_size=3
)


class Evening:
    """A film in which people send the lens to and fro."""

    def __init__(self, lens: Lens, wishes: dict[int, str]) -> None:
        self.lens, self.wishes = lens, wishes
        self.story = Story(BARE, lens="broad")
        self.story.film(10, 1.78)
        self.rests, self.moves = "broad", 0
        self._under_way: tuple[str, int] | None = None
        self._waits: tuple[str, int] | None = None
        self._orders = self._told = 0

    def run(self) -> None:
        """Let it run until the lens has long arrived."""
        for second in range(12, 220):
            self.story.at(second, None)
            if second in self.wishes:
                look = OverrideLook(preset=self.wishes[second])
                self.hear(second, Override(taken=True, until="session", look=look))
            if second in self.lens.restarts:
                self.hear(second, Resumed())
            self._obey(second)
            self._move(second)
            if second % self.lens.polls == 0 or second in self.lens.restarts:
                self._poll(second)

    def hear(self, second: float, event: Event) -> None:
        with suppress(Refused):  # What is said of an order may come too late.
            self.story.at(second, event)

    def _obey(self, second: int) -> None:
        orders = self.story.of(RecallOrder)
        for order in orders[self._orders :]:
            self._waits = order.preset, second + self.lens.late
            if self.lens.outcome is not None:
                self.hear(second + 0.1, Outcome(order=order.id, outcome=self.lens.outcome))
        self._orders = len(orders)

    def _move(self, second: int) -> None:
        if self._under_way is not None and second >= self._under_way[1]:
            self.rests, self._under_way = self._under_way[0], None
        if self._under_way is None and self._waits is not None and second >= self._waits[1]:
            if self._waits[0] != self.rests:
                self._under_way = self._waits[0], second + self.lens.takes
                self.moves += 1
            self._waits = None

    def _poll(self, second: int) -> None:
        name = self.lens.names[self._told % len(self.lens.names)]
        self._told += 1
        moving = self._under_way is not None
        goes = self._under_way[0] if self._under_way is not None and name else None
        preset = goes if moving else self.rests
        number = f"poll {second}" if self.lens.ids else None
        self.hear(second + 0.2, LensReport(moving=moving, preset=preset, id=number))


@settings(max_examples=sample(200, 5_000), deadline=None)
@given(lens=LENSES, wishes=WISHES)
def test_every_wish_is_granted_each_travel_counts_once_and_none_is_a_person_s(
    lens: Lens, wishes: dict[int, str]
) -> None:
    evening = Evening(lens, wishes)
    evening.run()
    story = evening.story
    assert "lens_moved" not in [getattr(one, "code", "") for one in story.made]
    assert (story.core.lens, evening.rests) == ("resting", wishes[max(wishes)])
    counted = sum(ordered for ordered, _, _ in story.travels().values())
    assert (counted, by_hand(story)) == (evening.moves, 0)
