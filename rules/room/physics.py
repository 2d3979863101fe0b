"""Check what a room file asks of projector, screen and looks against the room's physics.

This needs the compiled room. Each finding stands at the line that asks too much. An error means
that the room cannot be built so, or that a measurement must be wrong. A warning means that a look
will not be shown as a reader of the rule would expect.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.aspect import NARROWEST, SCALE, WIDEST, in_hundredths, meant, ratio_text
from engine.optics import field_of, largest_preset, raster_size
from engine.plane import raster_seen
from engine.planning.placement import place, presets_for, reach, widest
from engine.planning.plan import RATIOS
from engine.room import PLAIN, Look, RoomBelow, Stretch
from engine.stretch import largest_gain
from engine.value_set import ANYTHING, intervals
from rules.room.close_presets import check_close_presets
from rules.room.measured import check_measured, millimetres, of_another_zoom, place_in
from rules.room.openings import LEAST_COVERED, FreeWidth, read_opening, width_fault
from rules.room.people_asked import check_people_asked
from rules.text.quantity import show_length, show_ratio, show_share
from rules.text.yaml_nodes import Mapping, Scalar, Sequence, node_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.placement import Reach
    from engine.room import Preset, Room, Screen, Show, Throw
    from engine.value_set import ValueSet
    from rules.room.names import Report
    from rules.text.yaml_nodes import Place

NEARLY_IN_REACH: Final = 200
"""How far outside the lens's range a throw ratio is only a warning, in 1/10,000 of it.

The lens's figures are rounded, and a distance is measured to the centimetre."""
MOST_WIDTH_LOST: Final = 1_000
"""How much of its width a picture may lose to panels without a warning, in 1/10,000."""
LIFT_STEP: Final = 10
"""Suggested lifts are multiples of this, in 1/10,000 of the screen's height: 0.1 %."""


class AskedLook(NamedTuple):
    """A look that a row asks for, and the ratios for which it asks."""

    show: Show
    node: Mapping
    ratios: tuple[int, ...]
    """The standard ratios that the row accepts; empty if it does not test the ratio."""
    ends: tuple[int, ...]
    """The same, and the narrowest and widest ratio of each interval that the row accepts."""


def check_physics(report: Report, root: Mapping, room: Room) -> None:
    """Report what cannot be built, shown or measured so; `root` is the completed file."""
    sound = True
    for name in room.panels:
        sound = _check_panels(report, root, room, name) and sound
    for preset in room.presets.values():
        _check_reach(report, root, room, preset)
        sound = check_measured(report, root, room, preset) and sound
    check_close_presets(report, root, room)
    check_people_asked(report, root, room)
    if not sound:
        return  # with wrong corners or openings every placement would be wrong
    for asked in _asked_looks(report, root, room):
        _check_stretch(report, room, asked)
        _check_panels_shown(report, room, asked)
        _check_lift(report, room, asked)


# ------------------------------------------------------------------------ panels and the lens


def _check_panels(report: Report, root: Mapping, room: Room, name: str) -> bool:
    """Check that an arrangement covers a part of this screen; tell whether it does."""
    opening, screen = room.panels[name].opening, room.screen.aspect
    written = node_at(root, "panels", name, "opening")
    if isinstance(written, Scalar) and isinstance(read_opening(written.text), FreeWidth):
        return _check_free_width(report, written, room.screen, opening or 0)
    if opening is None or abs(opening - screen) * SCALE > LEAST_COVERED * screen:
        return True
    report.error(
        "out-of-range",
        place_in(root, "panels", name, "opening"),
        f"opening: panels that leave {show_ratio(opening)} free cover nothing of a screen of "
        f"{ratio_text(screen)}",
        f"Write {ratio_text(NARROWEST)} to {show_ratio(_moved_ratio(screen, -1))} for panels at "
        f"the sides, or {show_ratio(_moved_ratio(screen, 1))} to {ratio_text(WIDEST)} for panels "
        "above and below.",
    )
    return False


def _check_free_width(report: Report, written: Scalar, screen: Screen, opening: int) -> bool:
    """Check that panels at the sides cover something and leave a square free at least."""
    fault = width_fault(opening, written.text, screen.width, screen.height)
    if fault is None:
        return True
    message, advice = fault
    report.error("out-of-range", written.place, f"opening: {message}", advice)
    return False


def _moved_ratio(ratio: int, per_cent: int) -> int:
    """Make a ratio larger or smaller by some per cent, rounded to hundredths away from it."""
    moved = ratio * (100 + per_cent)
    return moved // 10_000 * 100 if per_cent < 0 else -(-moved // 10_000) * 100


def _check_reach(report: Report, root: Mapping, room: Room, preset: Preset) -> None:
    """Check that the lens can reach a preset with its throw ratios and its shift."""
    found, throw = reach(room, preset.name), room.projector.throw
    if found is None or throw is None or of_another_zoom(room, preset):
        return  # Of the corners themselves `check_measured` tells.
    written = node_at(report.source.mapping, "presets", preset.name, "fits")
    node = written or node_at(root, "projector", "throw", "distance")
    where = node.place if node else root.place
    # Measured corners show that the lens does get there: then the throw's figures are doubtful.
    note = report.warning if preset.measured else report.error
    if not found.in_range:
        over = max(throw.shortest - found.throw_ratio, found.throw_ratio - throw.longest)
        nearly = over * SCALE <= NEARLY_IN_REACH * found.throw_ratio
        width, _ = raster_seen(room, preset)
        least, most = (int(ratio * width / SCALE) for ratio in (throw.shortest, throw.longest))
        (report.warning if nearly else note)(
            "out-of-reach",
            where,
            f"preset {preset.name} needs a throw ratio of "
            f"{_told_apart(found.throw_ratio, throw)}, and the lens has {_lens_range(throw)}",
            f"{_ratios_in_reach(room)} the distance be {_length_range(least, most)} for this "
            "preset." + (" This is nearly reached: measure before you drill." if nearly else ""),
        )
    _check_shift(report, where, room, preset, found)


def _lens_range(throw: Throw) -> str:
    """Write a lens's throw ratios; of a lens without a zoom it is one."""
    if throw.shortest == throw.longest:
        return show_ratio(throw.shortest)
    return f"{show_ratio(throw.shortest)} to {show_ratio(throw.longest)}"


def _told_apart(ratio: int, throw: Throw) -> str:
    """Write a throw ratio with as many decimals as tell it from both ends of the lens's."""
    same = ratio_text(ratio) in {ratio_text(throw.shortest), ratio_text(throw.longest)}
    return show_ratio(ratio) if same else ratio_text(ratio)


def _check_shift(report: Report, where: Place, room: Room, preset: Preset, found: Reach) -> None:
    """Check that the lens shift brings the picture to the screen at a preset."""
    throw, (width, height) = room.projector.throw, raster_seen(room, preset)
    if throw is None:
        return
    needs = _shift_words(found.shift_up, found.shift_across)
    has = (
        f"the lens has {show_share(throw.shift_up)} up or down and "
        f"{show_share(throw.shift_across)} across"
    )
    if found.shift == "beyond":
        (report.warning if preset.measured else report.error)(
            "out-of-reach",
            where,
            f"preset {preset.name} needs a lens shift of {needs}, and {has}",
            f"Bring offset within {_largest_offset(throw.shift_up, height)} up or "
            f"down and {_largest_offset(throw.shift_across, width)} across.",
        )
    elif found.shift == "doubtful":
        report.warning(
            "out-of-reach",
            where,
            f"preset {preset.name} needs a lens shift of {needs} at once, and {has}, hardly both",
            "Ask the lens's own chart, or bring the lens nearer to the screen's middle.",
        )


def _ratios_in_reach(room: Room) -> str:
    """Say which ratios a preset can fit with this lens at this distance."""
    throw, screen, projector = room.projector.throw, room.screen, room.projector
    if throw is None:
        return ""
    reached = []
    for ratio in range(NARROWEST, WIDEST + 1, 100):
        width, _ = raster_size(screen, projector.columns, projector.rows, ratio)
        if throw.shortest <= round(throw.distance * SCALE / width) <= throw.longest:
            reached.append(ratio)
    if not reached and throw.shortest == throw.longest:
        return "Let"  # A lens that does not zoom fits the screen from one distance only.
    if not reached:
        return "From this distance it fits no ratio on this screen. Let"
    fits = [*dict.fromkeys(map(ratio_text, (reached[0], reached[-1])))]
    return f"From this distance it fits {' to '.join(fits)}. Or let"


def _length_range(least: int, most: int) -> str:
    """Write a range of lengths in whole centimetres within it.

    If the range is too narrow for that, write the lower end to the millimetre.
    """
    low, high = -(-least // 10_000) * 10_000, most // 10_000 * 10_000
    if low < high:
        return f"{show_length(low)} to {show_length(high)}"
    return show_length((least + 500) // 1_000 * 1_000)


def _shift_words(up: int, across: int) -> str:
    ways = f"{abs(up) / 100:.1f} % {'up' if up >= 0 else 'down'}"
    if across:
        ways += f" and {abs(across) / 100:.1f} % to the {'right' if across > 0 else 'left'}"
    return ways


def _largest_offset(share: int, length: float) -> str:
    return show_length(int(share * length / SCALE) // 1_000 * 1_000)


# ------------------------------------------------------------------------------------- looks


def _asked_looks(report: Report, root: Mapping, room: Room) -> Iterator[AskedLook]:
    """List the looks that the file's own rows ask for."""
    rules = root.get("rules")
    if node_at(report.source.mapping, "rules") is not rules or not isinstance(rules, Mapping):
        return  # rules that were filled in stand on no line of the file
    rows = rules.get("rows")
    items = rows.items if isinstance(rows, Sequence) else ()
    for item, row in zip(items, room.rules.table.rows, strict=True):
        node = node_at(item, "show")
        if isinstance(node, Mapping) and row.output is not None:
            cells = dict(
                zip((one.name for one in room.rules.table.columns), row.cells, strict=True)
            )
            ratios, ends = _ratios_of_row(room, cells)
            yield AskedLook(row.output, node, ratios, ends)
    otherwise, default = rules.get("otherwise"), room.rules.table.default
    if isinstance(otherwise, Mapping) and default is not None:
        yield AskedLook(default, otherwise, (), ())


def _ratios_of_row(
    room: Room, cells: dict[str, ValueSet]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """List the standard ratios that a row accepts, and those with the ends of its cell added."""
    aspect = cells["aspect"]
    if aspect == ANYTHING:
        taken = [one for one in room.sources.values() if cells["source"].accepts(one.name)]
        shapes = sorted({one.shape for one in taken if one.shape is not None})
        fixed = all(one.shape is not None for one in taken)
        return (tuple(shapes), tuple(shapes)) if fixed else ((), ())
    known = tuple(ratio for ratio in RATIOS if aspect.accepts(in_hundredths(ratio)))
    ends = set(known)
    for low, high in intervals(aspect):
        if low is not None:
            ends.add(int(low.value) + (100 if low.after else 0))
        if high is not None:
            ends.add(int(high.value) - (0 if high.after else 100))
    ends = {meant(ratio) for ratio in ends if NARROWEST <= ratio <= WIDEST}
    return known, tuple(sorted(ends))


def _check_stretch(report: Report, room: Room, asked: AskedLook) -> None:
    """Check that a named picture has its full effect for every ratio of its row."""
    name = asked.show.picture or PLAIN
    shape = room.pictures.get(name)
    if shape is None or isinstance(shape, RoomBelow) or not asked.ends:
        return
    preset, panels = asked.show.preset or largest_preset(room), asked.show.panels or widest(room)
    node = asked.node.get("picture")
    where = node.place if node else asked.node.place
    shown = {
        ratio: place(room, Look(name, 0, preset, panels), ratio).enlarged for ratio in asked.ends
    }
    short = {ratio: one.fill for ratio, one in shown.items() if one and not one.kept}
    if not any(shown.values()):
        report.warning(
            "no-effect",
            where,
            f"{name} changes nothing for the ratios of this row: plain is as large",
            "Show plain, or another preset.",
        )
    elif short and isinstance(shape, Stretch):
        ratio = min(short, key=lambda one: short[one])
        share = f"{short[ratio] * 100:.0f} %"
        report.warning(
            "beyond-limit",
            where,
            f"at {ratio_text(ratio)} {name} fills {share} of the unlit width within its limits, "
            f"not the {show_share(shape.fill)} asked for; plain is shown there",
            _stretch_advice(room, shape, ratio, (preset, panels)),
        )


def _stretch_advice(room: Room, shape: Stretch, ratio: int, at: tuple[str, str | None]) -> str:
    """Say from which ratio on a stretch fills what it asks for, and what fill it does reach."""
    field = field_of(room, *at)
    if field.exact.width < field.wanted:
        return "The raster ends before the screen at this preset: show another preset."
    gain, fill = largest_gain(shape), shape.fill / SCALE
    wanted = float(field.wanted / field.exact.height) * SCALE
    first = -(-wanted * fill // ((gain - 1 + fill) * 100)) * 100
    reached = int((gain - 1) / (wanted / ratio - 1) * 100)
    less = f"or let fill be at most {reached} %" if reached >= 1 else "or leave the picture plain"
    return (
        f"Take ratios from {ratio_text(int(first))} on, {less}, or allow wider circles or more "
        "rows lost."
    )


def _check_panels_shown(report: Report, room: Room, asked: AskedLook) -> None:
    """Check that the panels a row asks for do not make its pictures much smaller."""
    panels = asked.show.panels
    if panels is None or not asked.ratios:
        return
    lost = {}
    for ratio in asked.ratios:
        preset = asked.show.preset or presets_for(room, ratio)[0].preset
        look = Look(PLAIN, 0, preset, widest(room))
        free, masked = (
            place(room, one, ratio).rect.width for one in (look, look._replace(panels=panels))
        )
        lost[ratio] = SCALE - masked * SCALE // max(1, free)
    worst = max(lost, key=lambda ratio: lost[ratio])
    if lost[worst] > MOST_WIDTH_LOST:
        node = asked.node.get("panels")
        report.warning(
            "picture-on-panels",
            node.place if node else asked.node.place,
            f"a picture of {ratio_text(worst)} would fall on the panels {panels}, and is made "
            f"{lost[worst] / 100:.0f} % smaller to stay off them",
            "Take these ratios out of the case, or show an arrangement that leaves them free.",
        )


def _check_lift(report: Report, room: Room, asked: AskedLook) -> None:
    """Check that a picture that a row raises stays on the screen and its border."""
    lift = asked.show.lift
    if not lift:
        return
    worst, ratio = _largest_spill(room, asked, lift)
    if not worst:
        return
    low, high = 0, lift // LIFT_STEP
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (
            (low, middle - 1)
            if _largest_spill(room, asked, middle * LIFT_STEP)[0]
            else (middle, high)
        )
    node = asked.node.get("lift")
    report.warning(
        "spill",
        node.place if node else asked.node.place,
        f"raised by {show_share(lift)}, a picture of {ratio_text(ratio)} passes the border by "
        f"{millimetres(worst)} and falls on the wall",
        f"Raise it by at most {show_share(low * LIFT_STEP)}, or have a border of "
        f"{millimetres(room.screen.border + worst)}.",
    )


def _largest_spill(room: Room, asked: AskedLook, lift: int) -> tuple[int, int]:
    """Give how far a raised picture passes the border at worst (micrometres), and its ratio."""
    panels = asked.show.panels or widest(room)
    worst = (0, 0)
    for ratio in asked.ratios or RATIOS:
        preset = asked.show.preset or presets_for(room, ratio)[0].preset
        found = place(room, Look(asked.show.picture or PLAIN, lift, preset, panels), ratio)
        worst = max(worst, (max(found.spill), ratio))
    return worst if worst[0] else (0, 0)
