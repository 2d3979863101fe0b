"""Find rows whose work is undone, by what it leads to or by each change of a title's shape.

What a row has done becomes a fact that rules look at: somebody is asked, panels stand, the lens is
at another preset. If the row that wins then wants something else, the first one's wish is taken
back as soon as it is acted on. So does a title whose shape goes to and fro between two rows that
want different presets or panels.

`simulator.proof.convergence` looks for such circles by running the engine; here they are found
without it, at their rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from engine.aspect import NARROWEST, WIDEST
from engine.room import Show, SlowPart
from engine.value_set import BOOLEANS, ValueSet, difference, equal_to, interval
from rules.room.people_asked import TIME_TO_ACT
from rules.table.box_sentences import box_sentence, example_of
from rules.table.boxes import Bits
from rules.table.table_rows import TableRows
from rules.table.winners import Winner, Winners
from rules.text.findings import Finding
from rules.text.quantity import show_duration

TWICE: Final = 2
"""How many travels it takes to go somewhere and back."""

_FREE: Final = equal_to("free")


class _Effect(NamedTuple):
    """What a row's wish leads to."""

    part: SlowPart
    when: str
    facts: Mapping[str, ValueSet]
    """The facts that it changes, with their new values."""


def undone_findings(rows: TableRows, winners: Winners) -> Iterator[Finding]:
    """Warn about rows whose own work lets another row undo it. Raises `BudgetSpent`."""
    for row in range(len(rows.room.rules.rows)):
        for effect in _effects(rows.room.panels, rows.show(row)):
            yield from _undone(rows, winners, row, effect)


def _effects(arrangements: Mapping[str, object], show: Show) -> Iterator[_Effect]:
    """List what follows from a row's preset and panels."""
    if show.panels is not None and len(arrangements) > 1:
        stand = equal_to(show.panels)
        yield _Effect("panels", "while somebody is asked", {"helper": equal_to("asked")})
        yield _Effect("panels", "once they stand so", {"helper": _FREE, "panels": stand})
    if show.preset is not None:
        yield _Effect("preset", "once the lens is on its way", {"preset": equal_to(show.preset)})


def _undone(rows: TableRows, winners: Winners, row: int, effect: _Effect) -> Iterator[Finding]:
    """Report the first row that undoes what a row wants, and whether that is always so."""
    part = effect.part
    wanted = getattr(rows.show(row), part)
    first: Winner | None = None
    always = True
    for box in winners.boxes(row):
        begins = _before(rows, winners, box, part, wanted)
        if begins is None:
            continue
        for winner in winners.winners(winners.changed(begins, effect.facts)):
            if getattr(rows.show(winner.row), part) in {None, wanted}:
                always = False
            elif first is None:
                first = winner
    if first is None:
        return
    columns, case = rows.room.rules.table.columns, winners.regions(first.box)
    other = getattr(rows.show(first.row), part)
    where = "always" if always else f"where: {box_sentence(case, columns)}"
    yield rows.warning(
        "wish-undone",
        (row, part),
        f"{rows.label(row)} asks for {part} {wanted}, and {effect.when}, {rows.label(first.row)} "
        f"wants {other} and takes that back, {where}",
        f"Let both want the same {part}, leave {part} out of one of them, or take "
        f"{' and '.join(effect.facts)} out of the cases.",
        example_of(case, columns),
    )


def _before(
    rows: TableRows, winners: Winners, box: Bits, part: SlowPart, wanted: str
) -> Bits | None:
    """Give the part of a box in which the wish is still to be fulfilled, and may be."""
    names = rows.room.panels if part == "panels" else rows.room.presets
    others = ValueSet(null=True, strings=tuple(sorted(name for name in names if name != wanted)))
    facts: dict[str, ValueSet] = {part: others}
    if part == "panels":
        facts["helper"] = _FREE
    return winners.narrowed(box, facts)


def hurried_findings(rows: TableRows, winners: Winners) -> Iterator[Finding]:
    """Warn about prompts that are taken back when a title's first minutes end, with no time to act.

    Raises `BudgetSpent`.
    """
    room = rows.room
    left = room.pace.first_minutes - room.pace.linger
    if len(room.panels) == 1 or not 0 < left < TIME_TO_ACT:
        return
    over = {"helper": equal_to("asked"), "first_minutes": equal_to(value=False)}
    first_minutes = {"first_minutes": equal_to(value=True), "playback": equal_to("playing")}
    for row in range(len(room.rules.rows)):
        wanted = rows.show(row).panels
        boxes = () if wanted is None else winners.boxes(row)
        begun = (winners.narrowed(box, first_minutes) for box in boxes)
        for box in filter(None, begun):
            then = [*winners.winners(winners.changed(box, over))]
            undoing = [one for one in then if rows.show(one.row).panels not in {None, wanted}]
            if undoing:
                yield rows.warning(
                    "prompt-too-short",
                    (row, "panels"),
                    f"{rows.label(row)} asks for panels {wanted}, and "
                    f"{rows.label(undoing[0].row)} takes that back {show_duration(left)} later, "
                    "when the title's first minutes are over",
                    "Take first_minutes out of the cases, or let those of pace.recalls be longer.",
                    example_of(winners.regions(box), room.rules.table.columns),
                )
                break


# ----------------------------------------------------------------- titles that change their shape


def restless_findings(rows: TableRows, winners: Winners) -> Iterator[Finding]:
    """Warn about rows between which a title of a changing shape goes to and fro.

    Only what the pace lets happen is told: a second recall in a title, or a second prompt in its
    first minutes. Raises `BudgetSpent`.
    """
    pace = rows.room.pace
    if len(rows.room.presets) > 1 and pace.per_title >= TWICE and pace.linger < pace.first_minutes:
        yield from _restless(rows, winners, "preset")
    if len(rows.room.panels) > 1 and TWICE * pace.linger < pace.first_minutes:
        yield from _restless(rows, winners, "panels")


def _restless(rows: TableRows, winners: Winners, part: SlowPart) -> Iterator[Finding]:
    pairs: dict[tuple[int, int], Bits] = {}
    for row in range(len(rows.room.rules.rows)):
        wanted = getattr(rows.show(row), part)
        if wanted is None:
            continue
        for box in winners.boxes(row):
            begins = winners.narrowed(box, _changing_title(rows))
            if begins is not None:
                for other in _to_and_fro(rows, winners, begins, part, wanted):
                    pair = (min(row, other), max(row, other))
                    pairs.setdefault(pair, begins)
    if not pairs:
        return
    (one, other), box = next(iter(pairs.items()))
    more = f"; {len(pairs) - 1:,} more pairs of rows do so too" if len(pairs) > 1 else ""
    columns, regions = rows.room.rules.table.columns, winners.regions(box)
    effect = "sends the lens" if part == "preset" else "asks somebody"
    yield rows.warning(
        "restless-rows",
        (max(one, other), part),
        f"{rows.label(one)} and {rows.label(other)} undo each other's work: a title that changes "
        f"its shape {effect} to and fro in its first minutes, where: "
        f"{box_sentence(regions, columns)}{more}",
        f"Add a row for varies: yes that leaves {part} out or wants one of the two, or test "
        "tallest instead of aspect.",
        example_of(regions, columns),
    )


def _changing_title(rows: TableRows) -> dict[str, ValueSet]:
    """Give the facts of a title that has changed its shape and is in its first minutes."""
    changing = sorted(
        name
        for name, source in rows.room.sources.items()
        if source.shape is None and not source.leave_alone
    )
    return {
        "source": ValueSet(strings=tuple(changing)),
        "playback": equal_to("playing"),
        "varies": BOOLEANS._replace(false=False),
        "first_minutes": BOOLEANS._replace(false=False),
        "aspect": interval(NARROWEST, WIDEST),
    }


def _to_and_fro(
    rows: TableRows, winners: Winners, box: Bits, part: SlowPart, wanted: str
) -> Iterator[int]:
    """List the rows that want something else at another shape, and are themselves undone there."""
    shape = winners.values(box, "aspect")
    others = difference(interval(NARROWEST, WIDEST), shape)
    other_shape = {"aspect": others, part: equal_to(wanted)}
    for winner in winners.winners(winners.changed(box, other_shape)):
        then = getattr(rows.show(winner.row), part)
        if then in {None, wanted}:
            continue
        back = winners.changed(winner.box, {"aspect": shape, part: equal_to(then)})
        if any(
            getattr(rows.show(one.row), part) not in {None, then} for one in winners.winners(back)
        ):
            yield winner.row
