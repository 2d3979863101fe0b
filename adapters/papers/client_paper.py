"""The client's page: what pictures look like, what happens by itself, and how to say no."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.papers.paper_words import heading, on_paper
from adapters.render import svg
from adapters.render.palette import ON_PAPER, hatches
from adapters.render.stretch_drawing import circles_cell
from adapters.render.wall_drawing import draw_lit, draw_panels, draw_wall, wall_view
from engine.aspect import in_hundredths
from engine.optics import window
from engine.planning.placement import outline, place, widest
from engine.room import PLAIN, WHOLE, Crop, Look, Stretch
from engine.table import choose

if TYPE_CHECKING:
    from adapters.papers.paper_words import HeadingCode, PaperCode
    from engine.planning.plan import Plan, Way
    from engine.room import Room

KINDS: Final[tuple[tuple[HeadingCode, int], ...]] = (
    ("kind_square", 13_333),
    ("kind_television", 17_778),
    ("kind_film", 18_500),
    ("kind_scope", 23_900),
)
"""The kinds of picture that a family knows, each with a ratio (1/10,000) that stands for it."""
WIDE: Final = 300.0
CELL: Final = 210.0
CLEAR: Final = 0.02
"""A strip of less than this share of the screen is not called dark."""
CHOICES: Final = 3


class ClientCell(NamedTuple):
    """A drawing with its name and what is said beneath it."""

    name: str
    drawing: str
    words: str
    used: str = ""
    """That this is how the room shows it, if it is."""


class ClientPaper(NamedTuple):
    """What the client's page says, ready for its template."""

    kinds: tuple[ClientCell, ...]
    by_itself: tuple[str, ...]
    saying_no: tuple[str, ...]
    panels: tuple[str, ...]
    care: tuple[str, ...]
    choices: tuple[ClientCell, ...]


def client_paper(plan: Plan) -> ClientPaper:
    """Gather the client's page of a room, in its language."""
    room, say = plan.room, plan.room.catalogue
    masked = bool(plan.maskings)
    asked: tuple[PaperCode, ...] = ("panels_asked", "panels_refused")
    care = [say.say("caution", "beam"), on_paper(say, "care_ladder"), on_paper(say, "care_trades")]
    if masked:
        care += [say.say("caution", "two_people"), say.say("caution", "room_light")]
    return ClientPaper(
        kinds=tuple(_kind(plan, code, ratio) for code, ratio in KINDS),
        by_itself=tuple(_by_itself(room)),
        saying_no=tuple(on_paper(say, code) for code in ("say_no", "keep_it", "give_back")),
        panels=tuple(on_paper(say, code) for code in asked) if masked else (),
        care=tuple(care),
        choices=_choices(plan),
    )


def look_for(plan: Plan, ratio: int) -> Look:
    """Say how the rules show a film of a ratio (1/10,000) that keeps it and has no subtitles."""
    room = plan.room
    sources = [one.name for one in room.sources.values() if not one.leave_alone]
    facts = dict.fromkeys(column.name for column in room.rules.table.columns)
    told = {name: one.default for name, one in room.told.items()}
    known = {
        "source": sources[0] if sources else None,
        "playback": "playing",
        "aspect": in_hundredths(ratio),
        "tallest": in_hundredths(ratio),
        **dict.fromkeys(("varies", "subtitles", "doubtful"), False),
        "first_minutes": True,
        "preset": plan.fixed,
        "panels": widest(room),
        "helper": "free",
    }
    show = choose(room.rules.table, {**facts, **told, **known}).output
    if show is None:
        return Look(PLAIN, 0, plan.fixed, widest(room))
    preset, panels = show.preset or plan.fixed, show.panels or widest(room)
    return Look(show.picture or PLAIN, show.lift or 0, preset, panels)


def _kind(plan: Plan, code: HeadingCode, ratio: int) -> ClientCell:
    """Draw what a kind of picture looks like, and say it."""
    room, look = plan.room, look_for(plan, ratio)
    view = wall_view(room, WIDE)
    found = place(room, look, 17_778 if look.picture == WHOLE else ratio)
    preset = look.preset or plan.fixed
    parts = [hatches(ON_PAPER, ["panel"]), *draw_wall(room, view, ON_PAPER, preset)]
    fitted = look.panels is not None and _covers(room, look.panels)
    if fitted:
        parts += draw_panels(room, view, ON_PAPER, look.panels)
    parts.append(draw_lit(view, outline(room, preset, found.rect), ON_PAPER))
    name = heading(room.catalogue, code)
    width, height = room.screen.width, room.screen.height
    beside = found.picture.width < width * (1 - CLEAR)
    above = found.picture.height < height * (1 - CLEAR)
    where = _where(beside=beside and not fitted, above=above)
    said: list[PaperCode] = [] if fitted and where == "fills" else [where]
    said += ["panels_fitted"] if fitted else []
    said += ["lens_moves"] if preset != plan.fixed else []
    words = " ".join(on_paper(room.catalogue, one) for one in said)
    return ClientCell(name, svg.page(*view.size, name, ON_PAPER.wall, parts), words)


def _where(*, beside: bool, above: bool) -> PaperCode:
    """Say which part of what is free a picture leaves dark."""
    if beside and above:
        return "frame_dark"
    return "sides_dark" if beside else "ends_dark" if above else "fills"


def _covers(room: Room, panels: str) -> bool:
    free = window(room, panels)
    return free.width < room.screen.width or free.height < room.screen.height


def _by_itself(room: Room) -> list[str]:
    """Say what happens without anybody's doing."""
    say, pace, table = room.catalogue, room.pace, room.rules.table
    shown = (table.default, *(row.output for row in table.rows))
    said = [on_paper(say, "picture_fits")]
    if any(one is not None and one.preset is not None for one in shown):
        seconds = round(room.projector.lens.travel / 1_000)
        said.append(on_paper(say, "lens_travels", seconds=seconds, count=pace.per_title))
        said.append(on_paper(say, "light_with_lens"))
    else:
        said.append(on_paper(say, "lens_never"))
    alone = [room.spoken(name) for name, one in room.sources.items() if one.leave_alone]
    if alone:
        said.append(on_paper(say, "games_alone", sources=", ".join(alone)))
    said.append(on_paper(say, "pause_waits", minutes=round(pace.pause / 60_000)))
    return said


def _choices(plan: Plan) -> tuple[ClientCell, ...]:
    """Draw one film in three ways side by side, where a stretch does something to choose."""
    room, say = plan.room, plan.room.catalogue
    bent = [
        (shape, way)
        for shape in plan.shapes
        for way in shape.ways
        if isinstance(room.pictures.get(way.picture), Stretch) and _keeps(plan, way)
    ]
    if not bent:
        return ()
    shape, stretched = max(bent, key=lambda one: one[1].unlit_width - one[1].columns)
    ways: list[tuple[PaperCode, Way]] = []
    for way in shape.ways:
        if way.preset != stretched.preset or (way.as_plain and way.picture != PLAIN):
            continue
        code = _choice_code(room, way.picture)
        if code is not None and (code != "stretch_stretched" or way == stretched):
            ways.append((code, way))
    order = ("stretch_plain", "stretch_stretched", "stretch_cropped", "stretch_whole")
    ways.sort(key=lambda one: order.index(one[0]))
    if len(ways) < CHOICES:
        return ()
    look = look_for(plan, shape.ratio)
    return tuple(
        ClientCell(
            way.picture,
            circles_cell(plan, shape.ratio, way, CELL, f"choice-{number}"),
            on_paper(say, code),
            on_paper(say, "in_this_room")
            if (way.picture, way.preset) == (look.picture, look.preset)
            else "",
        )
        for number, (code, way) in enumerate(_three(ways, look))
    )


def _three(ways: list[tuple[PaperCode, Way]], look: Look) -> list[tuple[PaperCode, Way]]:
    """Keep three ways, and among them the one that the room shows."""
    kept = ways[:CHOICES]
    shown = [one for one in ways if one[1].picture == look.picture]
    if shown and shown[0] not in kept:
        kept[-1] = shown[0]
    return kept


def _keeps(plan: Plan, way: Way) -> bool:
    """Tell whether a stretch is shown at the fixed zoom and does what it promises."""
    enlarged = way.placement.enlarged
    return way.preset == plan.fixed and enlarged is not None and enlarged.kept


def _choice_code(room: Room, picture: str) -> PaperCode | None:
    if picture == PLAIN:
        return "stretch_plain"
    if picture == WHOLE:
        return "stretch_whole"
    shape = room.pictures[picture]
    if isinstance(shape, Stretch):
        return "stretch_stretched"
    return "stretch_cropped" if isinstance(shape, Crop) else None
