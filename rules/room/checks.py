"""Checks across fields: contradictions that no single field of a room file can show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.plane import corner_fault
from engine.room import BUILT_IN_PROMISES, Corner, Corners
from rules.room.names import OPEN_PANELS, check_name, check_zone
from rules.room.single_values import read_corner
from rules.text import quantity
from rules.text.findings import listed
from rules.text.quantity import QuantityError
from rules.text.yaml_nodes import Entry, Mapping, Node, Scalar, Sequence, node_at

if TYPE_CHECKING:
    from rules.room.names import Names, Report
    from rules.room.schema import RoomFile

CORNER_NAMES: Final = ("top_left", "top_right", "bottom_right", "bottom_left")


def check_nodes(report: Report, names: Names, root: Mapping) -> None:
    """Check everything that can be checked on the nodes, even if other parts have errors."""
    check_zone(report, root.get("time_zone"))
    _exactly_one(report, root.entries.get("screen"), "width", "diagonal")
    for entry in _entries(root, "pictures"):
        _exactly_one(report, entry, "stretch", "crop", "room_below")
    opening = node_at(root, "panels", OPEN_PANELS, "opening")
    if opening is not None:
        report.error(
            "contradiction",
            opening.place,
            "the arrangement open covers nothing and has no opening",
            "Give these panels another name.",
        )
    metered = node_at(root, "projector", "light", "measured", "preset")
    if isinstance(metered, Scalar) and not names.doubtful("preset"):
        check_name(report, metered, names.presets, "preset")
    for entry in _entries(root, "presets"):
        _check_corners(report, node_at(entry.value, "measured"))
    _check_waived(report, root.get("waived"))
    _check_promises(report, root.get("promises"))


def warn_about_pace(report: Report, root: Mapping, file: RoomFile) -> None:
    """Warn about a pace that is allowed but cannot be intended; the file must have no errors."""
    pace, recalls = file.pace, file.pace.recalls
    place = _place(root, "pace")
    if len(file.presets) > 1 and not (recalls.per_title and recalls.per_night):
        report.warning(
            "never-recalled",
            place,
            f"there are {len(file.presets)} presets and no recall is allowed",
            "Allow at least one, or keep one preset.",
        )
    elif len(file.presets) > 1 and pace.linger >= recalls.first_minutes:
        report.warning(
            "never-recalled",
            place,
            "a wish must linger longer than a title's first minutes last, so that no "
            "recall can be ordered in a title",
            f"Let linger be shorter than {quantity.show_duration(recalls.first_minutes)}.",
        )


def _place(root: Mapping, section: str) -> tuple[int, int]:
    entry = root.entries.get(section)
    return entry.key.place if entry else root.place


def _entries(root: Mapping, section: str) -> tuple[Entry, ...]:
    node = root.get(section)
    return tuple(node.entries.values()) if isinstance(node, Mapping) else ()


def _exactly_one(report: Report, entry: Entry | None, *choices: str) -> None:
    """Check that a section has exactly one of some entries."""
    if entry is None:
        return
    name, section = entry.key.text, entry.value
    empty = isinstance(section, Scalar) and section.empty
    if not (isinstance(section, Mapping) or empty) or not report.source.sure(section, entry.key):
        return
    found = [one for one in choices if node_at(section, one) is not None]
    if not found:
        either = listed(choices, "or")
        report.error("missing", entry.key.place, f"{either} is missing in {name}", f"Add {either}.")
    elif len(found) > 1 and isinstance(section, Mapping):
        place = section.entries[found[1]].key.place
        message = f"{name} has both {found[0]} and {found[1]}"
        report.error("contradiction", place, message, "Keep one of the two.")


def _check_corners(report: Report, measured: Node | None) -> None:
    """Check that the corners go once round a screen; `measured` checks where they lie."""
    places = [_corner(node_at(measured, name)) for name in CORNER_NAMES]
    known = [Corner(*place) for place in places if place]
    if measured is None or len(known) < len(CORNER_NAMES):
        return
    wrong = corner_fault(Corners(*known))
    if wrong is not None:
        cross, _, advice = wrong.partition(": ")
        report.error(
            "contradiction",
            measured.place,
            cross,
            f"{advice[:1].upper()}{advice[1:]}. Count columns from the raster's left and rows "
            "from its top.",
        )


def _check_waived(report: Report, waived: Node | None) -> None:
    """Refuse a promise that is waived twice, since it is not clear which reason counts."""
    seen: dict[str, Scalar] = {}
    for item in waived.items if isinstance(waived, Sequence) else ():
        promise = node_at(item, "promise")
        name = promise.text.strip() if isinstance(promise, Scalar) else ""
        if not isinstance(promise, Scalar) or name not in BUILT_IN_PROMISES:
            continue
        before = seen.setdefault(name, promise)
        if before is not promise:
            report.error(
                "key-twice",
                promise.place,
                f"{name} is waived twice, first at line {before.line}, column {before.column}",
                "Keep one of the two.",
            )


def _check_promises(report: Report, promises: Node | None) -> None:
    """Refuse a promise with the name of a built-in one, since a verdict could mean either."""
    for item in promises.items if isinstance(promises, Sequence) else ():
        _check_kind(report, item)
        name = node_at(item, "name")
        if isinstance(name, Scalar) and name.text.strip() in BUILT_IN_PROMISES:
            report.error(
                "name-taken",
                name.place,
                f"{name.text.strip()} is the name of a built-in promise",
                "Give this one another name.",
            )


def _check_kind(report: Report, item: Node) -> None:
    """Check that a promise says what must never be or how soon a look stands, and not both."""
    if not isinstance(item, Mapping) or not report.source.sure(item):
        return
    never, within = item.entries.get("never"), item.entries.get("within")
    unless = item.entries.get("unless")
    if never is None and within is None:
        message = "never or within is missing in this promise"
        advice = "Say what must never be, or within how long a title's look stands."
        report.error("missing", item.place, message, advice)
    elif never is not None and within is not None:
        message = "this promise has both never and within"
        report.error("contradiction", within.key.place, message, "Make two promises of them.")
    elif unless is not None and within is None:
        message = "unless goes with within, and this promise has never"
        advice = "Test it under never: what must never be in which case."
        report.error("contradiction", unless.key.place, message, advice)


def _corner(node: Node | None) -> tuple[int, int] | None:
    try:
        return read_corner(node.text) if isinstance(node, Scalar) else None
    except QuantityError:
        return None
