"""The offer: what one zoom left alone, presets and panels each give for each film, and cost."""

from __future__ import annotations

import re
from itertools import groupby
from typing import TYPE_CHECKING, Final, NamedTuple, cast

from adapters.papers.client_paper import KINDS
from adapters.papers.paper_words import heading, on_paper
from adapters.render.plan_sentences import change

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from adapters.papers.paper_words import HeadingCode, PaperCode
    from engine.planning.plan import Plan, Trade

OFFERED: Final[tuple[tuple[HeadingCode, int], ...]] = (
    *KINDS,
    ("kind_series", 20_000),
    ("kind_widest", 27_000),
)
"""The kinds that the offer tells apart, each with a ratio (1/10,000) that stands for it."""
NUMBER: Final = re.compile(r"[+-]?\d+(?:\.\d+)?(?= (?:m|s|%|cd/m\u00b2)$)")
"""A figure with its unit, at the end of a cell."""
LEAST_GREY: Final = 0.01
"""Panels that would cover less than this share of the screen are not offered for a film."""
WHOLE: Final = 0.99
"""Panels that leave at least this share of a picture leave it alone."""


COLUMNS: Final[tuple[tuple[str, HeadingCode], ...]] = (
    ("", "film"),
    ("1", "width"),
    ("1", "light"),
    ("2", "lens"),
    ("2", "width"),
    ("2", "light"),
    ("2", "pixels"),
    ("2", "travel"),
    ("3", "panels"),
)
"""The way that each column tells of, and what stands above it."""
MEANINGS: Final[tuple[tuple[HeadingCode, PaperCode], ...]] = (
    ("light", "quote_light_is"),
    ("pixels", "quote_detail_is"),
)
"""Headings that have to be explained, where their columns are shown, and the sentence for each."""


class QuotePaper(NamedTuple):
    """What the offer says, ready for its template."""

    groups: tuple[tuple[str, int], ...]
    """The ways above the columns, each with how many it takes."""
    heads: tuple[str, ...]
    ways: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    costs: tuple[str, ...]


def quote_paper(plan: Plan) -> QuotePaper:
    """Gather the offer for the films of a plan, in the room's language."""
    say = plan.room.catalogue
    ways = [on_paper(say, "quote_fixed"), on_paper(say, "quote_presets")]
    lines = [*_lines(plan)]
    kept = [at for at in range(len(COLUMNS)) if any(line[at] for line in lines)]
    codes = [COLUMNS[at][1] for at in kept]
    costs = [on_paper(say, words) for code, words in MEANINGS if code in codes]
    costs.append(on_paper(say, "quote_light"))
    if any(trade.moves for trade in plan.trades):
        seconds = round(plan.room.projector.lens.travel / 1_000)
        costs += [on_paper(say, "quote_time", seconds=seconds), on_paper(say, "quote_wear")]
    if plan.maskings:
        ways.append(on_paper(say, "quote_panels"))
        costs.append(on_paper(say, "quote_walk"))
    groups = groupby(COLUMNS[at][0] for at in kept)
    return QuotePaper(
        groups=tuple((way, len([*columns])) for way, columns in groups),
        heads=tuple(heading(say, code) for code in codes),
        ways=tuple(ways),
        lines=tuple(tuple(line[at] for at in kept) for line in lines),
        costs=tuple(costs),
    )


def _lines(plan: Plan) -> Iterator[tuple[str, ...]]:
    """Write a line for each kind of film that is shown in one way; a client reads no ratio.

    Where films of a kind are shown in several ways, the narrower ones are told from the wider.
    """
    say = plan.room.catalogue
    trades = sorted(plan.trades, key=lambda one: one.ratio)
    for code, kind in groupby(trades, key=lambda one: _kind(one.ratio)):
        cells = [(trade, _cells(plan, trade)) for trade in kind]
        ways = [
            [one for _, one in alike]
            for _, alike in groupby(cells, key=lambda pair: _way(plan, pair[0]))
        ]
        for number, alike in enumerate(ways, 1):
            words = heading(say, code)
            if number < len(ways):
                words = heading(say, "quote_narrower", kind=words)
            elif len(ways) > 1:
                words = heading(say, "quote_wider", kind=words)
            yield words, *map(span, zip(*alike, strict=True))


def _way(plan: Plan, trade: Trade) -> tuple[str, str]:
    """Say how a film is shown: by which preset, and with which panels."""
    preset = trade.best.preset if trade.best.preset in plan.room.presets else "its own"
    return preset if trade.moves else "", _panels(plan, trade).partition(",")[0]


def span(cells: Sequence[str]) -> str:
    """Sum up what some films have in one column: what all have, or from the least to the most.

    Where figures are below zero, a dash between them would be read as another minus.
    """
    found = [(float(one[0]), cell) for cell in cells if (one := NUMBER.search(cell))]
    if len(set(cells)) == 1 or len(found) < len(cells):
        return cells[0]
    least, most = min(found)[1], max(found)[1]
    number = cast("re.Match[str]", NUMBER.search(least))[0]
    if number.startswith("-"):
        return NUMBER.sub(lambda one: f"{number} \u2026 {one[0]}", most, count=1)
    return NUMBER.sub(lambda one: f"{number}\u2013{one[0].lstrip('+')}", most, count=1)


def _cells(plan: Plan, trade: Trade) -> tuple[str, ...]:
    """Write one film's cells, as in `COLUMNS` behind its kind; what does not apply is empty."""
    white = plan.zoom(plan.fixed).light
    stays = heading(plan.room.catalogue, "quote_nothing")
    gains = ("", "", "", "")
    if trade.moves:
        light = "" if trade.light is None else change(trade.light)
        travel = f"{trade.travel / 1_000:.0f} s"
        gains = _metres(trade.best.area.width), light, change(trade.pixels), travel
    return (
        _metres(trade.fixed.area.width),
        "" if white is None else f"{white.luminance:.0f} cd/m\u00b2",
        _named(plan, trade.best.preset) if trade.moves else stays,
        *gains,
        _panels(plan, trade),
    )


def _kind(ratio: int) -> HeadingCode:
    """Give the nearest kind that families know."""
    return min(OFFERED, key=lambda kind: abs(kind[1] - ratio))[0]


def _panels(plan: Plan, trade: Trade) -> str:
    """Say which panels leave this picture alone, and what they turn from grey to black."""
    left = {name: one.share for name, one in trade.best.left}
    fitting = [one for one in plan.maskings if left.get(one.panels, 0.0) >= WHOLE]
    if not fitting:
        return ""
    best = max(fitting, key=lambda one: one.side + one.end)
    screen = plan.room.screen
    covered = 2 * (best.side * screen.height + best.end * screen.width)
    share = min(trade.best.placement.grey, covered / (screen.width * screen.height))
    return f"{_named(plan, best.panels)}, {share * 100:.0f} %" if share >= LEAST_GREY else ""


def _named(plan: Plan, name: str) -> str:
    """Give a preset or an arrangement as people read it.

    A zoom without presets is set for each film by itself.
    """
    if name not in plan.room.presets and name not in plan.room.panels:
        return heading(plan.room.catalogue, "quote_own")
    return plan.room.spoken(name)


def _metres(micrometres: float) -> str:
    return f"{micrometres / 1e6:.2f} m"
