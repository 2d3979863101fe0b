"""The palettes of all drawings, for paper and for black; each role has a dash and a hatch as well.

A role is what a mark stands for, wherever it is drawn. Colours of roles can be told apart by people
who see red, green or blue differently, and stand out from their ground by 3 to 1 at least; words
are written in `ink` or `faint`, which stand out by more than 4.5 to 1 (WCAG 2.2, 1.4.3 and 1.4.11).
No role is told by its colour alone: a line has its dash, an area its hatch, and both a label.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from adapters.render import svg

if TYPE_CHECKING:
    from collections.abc import Iterable

Role = Literal["picture", "lens", "panel", "person", "wrong", "good"]
"""picture: what is lit; lens: lens and raster; panel: masking; person: what people do and what they
are asked; wrong: what failed or was refused, a limit; good: what was done."""


class Palette(NamedTuple):
    """Colours for one ground; those from `picture` to `good` belong to the roles of these names."""

    ground: str
    sheet: str
    """Of a field that lies on the ground."""
    ink: str
    faint: str
    """For words and lines that say less."""
    rule: str
    """For the lines of a grid, which nobody has to see."""
    wall: str
    border: str
    screen: str
    grey: str
    """The screen with the black of the raster on it."""
    lit: str
    """A picture on the screen."""
    picture: str
    lens: str
    panel: str
    person: str
    wrong: str
    good: str

    def of(self, role: Role) -> str:
        """Give a role's colour."""
        colour: str = getattr(self, role)
        return colour


ON_PAPER: Final = Palette(
    ground="#f7f6f2",
    sheet="#ffffff",
    ink="#1d1f21",
    faint="#5f5c56",
    rule="#dedbd2",
    wall="#cfcac0",
    border="#17181a",
    screen="#33383e",
    grey="#48443c",
    lit="#8fc1e3",
    picture="#0084f1",
    lens="#9a8665",
    panel="#481e02",
    person="#00268c",
    wrong="#c15989",
    good="#007518",
)
"""For light paper, and for pages that are read by day."""

ON_BLACK: Final = Palette(
    ground="#000000",
    sheet="#0b0b0b",
    ink="#d8d4ca",
    faint="#8f8b83",
    rule="#2a2926",
    wall="#000000",
    border="#0e0e0e",
    screen="#1d1f22",
    grey="#292723",
    lit="#5d86a3",
    picture="#426aa5",
    lens="#dd7200",
    panel="#8d4861",
    person="#da98dc",
    wrong="#bf0026",
    good="#66ed77",
)
"""For a page that is read in the dark: nothing on it is bright."""

ROLES: Final[tuple[Role, ...]] = ("picture", "lens", "panel", "person", "wrong", "good")
DASHES: Final[dict[Role, str]] = {
    "picture": "none",
    "lens": "4 3",
    "panel": "9 3",
    "person": "2 3",
    "wrong": "7 3 2 3",
    "good": "12 4 2 4 2 4",
}
"""The dash of each role's lines, in units of the drawing."""

_HATCHES: Final[dict[Role, tuple[int, float]]] = {
    "picture": (0, 0.0),
    "lens": (90, 5.0),
    "panel": (45, 5.0),
    "person": (0, 4.0),
    "wrong": (135, 4.0),
    "good": (135, 9.0),
}
"""The angle of each role's hatch in degrees and the distance of its strokes; 0: a plain area."""


def line_style(palette: Palette, role: Role, width: float = 1.2) -> dict[str, float | str]:
    """Give the attributes of a line or an outline of this role."""
    return {
        "fill": "none",
        "stroke": palette.of(role),
        "stroke_width": width,
        "stroke_dasharray": DASHES[role],
    }


def area_style(palette: Palette, role: Role) -> dict[str, float | str]:
    """Give the attributes of an area of this role; the drawing must hold its `hatches`."""
    plain = not _HATCHES[role][1]
    fill = palette.of(role) if plain else f"url(#hatch-{role})"
    return {"fill": fill, "stroke": palette.of(role), "stroke_width": 0.8}


def hatches(palette: Palette, roles: Iterable[Role] = ROLES) -> str:
    """Make the hatches of these roles, for the areas of one drawing."""
    return svg.element(
        "defs", "".join(_hatch(palette, role) for role in roles if _HATCHES[role][1])
    )


def _hatch(palette: Palette, role: Role) -> str:
    """Make one hatch: strokes on a paler ground of the same colour."""
    angle, gap = _HATCHES[role]
    colour = palette.of(role)
    back = svg.draw_rect(0, 0, gap, gap, fill=colour, fill_opacity=0.35)
    stroke = svg.draw_rect(0, 0, gap, 1.6, fill=colour)
    return svg.element(
        "pattern",
        back + stroke,
        id=f"hatch-{role}",
        width=gap,
        height=gap,
        patternUnits="userSpaceOnUse",
        patternTransform=f"rotate({-angle})",
    )
