"""A plan as text that reads best at 100 columns: what each choice does, ratio by ratio."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from adapters.render.alignment_text import alignment_rows
from adapters.render.columns import ColumnRow, TextLine, laid_out, table, widths
from adapters.render.margin_text import bleed_sentence, margin_sentences
from adapters.render.plan_notes import panels_sentence, shape_notes, way_name
from adapters.render.plan_sentences import cautions, percent, plan_sentences
from engine.aspect import SCALE, ratio_text
from engine.planning.margins import margins
from rules.text.quantity import show_duration, show_length, show_share

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.planning.alignment import Alignment
    from engine.planning.placement import Reach
    from engine.planning.plan import Plan, Seat, ShapeWays, Way, Zoom
    from engine.room import Screen

WIDTH: Final = 100
LABEL: Final = 12
NOTE: Final = 4
SEATS_ABREAST: Final = 5
INCH: Final = 25_400
ROWS: Final = (
    "Each row is a preset and a picture: plain fills what is free with the film, whole shows its "
    "frame with the bars, and the others are named in the room file."
)
LEGEND: Final = (
    "screen: the picture's size there; at: its left and top pixel; unlit: how much of the screen "
    "stays dark, left and right together and top and bottom together; circles: how wide against "
    "their height, in the middle and at the edge; rows: the share of them that is cut off; scale: "
    "raster pixels for one of a 3840 x 2160 source; lines: whether subtitles in the lower bar land "
    "on the screen, how far the picture has to be raised for that, or that they are lost."
)
ZOOMS: Final = (
    "raster: its size on the screen; let through: by the lens, of the light; cd/m2 and fL: how "
    "bright white is; black: how bright black is on the screen, cd/m2; on the wall: past the "
    "border, cd/m2."
)
TRADES: Final = (
    "On the left the lens stays where it is, and the picture is scaled. On the right stands the "
    "preset that shows the ratio best, its pixels, what it changes, and how long the travel takes. "
    "stays: no other preset shows the picture larger; made for: such a preset is not there yet."
)

Rows = list[list[str]]


def plan_lines(plan: Plan, width: int = WIDTH) -> Iterator[TextLine]:
    """Write the whole plan, to a width of at most `WIDTH`."""
    return laid_out(_lines(plan), min(width, WIDTH))


def _lines(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    yield TextLine(f"{plan.room.name}: what each choice does on the screen", heading=True)
    yield from about(plan)
    yield from _zooms(plan)
    yield from _shapes(plan)
    yield from _trades(plan)
    yield from _maskings(plan)
    yield from _seats(plan)
    for preset, alignment in plan.aligned:
        yield from _alignment(plan, preset, alignment)
    yield from _sentences("How far a preset may move before it shows", [*_margins(plan)])
    yield from _sentences("In plain words", plan_sentences(plan))
    yield from _sentences("Take care", cautions(plan), "! ")


def about(plan: Plan) -> Iterator[TextLine]:
    """Sum up the room file, in metric units and in feet and inches."""
    screen, projector = plan.room.screen, plan.room.projector
    diagonal = (screen.width**2 + screen.height**2) ** 0.5 / INCH
    yield _labelled(
        "Screen",
        f"{_metres(screen.width)} x {_metres(screen.height)} m, {ratio_text(screen.aspect)} "
        f"({_feet(screen.width)} x {_feet(screen.height)}, {diagonal:.0f} in across corners), "
        f"gain {screen.gain:g}",
    )
    yield _labelled(
        "",
        f"border {show_length(screen.border)}; {_passing(screen)}",
    )
    light, throw = projector.light, projector.throw
    about = f"{projector.columns} x {projector.rows}"
    if light is not None:
        about += (
            f"; {light.lumens:g} lumens, {light.remaining * 100:.0f} % of them left; "
            f"native contrast {light.native_contrast:g}:1"
        )
    yield _labelled("Projector", about)
    if throw is not None:
        up, across = show_share(throw.shift_up), show_share(throw.shift_across)
        shift = f"shift {up} up or down, {across} across"
        yield _labelled(
            "Lens",
            f"{_metres(throw.distance)} m from the screen, throw {ratio_text(throw.shortest)} to "
            f"{ratio_text(throw.longest)}, "
            + (shift if throw.shift_up or throw.shift_across else "no shift"),
        )


def _passing(screen: Screen) -> str:
    """Say how far a picture may pass each edge: by the overfill, and no further than the border."""
    sides, ends = (
        _millimetres(min(length * screen.overfill / 2 / SCALE, screen.border))
        for length in (screen.width, screen.height)
    )
    if sides == ends == "0":
        return "no picture may pass the edge"
    if sides == ends:
        return f"a picture may pass each edge by up to {sides} mm"
    return f"a picture may pass either side by up to {sides} mm, top and bottom by up to {ends} mm"


def _zooms(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    """List the presets with their raster, throw, shift and light."""
    light = any(zoom.light for zoom in plan.zooms)
    reach = any(zoom.reach for zoom in plan.zooms)
    head = ["Presets", "fits", "raster, m"]
    head += ["throw", "shift"] if reach else []
    head += ["let through", "cd/m2", "fL", "black", "on the wall"] if light else []
    rows = [head, *(_zoom(plan, zoom) for zoom in plan.zooms)]
    yield TextLine("")
    yield from table(rows)
    if light:
        yield TextLine(ZOOMS)


def _zoom(plan: Plan, zoom: Zoom) -> list[str]:
    mark = " (measured)" if zoom.measured else ""
    row = [
        zoom.preset + mark,
        ratio_text(zoom.fits),
        f"{_metres(zoom.width)} x {_metres(zoom.height)}",
    ]
    if zoom.reach is not None:
        row += [_throw(plan, zoom.reach), _shift(zoom)]
    if zoom.light is not None:
        row += [
            f"{zoom.light.transmission * 100:.0f} %",
            f"{zoom.light.luminance:.1f}",
            f"{zoom.light.foot_lamberts:.1f}",
            f"{zoom.light.black:.3f}",
            f"{zoom.light.black_on_wall:.4f}" if zoom.on_wall else "none",
        ]
    return row


def _throw(plan: Plan, reach: Reach) -> str:
    """Say the throw ratio, with a further place where two would hide that it is out of reach."""
    if reach.in_range:
        return ratio_text(reach.throw_ratio)
    throw = plan.room.projector.throw
    near = {ratio_text(throw.shortest), ratio_text(throw.longest)} if throw is not None else set()
    said = ratio_text(reach.throw_ratio)
    return f"{reach.throw_ratio / 10_000:.4f} beyond" if said in near else f"{said} beyond"


def _shift(zoom: Zoom) -> str:
    reach = zoom.reach
    assert reach is not None  # noqa: S101 - the caller has seen it
    up, across = reach.shift_up, reach.shift_across
    ways = [f"{abs(up) / 100:.0f} % {'up' if up > 0 else 'down'}"] if up else []
    ways += [f"{abs(across) / 100:.0f} % {'right' if across > 0 else 'left'}"] if across else []
    verdict = "" if reach.shift == "within" else f": {reach.shift}"
    return (", ".join(ways) or "none") + verdict


# ----------------------------------------------------------------------------- ratio by ratio


def _shapes(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    """Show each ratio in every way, a row each; pictures that change nothing are only named."""
    light = any(zoom.light for zoom in plan.zooms)
    head = ["", *way_head(light=light)]
    blocks: list[tuple[ShapeWays, Rows]] = [
        (shape, [way_cells(plan, way, light=light) for way in shape.ways if not way.as_plain])
        for shape in plan.shapes
    ]
    wide = widths([head, *(row for _, rows in blocks for row in rows)])
    yield TextLine("")
    yield TextLine("Where each ratio lands, in every way, with nothing fitted", heading=True)
    yield TextLine(ROWS)
    yield TextLine(LEGEND)
    for shape, rows in blocks:
        yield TextLine("")
        yield ColumnRow([ratio_text(shape.ratio), *head[1:]], wide)
        for row in rows:
            yield ColumnRow(row, wide, head)
        for note in shape_notes(plan, shape):
            yield _noted(note)


def way_head(*, light: bool) -> list[str]:
    """Name the cells of a way."""
    bent = ["circles", "rows", "scale", "lines"]
    return ["screen, m", "pixels", "at", "unlit, mm", *(["cd/m2"] if light else []), *bent]


def way_cells(plan: Plan, way: Way, *, light: bool) -> list[str]:
    """Give the cells of one way."""
    sampling, lines = way.placement.sampling, way.placement.subtitles
    row = [way_name(way), _size(way), _pixels(way), f"{way.shown.left},{way.shown.top}"]
    row.append(f"{_millimetres(way.unlit_width)},{_millimetres(way.unlit_height)}")
    if light:
        zoom = plan.zoom(way.preset)
        row.append("" if zoom.light is None else f"{zoom.light.luminance:.0f}")
    row += _bent(way)
    row.append("" if sampling is None else f"{sampling.across:.2f}")
    row.append("" if lines is None else "land" if lines.land else _lift(lines.lift, can=lines.can))
    return row


def _bent(way: Way) -> list[str]:
    """Say what a named picture does to circles, and how many rows it gives up."""
    enlarged = way.placement.enlarged
    if enlarged is None:
        return ["", ""]
    curve, lost = enlarged.widening.curve, enlarged.widening.rows_lost
    circles = "" if curve.edge == 1 else f"{curve.middle:.2f}-{curve.edge:.2f}"
    return [circles, f"-{lost * 100:.1f} %" if lost else ""]


def _lift(lift: int, *, can: bool) -> str:
    return f"+{lift / 100:.1f} %" if can else "lost"


# ------------------------------------------------------------------- one zoom against presets


def _trades(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    """Compare the lens left alone with the best preset, ratio by ratio."""
    white = plan.zoom(plan.fixed).light
    lit = white is not None
    head = ["", f"left at {plan.fixed}, m", "pixels", *(["cd/m2"] if lit else [])]
    head += ["preset", "its pixels", *(["light"] if lit else []), "pixels", "width", "travel"]
    rows: Rows = [head]
    for trade in plan.trades:
        row = [ratio_text(trade.ratio), _size(trade.fixed), _pixels(trade.fixed)]
        row += [f"{white.luminance:.0f}"] if white is not None else []
        if trade.moves:
            name = f"made for {trade.best.preset}" if trade.made else trade.best.preset
            row += [name, _pixels(trade.best)]
            row += [percent(trade.light or 1.0)] if lit else []
            row += [percent(trade.pixels), percent(trade.size), show_duration(trade.travel)]
        else:
            row += ["stays", *[""] * (5 if lit else 4)]
        rows.append(row)
    yield from _titled("One zoom with scaling, against zoom presets", rows, TRADES)


def _size(way: Way) -> str:
    return f"{_metres(way.area.width)}x{_metres(way.area.height)}"


def _pixels(way: Way) -> str:
    return f"{way.columns}x{way.rows}"


# ---------------------------------------------------------------------------- panels and seats


def _maskings(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    """List the panels, and what is left of each picture with them fitted."""
    if not plan.maskings:
        return
    rows: Rows = [["", "leave free", "free, mm", "each side, mm", "above and below, mm"]]
    screen = plan.room.screen
    for one in plan.maskings:
        free = screen.width - 2 * one.side, screen.height - 2 * one.end
        lengths = f"{_millimetres(free[0])} x {_millimetres(free[1])}"
        panel = _millimetres(one.side), _millimetres(one.end)
        rows.append([one.panels, ratio_text(one.opening), lengths, *panel])
    yield from _titled("Panels", rows)
    for one in plan.maskings:
        yield _noted(panels_sentence(plan, one))


def _seats(plan: Plan) -> Iterator[TextLine | ColumnRow]:
    """Say under which angle each row of seats sees each ratio, and with how many pixels."""
    for start in range(0, len(plan.seats), SEATS_ABREAST):
        seats = plan.seats[start : start + SEATS_ABREAST]
        head = ["", *(f"{seat.seat}, {_metres(seat.distance)} m" for seat in seats)]
        rows: Rows = [
            head,
            ["screen", *(f"{seat.angle:.1f} x {seat.upright:.1f}" for seat in seats)],
        ]
        rows += [
            [ratio_text(shape.ratio), *_seen(seats, at)] for at, shape in enumerate(plan.shapes)
        ]
        yield from _titled(
            "From the seats: degrees across and up, pixels in the middle degree", rows
        )


def _seen(seats: Sequence[Seat], at: int) -> Iterator[str]:
    for seat in seats:
        seen = seat.seen[at]
        yield f"{seen.angle:.1f} x {seen.upright:.1f}, {seen.pixels:.0f}"


# ---------------------------------------------------------------------------------- alignment


def _alignment(plan: Plan, preset: str, found: Alignment) -> Iterator[TextLine]:
    """Say what the measured corners show, and what to put right first."""
    yield TextLine("")
    yield TextLine(f"Alignment of {preset}, from its measured corners", heading=True)
    for label, text in alignment_rows(found, plan.room.screen.border):
        yield _labelled(label, text)


# ------------------------------------------------------------------------------------ helpers


def _margins(plan: Plan) -> Iterator[str]:
    """Say how far the edges of each preset's picture may move."""
    for preset in plan.room.presets:
        for one in margins(plan.room, preset):
            fitted = f", panels {one.panels}" if one.panels is not None else ""
            for words in (*margin_sentences(one.edges), bleed_sentence(one)):
                yield f"{preset}{fitted}: {words}"


def _sentences(title: str, sentences: Sequence[str], mark: str = "") -> Iterator[TextLine]:
    yield TextLine("")
    yield TextLine(title, heading=True)
    for sentence in sentences:
        yield TextLine(mark + sentence, hanging=len(mark))


def _titled(title: str, rows: Rows, legend: str = "") -> Iterator[TextLine | ColumnRow]:
    """Set a table beneath its title and what its columns mean."""
    yield TextLine("")
    yield TextLine(title, heading=True)
    if legend:
        yield TextLine(legend)
    yield from table(rows)


def _noted(text: str) -> TextLine:
    """Set a sentence beneath what it belongs to."""
    return TextLine(" " * NOTE + text, hanging=NOTE)


def _labelled(label: str, text: str) -> TextLine:
    return TextLine(f"{label:<{LABEL}}{text}", hanging=LABEL)


def _metres(micrometres: float) -> str:
    return f"{micrometres / 1e6:.3f}"


def _millimetres(micrometres: float) -> str:
    return f"{micrometres / 1e3:.0f}"


def _feet(micrometres: int) -> str:
    """Say a length in feet and whole inches."""
    inches = round(micrometres / INCH)
    return f"{inches // 12} ft {inches % 12} in"
