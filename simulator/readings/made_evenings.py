"""Make labelled evenings of readings by seed, each of a class: what it is that misleads there.

An evening begins with something plain, in most classes, and goes on with scenes of its class. The
raster, the detector's rate, its noise and the steps in which it counts vary from one to the next.
There are two worlds: a filter is worked on in the one, and scored in the other, which is held out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from random import Random
from typing import Final, NamedTuple

from engine.aspect import SCALE
from engine.settle import BarReading
from simulator.readings.effects import (
    ABOVE,
    BELOW,
    LEFT,
    RIGHT,
    Cards,
    Credits,
    DarkShots,
    Effect,
    Fades,
    Habits,
    Jitter,
    Lettering,
    Misread,
    PictureEdges,
    Sight,
    StandingMark,
    happens,
)
from simulator.readings.labelled import LabelledSet, Segment, Timed

PLAIN: Final = (13_333, 16_600, 17_778, 18_500, 20_000, 22_000, 23_500, 23_900, 27_600)
COARSE: Final = 720
"""A raster of fewer rows than this is coarse: a line is much of a bar."""
LEAD_IN: Final = 15
"""How many seconds of something plain come between the scenes of a class, which last longer."""
WIDE: Final = (20_000, 22_000, 23_500, 23_900, 24_000)
"""Ratios with bars above and below in which somebody may write."""


Effects = Callable[[Sight], Sequence[Effect]]
"""Makes what happens to the edges of a scene."""


class Detector(NamedTuple):
    """What reads an evening, and how well."""

    columns: int
    rows: int
    rate: int
    """Readings in a second."""
    step: int
    """It counts in steps of so many lines and columns."""
    noise: float
    """By how many lines of 1,080 it errs at most."""


class Scene(NamedTuple):
    """A stretch of an evening: a picture and what happens to its edges."""

    ratio: int
    seconds: float
    effects: Effects
    size: float = 1.0
    """How large the picture is laid in, as a share of the largest that fits."""
    across: float = 0.0
    """How far it lies off the middle of the raster: shares of its columns, to the right."""
    down: float = 0.0
    """How far it lies below the middle, in shares of the rows; it never leaves the raster."""
    known: bool = True
    """Whether its shape can be known at all before it was seen plainly."""


class World(NamedTuple):
    """The detectors that there are, and what misleads them."""

    name: str
    """Stands before each seed, so that no two worlds have an evening in common."""
    rasters: tuple[tuple[int, int], ...]
    rates: tuple[int, ...]
    noises: tuple[float, ...]
    habits: Habits


WORKED_ON: Final = World(
    name="",
    rasters=(
        (640, 360),
        (1_280, 720),
        (1_920, 1_080),
        (1_920, 1_080),
        (2_560, 1_440),
        (3_840, 2_160),
        (4_096, 2_160),
    ),
    rates=(1, 2, 4, 8, 12, 24),
    noises=(0, 0, 0, 1, 2),
    habits=Habits(),
)
HELD_OUT: Final = World(
    name="held out ",
    rasters=((960, 540), (1_600, 900), (1_920, 1_080), (2_048, 1_152), (3_840, 2_160)),
    rates=(1, 3, 5, 10, 15, 30),
    noises=(0, 0, 0.7, 1.5),
    habits=Habits(
        line=(14, 26),
        margin=36,
        most_lines=3,
        even=0.3,
        apart=0.02,
        both_bars=((1, 7), (2, 12)),
        subtitles=((0.8, 7), (0.5, 9)),
        dark=0.4,
        misread=0.2,
    ),
)
Maker = Callable[[Random], list[Scene]]


def make_evening(name: str, seed: int, world: World = WORKED_ON) -> LabelledSet:
    """Make an evening of a class."""
    chance = Random(f"{world.name}{name} {seed}")
    columns, rows = chance.choice(world.rasters)
    step = chance.choice((1, 2)) if rows >= COARSE else 1
    rate, noise = chance.choice(world.rates), chance.choice(world.noises)
    detector = Detector(columns, rows, rate, step, noise)
    return record(chance, detector, CLASSES[name](chance), world.habits)


def made_evenings(count: int, world: World = WORKED_ON) -> Iterator[tuple[str, LabelledSet]]:
    """Make evenings of all classes in turn, each with the name of its class."""
    names = tuple(CLASSES)
    for number in range(count):
        name = names[number % len(names)]
        yield name, make_evening(name, number, world)


def record(
    chance: Random, detector: Detector, scenes: Sequence[Scene], habits: Habits
) -> LabelledSet:
    """Read scenes with a detector."""
    readings: list[Timed] = []
    segments: list[Segment] = []
    frame = 0
    for scene in scenes:
        edges = laid_in(scene, detector)
        sight = Sight(chance, detector.columns, detector.rows, edges, habits)
        effects: list[Effect] = [*scene.effects(sight), Jitter(sight, detector.noise)]
        begin, first = frame * 1_000 // detector.rate, frame
        for _ in range(max(1, round(scene.seconds * detector.rate))):
            seen: PictureEdges | None = edges
            for effect in effects:
                seen = effect((frame - first) / detector.rate, seen)
            readings.append((frame * 1_000 // detector.rate, _read(detector, seen)))
            frame += 1
        end = frame * 1_000 // detector.rate
        truth = scene.ratio if scene.known else None
        segments.append(Segment(f"{scene.ratio / SCALE:.2f}", begin, end, truth))
    return LabelledSet(readings, segments)


def laid_in(scene: Scene, detector: Detector) -> PictureEdges:
    """Lay a scene's picture into the raster, whose pixels are square."""
    columns, rows = detector.columns, detector.rows
    wide = min(columns, rows * scene.ratio / SCALE) * scene.size
    high = wide * SCALE / scene.ratio
    beside, above = columns - wide, rows - high
    left = min(beside, max(0.0, beside / 2 + scene.across * columns))
    top = min(above, max(0.0, above / 2 + scene.down * rows))
    return top, above - top, left, beside - left


def _read(detector: Detector, edges: PictureEdges | None) -> BarReading | None:
    """Count in whole steps, none below zero; black where nothing is left between the bars."""
    if edges is None:
        return None
    step = detector.step
    top, bottom, left, right = (max(0, round(edge / step)) * step for edge in edges)
    if top + bottom > detector.rows - 8 or left + right > detector.columns - 8:
        return None
    return BarReading(top, bottom, left, right, detector.columns, detector.rows)


# --------------------------------------------------------------------------------- the classes


def _clean(_: Sight) -> Sequence[Effect]:
    return ()


def _length(chance: Random) -> float:
    return chance.uniform(40, 120)


def _another(chance: Random, ratio: int, shapes: Sequence[int] = PLAIN) -> int:
    """Choose another shape, not within 2.5 % of the last."""
    return chance.choice([one for one in shapes if abs(one - ratio) * 40 > ratio])


def _films(chance: Random, shapes: Sequence[int], effects: Effects) -> list[Scene]:
    """Lead in with something plain, in half of the evenings, then show three pictures."""
    ratio = chance.choice((17_778, 18_500))
    scenes = [Scene(ratio, LEAD_IN, _clean)] if happens(chance, 0.5) else []
    for _ in range(3):
        ratio = _another(chance, ratio, shapes) if len(shapes) > 1 else shapes[0]
        scenes.append(Scene(ratio, _length(chance), effects))
        if len(shapes) == 1:
            ratio = chance.choice((17_778, 18_500, 23_900))
            scenes.append(Scene(ratio, LEAD_IN, _clean))
    return scenes


def _of(shapes: Sequence[int], *effects: Callable[[Sight], Effect]) -> Maker:
    return lambda chance: _films(chance, shapes, lambda sight: [make(sight) for make in effects])


def _windows(chance: Random) -> list[Scene]:
    """Make a picture within a picture's frame, smaller than could be."""
    scenes = _films(chance, (13_333, 16_600, 17_778, 18_500, 22_000), _clean)
    return [
        one._replace(size=chance.choice((0.7, 0.75, 0.8, 0.9))) if one.seconds > LEAD_IN else one
        for one in scenes
    ]


def _carded(sight: Sight) -> Sequence[Effect]:
    return (Cards(sight),)


def _dark(sight: Sight) -> Sequence[Effect]:
    return (DarkShots(sight, 0.5, 5),)


def _cards(chance: Random) -> list[Scene]:
    """Make a film that begins with cards, and one with cards in its middle."""
    first, second = _another(chance, 10_000), chance.choice(WIDE)
    return [
        Scene(first, chance.uniform(10, 40), _carded, known=False),
        Scene(first, _length(chance), _clean),
        Scene(first, chance.uniform(20, 40), _carded),
        Scene(first, _length(chance), _clean),
        Scene(second, _length(chance), _clean),
        Scene(second, chance.uniform(20, 40), _carded),
        Scene(second, 30, _clean),
    ]


def _misread(chance: Random) -> list[Scene]:
    """Let three frames in ten be read as the full frame, or as anything."""
    full = happens(chance, 0.5)
    return _films(chance, PLAIN, lambda sight: [Misread(sight, full=full)])


def _side_mark(chance: Random) -> list[Scene]:
    side, leaves = chance.choice((LEFT, RIGHT)), happens(chance, 0.5)
    return _films(chance, (13_333,), lambda sight: [StandingMark(sight, side, leaves=leaves)])


def _off_centre(chance: Random) -> list[Scene]:
    """Make a source whose pictures all lie a little off the middle."""
    down = chance.choice((-1, 1)) * chance.uniform(0.002, 0.006)
    across = chance.choice((-1, 1)) * chance.uniform(0.001, 0.003)
    return [one._replace(down=down, across=across) for one in _films(chance, PLAIN, _clean)]


def _raised(chance: Random) -> list[Scene]:
    """Put pictures at the top of their frame, or well above its middle, as for subtitles."""
    scenes = _films(chance, WIDE, lambda sight: [DarkShots(sight, 0.15)])
    down = -chance.choice((0.03, 0.06, 0.5))
    return [one._replace(down=down) if one.seconds > LEAD_IN else one for one in scenes]


def _alternating(chance: Random) -> list[Scene]:
    """Make a film that changes its shape every few seconds, with dark shots."""
    wide, tall = chance.choice((22_000, 23_500, 23_900)), chance.choice((17_778, 19_000, 14_300))
    scenes = [Scene(wide, 30, _clean)]
    for _ in range(16):
        ratio = tall if scenes[-1].ratio == wide else wide
        seen = _dark if happens(chance, 0.5) else _clean
        scenes.append(Scene(ratio, chance.uniform(5, 20), seen))
    return scenes


def _mixed(chance: Random) -> list[Scene]:
    """Join the last two scenes of each of four other classes.

    Cards that come before their film was seen say nothing of its shape.
    """
    names = chance.sample([name for name in CLASSES if name not in _UNMIXED], 4)
    scenes: list[Scene] = []
    for name in names:
        first, second = CLASSES[name](chance)[-2:]
        if first.effects is _carded:
            first = first._replace(known=bool(scenes) and scenes[-1].ratio == first.ratio)
        scenes += [first, second]
    return scenes


def _both_bars(chance: Random) -> list[Scene]:
    same = happens(chance, 0.3)
    return _films(
        chance,
        WIDE,
        lambda sight: [Lettering(sight, (ABOVE, BELOW), *sight.habits.both_bars, same=same)],
    )


CLASSES: Final[dict[str, Maker]] = {
    "plain": _of(PLAIN),
    "fades": _of(PLAIN, Fades),
    "dark shots": _of(PLAIN, DarkShots),
    "credits": lambda chance: [
        Scene(ratio := _another(chance, 17_778), 60, _clean),
        Scene(ratio, 40, lambda sight: [Credits(sight)]),
        Scene(17_778, 30, _clean),
    ],
    "jitter": _of(PLAIN, lambda sight: Jitter(sight, 3)),
    "windows": _windows,
    "tickers": _of(WIDE, lambda sight: Lettering(sight, (BELOW,), (20, 60), (5, 20), same=True)),
    "subtitles": _of(WIDE, lambda sight: Lettering(sight, (BELOW,), *sight.habits.subtitles)),
    "cards": _cards,
    "misread": _misread,
    "both bars": _both_bars,
    "side mark": _side_mark,
    "off centre": _off_centre,
    "raised": _raised,
    "alternating": _alternating,
    "square": _of((10_000,)),
    "1.43": _of((14_300,), lambda sight: DarkShots(sight, 0.15)),
    "mixed": _mixed,
}
"""The classes of evenings by name."""
_UNMIXED: Final = ("mixed", "alternating", "credits")
