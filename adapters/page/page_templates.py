"""The templates of the page: what a view looks like as HTML.

Everything that is written into them is escaped, but for drawings, which are made of numbers alone.
"""

from __future__ import annotations

from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from adapters.page.page_words import on_page
from adapters.render.family_wall import panel_hatch
from adapters.render.templating import html_environment

if TYPE_CHECKING:
    from adapters.page.room_view import RoomView
    from engine.catalogue import Catalogue
    from engine.room import Room

PARTS: Final = (
    *("screen", "asked", "now", "why", "hands", "ways", "lights", "facts", "wrong"),
    "gone",
)
"""The parts of a room's page, from top to bottom; each is swapped by itself."""
STATIC: Final = Path(__file__).parent / "static"
MEDIA: Final = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}
"""The files that every page uses, each with its type."""


@cache
def _environment() -> Environment:
    found = html_environment(PackageLoader("adapters.page"))
    found.filters["drawing"] = Markup  # only on what draw_family_wall has made
    return found


@cache
def static_file(name: str) -> bytes:
    """Give one of the files that every page uses."""
    return (STATIC / name).read_bytes()


@cache
def static_version() -> str:
    """Name what these files are now, so that a browser keeps them until they change."""
    return sha256(b"".join(map(static_file, MEDIA))).hexdigest()[:12]


def page_version(file: str) -> str:
    """Name what a room's page is made of: these files, and the room file, by its mark."""
    return f"{static_version()}-{file[:12]}"


def part_html(name: str, view: RoomView | None, room: Room) -> str:
    """Write one part of a room's page; empty where there is nothing to show."""
    template = _environment().get_template("parts.html")
    macro = getattr(template.module, name)
    return str(macro(view, page_words(room.catalogue))).strip()


def unfolded(html: str) -> str:
    """Give a part with what is folded away in it unfolded."""
    return html.replace('data-opens="false"', 'data-opens="true" open')


def page_html(name: str, catalogue: Catalogue, **values: Any) -> str:  # noqa: ANN401 - for templates
    """Write a whole page."""
    return (
        _environment()
        .get_template(name)
        .render(
            say=page_words(catalogue),
            language=catalogue.language,
            version=static_version(),
            panel_hatch=Markup(panel_hatch()),  # noqa: S704 - made of numbers alone
            **values,
        )
    )


def page_words(catalogue: Catalogue) -> Any:  # noqa: ANN401 - a function for templates
    """Give what says a sentence of the page by its code."""
    return partial(on_page, catalogue)
