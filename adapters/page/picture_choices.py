"""My way: a few pictures that a person may choose between, each drawn, each with its cost.

What cannot be had now is greyed, with the one reason for it.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from adapters.page.offers import Button
from adapters.page.page_words import on_page
from adapters.page.wall_seen import (
    aspect_shown,
    frame_of,
    known_panels_of,
    picture_in,
)
from adapters.render.family_wall import PictureSeen, WallSeen, draw_family_wall
from engine.aspect import SCALE
from engine.optics import fit
from engine.planning.placement import outline
from engine.room import PLAIN, WHOLE, Crop, RoomBelow, Stretch

if TYPE_CHECKING:
    from collections.abc import Iterator

    from adapters.page.offers import Offers
    from adapters.page.page_words import LabelCode, PageCode
    from engine.room import Room

MOST_WAYS: Final = 4
NOT_SEEN: Final = 0.01
"""Corners that are this share of the screen's width apart are one place, for whoever chooses."""
A_WALK: Final[tuple[PageCode, int]] = ("cost_people", 0)
"""What panels cost: somebody goes to the screen."""


class WayToSee(NamedTuple):
    """One picture to choose."""

    label: str
    drawing: str
    button: Button | None
    """None: it cannot be had now."""
    words: str
    """What it costs, or why it cannot be had."""


class _Wish(NamedTuple):
    """A look that somebody may want, and how to draw it."""

    code: LabelCode
    look: dict[str, str]
    seen: WallSeen
    cost: tuple[PageCode | None, int] = (None, 0)
    """What else moves, and for how many seconds."""
    because: str | None = None
    """Why it cannot be had now; None: it can."""


def ways(room: Room, standing: dict[str, Any], offers: Offers) -> list[WayToSee]:
    """Give the pictures that a person may choose between, as far as the room's place is known."""
    preset = standing["parts"]["preset"]["stands"] or standing["parts"]["preset"]["ordered"]
    if preset not in room.presets or standing["source"] is None:
        return []
    wishes = _distinct(room, _wishes(room, standing, preset))
    had = [one for one in wishes if one.because is None]
    not_had = [*{one.because: one for one in reversed(wishes) if one.because}.values()][::-1]
    not_had = not_had[: max(1, MOST_WAYS - len(had))]  # one of each reason is enough
    shown = [*had[: MOST_WAYS - len(not_had)], *not_had]
    return [_way(room, standing, one, offers) for one in shown]


def _way(room: Room, standing: dict[str, Any], wish: _Wish, offers: Offers) -> WayToSee:
    label = _own_label(room, wish.look) or on_page(room.catalogue, wish.code)
    drawing = draw_family_wall(room, wish.seen)
    if wish.because is not None:
        return WayToSee(label, drawing, None, wish.because)
    code, seconds = wish.cost
    until = "session" if standing["title"] is None else "title"
    stands = wish.look == {"picture": standing["parts"]["picture"]["stands"]}
    button = offers.button(
        f"way.{'.'.join(f'{part}:{value}' for part, value in wish.look.items())}",
        label,
        "override",
        {"taken": True, "until": until, "look": wish.look, "source": standing["source"]},
        pressed=stands,
    )
    cost = "" if code is None else on_page(room.catalogue, code, seconds=seconds)
    return WayToSee(label, drawing, button, cost)


def _wishes(room: Room, standing: dict[str, Any], preset: str) -> Iterator[_Wish]:
    """Give every look that may be wanted, the plainest first."""
    panels = known_panels_of(room, standing)
    seen = partial(_seen, room, standing)
    why = partial(reason, standing)
    yield _Wish("as_made", {"picture": PLAIN}, seen(PLAIN, preset), because=why("picture", PLAIN))
    for name, shape in room.pictures.items():
        code, cost = _named(shape)
        yield _Wish(code, {"picture": name}, seen(name, preset), cost, why("picture", name))
    yield _Wish("whole", {"picture": WHOLE}, seen(WHOLE, preset), because=why("picture", WHOLE))
    for other in room.presets:
        if other != preset:
            look = {"picture": PLAIN, "preset": other}
            cost = travel_cost(room)
            yield _Wish("lens_at", look, seen(PLAIN, other), cost, why("preset", other))
    for other in room.panels:
        if other != panels:
            code = "panels_off" if room.panels[other].opening is None else "with_panels"
            look = {"picture": PLAIN, "panels": other}
            yield _Wish(code, look, seen(PLAIN, preset, other), A_WALK, why("panels", other))


def _own_label(room: Room, look: dict[str, str]) -> str | None:
    """Give what the room file calls what is special of a look: its panels, lens or picture."""
    part = next((one for one in ("panels", "preset", "picture") if one in look), "picture")
    return room.labelled(look[part])


def _named(shape: Stretch | Crop | RoomBelow) -> tuple[LabelCode, tuple[PageCode | None, int]]:
    """Give the label of a picture that the room file names, and what it costs."""
    if isinstance(shape, RoomBelow):
        return "lines_below", (None, 0)
    if isinstance(shape, Stretch):
        return "widened", ("cost_wider", 0)
    return "cropped", ("cost_cut", 0)


def travel_cost(room: Room) -> tuple[PageCode, int]:
    """Say what a travel of the lens costs: the sentence, and how many seconds it takes."""
    return "cost_lens", round(room.projector.lens.travel / 1_000)


def reason(standing: dict[str, Any], part: str, name: str) -> str | None:
    """Say why something cannot be chosen now; None: it can."""
    for one in standing["looks"][part]:
        if one["name"] == name and one["why"] is not None:
            return str(one["why"])
    return None


def _distinct(room: Room, wishes: Iterator[_Wish]) -> list[_Wish]:
    """Leave out a look that is seen like an earlier one, which costs no more."""
    kept: list[_Wish] = []
    for wish in wishes:
        if wish.because is not None or not any(_alike(room, wish.seen, one.seen) for one in kept):
            kept.append(wish)
    return kept


def _alike(room: Room, one: WallSeen, other: WallSeen) -> bool:
    """Tell whether nobody sees a difference between two looks."""
    if one.panels != other.panels or one.picture is None or other.picture is None:
        return one == other
    pair = [outline(room, it.preset, it.rect) for it in (one.picture, other.picture)]
    apart = [abs(a - b) for two in zip(*pair, strict=True) for a, b in zip(*two, strict=True)]
    return bool(max(apart) < NOT_SEEN * room.screen.width)


def _seen(
    room: Room, standing: dict[str, Any], picture: str, preset: str, panels: str | None = None
) -> WallSeen:
    """Draw a look as it would stand."""
    stand = panels or known_panels_of(room, standing)
    aspect = aspect_shown(standing)
    if picture == WHOLE:
        rect = picture_in(fit(room, WHOLE, 0, frame_of(standing), preset, stand), aspect)
    else:
        rect = fit(room, picture, 0, aspect, preset, stand)
    seen = None if rect.empty else PictureSeen(preset, rect, aspect / SCALE, "stands")
    return WallSeen(seen, stand)
