"""The ledger counts travels as the engine does, also where the engine thinks better of one."""

from __future__ import annotations

from engine import RoomEngine
from engine.events import (
    Event,
    LensReport,
    Mark,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    SourceChosen,
)
from simulator.nights.night_file import NightEntry
from simulator.wear.ledger import NightLedger, ledger_of_night
from tests.engine.moments import BARE, ms
from tests.engine.story import shape

LIT = ProjectorReport(state="lit")


def ledger_of(*told: tuple[float, Event]) -> NightLedger:
    """Give the ledger of an evening in which this was told, at these seconds."""
    entries = [NightEntry(number, ms(at), one, None) for number, (at, one) in enumerate(told, 1)]
    night, bad = ledger_of_night(RoomEngine(BARE), ms(0), entries)
    assert bad == []
    return night


def test_a_travel_by_hand_whose_target_is_named_later_is_one_travel() -> None:
    night = ledger_of(
        (0, LIT),
        (1, LensReport(moving=False, preset="broad")),
        (5, LensReport(moving=True, preset=None)),
        (7, LensReport(moving=True, preset="tall")),
        (15, LensReport(moving=False, preset="tall")),
    )
    assert [(one.preset, one.ordered, one.total) for one in night.travels] == [("tall", False, 1)]
    assert night.counted == {"": 0, "tall": 1}


def test_an_order_that_never_left_is_no_travel() -> None:
    """Its time was over before anybody knew that."""
    film: tuple[tuple[float, Event], ...] = (
        (0, LIT),
        (1, LensReport(moving=False, preset="broad")),
        (2, PanelReport(panels="open")),
        (10, SourceChosen(source="disc")),
        (10, Playback(state="playing")),
        (11, shape(1.78)),
        (30, Mark(words="the lens should be on its way")),
        (60, Mark(words="and there by now")),
    )
    assert ledger_of(*film).counted == {"tall": 1}
    night = ledger_of(*film, (61, Resumed(stalled=True, unsent=("recall",))))
    assert (night.travels, night.counted) == ((), {"tall": 0})
