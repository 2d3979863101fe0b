"""Drive an evening towards a case: the events that make the tests of a row or a promise pass."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from random import Random
from typing import Any, Final, NamedTuple

from engine.events import (
    Answer,
    BarsSeen,
    Event,
    LensReport,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from tests.soundness.cell_reading import Value, numbers_in, reading_of
from tests.soundness.random_cells import RATIOS, is_truth, names_of, told_range, told_words
from tests.soundness.random_rooms import RandomRoom

SETTLES: Final = 9_000
"""Milliseconds in which any reading has settled."""


class Wish(NamedTuple):
    """An event that is to come, and the milliseconds before it."""

    wait: int
    event: Event


def usual_start(rng: Random, made: RandomRoom) -> Iterator[Wish]:
    """Begin as an evening usually does: lit, with lens and panels known and something playing."""
    yield Wish(0, ProjectorReport(state="lit"))
    yield Wish(0, LensReport(moving=False, preset=rng.choice([*made.room.presets])))
    yield Wish(0, PanelReport(panels=rng.choice([*made.room.panels])))
    yield Wish(0, SourceChosen(source=rng.choice([*made.room.sources])))
    yield Wish(rng.choice((0, 1_000)), Playback(state="playing"))


def wishes(rng: Random, made: RandomRoom) -> Iterator[Wish]:
    """Make some case come true: first that of a row, mostly, then that of a promise."""
    file = made.file
    if rng.random() < 0.3:
        yield Wish(0, Override(taken=False) if rng.random() < 0.5 else Service(begun=False))
        yield Wish(0, ProjectorReport(state="lit"))
    if len(made.room.panels) > 1 and rng.random() < 0.2:
        yield from _to_the_screen(rng, made)
    if rng.random() < 0.75:
        row = rng.choice(file["rules"]["rows"])
        case = dict(row["case"])
        case.setdefault("playback", "playing")
        yield from _towards(rng, made, case)
        yield Wish(rng.choice((0, 400, 1_000, SETTLES, 20_000)), Service(begun=False))
    promises = [one["never"] for one in file["promises"] if "never" in one]
    if promises:
        yield from _towards(rng, made, rng.choice(promises))


def _to_the_screen(rng: Random, made: RandomRoom) -> Iterator[Wish]:
    """Let somebody want panels, and go to the screen to fit them."""
    look = OverrideLook(panels=rng.choice([*made.room.panels]))
    yield Wish(400, Override(taken=True, look=look))
    yield Wish(400, Answer(prompt=1, answer="ready", who=rng.choice((None, "ana", "rui"))))


def _towards(rng: Random, made: RandomRoom, case: dict[str, str]) -> Iterator[Wish]:
    tests = [*case.items()]
    rng.shuffle(tests)
    if rng.random() < 0.6:  # a new source forgets what was known of the last one
        tests.sort(key=lambda test: test[0] != "source")
    for fact, cell in tests:
        value = value_that_passes(rng, made.file, fact, cell)
        if value is not Missing:
            yield from _make_true(rng, made, fact, value)


class Missing:
    """Stands for a value where a cell has none."""


def value_that_passes(rng: Random, file: dict[str, Any], fact: str, cell: str) -> object:
    """Choose a value that passes a cell; `Missing` if none is found."""
    shapes = file["shapes"]
    test = reading_of(cell, truth=is_truth(file, fact), shapes=shapes)
    values = [one for one in _values(rng, file, fact, cell) if test(one)]
    return rng.choice(values) if values else Missing


def _values(rng: Random, file: dict[str, Any], fact: str, cell: str) -> list[Value]:
    """List values of a fact that are worth trying."""
    if is_truth(file, fact):
        return [True, False, None]
    names = names_of(file, fact)
    if names:
        return [*names, None]
    if fact in told_words(file):
        least, most = told_range(file, fact)
        return [*map(Fraction, range(least, most + 1)), None]
    if fact == "time":
        return [*map(Fraction, range(0, 1_440, 15)), None]
    numbers = numbers_in(" ".join([cell, *(file["shapes"][name] for name in file["shapes"])]))
    step = Fraction(1, 100)
    near = [number + step * rng.randint(-2, 2) for number in numbers]
    usual = [Fraction(text) for text in ("1.33", "1.78", "1.85", "2.06", "2.2", "2.39", "2.76")]
    return [one for one in (*near, *usual) if 1 <= one <= 4]


def _make_true(rng: Random, made: RandomRoom, fact: str, value: Any) -> Iterator[Wish]:  # noqa: ANN401
    """Give the events after which a fact most likely has a value."""
    wait = rng.choice((0, 0, 50, 400, 1_000))
    if fact in RATIOS or fact == "varies":
        yield from _shaped(rng, fact, value)
    elif fact in told_words(made.file):
        told = int(value) if isinstance(value, Fraction) else value
        yield Wish(wait, ToldFact(fact=fact, value=told))
    elif value is not None:
        yield from _reported(rng, made, fact, value, wait)


def _shaped(rng: Random, fact: str, value: Any) -> Iterator[Wish]:  # noqa: ANN401
    if value is None or value is False:
        yield Wish(0, Title(begun=False))
        columns, rows = rng.choice(((1_920, 1_080), (3_840, 2_160)))
        yield Wish(0, Signal(locked=True, columns=columns, rows=rows))
    elif fact == "varies":
        for ratio in (1.78, 2.39, 1.78):
            yield Wish(SETTLES, RatioSeen(ratio=ratio))
        yield Wish(SETTLES, Service(begun=False))
    else:
        exact = float(value) + rng.choice((0, 0, -0.005, 0.0049, rng.uniform(-0.005, 0.0049)))
        exact = round(min(4.0, max(1.0, exact)), 4)
        if fact == "declared":
            yield Wish(0, Title(begun=True, declared=exact))
        else:
            yield Wish(0, RatioSeen(ratio=exact))
            yield Wish(rng.choice((600, SETTLES, SETTLES)), Service(begun=False))


def _reported(
    rng: Random,
    made: RandomRoom,
    fact: str,
    value: Any,  # noqa: ANN401 - of any kind
    wait: int,
) -> Iterator[Wish]:
    match fact:
        case "source":
            yield Wish(wait, SourceChosen(source=value))
        case "playback" if value == "stopped" and rng.random() < 0.2:
            yield from _ended_by_a_pause(made)
        case "playback":
            yield Wish(wait, Playback(state=value))
        case "subtitles" if value:
            yield Wish(0, _bars(138))
            yield Wish(SETTLES, _bars(60))
            yield Wish(SETTLES, Service(begun=False))
        case "first_minutes":
            yield Wish(wait, Title(begun=True)) if value else Wish(91_000, Service(begun=False))
        case "time":
            yield Wish(wait, TimeOfDay(minute=int(value)))
        case "range":
            yield Wish(wait, Signal(locked=True, range=value))
        case "three_d":
            yield Wish(wait, Signal(locked=True, three_d=value))
        case "override":
            yield Wish(wait, Override(taken=value == "person"))
        case _:
            yield from _equipped(rng, made, fact, value, wait)


def _equipped(
    rng: Random,
    made: RandomRoom,
    fact: str,
    value: Any,  # noqa: ANN401 - of any kind
    wait: int,
) -> Iterator[Wish]:
    """Let equipment stand in some way, by a report or by a person's wish."""
    as_override = rng.random() < 0.3
    match fact:
        case "preset" | "panels" | "picture" if as_override and value != "dark":
            yield Wish(wait, Override(taken=True, look=OverrideLook(**{fact: value})))
        case "preset":
            yield Wish(wait, LensReport(moving=False, preset=value))
        case "panels":
            yield Wish(wait, PanelReport(panels=value))
        case "travelling" if value:
            preset = rng.choice([None, *made.room.presets])
            yield Wish(wait, LensReport(moving=True, preset=preset))
        case "helper" | "picture" if value in {"asked", "refused", "dark"}:
            if as_override:
                other = rng.choice([*made.room.panels])
                yield Wish(wait, Override(taken=True, look=OverrideLook(panels=other)))
            yield Wish(13_000, Answer(prompt=1, answer="no" if value == "refused" else "ready"))
        case _:
            pass


def _ended_by_a_pause(made: RandomRoom) -> Iterator[Wish]:
    """Let a title pause until that counts as a stop, and be named again before it plays on."""
    yield Wish(0, Playback(state="playing"))
    yield Wish(0, Title(begun=True, name="one"))
    yield Wish(0, RatioSeen(ratio=2.39))
    yield Wish(SETTLES, Playback(state="paused"))
    yield Wish(made.room.pace.pause, Title(begun=True, name="one"))


def _bars(bottom: int) -> BarsSeen:
    return BarsSeen(top=138, bottom=bottom, left=0, right=0, columns=1_920, rows=1_080)
