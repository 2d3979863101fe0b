"""YAML as a tree of nodes that know their place; every scalar stays the text that was written.

The field that a scalar belongs to decides what it means, so `22:00`, `on`, `yes` and `1.85` are
all text here. Only a small, safe part of YAML is accepted: one document of mappings, sequences and
scalars, with plain names as keys. Tags, anchors, aliases, merge keys and repeated keys are
refused, each at its place, and so is nesting deeper than `MOST_LEVELS`. Without aliases a small
file cannot expand into a large one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, Protocol, TypeAlias

import yaml

from rules.text.findings import BadRoom, Finding, Severity

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

MOST_FILE_BYTES: Final = 256 * 1024
"""A room file has at most this many bytes."""
MOST_LEVELS: Final = 20
"""A room file nests at most this deep; the outermost mapping is level 1."""

LOADER: Final = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""The parser written in C, where it is installed; both report the same events and places."""

_CUT: Final = re.compile(r"-?(?:[0-9.]+ to )?[0-9]+,[0-9]+(?: ?[a-z%:].*)?")
"""A number with a decimal comma, with whatever may follow a number."""

Place: TypeAlias = tuple[int, int]
"""Line and column, from 1."""


class _Mark(Protocol):
    """A position as the parser gives it, counted from 0."""

    @property
    def line(self) -> int: ...
    @property
    def column(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Scalar:
    """A single value as text; it is also empty where a key has no value."""

    text: str
    line: int
    column: int
    inside: int | None
    """The column of the text's first character, if the line holds the text unchanged.

    None where quotes, escapes or folding make the text differ from the line.
    """
    plain: bool
    """Whether it was written without quotes."""

    @property
    def place(self) -> Place:
        """Where it begins, quotes included."""
        return self.line, self.column

    @property
    def empty(self) -> bool:
        """Whether no value was written, not even empty quotes."""
        return self.plain and not self.text

    def at(self, offset: int) -> Place:
        """Give the place of a character of the text, or of the scalar if that is not known."""
        known = self.inside is not None and 0 <= offset <= len(self.text)
        return self.line, (self.inside or 0) + offset if known else self.column


@dataclass(frozen=True, slots=True)
class Entry:
    """One key of a mapping and its value."""

    key: Scalar
    value: Node


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys with their values, in the order of the file."""

    line: int
    column: int
    last: int
    """The line where it ends, or an empty line after that."""
    entries: dict[str, Entry]

    @property
    def place(self) -> Place:
        """Where it begins."""
        return self.line, self.column

    def get(self, name: str) -> Node | None:
        """Give the value of a key, or None where there is none."""
        entry = self.entries.get(name)
        return entry.value if entry else None


@dataclass(frozen=True, slots=True)
class Sequence:
    """Values in a row."""

    line: int
    column: int
    last: int
    items: tuple[Node, ...]

    @property
    def place(self) -> Place:
        """Where it begins."""
        return self.line, self.column


Node: TypeAlias = Scalar | Mapping | Sequence


def plain_data(node: Node) -> object:
    """Turn a node into dicts, lists and strings, without places."""
    if isinstance(node, Mapping):
        return {name: plain_data(entry.value) for name, entry in node.entries.items()}
    if isinstance(node, Sequence):
        return [plain_data(item) for item in node.items]
    return node.text


def node_at(root: Node | None, *path: str) -> Node | None:
    """Follow a path of keys from a node; None where a key is missing."""
    node = root
    for name in path:
        node = node.get(name) if isinstance(node, Mapping) else None
    return node


class UnreadableYaml(Exception):  # noqa: N818 - not an error to its caller, who repairs the text
    """The parser stopped: what kind of mistake it met, and where."""

    def __init__(self, kind: str, start: Place, stop: Place) -> None:
        super().__init__(kind)
        self.kind = kind
        self.start = start
        """Where the unfinished thing (a bracket, a quote) begins; else the same as `stop`."""
        self.stop = stop
        """Where the parser stopped."""


@dataclass(slots=True)
class Composer:
    """Builds the nodes of one text.

    The text may have been repaired before. `place` turns its positions into positions in the file
    as it was written.
    """

    text: str
    file: str
    place: Callable[[Place], Place] = lambda where: where
    findings: list[Finding] = field(default_factory=list)
    lost: set[int] = field(default_factory=set)
    """Lines that were refused: keys that seem to be missing may stand there."""
    _lines: list[str] = field(default_factory=list)
    _folded: tuple[Place, int] = ((0, 0), 0)
    """The start of the last quoted text that spans several lines, and the line of its end."""
    _events: Iterator[yaml.Event] = field(default_factory=lambda: iter(()))

    def compose(self) -> Node | None:
        """Build the document's root node, or None if it is empty; raises UnreadableYaml."""
        self._lines = self.text.split("\n")
        self._events = yaml.parse(self.text + "\n", Loader=LOADER)
        try:
            return self._document()
        except yaml.MarkedYAMLError as error:
            raise self._or_unclosed_quote(_unreadable(error, self._lines)) from None

    def _or_unclosed_quote(self, trouble: UnreadableYaml) -> UnreadableYaml:
        """Blame an unclosed quote instead, if the parser stopped on the line where it ended.

        A quote that was not closed on its line swallows text up to the next quote, so that the
        parser only stops there.
        """
        start, end = self._folded
        return UnreadableYaml("quote", start, trouble.stop) if end == trouble.stop[0] else trouble

    def _document(self) -> Node | None:
        root = None
        documents = 0
        for event in self._events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._note(
                        "yaml-documents",
                        event.start_mark,
                        "a second document begins here",
                        "Keep one room in a file, without a line of --- inside it.",
                    )
                    break
            elif isinstance(event, yaml.NodeEvent):
                root = self._node(event, 1)
        return root

    def _node(self, event: yaml.Event, depth: int) -> Node | None:
        """Build one node; None if it was refused."""
        if isinstance(event, yaml.AliasEvent):
            self._note(
                "yaml-alias",
                event.start_mark,
                f"*{event.anchor} repeats another part of the file, which is not allowed",
                "Write the part out here.",
            )
            return None
        if depth > MOST_LEVELS and isinstance(event, yaml.CollectionStartEvent):
            raise UnreadableYaml("depth", _place(event.start_mark), _place(event.start_mark))
        self._refuse_marks(event)
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(event, depth)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._sequence(event, depth)
        return self._scalar(event)

    def _refuse_marks(self, event: yaml.Event) -> None:
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor:
            self._note(
                "yaml-anchor",
                event.start_mark,
                f"&{anchor} marks a part of the file for repeating, which is not allowed",
                f"Leave out &{anchor}.",
            )
        if tag and tag.startswith("!="):
            self._note(
                "test-unquoted",
                event.start_mark,
                "YAML takes != for something else than a test",
                "Put the whole test in quotes.",
            )
        elif tag:
            self._note(
                "yaml-tag",
                event.start_mark,
                f"the tag {_short(tag.replace('tag:yaml.org,2002:', '!!'))} is not allowed",
                "Leave it out: every field knows its own type.",
            )

    def _mapping(self, start: yaml.Event, depth: int) -> Mapping:
        entries: dict[str, Entry] = {}
        end = next(self._events)
        while not isinstance(end, yaml.MappingEndEvent):
            first = end.start_mark
            key = self._key(end, depth)
            value = self._node(next(self._events), depth + 1)
            if key is None or value is None:
                self.lost.add(_place(first)[0])
            elif whole := self._cut_number(key, value, entries):
                entries[whole.key.text] = whole
            elif key.text in entries:
                before = entries[key.text].key
                self.findings.append(
                    self._finding(
                        "key-twice",
                        (key.line, key.column),
                        f"{_short(key.text)} is given twice, first at line {before.line}, "
                        f"column {before.column}",
                        "Keep one of the two.",
                    )
                )
            else:
                entries[key.text] = Entry(key, value)
            end = next(self._events)
        return Mapping(*self._at(start.start_mark), _place(end.end_mark)[0], entries)

    def _cut_number(self, key: Scalar, value: Node, entries: dict[str, Entry]) -> Entry | None:
        """Put a number together that YAML has cut at its decimal comma: {width: 3,1 m}.

        None where nothing was cut. What is given is the entry before, with a point in its number.
        """
        last = next(reversed(entries.values()), None)
        if not last or not isinstance(last.value, Scalar) or not isinstance(value, Scalar):
            return None
        first = last.value
        there = first.text + "," + key.text
        glued = first.line == key.line and key.column == first.column + len(first.text) + 1
        if not (glued and first.plain and key.plain and value.empty and _CUT.fullmatch(there)):
            return None
        with_point = f"{first.text}.{key.text}"
        message = f"{last.key.text}: {_short(there)} has a comma"
        advice = f"Write a decimal point: {_short(with_point)}."
        self.findings.append(self._finding("bad-value", key.place, message, advice))
        return replace(last, value=replace(first, text=with_point))

    def _key(self, event: yaml.Event, depth: int) -> Scalar | None:
        node = self._node(event, depth + 1)
        if isinstance(node, Scalar) and node.plain and node.text == "<<":
            self._note(
                "yaml-merge",
                event.start_mark,
                "<< merges another part of the file, which is not allowed",
                "Write the entries out here.",
            )
            return None
        if isinstance(node, Scalar) and node.text:
            return node
        if node is not None:
            self._note(
                "bad-name",
                event.start_mark,
                "a name is awaited here before the colon",
                "Write it without brackets.",
            )
        return None

    def _sequence(self, start: yaml.Event, depth: int) -> Sequence:
        items = []
        end = next(self._events)
        while not isinstance(end, yaml.SequenceEndEvent):
            item = self._node(end, depth + 1)
            if item is None:
                self.lost.add(_place(end.start_mark)[0])
            else:
                items.append(item)
            end = next(self._events)
        return Sequence(*self._at(start.start_mark), _place(end.end_mark)[0], tuple(items))

    def _scalar(self, event: yaml.Event) -> Scalar:
        assert isinstance(event, yaml.ScalarEvent)  # noqa: S101 - no other event is left
        line, column = _place(event.start_mark)
        plain = not event.style
        last = _place(event.end_mark)[0]
        if event.style in {"'", '"'} and last > line:
            self._folded = (line, column), last
        first = column if plain else column + 1
        there = self._lines[line - 1] if line <= len(self._lines) else ""
        exact = "\n" not in event.value and there.startswith(event.value, first - 1)
        if (
            exact and not plain
        ):  # folded or escaped text may begin like the line and go on otherwise
            exact = there.startswith(event.style or "", first - 1 + len(event.value))
        inside = self.place((line, first))[1] if exact else None
        return Scalar(event.value, *self._at(event.start_mark), inside, plain)

    def _at(self, mark: _Mark | None) -> Place:
        return self.place(_place(mark))

    def _note(self, code: str, mark: _Mark | None, message: str, suggestion: str = "") -> None:
        self.findings.append(self._finding(code, self._at(mark), message, suggestion))

    def _finding(self, code: str, at: Place, message: str, suggestion: str) -> Finding:
        return Finding(Severity.ERROR, code, self.file, *at, message, suggestion)


def decode_file(data: bytes, file: str) -> str:
    """Decode a room file; raises BadRoom if it has too many bytes or is not UTF-8."""
    large = too_large(len(data), file)
    if large:
        raise BadRoom([large])
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8").split("\n")
        message = f"the byte 0x{data[error.start]:02x} is no UTF-8"
        place = (len(before), len(before[-1]) + 1)
        finding = Finding(Severity.ERROR, "not-utf-8", file, *place, message, "Save it as UTF-8.")
        raise BadRoom([finding]) from None


def too_large(size: int, file: str) -> Finding | None:
    """Give the finding for a file of more than `MOST_FILE_BYTES`; None: it is small enough."""
    if size <= MOST_FILE_BYTES:
        return None
    message = f"the file has more than {MOST_FILE_BYTES:,} bytes"
    return Finding(Severity.ERROR, "too-large", file, 1, 1, message, "A room takes a few pages.")


def _place(mark: _Mark | None) -> Place:
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


def _short(text: str) -> str:
    """Shorten a word of the file for a sentence: at most 40 characters."""
    return text if len(text) <= 40 else f"{text[:37]}..."  # noqa: PLR2004


def _unreadable(error: yaml.MarkedYAMLError, lines: list[str]) -> UnreadableYaml:
    """Tell which kind of mistake stopped the parser, from what it was doing."""
    stop = _place(error.problem_mark) if error.problem_mark else (len(lines), 1)
    start = _place(error.context_mark) if error.context_mark else stop
    line = lines[start[0] - 1] if start[0] <= len(lines) else ""
    opener = line[start[1] - 1 : start[1]]
    doing, problem = error.context or "", error.problem or ""
    if "flow" in doing and opener in {"[", "{"}:
        return _in_brackets(opener, start, stop, lines)
    if "quoted" in doing:
        return UnreadableYaml("quote" if "unexpected" in problem else "escape", start, stop)
    if problem.startswith("mapping values"):
        return UnreadableYaml("colon", stop, stop)
    if "parsing a block" in doing:
        there = lines[stop[0] - 1] if stop[0] <= len(lines) else ""
        first = not there[: stop[1] - 1].strip()
        return UnreadableYaml("indent" if first else "stray", stop, stop)
    return UnreadableYaml("other", stop, stop)


def _in_brackets(opener: str, start: Place, stop: Place, lines: list[str]) -> UnreadableYaml:
    """Tell a bracket that is not closed from a colon too many on the line where it opens."""
    if opener == "[" or start[0] != stop[0]:
        return UnreadableYaml("bracket", start, stop)
    colon = lines[stop[0] - 1][stop[1] - 1 : stop[1]] == ":"
    return UnreadableYaml("colon" if colon else "bracket", stop, stop)
