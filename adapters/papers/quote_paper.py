"""The offer: what one zoom left alone, presets and panels each give for each film, and cost."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.papers.client_paper import KINDS
from adapters.papers.paper_words import heading, on_paper
from adapters.render.plan_sentences import percent
from engine.aspect import ratio_text

if TYPE_CHECKING:
    from adapters.papers.paper_words import HeadingCode, PaperCode
    from engine.planning.plan import Plan, Trade

LEAST_GREY: Final = 0.01
"""Panels that would cover less than this share of the screen are not offered for a film."""
WHOLE: Final = 0.99
"""Panels that leave at least this share of a picture leave it alone."""


COLUMNS: Final[tuple[tuple[str, HeadingCode | None], ...]] = (
    ("", "film"),
    ("1", "width"),
    ("1", "light"),
    ("2", None),
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
    lines = [_line(plan, trade) for trade in plan.trades]
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
        heads=tuple("" if code is None else heading(say, code) for code in codes),
        ways=tuple(ways),
        lines=tuple(tuple(line[at] for at in kept) for line in lines),
        costs=tuple(costs),
    )


def _line(plan: Plan, trade: Trade) -> tuple[str, ...]:
    """Write one film's cells, in the order of `COLUMNS`; what does not apply is empty."""
    white = plan.zoom(plan.fixed).light
    stays = heading(plan.room.catalogue, "quote_nothing")
    gains = ("", "", "", "")
    if trade.moves:
        light = "" if trade.light is None else percent(trade.light)
        travel = f"{trade.travel / 1_000:.0f} s"
        gains = _metres(trade.best.area.width), light, percent(trade.pixels), travel
    return (
        f"{_kind(plan, trade.ratio)} ({ratio_text(trade.ratio)})",
        _metres(trade.fixed.area.width),
        "" if white is None else f"{white.luminance:.0f} cd/m2",
        _named(plan, trade.best.preset) if trade.moves else stays,
        *gains,
        _panels(plan, trade),
    )


def _kind(plan: Plan, ratio: int) -> str:
    """Name a film by the nearest kind that families know."""
    code = min(KINDS, key=lambda kind: abs(kind[1] - ratio))[0]
    return heading(plan.room.catalogue, code)


def _panels(plan: Plan, trade: Trade) -> str:
    """Say which panels leave this picture alone, and what they turn from grey to black."""
    left = dict(trade.best.left)
    fitting = [one for one in plan.maskings if left.get(one.panels, 0.0) >= WHOLE]
    if not fitting:
        return ""
    best = max(fitting, key=lambda one: one.side + one.end)
    screen = plan.room.screen
    covered = 2 * (best.side * screen.height + best.end * screen.width)
    share = min(trade.best.placement.grey, covered / (screen.width * screen.height))
    return f"{_named(plan, best.panels)}, {share * 100:.0f} %" if share >= LEAST_GREY else ""


def _named(plan: Plan, name: str) -> str:
    """Give a preset or an arrangement as the room file labels it."""
    return plan.room.labelled(name) or name


def _metres(micrometres: float) -> str:
    return f"{micrometres / 1e6:.2f} m"
