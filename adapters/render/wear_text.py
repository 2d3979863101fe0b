"""Report how far each preset has crept: as a table and in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from math import isfinite
from zoneinfo import ZoneInfo

from adapters.render.columns import ColumnRow, TextLine, plural, table
from adapters.render.ledger_text import COUNTED, LEAST_SAID, counted, ledger_sentences, share
from adapters.render.margin_text import margin_sentences
from engine.events import moment_of
from engine.room import Room
from simulator.wear.assessment import PresetWear
from simulator.wear.creep import ENOUGH
from simulator.wear.disturbances import Disturbance
from simulator.wear.estimates import AXES, EdgeEstimate, Points, share_gone
from simulator.wear.ledger import Ledger
from simulator.wear.measurements import WARM
from simulator.wear.policy import ALIGN_AHEAD, ALIGN_CHANCE
from simulator.wear.sides import Repeatability

AXIS_WORDS = {
    "across": "sideways",
    "down": "up and down",
    "scale": "in size",
    "left": "at its left edge",
    "top": "at its top edge",
    "right": "at its right edge",
    "bottom": "at its bottom edge",
}
LEGEND = (
    "edge: the one that shows first; offset: how far it has moved since it was aligned, with the "
    "interval that holds it with 90 %, to the right or down if positive; limits: how far it may "
    "move inwards and outwards before it shows; in 100: how far it creeps in a hundred travels, "
    "mm; look in: within so many travels."
)
SELDOM = 0.05
"""A probability below this needs no reason, and gives none."""
STANDS_OUT = 0.3
"""Of what a disturbance did, the ways are named that moved by this share of the largest."""


def wear_lines(
    room: Room, wears: Sequence[PresetWear], ledger: Ledger
) -> Iterator[TextLine | ColumnRow]:
    """Write the whole report: the table, sentences on each preset, what the ledger shows."""
    head = ["", *COUNTED, "edge", "offset, mm (90 %)", "limits", "in 100", "look in"]
    yield from table([head, *([*_row(one)] for one in wears)])
    if any(one.worst for one in wears):
        yield TextLine(LEGEND)
    yield TextLine("")
    for one in wears:
        for said in preset_sentences(room, one, ledger.ends):
            yield TextLine(said, hanging=2)
    yield from map(TextLine, strip_sentences(room, [one for one in wears if one.margins]))
    yield TextLine("")
    yield from map(TextLine, ledger_sentences(room, ledger))


def _row(one: PresetWear) -> Iterator[str]:
    yield from (one.preset, *counted(one.counts))
    if one.worst is None:
        yield from ("", "not known", "", "", "now" if one.due == 0 else "")
        return
    worst = one.worst
    yield worst.name
    yield with_interval(worst.estimate.offset)
    yield f"{length(worst.inwards)} in, {length(worst.outwards)} out"
    yield signed(worst.estimate.creep[1], 2)
    yield "never" if one.due is None else "now" if one.due == 0 else f"{one.due:.0f}"


def signed(value: float, digits: int = 1) -> str:
    """Write a number with its sign; what is rounded to nothing has none."""
    said = f"{value:+.{digits}f}"
    return said if float(said) else f"{0:.{digits}f}"


def with_interval(points: Points, digits: int = 1) -> str:
    """Write a value and the interval that holds it with 90 %."""
    low, middle, high = (signed(point, digits) for point in points)
    return f"{middle} ({low} to {high})"


def length(millimetres: float) -> str:
    """Write a limit."""
    return f"{millimetres:.0f} mm" if isfinite(millimetres) else "any"


def preset_sentences(room: Room, one: PresetWear, now: int) -> Iterator[str]:
    """Say how far a preset has crept, and when to measure or align it."""
    zone, now = ZoneInfo(room.time_zone), max([now, *one.read_at[-1:]])
    for said in (
        *_urgent(one),
        *_disturbed(one, zone),
        *_stands(one),
        *_to_come(one, now, zone),
        *_by(one),
        *_besides(one, zone),
    ):
        yield f"{one.preset}: {said}"


def _by(one: PresetWear) -> Iterator[str]:
    """Say how likely it shows within the travels that were asked for."""
    if one.by is not None:
        within = plural(round(one.by.travels), "travel")
        each = ", ".join(f"{name} {share(chance)}" for name, chance in one.by.edges.items())
        yield (
            f"within {within} it shows at any edge with a probability of {share(one.by.chance)} "
            f"(each by itself: {each})."
        )


def _besides(one: PresetWear, zone: ZoneInfo) -> Iterator[str]:
    """Say what else is known, and what makes it less sure."""
    if one.focus is not None:
        at, gone = one.focus
        yield f"the focus had gone {gone:+g} on {_day(at, zone)}."
    if one.repeatability is not None:
        yield _repeated(one.repeatability)
    yield from _sides(one)
    for number, far in one.contradicted:
        yield (
            f"two readings of {_day(one.read_at[number], zone)} differ by {far:.1f} mm, and no "
            "travel is known between them: is one of them wrong? align --corrects mends it."
        )
    if one.cold:
        verb, they = ("was", "it counts") if one.cold == 1 else ("were", "they count")
        yield (
            f"{plural(one.cold, 'measurement')} {verb} read within {WARM} minutes of lighting, "
            f"while the lens still moves: {they} for less."
        )
    if one.counts.unconfirmed:
        yield f"{plural(one.counts.unconfirmed, 'travel')} that the lens never confirmed."


def _sides(one: PresetWear) -> Iterator[str]:
    """Say what is known of its two sides, and what is not."""
    if one.sides_matter:
        yield (
            "it ends elsewhere when it comes from the other side, and some readings do not say "
            "where it came from (--side), so they tell less."
        )
    if one.sides_unmeasured and not any(found.side for found in one.disturbed):
        yield (
            "readings come from both sides, and nothing tells how far these end apart: measure a "
            "session from both sides (--session), or read it from either side in turn (--side). "
            "Until then a difference between them may be creep, a bump or its sides."
        )
    if one.other_side:
        yield (
            "the lens comes to it from both sides, and nothing tells how far these end apart: "
            "measure a session from both sides (--session). Until then what is foretold takes them "
            f"to end {one.other_side:.1f} mm off the middle."
        )
    if one.sides_told is not None:
        yield (
            f"by its readings its two sides end {one.sides_told[0]:.1f} mm apart sideways and "
            f"{one.sides_told[1]:.1f} mm up and down, and what is said here goes by that. A "
            "session from both sides (--session) says it better."
        )
    if one.sides_differ is not None:
        yield (
            f"by the latest readings its two sides end some {one.sides_differ:.0f} mm apart, and "
            "no session says so: measure one (--session). Until then, what is said of where "
            "it stands may be off by half of that."
        )


def _urgent(one: PresetWear) -> Iterator[str]:
    if one.beyond is not None:
        where = f"{signed(one.beyond.offset)} mm {AXIS_WORDS[one.beyond.edge]}, where it shows"
        if one.align:
            yield f"align it now: it was last read {where}."
        else:
            yield f"it was last read {where}. Read it once more before it is aligned."
    elif one.align:
        either = ", whatever the answer below" if _is_open(one) else ""
        yield (f"align it now{either}: {_untouched(one)}{_why_now(one)}.")


def _why_now(one: PresetWear) -> str:
    """Say why it is to be aligned: how likely it shows; if hardly, how far it has gone."""
    if one.chance_soon >= SELDOM:
        now, soon = share(one.chance_now), share(one.chance_soon)
        already = f"already with a probability of {now}" if one.chance_now >= LEAST_SAID else ""
        later = f"within {ALIGN_AHEAD} travels with {soon}" if now != soon else ""
        return f"it shows {', and '.join(filter(None, (already, later)))}{_scatters(one)}"
    furthest = max(one.edges, key=_gone)
    return (
        f"its {furthest.name} edge has gone {_gone(furthest) * 100:.0f} % of its way to where it "
        f"shows, and is no longer sure not to show within {ALIGN_AHEAD} travels (more than 1 in "
        f"{1 / ALIGN_CHANCE:.0f})"
    )


def _gone(edge: EdgeEstimate) -> float:
    return share_gone(edge, edge.estimate.offset[1])


def _is_open(one: PresetWear) -> bool:
    """Tell whether it is an open question if it was bumped."""
    return any(found.kind == "open" for found in one.disturbed)


def _untouched(one: PresetWear) -> str:
    """Begin a sentence on what is foretold: with an open question it holds in one case only."""
    return "if nobody has moved it, " if _is_open(one) else ""


def _disturbed(one: PresetWear, zone: ZoneInfo) -> Iterator[str]:
    for found in one.disturbed:
        at = _day(one.read_at[found.reading], zone)
        before = _day(one.read_at[found.reading - 1], zone) if found.reading else None
        yield _happened(found, at, f"between {before} and {at}" if before else f"before {at}")
    if any(found.side for found in one.disturbed):
        yield (
            "nothing tells how far its two sides end apart: measure a session from both sides "
            "(--session), and say with each reading from which side it came (--side)."
        )


def _happened(found: Disturbance, at: str, between: str) -> str:
    """Say what no creep explains, and ask what it was."""
    moved, side = _far(found.by), ", or did it come from its other side" if found.side else ""
    if found.warmth:
        return (
            f"by {at} it had moved by {moved} from where it was expected: was it bumped, or "
            f"stored anew{side}, or does it go out and back with the year, as warmth does it? "
            "Readings over a whole year tell that."
        )
    if found.kind == "misread":
        other = ", or did the lens come from its other side" if found.side else ""
        return (
            f"the reading of {at} is off by {moved}, and the next ones are not: was it "
            f"misread, or was it bumped and put back{other}? It is left out."
        )
    if found.kind == "unclear":
        return (
            f"on {at} it was read {moved} from where it was expected. Creep does not do that: "
            f"was it bumped, or stored anew, or misread{side}? Read it once more."
        )
    if found.kind == "open":
        return (
            f"on {at} it was read {moved} from where it was expected, and when it was read "
            f"once more it stood there: was it bumped, or stored anew{side}? The readings do "
            "not tell that yet from how it scatters and walks. If it was aligned then, correct "
            f"the line of {at} with --realigned."
        )
    return (
        f"it moved by about {moved} {between}: was it bumped, or stored anew{side}? What "
        f"came before says nothing of where it stands now. If it was aligned then, correct "
        f"the line of {at} with --realigned."
    )


def _far(by: Sequence[float]) -> str:
    """Name the ways in which it moved most."""
    most = max(map(abs, by))
    told = [
        f"{abs(far):.0f} mm {AXIS_WORDS[name]}"
        for name, far in zip(AXES, by, strict=True)
        if abs(far) >= STANDS_OUT * most
    ]
    return " and ".join(told)


def _stands(one: PresetWear) -> Iterator[str]:
    """Say where it stands, how it creeps, and how far each edge may go."""
    if one.worst is None:
        yield (
            f"not enough measurements ({one.measured} of {ENOUGH}) to say how far it has crept. "
            f"{_next(one)}"
        )
    else:
        where = ", ".join(
            f"{with_interval(axis.offset)} mm {AXIS_WORDS[axis.name]}" for axis in one.axes
        )
        yield f"it stands {where}, each with 90 %{_as_it_comes(one)}."
        yield _creeps(one.worst, changes=one.quickens)
        if one.swings:
            yield (
                f"it goes out and back with the year, by some {_far(one.swings)} "
                "either way: warmth does that, creep does not. Read it again at the same time of "
                "the year, or as warm as it was then: what has moved by then is creep. What is "
                "foretold takes the swing for a walk, so it is wide."
            )
        if one.quickens:
            yield "its creep changes, so what is foretold counts for less: look more often."
    yield from margin_sentences(one.margins)


def _as_it_comes(one: PresetWear) -> str:
    """Say for which travels that holds, where nothing tells how far its two sides end apart."""
    if one.sides_unmeasured:
        return " if its two sides end alike, which nothing tells"
    if one.one_side is not None:
        return f", where it comes from its {one.one_side} side as it did for every reading"
    return ""


def _creeps(worst: EdgeEstimate, *, changes: bool) -> str:
    estimate = worst.estimate
    said = f"its {worst.name} edge by itself stands {with_interval(estimate.offset)} mm, "
    low, _, high = estimate.creep
    if not changes and round(low, 2) <= 0 <= round(high, 2):  # as they are told
        return (
            f"{said}and nobody can tell yet whether it creeps "
            f"({signed(low, 2)} to {signed(high, 2)} mm in a hundred travels)."
        )
    by_now = " by now" if changes else ""
    return f"{said}creeping {with_interval(estimate.creep, 2)} mm in a hundred travels{by_now}."


def strip_sentences(room: Room, wears: Sequence[PresetWear]) -> Iterator[str]:
    """Say once for all presets how wide a strip is let pass before anybody is told."""
    strip = room.wear.strip / 1_000
    if strip:
        yield (
            f"At every preset a strip that is no wider than {strip:g} mm is let pass (wear: strip "
            "in the room file), so the limits in the table are as much wider."
        )
        return
    edges = [edge for one in wears for edge in one.margins.values()]
    if any(0 in {edge.inwards, edge.outwards} for edge in edges):
        yield "No strip is let pass (wear: strip), so any movement shows at some edge."


def _to_come(one: PresetWear, now: int, zone: ZoneInfo) -> Iterator[str]:
    """Say when it will show, no further than the measurements bear, and when to look."""
    if one.forecast is None or one.align:
        return
    first, half, last = one.forecast
    if first < 1:
        yield (
            f"{_untouched(one)}it shows already with a probability of "
            f"{share(one.chance_now)}{_scatters(one)}."
        )
    elif not isfinite(first):
        yield f"as far as one can tell it never shows. {_next(one)}"
        return
    elif first > one.bears:
        yield (
            f"{_untouched(one)}within {_ahead(one.bears, one, now, zone)} it shows with less than "
            "5 % probability; the measurements reach no further."
        )
    else:
        later = [
            f"with {name} after {_ahead(count, one, now, zone)}"
            for name, count in (("50 %", half), ("95 %", last))
            if count <= one.bears
        ]
        further = "" if len(later) == 2 else "; the measurements reach no further"  # noqa: PLR2004
        said = ", ".join([f"after {_ahead(first, one, now, zone)}", *later])
        yield f"{_untouched(one)}it shows with 5 % probability {said}{further}."
    if one.due == 0:
        yield "look at it now: measure it, and align it if this report then says so."
    elif one.due is not None:
        yield f"look at it within {_ahead(one.due, one, now, zone)}. {_next(one)}"


def _scatters(one: PresetWear) -> str:
    """Say why it may show although its edges stand within their limits, if that is so."""
    worst = one.worst
    if worst is None or one.chance_now < SELDOM or _reaches(worst):
        return ""
    apart = max(one.sides_told or (reversal_of(one),))
    if apart > 2 * worst.estimate.scatter:
        return f", for its two sides end {apart:.1f} mm apart"
    return f", for it ends elsewhere by some {worst.estimate.scatter:.1f} mm from travel to travel"


def reversal_of(one: PresetWear) -> float:
    """Return how far a session has it that both sides end apart, mm."""
    known = one.repeatability
    return abs(known.reversal) if known is not None and known.reversal is not None else 0.0


def _reaches(worst: EdgeEstimate) -> bool:
    """Tell whether the interval of where an edge stands reaches to where it shows."""
    low, _, high = worst.estimate.offset
    leading = worst.name in {"left", "top"}
    right = worst.inwards if leading else worst.outwards
    left = worst.outwards if leading else worst.inwards
    return high >= right or -low >= left


def _next(one: PresetWear) -> str:
    more = plural(one.next_measurement, "more travel")
    when = "now" if one.next_measurement == 0 else f"after {more}"
    session = (
        ""
        if one.repeatability
        else " One session of 30 travels (--session) would say more as well."
    )
    return f"A measurement says most {when}.{session}"


def _ahead(travels: float, one: PresetWear, now: int, zone: ZoneInfo) -> str:
    said = plural(round(travels), "travel")
    a_day = one.counts.a_day
    if a_day <= 0 or travels / a_day > 20 * 365:
        return said
    day = moment_of(now).astimezone(zone) + timedelta(days=travels / a_day)
    return f"{said} ({day:%Y-%m-%d} at {a_day:.1f} a day)"


def _day(at: int, zone: ZoneInfo) -> str:
    return f"{moment_of(at).astimezone(zone):%Y-%m-%d}"


def _repeated(judged: Repeatability) -> str:
    said = (
        f"a session of {judged.travels} travels finds its place to "
        f"{judged.pose.repeatability:.1f} mm (ISO 9283 RP)"
    )
    if judged.two_sided is not None and judged.reversal is not None:
        said += (
            f"; from both sides to {judged.two_sided:.1f} mm (ISO 230-2 R), of which "
            f"{abs(judged.reversal):.1f} mm depend on where the lens comes from"
        )
    return said + "."
