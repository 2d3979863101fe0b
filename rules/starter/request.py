"""Turn the wishes for a new room, as somebody typed them, into a plan of its file.

Presets and panels are placed on the axis of ratios, which they divide into bands (`ratio_bands`).
On a screen wider than the raster, a preset that fits 2.00 shows all ratios up to 2.00 at full
size; on a screen narrower than the raster, all ratios from 2.00 on. Presets differ only between
the ratio of the screen and the ratio of the raster. Outside that range the raster cannot become
larger or smaller.
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from engine.aspect import NARROWEST, SCALE, WIDEST, in_hundredths, meant, ratio_text, same_shape
from engine.planning.placement import screen_by_diagonal
from rules.room import fields, single_values
from rules.room.names import DEFAULT_PRESET, OPEN_PANELS, Report, check_zone
from rules.room.openings import FreeWidth, read_opening, width_fault
from rules.starter.ratio_bands import RatioBand, RatioPoint, bands_of, runs_of, too_near
from rules.starter.wish_pieces import Problems, WishPiece, piece_of, pieces_of
from rules.table.domains import RATIO_STEP
from rules.text import quantity
from rules.text.findings import BadRoom, left_to_others
from rules.text.quantity import QuantityError, show_ratio
from rules.text.recovery import read_source
from rules.text.yaml_nodes import Scalar

DEFAULT_ZONE: Final = "UTC"
"""The time zone if none is wished for."""
MOST_SOURCES: Final = 40
"""A new room has at most this many sources; presets and panels are limited by their ratios."""
WIDEST_BETWEEN: Final = 93
"""Panels that leave more than this of the screen's width (per cent) are too near to it."""
SCREEN_WIDTHS: Final = (300_000, 30_000_000)
"""The narrowest and the widest screen, in micrometres."""

_TIMES: Final = re.compile(r"\s*[xX\u00d7]\s*")
_ONE_RATIO: Final = re.compile(r"[0-9.]+(?: ?: ?[0-9.]+)?")
_NO_COMMA: Final = re.compile(rf"{_ONE_RATIO.pattern}(?: {_ONE_RATIO.pattern})+")
_SCREEN: Final = "Write width x ratio, such as 3.4 m x 2.40."
_CORNERS: Final = r"(?:diagonally|diagonal|diag\.?|across corners)"
_ACROSS_CORNERS: Final = re.compile(rf"(.+?)\s*{_CORNERS}|{_CORNERS}\s*(.+)")


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
    problems = Problems()
    name = problems.read(piece_of("name", wishes.name), single_values.read_name)
    screen = _screen(piece_of("screen", wishes.screen), problems)
    raster = problems.read(piece_of("raster", wishes.raster), _raster)
    sources = _sources(wishes.sources, problems)
    presets = _ratios("presets", wishes.presets, problems)
    panels = _openings(wishes.panels, screen, problems)
    time_zone = _time_zone(piece_of("time-zone", wishes.time_zone), problems)
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
    zoom_runs = runs_of(zooms)
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
        bands_of(zoom_runs, runs_of(covers, [run.first for run in zoom_runs])),
    )


# ----------------------------------------------------------------------------- one wish at a time


def _screen(piece: WishPiece, problems: Problems) -> tuple[str, int] | None:
    """Read width and ratio; the width is returned as it was typed, the ratio in 1/10,000."""
    split = _TIMES.split(piece.text)
    if len(split) != 2:  # noqa: PLR2004 - a width and a ratio
        message = f"{piece.text[:60] or 'nothing'} is no width and ratio"
        problems.note("bad-value", piece, message, _SCREEN)
        return None
    width, ratio = split
    if left_to_others(piece.text):
        message = f"{piece.text[:60]}: roomcue leaves {left_to_others(piece.text)} to others"
        problems.note("bad-value", piece, message, _SCREEN)
        return None
    across = _ACROSS_CORNERS.fullmatch(width)
    if across is not None:
        problems.note(
            "bad-value",
            piece,
            f"{width[:60]} is no width",
            _by_diagonal(across[1] or across[2], ratio),
        )
        return None
    at_ratio = piece._replace(text=ratio)
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


def _by_diagonal(diagonal: str, ratio: str) -> str:
    """Say what to write for a screen whose diagonal was given."""
    try:
        width, _ = screen_by_diagonal(quantity.read_length(diagonal, 1, 10**8), _ratio(ratio))
    except QuantityError:
        return _SCREEN
    least, most = SCREEN_WIDTHS
    if not least <= width <= most:
        return f"Write a width of {quantity.show_length_range(least, most, diagonal)}."
    return f"Write {quantity.show_length(width // 1_000 * 1_000, diagonal)} x {ratio}."


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


def _sources(text: str, problems: Problems) -> tuple[str, ...]:
    """Read the names of the sources; each may stand only once."""
    found: dict[str, WishPiece] = {}
    pieces = pieces_of("sources", text)
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


def _ratios(wish: str, text: str, problems: Problems) -> list[tuple[int, WishPiece]]:
    """Read a list of ratios, which may be empty."""
    pieces = _with_commas(wish, text, problems)
    read = ((problems.read(piece, _ratio), piece) for piece in pieces)
    return [(ratio, piece) for ratio, piece in read if ratio is not None]


def _with_commas(wish: str, text: str, problems: Problems) -> list[WishPiece]:
    """Take a list of ratios apart; what has spaces for commas is told."""
    found = []
    for piece in pieces_of(wish, text) if text.strip() else ():
        if _NO_COMMA.fullmatch(piece.text):
            message = f"{piece.text[:60]} has no comma"
            ratios = _ONE_RATIO.findall(piece.text)
            problems.note("bad-value", piece, message, f"Write {', '.join(ratios)}.")
        else:
            found.append(piece)
    return found


def _openings(
    text: str, screen: tuple[str, int] | None, problems: Problems
) -> list[tuple[int, WishPiece]]:
    """Read what panels leave free, as ratios; a width becomes one by the screen's height."""
    found = []
    for piece in _with_commas("panels", text, problems):
        opening = problems.read(piece, read_opening)
        if isinstance(opening, FreeWidth):
            if screen is None:
                continue
            width = _length(screen[0])
            opening = opening.width * screen[1] // width
            height = width * SCALE // screen[1]
            fault = width_fault(opening, piece.text, width, height, WIDEST_BETWEEN)
            if fault is not None:
                problems.note("out-of-range", piece, *fault)
                continue
        if opening is not None:
            found.append((opening, piece))
    return found


def _time_zone(piece: WishPiece, problems: Problems) -> str:
    """Check a time zone against those that the system knows, if it knows any."""
    report = Report(read_source("", piece.option))
    check_zone(report, Scalar(piece.text, 1, 1, None, plain=True))
    problems.findings += [one._replace(line=0, column=0) for one in report.findings if one.fatal]
    return piece.text


# ---------------------------------------------------------------------------- the axis of ratios


def ratio_name(ratio: int) -> str:
    """Write a ratio by its short name (1.78 for 16:9), if that is read as the same ratio."""
    short = in_hundredths(ratio) or 0
    return show_ratio(short if meant(short) == ratio else ratio)


def _zoom_points(
    ratios: list[tuple[int, WishPiece]], aspect: int, raster: tuple[int, int], problems: Problems
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
    for one, other in too_near(points):
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
    ratios: list[tuple[int, WishPiece]], aspect: int, problems: Problems
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
    for one, other in too_near(points):
        bare = OPEN_PANELS in {one.name, other.name}
        message = (
            f"{_as_typed(one)} and {_as_typed(other)} are too near to each other for panels"
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


def _as_typed(point: RatioPoint) -> str:
    """Name a point by its ratio; one that was typed as a width by that as well."""
    name, typed = ratio_name(point.ratio), "" if point.piece is None else point.piece.text.strip()
    return f"{typed} ({name})" if any(map(str.isalpha, typed)) else name


def _named(kind: str, ratio: int) -> str:
    return f"{kind}_{_hundredth(ratio) // RATIO_STEP}"


def _hundredth(ratio: int) -> int:
    return in_hundredths(ratio) or 0


def _later(one: RatioPoint, other: RatioPoint) -> WishPiece:
    """Give the one of two points that was typed last, which is the one to leave out."""
    typed = [point.piece for point in (one, other) if point.piece is not None]
    return max(typed, key=lambda piece: piece.number)
