"""What makes the head of a plan, its warnings, its legend and its rows true, by the figures."""

from __future__ import annotations

import re
from functools import partial

from adapters.render.plan_text import LEGEND
from engine.planning.plan import Plan, Way
from tests.adapters.plan_judges import Judge, always, near

INCH, FOOT = 25_400, 304_800


def screen_head(found: Plan, match: re.Match[str]) -> bool:
    """Both systems of lengths tell of the same screen."""
    screen = found.room.screen
    metric = near(match["w"], screen.width / 1e6, 0.00051) and near(
        match["h"], screen.height / 1e6, 0.00051
    )
    feet = [
        abs(int(feet) * 12 + int(inches) - length / INCH) <= 0.51 and int(inches) < 12
        for feet, inches, length in (
            (match["wf"], match["wi"], screen.width),
            (match["hf"], match["hi"], screen.height),
        )
    ]
    across = (screen.width**2 + screen.height**2) ** 0.5 / INCH
    shape = near(match["aspect"], screen.aspect / 1e4, 0.0051)
    gain = abs(float(match["gain"]) / screen.gain - 1) < 1e-5
    return metric and all(feet) and near(match["across"], across, 0.51) and shape and gain


def border_head(found: Plan, match: re.Match[str]) -> bool:
    """By the overfill, half of it at either side, and never past the border."""
    screen = found.room.screen
    far = [
        min(length * screen.overfill / 20_000, screen.border) / 1_000
        for length in (screen.width, screen.height)
    ]
    size, unit = match["border"].split()
    if abs(float(size) * {"mm": 1e3, "m": 1e6}[unit] - screen.border) > 0.5:
        return False
    rest = match["rest"]
    said = [float(one) for one in re.findall(r"by up to (\d+) mm", rest)]
    if rest.startswith("no picture"):
        said = [0.0]
    return len(said) in {1, 2} and all(
        abs(one - length) <= 0.51 for one, length in zip((*said, *said)[:2], far, strict=True)
    )


def projector_head(found: Plan, match: re.Match[str]) -> bool:
    projector = found.room.projector
    if (int(match["columns"]), int(match["rows"])) != (projector.columns, projector.rows):
        return False
    if projector.light is None or match["lumens"] is None:
        return projector.light is None and match["lumens"] is None
    light = projector.light
    return (
        abs(float(match["lumens"]) / light.lumens - 1) < 1e-5
        and near(match["left"], light.remaining * 100, 0.51)
        and abs(float(match["contrast"]) / light.native_contrast - 1) < 1e-5
    )


def lens_head(found: Plan, match: re.Match[str]) -> bool:
    throw = found.room.projector.throw
    if throw is None:
        return False
    figures = [
        (match["far"], throw.distance / 1e6, 0.00051),
        (match["short"], throw.shortest / 1e4, 0.0051),
        (match["long"], throw.longest / 1e4, 0.0051),
    ]
    if not all(near(*one) for one in figures):
        return False
    if match["shift"] == "no shift":
        return throw.shift_up == throw.shift_across == 0
    said = [float(one) for one in re.findall(r"([\d.]+) %", match["shift"])]
    return said == [throw.shift_up / 100, throw.shift_across / 100]


def drilled(found: Plan, _match: re.Match[str]) -> bool:
    return found.room.projector.throw is not None


def climbed(found: Plan, _match: re.Match[str]) -> bool:
    """Whoever is told to turn or shift the projector stands at it."""
    return any(alignment.first for _, alignment in found.aligned)


def panelled(found: Plan, _match: re.Match[str]) -> bool:
    return any(one.opening is not None for one in found.room.panels.values())


def legend(_found: Plan, match: re.Match[str]) -> bool:
    """The legend explains columns that there are, each once."""
    words = [part.split(":")[0].strip() for part in match[0].removeprefix("legend| ").split(";")]
    return words == ["screen", "at", "unlit", "circles", "rows", "scale", "lines"]


def row(found: Plan, match: re.Match[str]) -> bool:
    """Each cell is what the legend says of its column."""
    shape = next(one for one in found.shapes if one.ratio == int(match["ratio"]))
    way = next(one for one in shape.ways if f"{one.preset} {one.picture}" == match["name"])
    cells = dict(cell.split("=", 1) for cell in match["cells"].split("; "))
    width, height = cells["screen, m"].split("x")
    columns, rows = map(int, cells["pixels"].split("x"))
    left, top = map(int, cells["at"].split(","))
    rect, close = way.placement.rect, partial(near, half=0.00051)
    return (
        close(width, (way.area.right - way.area.left) / 1e6)
        and close(height, (way.area.bottom - way.area.top) / 1e6)
        and left >= rect.left
        and top >= rect.top
        and left + columns <= rect.right + 1
        and top + rows <= rect.bottom + 1
        and _unlit(found, way, cells["unlit, mm"])
        and _bent(way, cells)
        and _lines(way, cells["lines"])
    )


def _unlit(found: Plan, way: Way, said: str) -> bool:
    """What stays dark of the screen is what the picture itself does not cover of it."""
    screen, area = found.room.screen, way.area
    dark = (
        screen.width - max(0.0, min(area.right, screen.width) - max(area.left, 0.0)),
        screen.height - max(0.0, min(area.bottom, screen.height) - max(area.top, 0.0)),
    )
    return all(near(one, far / 1e3, 0.51) for one, far in zip(said.split(","), dark, strict=True))


def _bent(way: Way, cells: dict[str, str]) -> bool:
    """Rows are given up only where circles or the picture grow, and by so many."""
    enlarged, sampling = way.placement.enlarged, way.placement.sampling
    if enlarged is None:
        bent = cells["circles"] == cells["rows"] == ""
    else:
        lost = re.fullmatch(r"-([\d.]+) %", cells["rows"])
        share = 1 - 1 / enlarged.widening.enlarged
        bent = near(lost[1] if lost else "0", share * 100, 0.051)
    if sampling is None:
        return bent and cells["scale"] == ""
    return bent and near(cells["scale"], way.placement.rect.width / sampling.columns, 0.0051)


def _lines(way: Way, said: str) -> bool:
    lines = way.placement.subtitles
    if lines is None:
        return said == ""
    if said == "land":
        return lines.land
    if said == "lost":
        return not lines.land and not lines.can
    return not lines.land and lines.can and near(said[1:-2], lines.lift / 100, 0.051)


SCREEN = (
    r"Screen +(?P<w>[\d.]+) x (?P<h>[\d.]+) m, (?P<aspect>[\d.]+) "
    r"\((?P<wf>\d+) ft (?P<wi>\d+) in x (?P<hf>\d+) ft (?P<hi>\d+) in, "
    r"(?P<across>\d+) in across corners\), gain (?P<gain>\S+)"
)
PROJECTOR = (
    r"Projector +(?P<columns>\d+) x (?P<rows>\d+)(?:; (?P<lumens>\S+) lumens, "
    r"(?P<left>\d+) % of them left; native contrast (?P<contrast>\S+):1)?"
)
LENS = (
    r"Lens +(?P<far>[\d.]+) m from the screen, throw (?P<short>[\d.]+) to (?P<long>[\d.]+), "
    r"(?P<shift>no shift|shift .+ up or down, .+ across)"
)
HEAD_JUDGES: list[tuple[str, Judge]] = [
    (SCREEN, screen_head),
    (r" +border (?P<border>[\d.]+ m?m); (?P<rest>.+)", border_head),
    (PROJECTOR, projector_head),
    (LENS, lens_head),
    (r"! Keep out of the beam and never look into the lens .+", always),
    (r"! Before you drill: .+", drilled),
    (r"! On a ladder: .+", climbed),
    (r"! Large panels need two people .+", panelled),
    (r"legend\| " + re.escape(LEGEND), legend),
    (r"(?P<ratio>\d+)= (?P<name>\w+ \w+): (?P<cells>.+)", row),
]
