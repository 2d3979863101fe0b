"""What makes each sentence of a plan true: a pattern, and a judgement by the figures."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any

from adapters.render.plan_sentences import NO_BRIGHTER
from engine.aspect import ratio_text
from engine.optics import fit
from engine.planning.alignment import Alignment
from engine.planning.margins import margins
from engine.planning.plan import Plan, PresetComparison, ShapeWays, Trade, Way
from engine.room import Room

Judge = Callable[[Plan, re.Match[str]], bool]
SIDES = ("left", "top", "right", "bottom")


def always(_found: Plan, _match: re.Match[str]) -> bool:
    """Said of every room, or a plain figure of the room file."""
    return True


def unlit(found: Plan, _match: re.Match[str]) -> bool:
    return all(zoom.light is None for zoom in found.zooms)


def percents(text: str) -> tuple[float, float]:
    """The least and the greatest factor of what is said as a change."""
    ends = [0 if end == "same" else int(end.removesuffix(" %")) for end in text.split(" to ")]
    return 1 + min(ends) / 100, 1 + max(ends) / 100


def about(said: tuple[float, float], factors: list[float]) -> bool:
    """Whether the figures reach from the one end to the other, to half a per cent."""
    return (
        abs(min(factors) - said[0]) <= 0.0051 and abs(max(factors) - said[1]) <= 0.0051
    )  # fmt: skip


def of_spans(found: Plan, text: str) -> list[Trade]:
    """The trades of the ratios that are named, all of them between two ends included."""
    known = [ratio_text(trade.ratio) for trade in found.trades]
    trades: list[Trade] = []
    for part in text.split(", "):
        first, last = [*part.split(" to "), part][:2] if " to " in part else (part, part)
        # Ratios that are written alike are told apart by nobody: take in all of them.
        start = known.index(first)
        end = len(known) - known[::-1].index(last)
        trades += found.trades[start:end]
    return trades


def stays(found: Plan, match: re.Match[str]) -> bool:
    """No other preset is larger; what it gives in light and pixels is said if it gives any."""
    where, fixed, rest = match["where"], match["fixed"], match["rest"]
    still = [trade for trade in found.trades if not trade.moves]
    named = found.trades if where == "every ratio" else of_spans(found, where)
    if fixed != found.fixed or not all(trade in named for trade in still):
        return False
    if where == "every ratio" and len(still) != len(found.trades):
        return False
    others = [other for trade in still for other in trade.others]
    gain = [one for one in others if max(one.light or 1, one.pixels) > 1.01]
    if rest.startswith("no other preset gives more"):
        return not gain
    if rest.startswith("no preset that the lens reaches"):
        return len(found.zooms) == 1 and not others
    larger = [one for one in others if one.size > 1.0125]
    return bool(gain) and not larger and gives(others, rest)


def gives(others: list[PresetComparison], rest: str) -> bool:
    for part in rest.removesuffix(".").split(" larger. ")[1].split("; "):
        said = re.fullmatch(r"(\w+) would give (.+), and (.+) width", part)
        assert said is not None, part
        ours = [one for one in others if one.preset == said[1]]
        if not about(percents(said[3]), [one.size for one in ours]):
            return False
        for gain in said[2].split(" and "):
            change, _, what = gain.rpartition(" ")
            factors = [getattr(one, what) or 1.0 for one in ours]
            if not about(percents(change), factors) or max(factors) <= 1.01:
                return False
    return True


def moves(found: Plan, match: re.Match[str]) -> bool:
    """What a preset gives for the ratios that are named is what their figures say."""
    made = match["who"].startswith("A preset made")
    pace, lens = found.room.pace, found.room.projector.lens
    allowed = int(match["travel"]) * 1_000, int(match["title"]), int(match["night"])
    if allowed != (lens.travel, pace.per_title, pace.per_night):
        return False
    trades = [
        trade
        for trade in found.trades
        if trade.moves and trade.made == made and (made or match["who"] == trade.best.preset)
    ]
    for part in re.split(r", | and ", match["gains"]):
        change, _, what = part.rpartition(" ")
        figure = {"light": "light", "pixels": "pixels", "width": "size"}[what]
        run = [one for one in of_spans(found, match["ratios"]) if one in trades]
        if not about(percents(change), [getattr(one, figure) or 1.0 for one in run]):
            return False
    return bool(trades)


def unmeasured(found: Plan, match: re.Match[str]) -> bool:
    bare = {zoom.preset for zoom in found.zooms if not zoom.measured}
    return set(re.split(r", | and ", match[1])) == bare


def shape_of(found: Plan, match: re.Match[str]) -> ShapeWays:
    return next(shape for shape in found.shapes if shape.ratio == int(match["ratio"]))


def idle(found: Plan, match: re.Match[str]) -> bool:
    presets = match["presets"]
    named = re.split(r", | and ", presets) if presets else [zoom.preset for zoom in found.zooms]
    ways = {(way.preset, way.picture): way for way in shape_of(found, match).ways}
    for picture in match["pictures"].split(", "):
        for preset in named:
            if ways[preset, picture].placement.rect != ways[preset, "plain"].placement.rect:
                return False
    return True


def short_fill(found: Plan, match: re.Match[str]) -> bool:
    ways = {f"{way.preset} {way.picture}": way for way in shape_of(found, match).ways}
    for name, fill, stops in re.findall(r"(\w+ \w+) (\d+) % \(([\w ]+)\)", match["rest"]):
        enlarged = ways[name].placement.enlarged
        assert enlarged is not None
        if enlarged.kept or not 0 <= enlarged.fill * 100 - int(fill) < 1 or enlarged.fill >= 1:
            return False
        beside = ways[name].unlit_width
        pixel = ways[name].area.width / ways[name].columns
        reaches = ways[name].columns >= found.room.projector.columns - 1
        if (stops == "stopped by its limits") and reaches and beside > 2 * pixel:
            return False
    return True


def passes(found: Plan, match: re.Match[str]) -> bool:
    """How far a picture passes the screen, from its own place; the border takes the first of it."""
    ways = {f"{way.preset} {way.picture}": way for way in shape_of(found, match).ways}
    way = ways[match["name"]]
    figure = way.placement.lost if match["what"].startswith("lost") else way.placement.spill
    if match["what"].startswith("falls") and max(way.placement.lost) < found.room.screen.border:
        return False
    said = {side: int(mm) for mm, side in re.findall(r"(\d+) mm (\w+)", match["sides"])}
    return all(
        (side in said) == (over >= 1_000) and abs(said.get(side, 0) - over / 1_000) <= 1
        for side, over in zip(SIDES, figure, strict=True)
    )


Loss = tuple[float, float]
"""By how much less wide or high a picture is: micrometres, and per cent."""


def smaller(way: Way, ratio: int, room: Room, panels: str) -> Loss:
    """How much smaller panels make a picture, whichever of its width and its height loses more."""
    shown = 17_778 if way.picture == "whole" else ratio
    inside = fit(room, way.picture, 0, shown, way.preset, panels)
    rect = way.placement.rect
    narrower, lower = 1 - inside.width / max(1, rect.width), 1 - inside.height / max(1, rect.height)
    return (
        max(0.0, narrower * way.area.width, lower * way.area.height),
        max(0.0, narrower, lower) * 100,
    )


def covered(found: Plan, match: re.Match[str]) -> bool:
    """Whoever is named loses at least a millimetre, by as much as is said; nobody else does."""
    shape = shape_of(found, match)
    said = dict(re.findall(r"(\w+ \w+) (-\d+ (?:%|mm))", match["rest"]))
    plain: dict[str, Loss] = {}
    for way in shape.ways:
        lost = smaller(way, shape.ratio, found.room, match["panels"])
        plain.setdefault(way.preset, lost)
        if way.picture == "whole" or (way.as_plain and lost == plain[way.preset]):
            continue
        if not judged(said.get(f"{way.preset} {way.picture}"), *lost):
            return False
    return True


def left_alone(found: Plan, match: re.Match[str]) -> bool:
    said = dict(re.findall(r"(\d+\.\d+) (-\d+ (?:%|mm))", match["less"] or ""))
    for shape in found.shapes:
        lost = smaller(shape.best, shape.ratio, found.room, match["panels"])
        alike = [one for one in found.shapes if ratio_text(one.ratio) == ratio_text(shape.ratio)]
        if len(alike) == 1 and not judged(said.get(ratio_text(shape.ratio)), *lost):
            return False
    return True


def judged(said: str | None, lost: float, percents: float) -> bool:
    if said is None:
        return lost < 1_000
    if said.endswith("mm"):
        return lost >= 1_000 and abs(-int(said.split()[0]) - lost / 1_000) <= 0.51
    return lost >= 1_000 and abs(-int(said.split()[0]) - percents) <= 0.51


def aligned(found: Plan, match: re.Match[str]) -> Alignment:
    return dict(found.aligned)[match["preset"]]


def takes_in(found: Plan, match: dict[str, Any]) -> bool:
    """Only a rectangle round all four corners takes in the whole screen, to a millimetre."""
    corners = found.room.presets[match["preset"]].measured
    assert corners is not None
    x, y = [one.x / 100 for one in corners], [one.y / 100 for one in corners]
    left, top, right, bottom = (int(one) for one in match["place"].split())
    pixel = found.room.screen.width / (max(x) - min(x))
    over = max(left - min(x), top - min(y), max(x) - right, max(y) - bottom) * pixel
    # At a slant the nearest place of the raster may be nearer than the corner is.
    return over < 1_500 if match["short"] is None else over > 500


def spills(found: Plan, match: re.Match[str]) -> bool:
    alignment, border = aligned(found, match), found.room.screen.border
    beyond = [side for side, over in zip(SIDES, alignment.spill, strict=True) if over > border]
    rest = match["rest"]
    if rest.startswith("nothing"):
        return max(alignment.spill) < 1_000 and not beyond
    if rest.endswith("takes it"):
        return not beyond
    said = {side: float(mm) for mm, side in re.findall(r"([\d.]+) mm (\w+)", rest.split(";")[0])}
    return rest.endswith(", ".join(beyond)) and all(
        said[side] > border / 1_000 - 1e-3 for side in beyond
    )


def first_step(found: Plan, match: re.Match[str]) -> bool:
    """Nothing is told to be turned that the pose does not show; nothing is left that it does."""
    alignment = aligned(found, match)
    rest, pose = match["rest"], alignment.pose
    if rest.startswith("nothing"):
        return (
            alignment.first is None
            and max(
                move
                for move, angle in zip(
                    (*pose.moves, 0.0), (pose.yaw, pose.pitch, pose.roll, None), strict=True
                )
                if angle is None or angle.certain
            )
            <= 1.0
        )
    if rest.startswith("read the corners again"):
        return pose.misfit > 1.5
    ways = {
        "turn the projector to the left": pose.yaw.value > 0,
        "turn the projector to the right": pose.yaw.value < 0,
        "tip the projector's front down": pose.pitch.value > 0,
        "tip the projector's front up": pose.pitch.value < 0,
        "roll the projector anticlockwise": pose.roll.value > 0,
        "roll the projector clockwise": pose.roll.value < 0,
        "shift the picture": True,
    }
    true = [right for words, right in ways.items() if rest.startswith(words)]
    return true == [True] and rest.endswith("; then read the corners again")


def stands(found: Plan, match: re.Match[str]) -> bool:
    """What cannot be told from nothing is said so; the way is that of the figure's sign."""
    pose = aligned(found, match).pose
    label = ("Turned", "Tipped", "Rolled").index(match["label"])
    angle, moved = (pose.yaw, pose.pitch, pose.roll)[label], pose.moves[label]
    # Without a distance the way is known by what is seen of it, if not how far it goes.
    known = angle.certain if pose.distance_known or label > 1 else moved > 1.5
    if match["rest"].startswith("not "):
        return not known
    positive = re.search(r"\) (to the right|up|clockwise)", match["rest"]) is not None
    return known and positive == (angle.value > 0)


def edge_margins(found: Plan, match: re.Match[str]) -> bool:
    (one,) = margins(found.room, match["preset"])
    for side in re.findall("|".join(SIDES), match["sides"]):
        margin = one.edges[side]
        inside = match["rest"].startswith("it ends inside")
        if inside != (margin.inwards is None):
            return False
        if ("on a panel" in match["rest"]) != margin.on_panel:
            return False
        for way, figure in (("inwards", margin.inwards), ("outwards", margin.outwards)):
            said = re.search(rf"(?:any movement|(\d+) mm) {way}", match["rest"])
            if figure is None:
                continue
            if said is None or not near(said[1] or "0", figure / 1_000, 0.51):
                return False
    return True


def near(said: str, figure: float, half: float) -> bool:
    """Whether a figure is what was said, to half of its last place."""
    return abs(float(said) - figure) <= half


def bleeds(found: Plan, match: re.Match[str]) -> bool:
    """Where it passes and where it ends short, each with its length; no length is negative."""
    (one,) = margins(found.room, match["preset"])
    rest = match["rest"]
    past, _, short = rest.partition("it ends short of it by ")
    said = {side: int(mm) for side, mm in re.findall(r"(\w+) (\d+) mm", past)}
    missing = {side: int(mm) for side, mm in re.findall(r"(\w+) (\d+) mm", short)}
    for side, over in one.bleed.items():
        if (side in said) != (over >= 500) or (side in missing) != (over <= -500):
            return False
        if abs(said.get(side, over / 1_000) - over / 1_000) > 0.51 and side in said:
            return False
    return ("only the lens" in rest) == (len(said) < 4)


def looks(found: Plan, match: re.Match[str]) -> bool:
    """Each figure of the corners is what is said, and its way that of its sign."""
    split, pose = aligned(found, match).split, aligned(found, match).pose
    numbers = re.findall(r"[-+]?\d+(?:\.\d+)?", match["rest"])
    match match["label"]:
        case "Screen":
            figures, half = [split.width, split.height], 0.051
        case "Trapezoid":
            figures, half = [abs(split.across) * 100, abs(split.down) * 100], 0.0051
            ends = ("right" if split.across > 0 else "left", "bottom" if split.down > 0 else "top")
            if re.findall(r"at the (\w+)", match["rest"]) != [*ends]:
                return False
        case "Lens shift":
            up, across = pose.shift_up, pose.shift_across
            figures, half = [abs(up.value) * 100, abs(across.value) * 100], 0.51
            ways = ("up" if up.value > 0 else "down", "right" if across.value > 0 else "left")
            numbers = numbers[::2]  # what lies between is how far each may be out
            if tuple(re.findall(r"% (\w+)", match["rest"])) != ways:
                return False
        case "Fit":
            figures, half = [pose.misfit], 0.051
        case _:
            figures, half = [] if split.bow is None else [*split.bow], 0.051
    return all(map(partial(near, half=half), numbers, figures)) and len(numbers) == len(figures)


PRESET, RATIO = r"(?P<preset>\w+)", r"(?P<ratio>\d+)"
PASSING = r"(?P<what>lost in the border|falls on the wall) (?P<sides>.+)"
GAIN = (
    r"(?P<who>A preset made for each|\w+) (?:gives|would give) (?P<gains>.+) for "
    r"(?P<ratios>[\d., to]+), at the price of a travel of up to (?P<travel>\d+) s each way; "
    r"the pace allows (?P<title>\d+) for a title and (?P<night>\d+) for a night, "
    r"and each one wears\."
)
USE = (
    r"\| Use: columns (?P<place>.+) pixels"
    r"(?: take in the whole screen|, and the raster ends short of .+ by (?P<short>.+))"
)
KEPT = (
    r"(?P<panels>\w+): fitted, they leave (?P<whole>.+?) alone(?: and make smaller (?P<less>.+))?"
)
IDLE = r"\| (?P<pictures>[\w, ]+?)(?: at (?P<presets>.+))?: nothing to gain, shown plain"
SHORT = r"\| these fill less of the unlit width than the file asks, .+?: (?P<rest>.+)"
JUDGES: list[tuple[str, Judge]] = [
    (re.escape(NO_BRIGHTER), always),
    (r"The room file says nothing of light: .+", unlit),
    (r"White is held against 48 cd/m2, for standard range only: .+", always),
    (r"For (?P<where>.+?) the lens may stay at (?P<fixed>\w+): (?P<rest>.+)", stays),
    (GAIN, moves),
    (r"Not measured yet: (.+?)\. roomcue testcard .+", unmeasured),
    (RATIO + IDLE, idle),
    (RATIO + SHORT, short_fill),
    (RATIO + r"\| (?P<name>\w+ \w+): " + PASSING, passes),
    (RATIO + r"\| (?P<panels>\w+) panels, fitted, make smaller (?P<rest>.+)", covered),
    (KEPT, left_alone),
    (PRESET + USE, lambda found, match: takes_in(found, _place(match))),
    (PRESET + r"\| Spill: (?P<rest>.+)", spills),
    (PRESET + r"\| (?P<label>Turned|Tipped|Rolled): (?P<rest>.+)", stands),
    (PRESET + r"\| (?P<label>Screen|Trapezoid|Lens shift|Fit|Bow): (?P<rest>.+)", looks),
    (PRESET + r"\| First: (?P<rest>.+)", first_step),
    (PRESET + r"@ (?P<sides>.+? edges?): (?P<rest>.+)", edge_margins),
    (PRESET + r"@ (?P<rest>the raster passes what is free .+)", bleeds),
]


def _place(match: re.Match[str]) -> dict[str, Any]:
    """The four edges of the rectangle to use, as one text."""
    columns = re.match(r"(-?\d+) to (-?\d+), rows (-?\d+) to (-?\d+)", match["place"])
    assert columns is not None
    left, right, top, bottom = columns.groups()
    return {
        "preset": match["preset"],
        "short": match["short"],
        "place": f"{left} {top} {right} {bottom}",
    }
