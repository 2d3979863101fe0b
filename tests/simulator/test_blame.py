"""What broke a promise on an evening is named, and what to do is what would help."""

from __future__ import annotations

import pytest

from engine.events import (
    Event,
    Helper,
    LensReport,
    Override,
    PanelReport,
    Playback,
    RatioSeen,
    SourceChosen,
    Title,
)
from rules.room.load import load
from simulator.nights.invention import BEGINS
from simulator.nights.promises import judge_of
from simulator.nights.stand_in_hub import TimedEvent
from simulator.proof.blame import blame
from simulator.proof.counterexample import Counterexample, played_again
from tests.simulator.proofs import FLAT, WITH_PANELS, promised, study


def blamed(never: str, *events: Event, apart: int = 90_000) -> str:
    """What is said of a promise that breaks on these events, some time apart."""
    room = load(study(WITH_PANELS, FLAT, promised(never)))
    timed = tuple(TimedEvent(BEGINS + at * apart, one) for at, one in enumerate(events, 1))
    ends = timed[-1].now + 20_000
    walk = played_again(room, judge_of(room, "mine"), Counterexample(timed, ends))
    assert walk is not None
    found = blame(room, "mine", walk)
    return f"{found.words} {found.advice}"


def test_a_lens_that_a_person_has_sent_is_laid_at_no_row() -> None:
    there = (SourceChosen(source="disc"), LensReport(moving=True, preset="broad"))
    said = blamed(
        "{source: disc, travelling: yes, override: rules}",
        *there,
        Override(taken=False),
        apart=2_000,
    )
    assert said.endswith("No row has sent it: say in the promise where it need not hold.")
    assert "ent by a person, the lens is on its way to 'broad'" in said


@pytest.mark.parametrize(
    ("tested", "limit"),
    [("", "say `helper: not(refused)`"), (", helper: refused", "say")],
)
def test_where_nobody_is_free_the_promise_is_advised_and_no_row(tested: str, limit: str) -> None:
    never = f"{{playback: playing, panels: open, override: rules, aspect: '[1.70..1.95)'{tested}}}"
    film = (SourceChosen(source="disc"), Playback(state="playing"), RatioSeen(ratio=1.78))
    where = "in the promise where it need not hold." if tested else "in the promise."
    assert blamed(never, Helper(free=False), PanelReport(panels="open"), *film) == (
        "Under flat (line 34) panels 'sides' should stand, but panels 'open' still do. Nobody is "
        f"free to fit panels this session. No rule brings people to the screen: {limit} {where}"
    )


def test_a_source_that_nobody_has_named_is_not_blamed_where_naming_one_would_not_help() -> None:
    sent = (LensReport(moving=True, preset="broad"), Override(taken=False))
    said = blamed(
        "{travelling: yes, playback: playing, override: rules}",
        Playback(state="playing"),
        *sent,
        apart=2_000,
    )
    assert said == (
        "No source is known yet, but one would not help. Sent by a person, the lens is on its way "
        "to 'broad'. No row has sent it: say in the promise where it need not hold."
    )


def test_what_a_row_does_while_the_lens_is_on_its_way_is_laid_at_the_row_as_well() -> None:
    said = blamed(
        "{travelling: yes, picture: plain, override: rules}",
        SourceChosen(source="disc"),
        Playback(state="playing"),
        LensReport(moving=True, preset="broad"),
        Title(begun=False),
        apart=2_000,
    )
    assert said == (
        "Sent by a person, the lens is on its way to 'broad' while 'plain' is shown, which "
        "otherwise (line 38) had chosen. No row has sent it, and none can test a travel: let "
        "otherwise (line 38) show something else, or say in the promise where it need not hold."
    )


def test_a_lens_that_a_person_moves_is_told_to_be_on_its_way_as_long_as_it_is() -> None:
    never = "{source: disc, travelling: yes}"
    there = (SourceChosen(source="disc"), LensReport(moving=True, preset="broad"))
    assert blamed(never, *there, apart=2_000).startswith(
        "A person has moved the lens: it is on its way to 'broad'."
    )


def test_a_picture_that_failed_before_a_person_took_the_room_is_not_said_to_be_kept() -> None:
    there = (SourceChosen(source="disc"), LensReport(moving=True, preset="broad"))
    assert blamed("{travelling: yes, picture: plain}", *there, apart=1_000).startswith(
        "A person has the room, and the picture before has failed: 'plain' stands."
    )


@pytest.mark.parametrize(
    ("never", "limit"),
    [
        ('{playback: playing, picture: "null"}', "say `source: not(null)` in the promise."),
        (
            '{playback: playing, source: "null"}',
            "let the promise test what rows choose, or say in the promise where it need not hold.",
        ),
    ],
)
def test_before_a_source_is_named_the_promise_is_advised_to_ask_for_one(
    never: str, limit: str
) -> None:
    assert blamed(never, Playback(state="playing")) == (
        f"No source has been reported yet: there is nothing to show. No row has a say then: {limit}"
    )


FILM: tuple[Event, ...] = (SourceChosen(source="disc"), Playback(state="playing"))


@pytest.mark.parametrize(
    ("never", "events", "advised"),
    [
        (
            "{preset: null, playback: playing, override: rules}",
            FILM,
            "No row knows it better: say in the promise where it need not hold.",
        ),
        (
            "{panels: 'null, sides', playback: playing, override: rules}",
            FILM,
            "No row knows it better: leave null out of what the promise asks of panels.",
        ),
        (
            "{preset: null, picture: plain, override: rules}",
            FILM,
            "show what is safe anywhere, or say in the promise where it need not hold.",
        ),
        (
            "{playback: playing, aspect: scope, preset: tall, travelling: no, override: rules}",
            (LensReport(moving=False, preset="tall"), *FILM, RatioSeen(ratio=2.39)),
            "What is wanted never stands at once: say in the promise where it need not hold.",
        ),
        (
            "{playback: playing, aspect: scope}",
            (*FILM, RatioSeen(ratio=2.39)),
            "scope (line 26): no row can keep it: let it test what rows show, or take it out.",
        ),
    ],
)
def test_no_row_is_advised_to_change_what_it_has_no_say_in(
    never: str, events: tuple[Event, ...], advised: str
) -> None:
    assert blamed(never, *events, apart=2_000).endswith(advised)
