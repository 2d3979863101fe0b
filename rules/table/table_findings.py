"""Report what `analysis` finds in a room's rules as findings with places.

Errors are faults that must be repaired: overlapping rows in a `unique` table, overlapping rows
with different looks in an `any` table, cases without a row or an `otherwise` that the file does not
accept, and questions left open by a spent budget. Warnings are allowed but probably not intended.
Information says where the policy or `otherwise` decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from engine.aspect import in_hundredths
from engine.room import Room
from engine.table import Column, Policy
from engine.value_set import NOTHING, Kind, ValueSet, show_value
from rules.room.load import Loaded
from rules.room.names import Names
from rules.table.analysis import DEFAULT_BUDGET, DeadRow, Overlap, TableAnalysis, analyse_table
from rules.table.boundaries import fragile_boundaries
from rules.table.box_sentences import box_sentence, case_of, example_of
from rules.table.boxes import BudgetSpent
from rules.table.domains import domain_of, within_domain
from rules.table.held_looks import held_findings
from rules.table.lasting_looks import lasting_findings
from rules.table.table_rows import TableRows
from rules.table.undone_work import hurried_findings, restless_findings, undone_findings
from rules.table.winners import Winners
from rules.text.findings import Finding, Severity, in_order, listed
from rules.text.yaml_nodes import Mapping, Node, Place, Scalar, Sequence, node_at

MOST_NAMED: Final = 5
"""How many rows or overlaps one sentence names."""

_WORD: Final = re.compile(r"[^\W\d]\w*")


def table_findings(loaded: Loaded, budget: int = DEFAULT_BUDGET) -> tuple[Finding, ...]:
    """Analyse the rules of a room file; no findings if the file did not load.

    `budget` limits the steps of the analysis; a question that it leaves open is an error.
    """
    if loaded.room is None or loaded.nodes is None:
        return ()
    file, written, root, names = loaded.nodes
    context = _Context(loaded.room, file, root, written, names)
    return in_order(context.findings(budget))


class _Line(NamedTuple):
    """One row or promise: its node, and its cells with their columns and sets of values."""

    label: str
    item: Node
    cells: tuple[tuple[Scalar, Column, ValueSet], ...]


def _lines(
    items: Iterable[Node],
    section: str,
    columns: tuple[Column, ...],
    meant: list[tuple[str, tuple[ValueSet, ...]]],
) -> list[_Line]:
    """Pair the nodes of rows or promises with what was compiled from them (`meant`)."""
    lines = []
    for item, (label, regions) in zip(items, meant, strict=True):
        cells = []
        for column, region in zip(columns, regions, strict=True):
            cell = node_at(item, section, column.name)
            if isinstance(cell, Scalar):
                cells.append((cell, column, region))
        lines.append(_Line(label, item, tuple(cells)))
    return lines


@dataclass(frozen=True, slots=True)
class _Context:
    """A room, and the nodes and names of the file that it was compiled from."""

    room: Room
    file: str
    root: Mapping
    written: Mapping
    names: Names

    def findings(self, budget: int) -> Iterator[Finding]:
        """Give all findings; rules that were filled in and are not in the file give none."""
        lines = self._promises()
        if self.written.get("rules") is self.root.get("rules"):
            rows = self._rows()
            lines += rows
            found = analyse_table(self.room.rules.table, budget=budget)
            yield from self._overlaps(found, rows)
            yield from self._gaps(found)
            yield from self._dead(found, rows)
            yield from self._open(found, rows)
            yield from self._looks()
        for line in lines:
            yield from self._cells(line)
        yield from self._shapes()

    # ------------------------------------------------------------------ where things stand

    def _rows(self) -> list[_Line]:
        rules = self.room.rules
        kept_rows = zip(rules.rows, rules.table.rows, strict=True)
        meant = [(note.label, row.cells) for note, row in kept_rows]
        nodes = node_at(self.root, "rules", "rows")
        items = nodes.items if isinstance(nodes, Sequence) else ()
        return _lines(items, "case", rules.table.columns, meant)

    def _promises(self) -> list[_Line]:
        """List the tests of promises: what must never be, and where a look need not stand."""
        room, nodes = self.room, self.root.get("promises")
        tables = (
            ("never", [(one.label, one.never) for one in room.promises]),
            ("unless", [(one.label, one.unless) for one in room.timely if one.unless.rows]),
        )
        lines: list[_Line] = []
        for section, promises in tables:
            items = nodes.items if isinstance(nodes, Sequence) else ()
            tested = [one for one in items if node_at(one, section) is not None]
            for item, (label, table) in zip(tested, promises, strict=True):
                lines += _lines([item], section, table.columns, [(label, table.rows[0].cells)])
        return lines

    def _place(self, *path: str) -> Place:
        """Give the place of an entry's key, or of the last key on the path that is written."""
        node: Node = self.root
        place = node.place
        for name in path:
            if not isinstance(node, Mapping) or name not in node.entries:
                break
            place, node = node.entries[name].key.place, node.entries[name].value
        return place

    # ------------------------------------------------------------------------- the findings

    def _overlaps(self, found: TableAnalysis, rows: list[_Line]) -> Iterator[Finding]:
        policy = self.room.rules.table.policy
        count = {Policy.UNIQUE: found.overlap_count, Policy.ANY: found.differing_count}
        faults = count.get(policy, 0)
        wrong = [one for one in found.overlaps if policy is Policy.UNIQUE or not one.alike]
        for overlap in wrong if faults else ():
            yield self._overlap(overlap, rows)
        if faults > len(wrong):
            yield Finding(
                Severity.ERROR,
                "overlap-more",
                self.file,
                *self._place("rules", "rows"),
                f"overlaps not listed here: {faults - len(wrong):,}",
                "Mend those that are first.",
            )
        if found.overlap_count > faults:
            yield self._allowed(found, rows)

    def _overlap(self, overlap: Overlap, rows: list[_Line]) -> Finding:
        one, other = (rows[row] for row in overlap.rows)
        columns = self.room.rules.table.columns
        looks = "show the same" if overlap.alike else "show different things"
        advice = "Narrow one of the two"
        if self.room.rules.table.policy is Policy.ANY:
            advice = f"Let both show the same, or {advice[:1].lower()}{advice[1:]}"
        return Finding(
            Severity.ERROR,
            "overlap",
            self.file,
            *other.item.place,
            f"{other.label} and {_label_with_line(one)} both match, and {looks}, where: "
            f"{box_sentence(overlap.box, columns)}",
            f"{advice}, or write policy: first, by which the earlier wins.",
            example_of(overlap.box, columns),
        )

    def _allowed(self, found: TableAnalysis, rows: list[_Line]) -> Finding:
        """Report in one sentence the overlaps that the policy decides."""
        policy, columns = self.room.rules.table.policy, self.room.rules.table.columns
        alike = policy is Policy.ANY
        count = found.overlap_count - (found.differing_count if alike else 0)
        shown = [one for one in found.overlaps if one.alike or not alike][:MOST_NAMED]
        told = [
            f"{rows[one.rows[0]].label} with {rows[one.rows[1]].label}, where "
            f"{box_sentence(one.box, columns)}"
            for one in shown
        ]
        if count > len(shown):
            told.append(f"{count - len(shown):,} more")
        verdicts = {Policy.ANY: "they show the same", Policy.PRIORITY: "the order decides"}
        verdict = verdicts.get(policy, "the earlier wins")
        pairs = "one pair of rows overlaps" if count == 1 else f"{count:,} pairs of rows overlap"
        return Finding(
            Severity.INFO,
            "overlap",
            self.file,
            *self._place("rules", "policy"),
            f"{pairs}, and {verdict}: {'; '.join(told)}",
            example=example_of(shown[0].box, columns) if shown else "",
        )

    def _gaps(self, found: TableAnalysis) -> Iterator[Finding]:
        """Report what no row covers: a fault, unless the file says what is shown, or accepts it."""
        otherwise = self.room.rules.otherwise.line > 0
        accepted = node_at(self.root, "rules", "gaps_accepted")
        if accepted is not None:
            yield from self._accepted(found, accepted, otherwise=otherwise)
        if accepted is None or otherwise:
            yield from self._each_gap(found, otherwise=otherwise)
        if found.default_unused and otherwise:
            yield Finding(
                Severity.INFO,
                "otherwise-unused",
                self.file,
                *self._place("rules", "otherwise"),
                "every case has its row, so that otherwise is never used",
                "It may be left out.",
            )

    def _each_gap(self, found: TableAnalysis, *, otherwise: bool) -> Iterator[Finding]:
        table = self.room.rules.table
        severity = Severity.INFO if otherwise else Severity.ERROR
        place = self._place("rules", "otherwise" if otherwise else "rows")
        for box in found.gaps:
            words, case = box_sentence(box, table.columns), case_of(box, table.columns)
            message = f"this falls to otherwise: {words}"
            advice = f"If a rule should decide, add a row with case: {case}."
            if not otherwise:
                message = f"no row covers this, and no otherwise is written: {words}"
                advice = (
                    f"Write an otherwise, or add a row with case: {case}. If the built-in look, "
                    "plain, is meant, write gaps_accepted: {because: ...} under rules."
                )
            example = example_of(box, table.columns)
            yield Finding(severity, "gap", self.file, *place, message, advice, example)
        more = found.gap_count - len(found.gaps)
        if more:
            message = f"boxes that no row covers and that are not listed here: {more:,}"
            yield Finding(severity, "gap-more", self.file, *place, message)

    def _accepted(
        self, found: TableAnalysis, accepted: Node, *, otherwise: bool
    ) -> Iterator[Finding]:
        """Report in one sentence the gaps that the file accepts, or that it accepts none."""
        columns = self.room.rules.table.columns
        boxes = [box_sentence(box, columns) for box in found.gaps[:MOST_NAMED]]
        if otherwise or (found.gaps_proven and not boxes):
            why = "otherwise says what to show there" if otherwise else "every case has its row"
            yield Finding(
                Severity.WARNING,
                "no-gap-to-accept",
                self.file,
                *accepted.place,
                f"gaps are accepted, and there are none: {why}",
                "Leave gaps_accepted out.",
            )
        elif boxes:
            more = found.gap_count - len(boxes)
            told = "; ".join([*boxes, f"{more:,} more"] if more else boxes)
            yield Finding(
                Severity.INFO,
                "gap",
                self.file,
                *accepted.place,
                f"plain is shown where no row covers the case, which is accepted: {told}",
                example=example_of(found.gaps[0], columns),
            )

    def _dead(self, found: TableAnalysis, rows: list[_Line]) -> Iterator[Finding]:
        advice = {
            Policy.UNIQUE: "Narrow {rest}, or take it out.",
            Policy.ANY: "Narrow {rest}, or take it out.",
            Policy.PRIORITY: "Give its look a higher place in the order, narrow {rest}, or take "
            "it out.",
            Policy.FIRST: "Put it before {rest}, narrow {rest}, or take it out.",
        }[self.room.rules.table.policy]
        for dead in found.dead:
            if dead.by:
                yield Finding(
                    Severity.WARNING,
                    "dead-row",
                    self.file,
                    *rows[dead.row].item.place,
                    f"{rows[dead.row].label} can never win: "
                    f"{_covering_words(dead, rows)} it nothing",
                    advice.format(rest="that row" if len(dead.by) == 1 else "those rows"),
                )

    def _open(self, found: TableAnalysis, rows: list[_Line]) -> Iterator[Finding]:
        """Report what was left open when the budget was spent."""
        advice = "Test fewer facts in one row, or fewer different values of each."
        if not found.gaps_proven:
            yield Finding(
                Severity.ERROR,
                "not-proven",
                self.file,
                *self._place("rules", "rows"),
                f"not proven: after {found.steps:,} steps not every case that no row covers is "
                f"known; {found.gap_count:,} boxes of them are",
                advice,
            )
        for row in found.unproven_rows:
            yield Finding(
                Severity.ERROR,
                "not-proven",
                self.file,
                *rows[row].item.place,
                f"not proven: after {found.steps:,} steps it is not known whether "
                f"{rows[row].label} can ever win",
                advice,
            )

    def _looks(self) -> Iterator[Finding]:
        """Report what rows want in vain, as far as the budget goes."""
        rows = TableRows(self.room, self.file, self.root)
        yield from lasting_findings(rows)
        winners = Winners(self.room.rules.table)
        try:
            for find in (held_findings, undone_findings, hurried_findings, restless_findings):
                yield from find(rows, winners)
        except BudgetSpent:
            yield Finding(
                Severity.INFO,
                "looks-not-searched",
                self.file,
                *self._place("rules", "rows"),
                "not every row has been searched for looks that are never reached or are undone",
                "Test fewer facts in one row, or fewer different values of each.",
            )

    def _cells(self, line: _Line) -> Iterator[Finding]:
        for cell, column, region in line.cells:
            domain = domain_of(column)
            if within_domain(region, domain) == NOTHING:
                yield Finding(
                    Severity.WARNING,
                    "never-matches",
                    self.file,
                    *cell.place,
                    f"no {column.name} can ever pass this test, so that {line.label} never matches",
                    _advice_for_test(region, column),
                )
            elif column.kind is Kind.RATIO:
                yield from self._fragile(cell, region)

    def _shapes(self) -> Iterator[Finding]:
        shapes = self.root.get("shapes")
        for name, entry in shapes.entries.items() if isinstance(shapes, Mapping) else ():
            cell, region = entry.value, self.names.shapes[name]
            if isinstance(cell, Scalar):
                yield from self._fragile(cell, region)

    def _fragile(self, cell: Scalar, region: ValueSet) -> Iterator[Finding]:
        """Report fragile boundaries of a test, except those of the named shapes that it uses."""
        shapes = [
            self.names.shapes[word]
            for word in _WORD.findall(cell.text)
            if word in self.names.shapes
        ]
        if {cut for shape in shapes for cut in shape.cuts}.issuperset(region.cuts):
            return
        for one in fragile_boundaries(region):
            yield Finding(
                Severity.WARNING,
                "fragile-boundary",
                self.file,
                *cell.place,
                one.message,
                one.suggestion,
            )


def _label_with_line(line: _Line) -> str:
    return f"{line.label} (line {line.item.line})"


def _covering_words(dead: DeadRow, rows: list[_Line]) -> str:
    names = [_label_with_line(rows[row]) for row in dead.by[:MOST_NAMED]]
    more = len(dead.by) - len(names)
    words = listed([*names, f"{more} more"] if more else names, "and")
    return f"{words} {'leaves' if len(dead.by) == 1 else 'leave'}"


def _advice_for_test(region: ValueSet, column: Column) -> str:
    """Say what to write instead of a test that no value passes."""
    if region.null and not column.unknown:
        return f"{column.name} is always known: leave null out."
    if column.kind is Kind.RATIO and region.cuts:
        near = in_hundredths(int(region.cuts[0].value))
        return f"Ratios among the facts are whole hundredths: write {show_value(near, Kind.RATIO)}."
    return "Widen the test, or take it out."
