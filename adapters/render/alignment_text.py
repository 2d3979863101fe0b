"""What measured corners say about a projector, as rows of a label and a text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from adapters.render.plan_notes import sides_said
from engine.planning.alignment import SIDES, degrees_said, shows
from engine.planning.plan import SEEN
from rules.text.quantity import show_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.planning.alignment import Alignment
    from engine.planning.pose import Estimate, ProjectorPose

LabelledText = tuple[str, str]


def alignment_rows(found: Alignment, border: int) -> Iterator[LabelledText]:
    """Say what the corners of one preset show, and the one thing to do first."""
    yield "Use", use_sentence(found)
    yield "Spill", spill_sentence(found, border)
    split = found.split
    yield "Screen", f"{split.width:.1f} x {split.height:.1f} pixels through its middle"
    side = "right" if split.across > 0 else "left"
    end = "bottom" if split.down > 0 else "top"
    across, down = abs(split.across) * 100, abs(split.down) * 100
    yield "Trapezoid", f"{across:.2f} % larger at the {side}, {down:.2f} % larger at the {end}"
    yield from _pose_rows(found.pose)
    if split.bow is None:
        yield "Bow", "not known: type the middles of the edges too (measured: middles)"
    else:
        edges = (f"{name} {value:+.1f}" for name, value in split.bow._asdict().items())
        yield "Bow", f"{', '.join(edges)} pixels outwards"
    yield "First", first_sentence(found)


def use_sentence(found: Alignment) -> str:
    """Say which part of the raster takes in the screen, or where the raster ends before it."""
    left, top, right, bottom = found.box
    place = f"columns {left} to {right}, rows {top} to {bottom}: {right - left} x {bottom - top} "
    short = sides_said(found.short)
    if not short:
        return f"{place}pixels take in the whole screen"
    return f"{place}pixels, and the raster ends short of the screen's edge by {short}"


def spill_sentence(found: Alignment, border: int) -> str:
    """Say what that rectangle puts past the screen's edges, and whether the border takes it."""
    passing = [
        f"{_passing(over, border, beyond=side in found.beyond)} mm {side}"
        for side, over in zip(SIDES, found.spill, strict=True)
        if over >= SEEN or side in found.beyond
    ]
    width = f"the border is {show_length(border)}"
    if not passing:
        return f"nothing; {width}"
    verdict = f"beyond it on the {', '.join(found.beyond)}" if found.beyond else "which takes it"
    return f"{', '.join(passing)}; {width}, {verdict}"


def first_sentence(found: Alignment) -> str:
    """Say the one thing to do before the corners are read again."""
    if found.first is None:
        return "nothing is worth touching: no correction would move a corner by more than a pixel"
    again = "" if found.first.error == "misfit" else "; then read the corners again"
    return f"{found.first.turn} ({found.first.pixels:.1f} pixels){again}"


def _passing(over: int, border: int, *, beyond: bool) -> str:
    """Write millimetres, with as many places as it takes to be seen to pass the border."""
    for places in range(3):
        said = f"{over / 1e3:.{places}f}"
        if not beyond or float(said) > border / 1e3:
            return said
    return f"{over / 1e3:.3f}"


def _pose_rows(pose: ProjectorPose) -> Iterator[LabelledText]:
    """Say how the projector stands, with how far each figure may be out."""
    across, down, _ = pose.moves
    seen = shows(pose, pose.yaw, across), shows(pose, pose.pitch, down), pose.roll.certain
    turned = _way(pose.yaw, "turned", ("to the right", "to the left"), seen=seen[0])
    tipped = _way(pose.pitch, "tipped", ("up", "down"), seen=seen[1])
    rolled = _way(pose.roll, "rolled", ("clockwise", "anticlockwise"), seen=seen[2])
    guess = "" if pose.distance_known else ", guessed, for no distance is stated (projector: throw)"
    yield "Turned", turned + guess
    yield "Tipped", tipped + guess
    yield "Rolled", rolled
    up = _share(pose.shift_up, "up", "down")
    yield "Lens shift", f"{up}, {_share(pose.shift_across, 'right', 'left')}"
    yield "Fit", f"no corner misses such a projector by more than {pose.misfit:.1f} pixels"


def _way(angle: Estimate, done: str, ways: tuple[str, str], *, seen: bool) -> str:
    if not seen:
        return f"not {done} as far as can be read: {degrees_said(angle)}"
    return f"{degrees_said(angle)} {ways[angle.value <= 0]}"


def _share(shift: Estimate, positive: str, negative: str) -> str:
    way = positive if shift.value > 0 else negative
    out = max(1.0, 200 * shift.error)
    return f"{abs(shift.value) * 100:.0f} % {way} (give or take {out:.0f})"
