"""Write the papers of a room: a page for each reader, and the site's drawings by themselves."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from adapters.papers.as_built_paper import as_built_paper
from adapters.papers.client_paper import client_paper
from adapters.papers.paper_words import heading
from adapters.papers.quote_paper import quote_paper
from adapters.papers.site_drawings import front_elevation, side_section
from adapters.papers.site_paper import site_paper
from adapters.render.plan_sentences import cautions
from adapters.render.templating import html_environment

if TYPE_CHECKING:
    from adapters.papers.as_built_paper import Built
    from engine.planning.plan import Plan


def card_name(preset: str) -> str:
    """Name the file of a preset's test card, beside the papers."""
    return f"card-{preset}.png"


def write_papers(plan: Plan, built: Built, version: str, day: str) -> dict[str, str]:
    """Write all papers of a planned room; gives the text of each file by its name."""
    front, side = front_elevation(plan), side_section(plan)
    words = plan.room.catalogue
    cards = [(preset, card_name(preset)) for preset in plan.room.presets]
    shared: dict[str, object] = {
        "room": plan.room.name,
        "version": version,
        "day": day,
        "language": words.language,
        "say": lambda code: heading(words, code),
        "cautions": cautions(plan),
    }
    return {
        "client.html": _filled("client.html", paper=client_paper(plan), **shared),
        "site.html": _filled("site.html", paper=site_paper(plan), front=front, side=side, **shared),
        "as-built.html": _filled(
            "as_built.html", paper=as_built_paper(plan, built, cards, version, day), **shared
        ),
        "quote.html": _filled("quote.html", paper=quote_paper(plan), **shared),
        "front.svg": front,
        "side.svg": side,
    }


@cache
def _environment() -> Environment:
    found = html_environment(PackageLoader("adapters.papers"))
    found.filters["drawing"] = _inline
    found.filters["soft"] = _soft
    return found


def _soft(words: str) -> Markup:
    """Let a name break behind its low lines, to fit into its column, and keep figures whole."""
    return Markup("_<wbr>").join(words.replace(" %", "\u00a0%").split("_"))


def _inline(drawing: str) -> Markup:
    """Put a drawing of our own into a page; everything written in it is escaped already."""
    return Markup(drawing.split("?>\n", 1)[1])  # noqa: S704 - made by adapters.render.svg


def _filled(name: str, **values: object) -> str:
    return _environment().get_template(name).render(values) + "\n"
