"""Find rows whose preset or panels the engine holds back wherever the row wins.

The engine sends no lens and asks nobody in a pause, in mid-title, or before a source is known
(`engine.reconcile`), and asks nobody who has refused. A row that wins nowhere else names a preset
or panels that no evening will ever show because of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.optics import removes
from engine.room import SlowPart
from engine.value_set import ValueSet, equal_to
from rules.table.boxes import Bits
from rules.table.table_rows import TableRows
from rules.table.winners import Winners
from rules.text.findings import Finding, listed

_IN_TITLE: Final = frozenset({"playing", "paused"})
"""Playback in which a title is on, so that its first minutes count."""


def held_findings(rows: TableRows, winners: Winners) -> Iterator[Finding]:
    """Warn about presets and panels that are never reached. Raises `BudgetSpent`."""
    room = rows.room
    for row in range(len(room.rules.rows)):
        show = rows.show(row)
        if show.preset is not None and len(room.presets) > 1:
            yield from _never_reached(rows, winners, row, "preset", show.preset)
        if show.panels is not None and len(room.panels) > 1:
            yield from _never_reached(rows, winners, row, "panels", show.panels)


def _never_reached(
    rows: TableRows, winners: Winners, row: int, part: SlowPart, wanted: str
) -> Iterator[Finding]:
    """Report a part of a look if each case in which its row wins has something that holds it."""
    reasons: list[str] = []
    for box in winners.boxes(row):
        if _names(winners.values(box, part)) == {wanted}:
            return  # it stands so already: the row only says that it shall stay
        reason = _hold(rows, winners, row, part, box)
        if reason is None:
            return
        reasons.append(reason)
    if not reasons:
        return
    yield rows.warning(
        "never-reached",
        (row, part),
        f"{part} {wanted} of {rows.label(row)} can never be reached: "
        f"{listed(dict.fromkeys(reasons), 'and')}",
        f"Widen the row's case, let a row before it want the same, or leave {part} out.",
    )


def _hold(rows: TableRows, winners: Winners, row: int, part: SlowPart, box: Bits) -> str | None:
    """Say what holds a row's preset or panels in every case of a box; None: nothing does."""
    if not winners.values(box, "source").strings:
        return "nothing is ordered before a source is known"
    held = _hold_in_title(rows, winners, part, box)
    helper = _names(winners.values(box, "helper"))
    if held is None and part == "panels" and helper == {"asked"}:
        return _taken_back(rows, winners, row, box)
    if held is not None or helper != {"refused"}:
        return held
    if part == "panels":
        return "nobody is asked where helper is refused"
    if _panels_in_the_way(rows, winners, row, box):
        return "panels have to go first, and nobody is asked where helper is refused"
    return None


def _hold_in_title(rows: TableRows, winners: Winners, part: SlowPart, box: Bits) -> str | None:
    """Say what a title or a pause holds in every case of a box; None: nothing."""
    pace, playback = rows.room.pace, _names(winners.values(box, "playback"))
    if playback == {"paused"}:
        return "a pause moves nothing"
    if not playback <= _IN_TITLE:
        return None
    if not winners.values(box, "first_minutes").true:
        work = "travels" if part == "preset" else "is asked for"
        return f"once a title's first minutes are over nothing {work}"
    if part == "panels" and pace.linger >= pace.first_minutes:
        return "a wish must linger longer than a title's first minutes last"
    return None


def _taken_back(rows: TableRows, winners: Winners, row: int, box: Bits) -> str | None:
    """Say that a row for `helper: asked` takes the open prompt back and so never asks itself.

    Its own wish has to linger, and meanwhile nobody is asked any more.
    """
    wanted = rows.show(row).panels
    then = winners.winners(winners.changed(box, {"helper": equal_to("free")}))
    if rows.room.pace.linger == 0 or any(rows.show(one.row).panels == wanted for one in then):
        return None
    return "it takes back what somebody is asked for, and then helper is free and the row is over"


def _panels_in_the_way(rows: TableRows, winners: Winners, row: int, box: Bits) -> bool:
    """Tell whether, however panels stand in a box, the row's own have to be uncovered first."""
    wanted = rows.show(row).panels
    if wanted is None:
        return False
    stand = winners.values(box, "panels")
    known = [one for one in rows.room.panels if stand.accepts(one)]
    every: list[str | None] = [*known, None] if stand.null else [*known]
    return all(one != wanted and removes(rows.room, one, wanted) for one in every)


def _names(region: ValueSet) -> set[str | None]:
    """Give the words of a set, and None where it accepts what is not known."""
    return {*region.strings, None} if region.null else {*region.strings}
