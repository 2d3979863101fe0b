"""Turn the wishes for a new room, as somebody typed them, into a plan of its file.

If there are several presets, each ratio gets the one with the longest zoom that still shows it as
large as the screen allows. If there are panels, each ratio gets the arrangement that leaves it
free. Both divide the axis of ratios into bands, and no band ends within a film's range
(`rules.table.boundaries`).

On a screen wider than the raster, a preset that fits 2.00 shows all ratios up to 2.00 at full
size; on a screen narrower than the raster, all ratios from 2.00 on. Presets differ only between
the ratio of the screen and the ratio of the raster. Outside that range the raster cannot become
larger or smaller.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, NamedTuple, TypeVar

from engine.aspect import NARROWEST, SCALE, WIDEST, in_hundredths, meant, ratio_text, same_shape
from rules.room import fields, single_values
from rules.room.names import DEFAULT_PRESET, OPEN_PANELS, Report, check_zone
from rules.room.openings import FreeWidth, read_opening
from rules.table.boundaries import FILM_CLUSTERS, middle_between
from rules.table.domains import RATIO_STEP
from rules.text import quantity
from rules.text.findings import BadRoom, Finding, Severity
from rules.text.quantity import QuantityError, show_ratio
from rules.text.recovery import read_source
from rules.text.yaml_nodes import Scalar

DEFAULT_ZONE: Final = "UTC"
"""The time zone if none is wished for."""
MOST_SOURCES: Final = 40
"""A new room has at most this many sources; presets and panels are limited by their ratios."""
SCREEN_WIDTHS: Final = (300_000, 30_000_000)
"""The narrowest and the widest screen, in micrometres."""

_TIMES: Final = re.compile(r"\s*[xX\u00d7]\s*")
_SCREEN: Final = "Write width x ratio, such as 3.4 m x 2.40."

Item = TypeVar("Item")


class Wishes(NamedTuple):
    """The wishes for a new room, each as somebody typed it."""

    name: str
    screen: str
    """Width x ratio: 3.4 m x 2.40."""
    raster: str
    """Columns x rows: 4096 x 2160."""
    sources: str
    """Names with commas between them."""
    presets: str = ""
    """Ratios with commas between them; with none or one, the zoom never moves."""
    panels: str = ""
    """What panels leave free, with commas between: ratios, or widths between panels at the sides
    (2.52 m); none: no panels."""
    time_zone: str = DEFAULT_ZONE


class RatioBand(NamedTuple):
    """A part of the axis of ratios with one preset and one arrangement of panels."""

    first: int | None
    """The first ratio of the band; None: it starts with the narrowest ratio."""
    after: int | None
    """The first ratio of the next band; None: this band goes up to the widest ratio."""
    preset: str | None
    """None if the zoom never moves."""
    panels: str | None
    """None if the room has no panels."""


class StarterPlan(NamedTuple):
    """What is written into a new room's file; ratios in 1/10,000."""

    name: str
    time_zone: str
    width: str
    """As it was typed, without needless blanks."""
    aspect: int
    raster: tuple[int, int]
    sources: tuple[str, ...]
    presets: dict[str, int]
    """The ratio that each preset fits, the widest first; at least one preset."""
    panels: dict[str, int]
    """The ratio that each arrangement leaves free, the narrowest first, without `open`."""
    typed: dict[str, str]
    """What was typed for each arrangement: a ratio, or a width with its unit."""
    shapes: tuple[RatioBand, ...]
    """At least one band; together they are the whole axis of ratios."""


def read_wishes(wishes: Wishes) -> StarterPlan:
    """Read the wishes; raises BadRoom with a finding for each that cannot be fulfilled."""
    problems = _Problems()
    name = problems.read(_piece("name", wishes.name), single_values.read_name)
    screen = _screen(_piece("screen", wishes.screen), problems)
    raster = problems.read(_piece("raster", wishes.raster), _raster)
    sources = _sources(wishes.sources, problems)
    presets = _ratios("presets", wishes.presets, problems)
    panels = _openings(wishes.panels, screen, problems)
    time_zone = _time_zone(_piece("time-zone", wishes.time_zone), problems)
    if screen is None or raster is None or name is None:
        raise BadRoom(problems.findings)
    width, aspect = screen
    zooms = _zoom_points(presets, aspect, raster, problems)
    covers = _cover_points(panels, aspect, problems)
    if problems.findings:
        raise BadRoom(problems.findings)
    fits = {zoom.name: zoom.ratio for zoom in sorted(zooms, key=lambda one: -one.ratio)}
    if len(fits) <= 1:
        zooms, fits = [], {DEFAULT_PRESET: next(iter(fits.values()), aspect)}
    openings = {one.name: one.ratio for one in covers if one.name != OPEN_PANELS}
    zoom_runs = _runs(zooms)
    return StarterPlan(
        name,
        time_zone,
        width,
        aspect,
        raster,
        sources,
        fits,
        openings,
        {one.name: one.piece.text for one in covers if one.piece is not None},
        _bands(zoom_runs, _runs(covers, [run.first for run in zoom_runs])),
    )


# ----------------------------------------------------------------------------- one wish at a time


class WishPiece(NamedTuple):
    """A part of what was typed for one wish, on one line, and its column, from 1."""

    wish: str
    text: str
    column: int

    @property
    def option(self) -> str:
        """The argument or option of the command line that the wish was typed for."""
        return "NAME" if self.wish == "name" else f"--{self.wish}"


@dataclass(slots=True)
class _Problems:
    """Collects findings about the wishes."""

    findings: list[Finding] = field(default_factory=list)

    def note(self, code: str, at: WishPiece, message: str, suggestion: str) -> None:
        place = (at.option, 1, at.column)
        self.findings.append(Finding(Severity.ERROR, code, *place, message, suggestion))

    def read(self, piece: WishPiece, reader: Callable[[str], Item]) -> Item | None:
        """Read a piece; if it cannot be read, add a finding and give None."""
        try:
            return reader(piece.text)
        except QuantityError as error:
            self.note(error.code, piece, error.message, error.suggestion)
            return None


def _piece(wish: str, text: str, start: int = 0, end: int | None = None) -> WishPiece:
    part = text[start:end]
    before = len(part) - len(part.lstrip()) if part.strip() else 0
    return WishPiece(wish, " ".join(part.split()), start + before + 1)


def _pieces(wish: str, text: str) -> Iterator[WishPiece]:
    """Split what was typed at its commas."""
    start = 0
    for part in text.split(","):
        yield _piece(wish, text, start, start + len(part))
        start += len(part) + 1


def _screen(piece: WishPiece, problems: _Problems) -> tuple[str, int] | None:
    """Read width and ratio; the width is returned as it was typed, the ratio in 1/10,000."""
    split = _TIMES.split(piece.text)
    if len(split) != 2:  # noqa: PLR2004 - a width and a ratio
        message = f"{piece.text[:60] or 'nothing'} is no width and ratio"
        problems.note("bad-value", piece, message, _SCREEN)
        return None
    width, ratio = split
    at_ratio = piece._replace(text=ratio, column=piece.column + len(piece.text) - len(ratio))
    size = problems.read(piece._replace(text=width), _length)
    height = _height(ratio)
    if height is not None and size is not None:
        near = _nearest_ratio(size, height)
        message = f"{ratio[:60]} is a height, and the ratio of width over height is awaited"
        problems.note(
            "bad-value", at_ratio, message, f"Write {width} x {near}." if near else _SCREEN
        )
        return None
    aspect = problems.read(at_ratio, _ratio)
    return None if size is None or aspect is None else (width, aspect)


def _length(text: str) -> int:
    return quantity.read_length(text, *SCREEN_WIDTHS)


def _height(text: str) -> int | None:
    """Read a height (micrometres) that somebody typed in place of a ratio; None: it is none."""
    try:
        return quantity.read_length(text, 1, SCREEN_WIDTHS[1])
    except QuantityError:
        return None


def _nearest_ratio(width: int, height: int) -> str:
    value = in_hundredths(width * SCALE // height) or 0
    return show_ratio(value) if NARROWEST <= value <= WIDEST else ""


def _raster(text: str) -> tuple[int, int]:
    return quantity.read_raster(text, *fields.RASTER_LIMITS)


def _ratio(text: str) -> int:
    return meant(quantity.read_ratio(text, NARROWEST, WIDEST))


def _sources(text: str, problems: _Problems) -> tuple[str, ...]:
    """Read the names of the sources; each may stand only once."""
    found: dict[str, WishPiece] = {}
    pieces = tuple(_pieces("sources", text))
    for piece in pieces[:MOST_SOURCES]:
        one = problems.read(piece, single_values.read_name)
        if one in found:
            problems.note("name-taken", piece, f"{one} stands here twice", "Name each source once.")
        elif one is not None:
            found[one] = piece
    if len(pieces) > MOST_SOURCES:
        message = f"there are {len(pieces)} sources"
        problems.note("too-long", pieces[MOST_SOURCES], message, f"Name at most {MOST_SOURCES}.")
    return tuple(found)


def _ratios(wish: str, text: str, problems: _Problems) -> list[tuple[int, WishPiece]]:
    """Read a list of ratios, which may be empty."""
    pieces = _pieces(wish, text) if text.strip() else ()
    read = ((problems.read(piece, _ratio), piece) for piece in pieces)
    return [(ratio, piece) for ratio, piece in read if ratio is not None]


def _openings(
    text: str, screen: tuple[str, int] | None, problems: _Problems
) -> list[tuple[int, WishPiece]]:
    """Read what panels leave free, as ratios; a width becomes one by the screen's height."""
    found = []
    for piece in _pieces("panels", text) if text.strip() else ():
        opening = problems.read(piece, read_opening)
        if isinstance(opening, FreeWidth):
            if screen is None:
                continue
            opening = opening.width * screen[1] // _length(screen[0])
        if opening is not None and NARROWEST <= opening <= WIDEST:
            found.append((opening, piece))
        elif opening is not None:
            problems.note(
                "out-of-range",
                piece,
                f"{piece.text} between the panels is {opening / SCALE:.2f} of the screen's height",
                f"Let it be {show_ratio(NARROWEST)} to {show_ratio(WIDEST)} of it.",
            )
    return found


def _time_zone(piece: WishPiece, problems: _Problems) -> str:
    """Check a time zone against those that the system knows, if it knows any."""
    report = Report(read_source("", piece.option))
    check_zone(report, Scalar(piece.text, 1, piece.column, None, plain=True))
    problems.findings += [one for one in report.findings if one.fatal]
    return piece.text


# ---------------------------------------------------------------------------- the axis of ratios


class RatioPoint(NamedTuple):
    """A preset or an arrangement of panels on the axis of ratios."""

    at: int
    """Its place on the axis; a preset's is limited to the range between screen and raster."""
    ratio: int
    """The ratio as it was wished for, in 1/10,000."""
    name: str
    upwards: bool
    """Whether it serves the ratios up to its own; if not, it serves those from its own on."""
    piece: WishPiece | None = None
    """Where it was typed; None for the bare screen, which is always there."""


class AxisRun(NamedTuple):
    """The part of the axis that one preset or arrangement serves, up to the next run's first."""

    first: int
    name: str


def ratio_name(ratio: int) -> str:
    """Write a ratio by its short name (1.78 for 16:9), if that is read as the same ratio."""
    short = in_hundredths(ratio) or 0
    return show_ratio(short if meant(short) == ratio else ratio)


def _zoom_points(
    ratios: list[tuple[int, WishPiece]], aspect: int, raster: tuple[int, int], problems: _Problems
) -> list[RatioPoint]:
    """Place the presets on the axis in ascending order, and report those that hardly differ."""
    own = raster[0] * SCALE // raster[1]
    low, high = sorted((own, aspect))
    points = [
        RatioPoint(
            _hundredth(min(max(ratio, low), high)), ratio, _named("zoom", ratio), own < aspect, at
        )
        for ratio, at in ratios
    ]
    points.sort(key=lambda one: (one.at, one.ratio))
    for one, other in _too_near(points):
        message = (
            f"presets for {ratio_name(one.ratio)} and {ratio_name(other.ratio)} come to "
            "one place of the "
            "zoom, or nearly"
        )
        advice = (
            "This screen has the raster's own shape, so that one zoom shows them all: name one."
            if same_shape(low, high)
            else f"With this screen and raster presets differ from {ratio_text(low)} to "
            f"{ratio_text(high)}, and within 2 % shapes count as one: leave one of the two out."
        )
        problems.note("contradiction", _later(one, other), message, advice)
    return points


def _cover_points(
    ratios: list[tuple[int, WishPiece]], aspect: int, problems: _Problems
) -> list[RatioPoint]:
    """Place panels and the bare screen on the axis in ascending order; report those too near."""
    if not ratios:
        return []
    points = [RatioPoint(_hundredth(aspect), aspect, OPEN_PANELS, upwards=False)]
    for ratio, at in ratios:
        beside = ratio < aspect
        name = _named("sides" if beside else "ends", ratio)
        points.append(RatioPoint(_hundredth(ratio), ratio, name, beside, at))
    points.sort(key=lambda one: (one.at, not one.upwards, one.name != OPEN_PANELS))
    for one, other in _too_near(points):
        bare = OPEN_PANELS in {one.name, other.name}
        message = (
            f"{ratio_name(one.ratio)} and {ratio_name(other.ratio)} are too near to each "
            "other for panels"
            + (f", and {ratio_name(aspect)} is the screen itself" if bare else "")
        )
        advice = (
            f"There has to be room for a film between them: leave {'it' if bare else 'one'} out."
        )
        if one.at == other.at:
            message = f"panels for {ratio_name(one.ratio)} stand here twice"
            advice = "Name each once."
            if bare:
                message = (
                    f"panels that leave {ratio_name(aspect)} free cover nothing of this screen"
                )
                advice = "Leave it out."
        problems.note("contradiction", _later(one, other), message, advice)
    return points


def _named(kind: str, ratio: int) -> str:
    return f"{kind}_{_hundredth(ratio) // RATIO_STEP}"


def _hundredth(ratio: int) -> int:
    return in_hundredths(ratio) or 0


def _later(one: RatioPoint, other: RatioPoint) -> WishPiece:
    """Give the one of two points that was typed last, which is the one to leave out."""
    typed = [point.piece for point in (one, other) if point.piece is not None]
    return max(typed, key=lambda piece: piece.column)


def _too_near(points: Sequence[RatioPoint]) -> Iterator[tuple[RatioPoint, RatioPoint]]:
    """List neighbours that are equal, or so near that no boundary between them spares a film."""
    for one, other in pairwise(points):
        if not one.at < _cut(one, other) <= other.at:
            yield one, other


def _runs(points: Sequence[RatioPoint], parted: Sequence[int] = ()) -> list[AxisRun]:
    """Divide the axis among points, which must be ascending and far enough apart.

    Where the axis is `parted` already, one shape ends, and what is made for it ends there too.
    """
    if not points:
        return []
    cuts = (
        AxisRun(_nearest_cut(one, other, parted), other.name) for one, other in pairwise(points)
    )
    return [AxisRun(NARROWEST, points[0].name), *cuts]


def _nearest_cut(one: RatioPoint, other: RatioPoint, parted: Sequence[int]) -> int:
    """Give the cut between two neighbours that is nearest to the one that decides on it."""
    cut = _cut(one, other)
    if one.upwards:
        return min((place for place in parted if one.at < place < cut), default=cut)
    return max((place for place in parted if cut < place <= other.at), default=cut)


def _cut(one: RatioPoint, other: RatioPoint) -> int:
    """Give the first ratio that the second of two neighbours serves."""
    cut = _first_beyond_shape(one.at) if one.upwards else _first_within_shape(other.at)
    if one.at < cut <= other.at:
        return cut
    return middle_between(one.at, other.at) or cut  # Such as 1.85 and 1.90.


def _first_beyond_shape(ratio: int) -> int:
    """Give the first ratio above one that is another shape, moved up past any film's range."""
    cut = ratio
    while same_shape(cut, ratio):
        cut += RATIO_STEP
    return next((zone.after for zone in FILM_CLUSTERS if zone.first < cut < zone.after), cut)


def _first_within_shape(ratio: int) -> int:
    """Give the first ratio that is still the same shape, moved down before any film's range."""
    cut = ratio
    while same_shape(cut - RATIO_STEP, ratio):
        cut -= RATIO_STEP
    return next((zone.first for zone in FILM_CLUSTERS if zone.first < cut < zone.after), cut)


def _bands(zooms: Sequence[AxisRun], covers: Sequence[AxisRun]) -> tuple[RatioBand, ...]:
    """Divide the axis wherever another preset or other panels begin."""
    firsts = sorted({NARROWEST, *(run.first for run in (*zooms, *covers))})
    ends = (*firsts[1:], None)
    return tuple(
        RatioBand(
            None if first == NARROWEST else first,
            end,
            _name_at(zooms, first),
            _name_at(covers, first),
        )
        for first, end in zip(firsts, ends, strict=True)
    )


def _name_at(runs: Sequence[AxisRun], ratio: int) -> str | None:
    """Give the name of the run that a ratio belongs to; None if there are no runs."""
    return next((run.name for run in reversed(runs) if run.first <= ratio), None)
