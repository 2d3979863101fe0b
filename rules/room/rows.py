"""Read the cells of rows and promises, each as its column requires."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from engine.room import DARK
from engine.table import Policy
from engine.value_set import ANYTHING, ValueSet
from rules.room.names import NUMERIC_KINDS, PART_NOUNS, check_name, check_show
from rules.text.findings import advice_for_unknown
from rules.text.yaml_nodes import Entry, Mapping, Node, Scalar, Sequence, node_at

if TYPE_CHECKING:
    from engine.table import Column
    from rules.room.names import Names, Report

RANKED_PARTS: Final = ("picture", "preset", "panels")
"""The parts of a look that the policy `priority` compares, the most important first."""


class RowCells(NamedTuple):
    """The cells of one row or promise, one for each column, and its line."""

    cells: tuple[ValueSet, ...]
    line: int


def row_lines(report: Report, names: Names, root: Mapping) -> tuple[RowCells, ...]:
    """Read the rows' cells; report mistakes in them and unknown names in their looks."""
    rules = root.get("rules")
    if not isinstance(rules, Mapping):
        return ()
    rows = rules.get("rows")
    items = rows.items if isinstance(rows, Sequence) else ()
    lines = tuple(_line(report, names, item, "case", names.columns) for item in items)
    looks = [item.get("show") for item in items if isinstance(item, Mapping)]
    for look in (*looks, rules.get("otherwise")):
        check_show(report, names, look)
    _check_labels(report, items)
    _check_order(report, names, root.entries["rules"], looks)
    return lines


def promise_lines(report: Report, names: Names, root: Mapping) -> tuple[RowCells, ...]:
    """Read the promises' cells, which may test the facts and how things stand."""
    promises = root.get("promises")
    items = promises.items if isinstance(promises, Sequence) else ()
    columns = (*names.columns, *names.standing)
    lines = tuple(_line(report, names, item, promise_section(item), columns) for item in items)
    _check_labels(report, items)
    for item in items:
        never, unless = (node_at(item, section) for section in ("never", "unless"))
        if isinstance(never, Mapping) and not never.entries:
            report.error(
                "missing",
                never.place,
                "this would forbid everything",
                "Say in which case it must never be.",
            )
        if isinstance(unless, Mapping) and not unless.entries:
            report.error(
                "missing",
                unless.place,
                "this would excuse everything",
                "Say in which case the look need not stand, or leave unless out.",
            )
    return lines


def promise_section(item: Node) -> str:
    """Name the entry of a promise that holds its tests: `unless` goes with `within`."""
    return "never" if node_at(item, "within") is None else "unless"


def rank(names: dict[str, str | None], order: dict[str, tuple[str, ...]]) -> int:
    """Give a look's rank in the declared order: 0 is the highest, what is not listed comes last."""
    place = 0
    for part in RANKED_PARTS:
        listed = order.get(part, ())
        name = names.get(part)
        last = len(listed)
        place = place * (last + 1) + (listed.index(name) if name in listed else last)
    return place


def _line(
    report: Report, names: Names, item: Node, section: str, columns: tuple[Column, ...]
) -> RowCells:
    case = item.get(section) if isinstance(item, Mapping) else None
    entries = case.entries if isinstance(case, Mapping) else {}
    known = {column.name: column for column in columns}
    for name, entry in entries.items():
        if name not in known and "told" not in names.unsure:
            _unknown_fact(report, entry.key, entry.value, tuple(known))
    regions = []
    for column in columns:
        value = entries[column.name].value if column.name in entries else None
        regions.append(_cell(report, names, column, value) or ANYTHING)
    return RowCells(tuple(regions), item.line)


def _cell(report: Report, names: Names, column: Column, node: Node | None) -> ValueSet | None:
    if not isinstance(node, Scalar) or names.doubtful(column.name):
        return None
    if names.doubtful("shapes") and column.kind in NUMERIC_KINDS:
        return None  # a word here may be a shape that was not read
    return report.test(node, column, names.shapes)


def _unknown_fact(report: Report, key: Scalar, value: Node, known: tuple[str, ...]) -> None:
    """Report a name that is no fact, or that is the rest of a test cut off at a comma."""
    place = key.place
    if isinstance(value, Scalar) and value.empty:
        report.error(
            "test-unquoted",
            place,
            f"the comma before {key.text[:60]} ends the test, so this counts as a fact's name",
            "Put the whole test, commas and all, in quotes.",
        )
    else:
        message = f"{key.text[:60]} is no fact"
        report.error("unknown-name", place, message, advice_for_unknown(key.text, known))


def _check_labels(report: Report, items: tuple[Node, ...]) -> None:
    """Refuse a name given to two rows, since recorded nights tell rows apart by their names."""
    seen: dict[str, Scalar] = {}
    for item in items:
        label = item.get("name") if isinstance(item, Mapping) else None
        if not isinstance(label, Scalar) or not label.text:
            continue
        before = seen.setdefault(" ".join(label.text.split()), label)
        if before is not label:
            report.error(
                "key-twice",
                label.place,
                f"this name is given twice, first at line {before.line}, column {before.column}",
                "Give each row a name of its own.",
            )


def _is_policy(node: Node | None) -> bool:
    """Tell whether it is sure which policy is meant; where none is written, it is the default."""
    known = {policy.value for policy in Policy}
    return node is None or (isinstance(node, Scalar) and node.text in known)


def _check_order(report: Report, names: Names, entry: Entry, looks: list[Node | None]) -> None:
    """Check that `order` is given only for the policy `priority` and lists what rows show."""
    policy, order = node_at(entry.value, "policy"), node_at(entry.value, "order")
    ranked = isinstance(policy, Scalar) and policy.text == "priority"
    if ranked and order is None and policy and report.source.sure(entry.value, entry.key):
        message = "the policy priority needs an order"
        advice = "Add order: {picture: [plain]}, the highest first."
        report.error("missing", policy.place, message, advice)
    if order is not None and not ranked and _is_policy(policy):
        message = "an order has no effect without the policy priority"
        advice = "Leave it out, or write policy: priority."
        report.error("contradiction", order.place, message, advice)
        return
    for part, known in zip(
        RANKED_PARTS, (names.pictures, names.presets, names.panels), strict=True
    ):
        listed = node_at(order, part)
        if not isinstance(listed, Sequence):
            continue
        scalars = [one for one in listed.items if isinstance(one, Scalar)]
        if not names.doubtful(part):
            for one in scalars:
                check_name(report, one, known, PART_NOUNS[part])
        _check_listed(report, part, tuple(one.text for one in scalars), looks)


def _check_listed(
    report: Report, part: str, listed: tuple[str, ...], looks: list[Node | None]
) -> None:
    for look in looks:
        shown = look.get(part) if isinstance(look, Mapping) else None
        if isinstance(shown, Scalar) and shown.text not in {*listed, DARK}:
            report.error(
                "unknown-name",
                shown.place,
                f"{shown.text[:60]} has no place in the order of {part}",
                f"Add it to {part} under order.",
            )
