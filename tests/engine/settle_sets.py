"""Makes labelled sets of letterbox readings by seed: pictures, their dark, and what lies in bars.

A scene starts from where the picture really lies. Darkness makes a bar larger by a walk of its
own for each edge, with jumps where the film cuts; lettering makes a bar smaller; the detector
reads even counts and errs by a line or two. Nothing here knows how the filter thinks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from random import Random
from typing import NamedTuple

from engine.settle import BarReading
from simulator.readings.labelled import LabelledSet, Segment, Timed

FRAME = 1000 / 24
Edges = tuple[int, int, int, int]
Frames = Iterator[Edges | None]


class Raster(NamedTuple):
    """A coded raster and the ratio (1/10,000) at which all of it is shown."""

    columns: int
    rows: int
    frame: int = 0

    @property
    def shown(self) -> int:
        """The ratio of the whole raster."""
        return self.frame or self.columns * 10_000 // self.rows


HD = Raster(1920, 1080)
RASTERS = (
    HD,
    HD,
    HD,
    Raster(3840, 2160),
    Raster(4096, 2160),
    Raster(1280, 720),
    Raster(720, 576, 13_333),
    Raster(720, 480, 13_333),
    Raster(720, 576, 17_778),
)
STANDARD = (13_333, 16_600, 17_778, 18_500, 18_963, 20_000, 22_000, 23_500, 23_900, 24_000, 27_600)
ODD = (14_600, 15_000, 17_200, 19_400, 20_700, 21_100, 22_500, 25_500)


class Stage(NamedTuple):
    """Where a scene plays: the chance, the raster, where the picture lies, how many frames."""

    chance: Random
    raster: Raster
    edges: Edges
    frames: int


Scene = Callable[[Stage], Frames]


def lay_in(ratio: int, raster: Raster, shrink: int = 100) -> Edges:
    """Lay a picture into a raster, at `shrink` percent of the size it could have.

    BarReading are even in total; where half of them is odd, the lower one is a line or two larger.
    """
    shown = raster.shown
    columns, rows = raster.columns * shrink // 100, raster.rows * shrink // 100
    if ratio >= shown:
        rows = rows * shown // ratio
    else:
        columns = columns * ratio // shown
    above = (raster.rows - rows) // 4 * 2
    beside = (raster.columns - columns) // 4 * 2
    return above, (raster.rows - rows - above) // 2 * 2, beside, beside


def true_ratio(edges: Edges, raster: Raster) -> int:
    """The ratio of what was really laid in."""
    top, bottom, left, right = edges
    columns = (raster.columns - left - right) * raster.shown
    return columns * raster.rows // (raster.columns * (raster.rows - top - bottom))


def _read(stage: Stage, edges: Sequence[float]) -> Edges | None:
    """Even counts, none below zero; black where nothing is left between them."""
    top, bottom, left, right = (max(0, round(edge / 2) * 2) for edge in edges)
    if top + bottom >= stage.raster.rows - 8 or left + right >= stage.raster.columns - 8:
        return None
    return top, bottom, left, right


class Walk:
    """An edge of the light within a picture: it wanders, and jumps where the film cuts."""

    def __init__(self, chance: Random, reach: float, speed: float) -> None:
        """Wander up to about `reach`, by about `speed` from one frame to the next."""
        self.chance, self.reach, self.speed = chance, reach, speed
        self.place = chance.uniform(0, reach)

    def cut(self) -> None:
        """Jump to another place."""
        self.place = self.chance.uniform(0, self.reach)

    def step(self) -> float:
        """Move on by one frame."""
        self.place += self.chance.gauss(0, self.speed) - 0.02 * (self.place - self.reach / 2)
        return max(0.0, self.place)


def _walks(
    stage: Stage, lit: Sequence[bool], share: float, speed: float, *, one_shot: bool = False
) -> Frames:
    """A dark picture: each edge wanders inwards, save those that are lit."""
    chance, raster = stage.chance, stage.raster
    sizes = (raster.rows, raster.rows, raster.columns, raster.columns)
    walks = [Walk(chance, share * size, speed * size / 1080) for size in sizes]
    cut_in = 0 if one_shot else chance.randrange(20, 120)
    for _ in range(stage.frames):
        cut_in -= 1
        if cut_in == 0:
            cut_in = chance.randrange(20, 120)
            for walk in walks:
                walk.cut()
        yield _read(
            stage,
            [
                edge if light else edge + walk.step()
                for edge, light, walk in zip(stage.edges, lit, walks, strict=True)
            ],
        )


# -------------------------------------------------------------------------------- the scenes


def bright(stage: Stage) -> Frames:
    """A picture lit up to its edges."""
    for _ in range(stage.frames):
        yield stage.edges


def grain(stage: Stage) -> Frames:
    """Noise at the edges: a line or two, more in larger rasters."""
    unit = max(1, stage.raster.rows // 1080) * 2
    for _ in range(stage.frames):
        noisy = [e + stage.chance.choice((-unit, 0, 0, 0, unit)) if e else 0 for e in stage.edges]
        yield _read(stage, noisy)


def cuts_to_black(stage: Stage) -> Frames:
    """Half a second of black every two seconds or so."""
    shown, dark = stage.chance.randrange(30, 60), stage.chance.randrange(8, 20)
    for at in range(stage.frames):
        yield None if at % (shown + dark) < dark else stage.edges


def black(stage: Stage) -> Frames:
    """Nothing but black."""
    for _ in range(stage.frames):
        yield None


def subtitles(stage: Stage) -> Frames:
    """One to three lines in the bottom bar, every few seconds."""
    top, bottom, left, right = stage.edges
    rows, at = stage.raster.rows, 0
    margin, line = rows // 50, rows // 24
    while at < stage.frames:
        eaten = bottom - line * stage.chance.randint(1, 3) + stage.chance.randint(-4, 4)
        eaten = min(bottom, max(margin, eaten)) // 2 * 2
        for _ in range(stage.chance.randrange(24, 100)):
            yield (top, eaten, left, right)
            at += 1
        for _ in range(stage.chance.randrange(30, 110)):
            yield stage.edges
            at += 1


def mark(stage: Stage) -> Frames:
    """A channel's mark stands in one bar."""
    top, bottom, left, right = stage.edges
    above = stage.chance.random() < 0.8
    margin = stage.raster.rows // 50
    bar = top if above else bottom
    depth = min(bar, max(margin, bar * stage.chance.randint(15, 70) // 100)) // 2 * 2
    for _ in range(stage.frames):
        yield (depth, bottom, left, right) if above else (top, depth, left, right)


def signs(stage: Stage) -> Frames:
    """Lettering in both bars at once for a second or two, nearly even."""
    yield from _signs(stage, even=False)


def even_signs(stage: Stage) -> Frames:
    """Lettering in both bars at once that is quite even."""
    yield from _signs(stage, even=True)


def _signs(stage: Stage, *, even: bool) -> Frames:
    top, bottom, left, right = stage.edges
    chance, at = stage.chance, 0
    share = chance.uniform(0.25, 0.75)
    off = 0 if even else chance.choice((-1, 1)) * chance.choice((4, 6, 8, 12))
    unit = max(1, stage.raster.rows // 1080)
    if min(top, bottom) * share < stage.raster.rows // 50:
        share, off = 1, 0  # No bar is so low that anybody would write into it.
    while at < stage.frames:
        for _ in range(chance.randrange(24, 66)):
            yield _read(stage, (top * share, bottom * share + off * unit, left, right))
            at += 1
        for _ in range(chance.randrange(72, 200)):
            yield stage.edges
            at += 1


def night(stage: Stage) -> Frames:
    """A dark scene with light at one or two of its edges only."""
    chance = stage.chance
    lit = [False, True, False, True]
    if chance.random() < 0.5:
        lit[:2] = lit[1], lit[0]
    if chance.random() < 0.5:
        lit[2:] = lit[3], lit[2]
    yield from _walks(stage, lit, chance.uniform(0.2, 0.6), chance.uniform(2, 12))


def dim(stage: Stage) -> Frames:
    """A dark scene with no light at any edge."""
    chance = stage.chance
    yield from _walks(stage, [False] * 4, chance.uniform(0.2, 0.5), chance.uniform(1, 12))


def still_night(stage: Stage) -> Frames:
    """A dark scene that nothing moves in: steadily wrong and uneven."""
    chance = stage.chance
    sizes = (stage.raster.rows, stage.raster.rows, stage.raster.columns, stage.raster.columns)
    lit = [chance.random() < 0.35 for _ in range(4)]
    dark = [
        edge if light else edge + chance.uniform(0.02, 0.35) * size
        for edge, light, size in zip(stage.edges, lit, sizes, strict=True)
    ]
    for _ in range(stage.frames):
        yield _read(stage, dark)


def horizon(stage: Stage) -> Frames:
    """Dark ground that stands still below a scene that moves, another one after each cut."""
    chance, rows, at = stage.chance, stage.raster.rows, 0
    while at < stage.frames:
        shot = stage._replace(frames=chance.randrange(36, 240))
        ground = chance.uniform(0.02, 0.3) * rows
        for frame in _walks(
            shot, [False, True, chance.random() < 0.5, True], 0.4, 6, one_shot=True
        ):
            at += 1
            if frame is None:
                yield None
            else:
                yield _read(stage, (frame[0], frame[1] + ground, frame[2], frame[3]))


def breathing(stage: Stage) -> Frames:
    """Light that comes and goes, black in between."""
    chance = stage.chance
    lit, at = [False] * 4, 0
    while at < stage.frames:
        for frame in _walks(stage._replace(frames=chance.randrange(4, 24)), lit, 0.5, 30):
            yield frame
            at += 1
        for _ in range(chance.randrange(8, 50)):
            yield None
            at += 1
        for frame in _walks(stage._replace(frames=chance.randrange(4, 16)), lit, 0.3, 30):
            yield frame
            at += 1
        for _ in range(chance.randrange(20, 70)):
            yield stage.edges
            at += 1


def upright_steady(stage: Stage) -> Frames:
    """Dark at the sides alone: above and below reads steadily, the sides flicker."""
    chance = stage.chance
    yield from _walks(
        stage, (True, True, False, chance.random() < 0.5), chance.uniform(0.2, 0.45), 15
    )


def level_steady(stage: Stage) -> Frames:
    """Dark above and below alone: the sides read steadily, above and below flickers."""
    chance = stage.chance
    yield from _walks(
        stage, (False, chance.random() < 0.5, True, True), chance.uniform(0.2, 0.45), 15
    )


def vignette(stage: Stage) -> Frames:
    """Darkened towards the corners: soft edges that wander with what is shown."""
    chance, raster = stage.chance, stage.raster
    deep = chance.uniform(0.05, 0.3)
    soft = stage._replace(
        edges=(
            stage.edges[0] + round(deep * raster.rows),
            stage.edges[1] + round(deep * raster.rows),
            stage.edges[2] + round(deep * raster.columns),
            stage.edges[3] + round(deep * raster.columns),
        )
    )
    yield from _walks(soft, [False] * 4, chance.uniform(0.02, 0.25), chance.uniform(0.5, 8))


def still_vignette(stage: Stage) -> Frames:
    """The same over a picture that stands still: soft edges, uneven."""
    chance, raster = stage.chance, stage.raster
    deep = [chance.uniform(0.04, 0.25) for _ in range(4)]
    sizes = (raster.rows, raster.rows, raster.columns, raster.columns)
    edges = [e + d * s for e, d, s in zip(stage.edges, deep, sizes, strict=True)]
    for _ in range(stage.frames):
        yield _read(stage, edges)


# --------------------------------------------------------------------------------- whole sets


class Part(NamedTuple):
    """One segment to make."""

    scene: Scene
    ratio: int
    seconds: float
    shrink: int = 100
    counts: bool = True


def make(chance: Random, raster: Raster, parts: Sequence[Part]) -> LabelledSet:
    """Make a set of the parts, one after the other."""
    readings: list[Timed] = []
    segments: list[Segment] = []
    frame = 0
    for scene, ratio, seconds, shrink, counts in parts:
        edges = lay_in(ratio, raster, shrink)
        count, begin = round(seconds * 24), round(frame * FRAME)
        stage = Stage(chance, raster, edges, count)
        for _, seen in zip(range(count), scene(stage), strict=False):
            readings.append((round(frame * FRAME), BarReading(*seen, *raster) if seen else None))
            frame += 1
        truth = true_ratio(edges, raster) if scene is not black else None
        name = f"{scene.__name__} {ratio / 10_000:.2f}" + (" windowed" if shrink < 100 else "")
        segments.append(Segment(name, begin, round(frame * FRAME), truth, not counts))
    return LabelledSet(readings, segments)


def _shape_after(chance: Random, ratio: int, shapes: Sequence[int]) -> int:
    """Another shape: one that is not within 2 % of the last."""
    return chance.choice([each for each in shapes if abs(each - ratio) * 40 > ratio])


def make_plain(seed: int, rasters: Sequence[Raster] = RASTERS) -> LabelledSet:
    """A set like an ordinary evening: standard shapes, darkness, subtitles, black."""
    chance = Random(seed)
    raster, ratio = chance.choice(rasters), 17_778
    parts = [Part(bright, ratio, 6)]
    for _ in range(10):
        if chance.random() < 0.5:
            ratio = _shape_after(chance, ratio, STANDARD)
            if chance.random() < 0.3:
                parts.append(Part(black, ratio, chance.uniform(1, 6)))
            parts.append(Part(chance.choice((bright, grain)), ratio, chance.uniform(10, 40)))
        elif chance.random() < 0.2:
            insert = _shape_after(chance, ratio, STANDARD)
            parts += [Part(bright, insert, chance.uniform(6, 12)), Part(bright, ratio, 12)]
        else:
            scene = chance.choice((night, dim, still_night, breathing, subtitles, horizon))
            parts.append(Part(scene, ratio, chance.uniform(15, 30)))
    return make(chance, raster, parts)


def make_hard(seed: int, rasters: Sequence[Raster] = RASTERS) -> LabelledSet:
    """A set of what misleads: lettering in the bars, odd shapes, windows, vignettes, the dark."""
    chance = Random(seed)
    raster, ratio = chance.choice(rasters), 18_500
    wide = [each for each in STANDARD if each * 10 > raster.shown * 11]
    parts = [Part(bright, ratio, 15)]
    for _ in range(11):
        kind = chance.randrange(9)
        seconds = chance.uniform(20, 30)
        if kind < 4:
            ratio = _shape_after(chance, ratio, wide)
            scene = chance.choice((grain, mark, subtitles, signs, cuts_to_black))
            parts.append(Part(scene, ratio, seconds))
        elif kind == 4:
            ratio = _shape_after(chance, ratio, ODD)
            parts.append(Part(bright, ratio, seconds))
        elif kind == 5:
            parts.append(
                Part(chance.choice((vignette, still_vignette)), ratio, seconds, 100, False)
            )
        elif kind == 6:
            ratio = _shape_after(chance, ratio, STANDARD)
            parts.append(Part(bright, ratio, seconds, chance.choice((70, 75, 80))))
        elif kind == 7:
            parts.append(Part(chance.choice((night, breathing)), ratio, seconds))
        else:
            parts.append(Part(black, ratio, chance.uniform(2, 8)))
            ratio = _shape_after(chance, ratio, STANDARD)
            parts.append(Part(bright, ratio, seconds))
    return make(chance, raster, parts)
