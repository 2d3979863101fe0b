"""YAML is read as text with places, safely, and as much of it as can be read."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from rules.room.load import read_room
from rules.text import yaml_nodes as source_module
from rules.text.findings import BadRoom
from rules.text.recovery import read_source, with_tests_quoted
from rules.text.yaml_nodes import (
    MOST_FILE_BYTES,
    MOST_LEVELS,
    Mapping,
    Node,
    Scalar,
    Sequence,
    decode_file,
    plain_data,
)
from tests.rules.files import BAD, GOOD, room_text, spoiled

if TYPE_CHECKING:
    from collections.abc import Iterator

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), max_size=12)
NAMES = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True)
TREES = st.dictionaries(
    NAMES,
    st.recursive(
        WORDS,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner, max_size=3),
        max_leaves=8,
    ),
    min_size=1,
    max_size=4,
)
TESTS = st.sampled_from(
    [
        ">= 2.30",
        "> 2",
        "<= 2.3",
        "!= 2.30",
        "= 2.30",
        "[1.85..2.20]",
        "[1.85..2.20)",
        "(1.85..2.20]",
        "]1.85..2.20[",
        "< 1.85, >= 2.30",
        "[20:00..22:00)",
        'not("disc", "streamer")',
        "not(2.39, 2.40)",
        "(2.39, 2.40)",
        '"disc", "streamer"',
        "22:00",
        '"disc"',
        "2.40",
        "null",
    ]
)


def every(node: Node) -> Iterator[Node]:
    yield node
    if isinstance(node, Mapping):
        for entry in node.entries.values():
            yield entry.key
            yield from every(entry.value)
    if isinstance(node, Sequence):
        for item in node.items:
            yield from every(item)


def codes(text: str) -> list[str]:
    return [finding.code for finding in read_source(text, "room.yaml").findings]


def root_of(text: str) -> Node:
    source = read_source(text, "room.yaml")
    assert source.findings == ()
    assert source.root is not None
    return source.root


# ------------------------------------------------------------------ what a good file says


@given(tree=TREES, flow=st.sampled_from([True, False, None]), width=st.integers(20, 120))
def test_any_tree_of_texts_reads_back_as_it_was_written(
    tree: dict[str, object], flow: bool | None, width: int
) -> None:
    """The writer is PyYAML's own."""
    text = yaml.safe_dump(tree, default_flow_style=flow, width=width, allow_unicode=True)
    assert plain_data(root_of(text)) == tree


@pytest.mark.parametrize("name", GOOD)
def test_every_scalar_of_a_room_stays_the_text_that_was_written(name: str) -> None:
    """PyYAML's BaseLoader knows no types either."""
    text = room_text(name)
    assert plain_data(root_of(text)) == yaml.load(text, yaml.BaseLoader)  # noqa: S506 - texts only


def test_what_yaml_takes_for_numbers_times_and_truths_stays_text() -> None:
    text = "a: 22:00\nb: on\nc: 1.85\nd: yes\ne: 2.40\nf: 0x10\ng: null\nh: 2026-11-25\ni: -\n"
    assert plain_data(root_of(text.replace("i: -\n", "i: {j: -}\n"))) == {
        "a": "22:00",
        "b": "on",
        "c": "1.85",
        "d": "yes",
        "e": "2.40",
        "f": "0x10",
        "g": "null",
        "h": "2026-11-25",
        "i": {"j": "-"},
    }


@pytest.mark.parametrize("name", GOOD)
def test_every_node_knows_the_place_that_pyyaml_gives_it(name: str) -> None:
    text = room_text(name)
    ours = [node.place for node in every(root_of(text)) if not isinstance(node, Mapping)]
    composed = yaml.compose(text, yaml.SafeLoader)
    theirs = []
    rest = [composed]
    while rest:
        node = rest.pop()
        if isinstance(node, yaml.MappingNode):
            rest += [part for pair in node.value for part in pair]
        else:
            assert node is not None
            theirs.append((node.start_mark.line + 1, node.start_mark.column + 1))
            rest += node.value if isinstance(node, yaml.SequenceNode) else []
    assert sorted(ours) == sorted(theirs)


@pytest.mark.parametrize("name", GOOD)
def test_a_scalar_points_at_its_own_characters(name: str) -> None:
    text = room_text(name)
    lines = text.split("\n")
    scalars = [node for node in every(root_of(text)) if isinstance(node, Scalar)]
    assert len(scalars) > 10
    for scalar in scalars:
        for offset, character in enumerate(scalar.text):
            line, column = scalar.at(offset)
            assert lines[line - 1][column - 1] == character


@pytest.mark.parametrize(
    ("written", "column"),
    [
        ("abc", 4),
        ("'abc'", 5),
        ('"abc"', 5),
        (r'"a\x62c"', 4),
        ("'a''c'", 4),
        ("|\n  abc", 4),
    ],
)
def test_an_offset_is_only_trusted_where_the_text_stands_character_for_character(
    written: str, column: int
) -> None:
    root = root_of(f"a: {written}\n")
    assert isinstance(root, Mapping)
    node = root.get("a")
    assert isinstance(node, Scalar)
    assert node.at(0) == (1, column)


def test_a_byte_order_mark_and_line_ends_of_other_systems_change_nothing() -> None:
    text = room_text("hayloft.yaml")
    assert list(every(root_of("\ufeff" + text.replace("\n", "\r\n")))) == list(every(root_of(text)))


# -------------------------------------------------------------------- what is not allowed


@pytest.mark.parametrize(
    ("text", "place", "code"),
    [
        ("a: 1\nb: !!python/name:os.system x\n", (2, 4), "yaml-tag"),
        ("a: !x {b: 1}\n", (1, 4), "yaml-tag"),
        ("a: &x 1\n", (1, 4), "yaml-anchor"),
        ("a: *x\n", (1, 4), "yaml-alias"),
        ("a: 1\n<<: {b: 2}\n", (2, 1), "yaml-merge"),
        ("a: 1\nb: 2\na: 3\n", (3, 1), "key-twice"),
        ("a: {b: 1, c: 2, b: 3}\n", (1, 17), "key-twice"),
        ("a: 1\n---\nb: 2\n", (2, 1), "yaml-documents"),
        ("a:\n\tb: 1\n", (2, 1), "tab"),
        ("a:\tb\n", (1, 3), "tab"),
        ("a: b\x07c\n", (1, 5), "character"),
        ("a: b\u2028c\n", (1, 5), "character"),
        ("a: b\ud800c\n", (1, 5), "character"),
        ("? [a]\n: b\n", (1, 3), "bad-name"),
        ('a: 1\n"": 2\n', (2, 1), "bad-name"),
        ("a: [b\n", (1, 4), "yaml"),
        ('a: "b\n', (1, 4), "yaml"),
        ("a: 1\n  b: 2\n", (2, 4), "yaml"),
        (r'a: "\q"' + "\n", (1, 4), "yaml"),
        ("", (1, 1), "empty"),
        ("# nothing\n", (1, 1), "empty"),
    ],
)
def test_what_is_refused_is_told_at_its_place(text: str, place: tuple[int, int], code: str) -> None:
    findings = read_source(text, "room.yaml").findings
    assert [(one.line, one.column, one.code) for one in findings] == [(*place, code)]


def test_of_a_repeated_key_both_places_are_told() -> None:
    (finding,) = read_source("a: 1\nb: 2\n a: 3\n".replace("\n a", "\na"), "room.yaml").findings
    assert str(finding) == (
        "room.yaml:3:1: error: a is given twice, first at line 1, column 1. Keep one of the two."
    )


def test_a_small_file_cannot_unfold_into_a_large_one() -> None:
    levels = [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    source = read_source("\n".join(["a0: &a0 lol", *levels]), "room.yaml")
    assert {one.code for one in source.findings} == {"yaml-anchor", "yaml-alias"}
    assert source.root is not None
    assert len(list(every(source.root))) < 100


@pytest.mark.parametrize("opener", ["[", "{a: "])
def test_nesting_has_an_end(opener: str) -> None:
    closer = {"[": "]", "{a: ": "}"}[opener]
    deepest = MOST_LEVELS - 1  # the file's own mapping is the first level
    assert codes(f"a: {opener * deepest}1{closer * deepest}\n") == []
    assert codes(f"a: {opener * MOST_LEVELS}1{closer * MOST_LEVELS}\n") == ["too-deep"]
    assert codes(f"a: {opener * 500}\n") == ["too-deep"]


def test_the_largest_file_is_read_and_one_byte_more_is_not() -> None:
    text = "a: 1\n#" + "é" * ((MOST_FILE_BYTES - 6) // 2)
    assert len(text.encode()) == MOST_FILE_BYTES
    assert codes(text) == []
    assert codes(text + ".") == ["too-large"]
    with pytest.raises(BadRoom, match="the file has more than 262,144 bytes"):
        decode_file((text + "....").encode(), "room.yaml")


def test_bytes_that_are_no_utf_8_are_told_by_their_place() -> None:
    assert decode_file("a: é\n".encode(), "room.yaml") == "a: é\n"
    with pytest.raises(BadRoom) as caught:
        decode_file("é: 1\nbä: ".encode() + b"\xff\n", "room.yaml")
    (finding,) = caught.value.findings
    assert (finding.line, finding.column, finding.code) == (2, 5, "not-utf-8")
    with pytest.raises(BadRoom, match="bytes"):
        decode_file(b"#" * (MOST_FILE_BYTES + 1), "room.yaml")


# ----------------------------------------------------- going on behind what cannot be read


@pytest.mark.parametrize(
    ("line", "better"),
    [
        ("aspect: >= 2.30", 'aspect: ">= 2.30"'),
        ("aspect: > 2.30  # wide", 'aspect: "> 2.30"'),
        ("aspect: [1.85..2.20)", 'aspect: "[1.85..2.20)"'),
        ("aspect: ]1.85..2.20[", 'aspect: "]1.85..2.20["'),
        ("aspect: -", 'aspect: "-"'),
        ("aspect: != 2.30", 'aspect: "!= 2.30"'),
        ("aspect: !=2.30", 'aspect: "!=2.30"'),
        ('source: "disc", "streamer"', 'source: \'"disc", "streamer"\''),
        ("c: {aspect: >= 2.30, b: 1}", 'c: {aspect: ">= 2.30", b: 1}'),
        ("c: {b: 1, aspect: (1.85..2.20]}", 'c: {b: 1, aspect: "(1.85..2.20]"}'),
        ('c: {a: not("x", "y"), b: 1}', 'c: {a: \'not("x", "y")\', b: 1}'),
        ("c: {t: [20:00..22:00), a: > 2}", 'c: {t: "[20:00..22:00)", a: "> 2"}'),
        ("because: Note this: a colon.", 'because: "Note this: a colon."'),
        ("because: @home", 'because: "@home"'),
    ],
)
def test_a_value_that_only_lacks_its_quotes_is_shown_with_them(line: str, better: str) -> None:
    source = read_source(f"before: 1\n{line}\nafter: 2\n", "room.yaml")
    (finding,) = source.findings
    assert finding.code in {"test-unquoted", "text-unquoted"}
    assert finding.line == 2
    assert finding.suggestion.endswith(f"in quotes: {better}")
    assert source.root is not None
    assert set(yaml.load(better, yaml.BaseLoader)) < set(plain_data(source.root))  # type: ignore[call-overload]  # noqa: S506


@given(
    tests=st.lists(TESTS, min_size=1, max_size=4),
    flow=st.booleans(),
    comment=st.sampled_from(["", "  # so: >= 2"]),
)
def test_the_line_that_is_suggested_reads_as_the_tests_that_were_meant(
    tests: list[str], flow: bool, comment: str
) -> None:
    """What is put in quotes by the loader is what a person would have put in quotes."""
    if flow:
        cells = ", ".join(f"k{number}: {test}" for number, test in enumerate(tests))
        lines = [f"case: {{{cells}}}{comment}"]
    else:
        lines = [f"k{number}: {test}{comment}" for number, test in enumerate(tests)]
    better = [mended.text if (mended := with_tests_quoted(line)) else line for line in lines]
    values = plain_data(root_of("\n".join(better)))
    assert isinstance(values, dict)
    cells_read = values["case"] if flow else values
    bare = {'"disc"': "disc"}  # which is one text to YAML and to the cell
    assert [*cells_read.values()] == [bare.get(test, test) for test in tests]


def test_lines_with_quotes_where_they_belong_are_left_alone() -> None:
    for name in GOOD:
        for line in room_text(name).split("\n"):
            mended = with_tests_quoted(line)
            assert mended is None or 'not("' in line  # which YAML takes either way


@pytest.mark.parametrize(
    "broken",
    [
        "x: [1, 2",
        'x: "no end',
        "x: {a: 1",
        "x: 'it's'",
        "x: }",
        ' x: "a" b',
        "   x: 1",
        "x: % a: b",
    ],
)
def test_what_stands_before_and_behind_a_broken_line_is_read(broken: str) -> None:
    source = read_source(f"before: 1\n{broken}\nafter: {{b: 2}}\n", "room.yaml")
    assert source.root is not None
    values = plain_data(source.root)
    assert isinstance(values, dict)
    assert values["after"] == {"b": "2"}
    assert "before" in values
    assert [one.line for one in source.findings] == [2]


def test_only_the_entry_round_a_broken_line_is_lost() -> None:
    text = "rows:\n  - a: [1\n    b: 2\n  - a: 3\n    b: {4\nlast: 5\n"
    source = read_source(text, "room.yaml")
    assert source.root is not None
    assert plain_data(source.root) == {"rows": [{"a": "3"}], "last": "5"}
    assert sorted(source.lost) == [2, 3, 5]


def test_places_behind_added_quotes_are_those_of_the_file_as_written() -> None:
    source = read_source("a: {b: >= 2, c: not(1, 2), d: word}\n", "room.yaml")
    assert isinstance(source.root, Mapping)
    inner = source.root.get("a")
    assert isinstance(inner, Mapping)
    assert [entry.value.place for entry in inner.entries.values()] == [(1, 8), (1, 17), (1, 31)]


def test_a_file_indented_by_tabs_alone_is_understood_all_the_same() -> None:
    source = read_source("a:\n\tb:\n\t\tc: 1\n", "room.yaml")
    assert source.root is not None
    assert plain_data(source.root) == {"a": {"b": {"c": "1"}}}
    assert [one.code for one in source.findings] == ["tab", "tab"]
    places = [node.place for node in every(source.root) if isinstance(node, Scalar)]
    assert places == [(1, 1), (2, 2), (3, 3), (3, 6)]


def test_lines_may_end_in_a_carriage_return_alone() -> None:
    source = read_source("a: 1\rb: {c: 2}\r", "room.yaml")
    assert source.root is not None
    assert plain_data(source.root) == {"a": "1", "b": {"c": "2"}}
    assert not source.findings


def test_a_space_that_nobody_can_tell_from_one_is_refused_where_it_counts_and_kept_in_texts() -> (
    None
):
    source = read_source("a:\n\u00a0 b: {c:\u00a01}\n  d: x\u00a0: y, z:\u00a0w\n", "room.yaml")
    places = [(one.code, one.line, one.column) for one in source.findings]
    assert places[:2] == [("character", 2, 1), ("character", 2, 9)]
    assert [one.line for one in source.findings[2:]] == [3]
    assert source.root is not None
    assert plain_data(source.root) == {"a": {"b": {"c": "1"}, "d": "x\u00a0: y, z:\u00a0w"}}


@given(text=st.text(max_size=200) | spoiled())
def test_whatever_the_text_reading_it_ends_with_nodes_or_findings(text: str) -> None:
    """Nothing is raised, and where there is nothing to read, the reason is told."""
    source = read_source(text, "room.yaml")
    assert source.root is not None or source.findings


@pytest.mark.parametrize("name", [*GOOD, *BAD])
def test_the_parser_in_c_and_the_one_in_python_find_the_same(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = room_text(name)
    quick = read_room(text, name).findings
    monkeypatch.setattr(source_module, "LOADER", yaml.SafeLoader)
    assert read_room(text, name).findings == quick


def test_random_lines_from_bad_files_never_take_longer_than_there_is_text() -> None:
    """Mending is bounded: a page of nothing but broken lines still comes to its end."""
    lines = [line for name in BAD for line in room_text(name).split("\n")]
    shuffled = random.Random(7).choices(lines, k=3_000)
    source = read_source("\n".join(shuffled), "room.yaml")
    assert source.findings
