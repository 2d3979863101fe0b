"""Published decision tables, inspected: their known gap, their known overlaps, and no others.

Source of the tables: the public DMN Technology Compatibility Kit (Apache-2.0), as transcribed
and held against its folders in `test_decision_tables`. Trust: read. That one table has a gap at
(false, 130) and its successor none, and which rules of 0005 and 0117 overlap, was found with an
SMT solver. Trust: computed. That rules of a `U` table must not overlap, and those of an `A` table
only where they agree, is what DMN 1.4 says of its hit policies. Trust: read.

The table of loan grades is the running example of "Semantics and Analysis of DMN Decision Tables"
(2016), which looks for overlapping and missing rules. Its bounds are given from memory, and so is
that its first and third rules overlap. Trust: remembered. The sizes of what it leaves out are
worked out by hand from these bounds. Trust: computed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.table import Policy, RuleTable, compile_table
from engine.value_set import (
    BOOLEANS,
    NUMBERS,
    Value,
    ValueSet,
    equal_to,
    intersection,
    interval,
    union,
)
from rules.table.analysis import TableAnalysis, analyse_table
from rules.table.domains import Domain, weight, within_domain
from tests.published.test_decision_tables import (
    ANY_WITH_ONE_OUTPUT,
    ANY_WITH_TWO_OUTPUTS,
    FIRST_OF_TWO_OUTPUTS,
    RISK_WITH_A_GAP,
    RISK_WITHOUT_GAPS,
    Published,
    read_tables,
)

Outputs = tuple[Value, ...]


def domains_of(table: RuleTable[Outputs]) -> list[Domain]:
    """Say what the inputs may be: both truths, every number, the words that the rules name.

    The kit's tables are typed elsewhere in its models; no input of theirs is ever null.
    """
    found = []
    for at in range(len(table.columns)):
        mentioned = union(*(row.cells[at] for row in table.rows if not row.cells[at].null))
        region = ValueSet(strings=mentioned.strings) if mentioned.strings else ValueSet()
        if mentioned.true or mentioned.false:
            region = union(region, BOOLEANS)
        if mentioned.cuts or mentioned.below:
            region = union(region, NUMBERS)
        found.append(Domain(region))
    return found


def inspected(published: Published) -> TableAnalysis:
    table = published.compiled()
    return analyse_table(table, domains_of(table))


def overlapping(found: TableAnalysis) -> set[tuple[int, int]]:
    """The pairs of rules, counted from 1 as the standard counts them."""
    return {(one.rows[0] + 1, one.rows[1] + 1) for one in found.overlaps}


# ------------------------------------------------------------------- what runs on every machine


def test_the_published_gap_is_found_and_is_the_only_one() -> None:
    found = inspected(RISK_WITH_A_GAP)
    assert found.gaps == ((equal_to(value=False), equal_to(130)),)
    assert (found.gap_count, found.gaps_proven) == (1, True)
    assert not found.overlaps
    assert not found.dead


def test_the_successor_has_neither_gap_nor_overlap() -> None:
    found = inspected(RISK_WITHOUT_GAPS)
    assert (found.gap_count, found.overlap_count, found.dead) == (0, 0, ())
    assert found.proven


@pytest.mark.parametrize(
    ("published", "pairs"),
    [
        (ANY_WITH_ONE_OUTPUT, {(2, 3), (2, 4), (3, 4)}),
        (ANY_WITH_TWO_OUTPUTS, {(1, 6)}),
    ],
)
def test_the_published_overlaps_are_found_and_agree(
    published: Published, pairs: set[tuple[int, int]]
) -> None:
    found = inspected(published)
    assert overlapping(found) == pairs
    assert (found.overlap_count, found.differing_count) == (len(pairs), 0)


def test_the_box_of_a_published_overlap_is_where_both_rules_apply() -> None:
    """0117: rule 1 asks for an age of at least 18, rule 6 of at least 19, else they are alike."""
    (overlap,) = inspected(ANY_WITH_TWO_OUTPUTS).overlaps
    assert overlap.box == (interval(19, None), equal_to("Low"), equal_to(value=True))


def test_the_rule_that_repeats_another_can_never_be_the_one_chosen() -> None:
    """0117: wherever rule 6 applies, rule 1 does too and stands first."""
    assert inspected(ANY_WITH_TWO_OUTPUTS).dead == ((5, (0,)),)


LOAN_GRADES = Published(
    policy="unique",
    inputs=("annual income", "loan size"),
    rows=(
        ("[0..1000]", "[0..1000]", '"VG"'),
        ("[250..750]", "[4000..5000]", '"G"'),
        ("[500..1500]", "[500..3000]", '"F"'),
        ("[2000..2500]", "[0..2000]", '"P"'),
    ),
)
WHOLE_MONEY = Domain(within_domain(interval(0, 5_000), Domain(interval(0, 5_000), 1)), 1)
"""Neither income nor loan is below nothing; beyond 5,000 no rule has a bound."""


def test_the_overlap_of_the_loan_grades_is_found_and_is_the_only_one() -> None:
    """Rules 1 and 3 meet from 500 to 1,000 in both inputs, and give different grades."""
    table = LOAN_GRADES.compiled()
    found = analyse_table(table, domains_of(table))
    assert overlapping(found) == {(1, 3)}
    assert found.overlaps[0].box == (interval(500, 1_000), interval(500, 1_000))
    assert found.differing_count == 1
    assert not found.dead


def test_the_rules_that_the_loan_grades_miss_are_all_found() -> None:
    """Of all pairs of whole amounts up to 5,000, each rule takes its box; two share 501 x 501."""
    found = analyse_table(LOAN_GRADES.compiled(), [WHOLE_MONEY] * 2)
    left_out = 5_001**2 - (1_001 * 1_001 + 501 * 1_001 + 1_001 * 2_501 + 501 * 2_001 - 501 * 501)
    assert found.gaps_proven
    assert len(found.gaps) == found.gap_count
    listed = sum(weight(one, WHOLE_MONEY) * weight(two, WHOLE_MONEY) for one, two in found.gaps)
    assert listed == left_out


def test_a_published_default_has_its_gap_to_answer_for() -> None:
    """0108: its rules leave applicants under 12 at medium risk to the default."""
    table = FIRST_OF_TWO_OUTPUTS.compiled()
    found = inspected(FIRST_OF_TWO_OUTPUTS)
    young = (equal_to(11), equal_to("Medium"), equal_to(value=True))
    holding = [box for box in found.gaps if tuple(map(intersection, box, young)) == young]
    assert len(holding) == 1
    assert not found.default_unused
    without = compile_table(Policy.FIRST, table.columns, table.rows)
    assert analyse_table(without, domains_of(table)).gaps == found.gaps


# ------------------------------------------------------------------------- the kit's own folders

FOLDERS = (
    "0004-lending",
    "0004-simpletable-U",
    "0005-simpletable-A",
    "0006-simpletable-P1",
    "0087-chapter-11-example",
    "0108-first-hitpolicy",
    "0117-multi-any-hitpolicy",
)
SINGLE = {"unique", "any", "priority", "first"}
"""The hit policies that give one output; COLLECT is none of them."""


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_table_of_the_kit_breaks_its_own_hit_policy(standards: Path, folder: str) -> None:
    checked = 0
    for published in read_tables(standards / "tck" / folder).values():
        if published.policy not in SINGLE:
            continue
        found = inspected(published)
        assert found.proven
        if published.policy == "unique":
            assert found.overlap_count == 0
        if published.policy == "any":
            assert found.differing_count == 0
        checked += 1
    assert checked


def test_the_gap_and_its_mending_stand_in_the_kits_own_files(standards: Path) -> None:
    old, new = (
        inspected(read_tables(standards / "tck" / folder)["prebureauriskcategory"])
        for folder in ("0004-lending", "0087-chapter-11-example")
    )
    assert old.gaps == ((equal_to(value=False), equal_to(130)),)
    assert new.gaps == ()


@pytest.mark.parametrize(
    ("folder", "pairs"),
    [
        ("0005-simpletable-A", {(2, 3), (2, 4), (3, 4)}),
        ("0117-multi-any-hitpolicy", {(1, 6)}),
    ],
)
def test_the_overlaps_stand_in_the_kits_own_files(
    standards: Path, folder: str, pairs: set[tuple[int, int]]
) -> None:
    (published,) = read_tables(standards / "tck" / folder).values()
    assert overlapping(inspected(published)) == pairs
