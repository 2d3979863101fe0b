"""From a room file's text to its nodes, reading on after whatever YAML cannot read.

One mistake must not hide the others. Where the parser stops, the line is repaired if the intention
is clear (a test that lacks its quotes). Otherwise the entry is taken out, with everything indented
under it, and the rest is read. Every such place is a finding. The lines that were taken out are
remembered as lost, so that no finding calls something missing that may stand in them.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, NamedTuple

from rules.text.findings import Finding, Severity
from rules.text.yaml_nodes import (
    MOST_LEVELS,
    Composer,
    Mapping,
    Node,
    Place,
    Scalar,
    UnreadableYaml,
    too_large,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

MOST_PARSED_CHARACTERS: Final = 4 * 1024 * 1024
"""Characters to parse, over all attempts, before the rest of a file is given up."""
LONGEST_MENDED_LINE: Final = 1_000
"""Characters; a longer line is not repaired."""

_FORBIDDEN: Final = re.compile(
    r"[^\t\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
_LOOKS_LIKE_A_SPACE: Final = re.compile(r"[^\S \t]")
_WHERE_SPACES_COUNT: Final = re.compile(r"(?:^\s*(?:-\s+)*|\{\s*)(?:[\w-]+:\s*)?")
"""From the beginning of a line or a bracket to the first letter of the value there."""
_KEY_AND_COLON: Final = re.compile(r"(?<![\w-])[\w-]+:[ ]+(?=[^ #])")
_LOOKS_LIKE_A_TEST: Final = re.compile(
    r"[<>=(\]]|!=|not\b\s*\(|\[.*\.\.|-(?=\s*(?:$|#))|\"[^\"]*\"\s*,\s*[\"n]"
)
_TEST_END: Final = re.compile(r"\s*(?:,\s*(?:[\w-]+:(?:\s|$)|$)|\}|\s#|$)")
_SINGLE_VALUE_LINE: Final = re.compile(
    r"\s*(?:- +)*[\w-]+: +(?P<text>[^\s\"'{\[].*?)\s*(?:\s#.*)?$"
)
_UP_TO_COMMENT: Final = re.compile(r"(?:\"[^\"]*\"|'[^']*'|\s(?!#)|[^\s\"']|[\"'])*")
_COMMENT: Final = re.compile(r"(?:^|\s)#")

_SENTENCES: Final = {
    "bracket": (
        "YAML does not find the end of what this bracket opens",
        'Close it, and put tests such as "[1.85..2.20)" in quotes.',
    ),
    "quote": ("YAML does not find the end of what this quote opens", "Close the quote."),
    "escape": (
        "YAML does not know what a backslash in this text means",
        "Use single quotes, in which a backslash is one.",
    ),
    "colon": (
        "YAML does not take a colon here",
        "Put a text with a colon in quotes, and each entry on a line of its own.",
    ),
    "indent": (
        "this line fits under none of the lines above it",
        "Indent it like the entries it belongs to.",
    ),
    "stray": (
        "YAML takes the value to be over before this",
        "Put the whole value in quotes, of the other kind where it has quotes in it.",
    ),
    "depth": (f"this nests deeper than {MOST_LEVELS} levels", "A room needs five."),
    "other": ("YAML cannot read this", "Put the text in quotes."),
}


@dataclass(frozen=True, slots=True)
class SourceText:
    """A room file, as much of it as could be read."""

    file: str
    text: str
    lines: tuple[str, ...]
    root: Node | None
    findings: tuple[Finding, ...]
    lost: frozenset[int]
    """Lines whose content is not known: YAML could not read them, or it was refused."""

    @property
    def mapping(self) -> Mapping | None:
        """The file's sections; None if it is no mapping."""
        return self.root if isinstance(self.root, Mapping) else None

    def sure(self, node: Node, key: Scalar | None = None) -> bool:
        """Tell whether everything that belongs to this node itself was read.

        A lost line that is indented deeper than the node's entries belongs to one of them and
        does not count. A lost line between the node's key and the node was its first entry.
        """
        first = key.line if key else node.line
        last = getattr(node, "last", node.line + 1)
        return not any(
            first <= line <= last and _indentation(self.lines[line - 1]) < node.column
            for line in self.lost
        )

    def quoted(self, line: int) -> str:
        """Write a line with its tests in quotes, for a suggestion; "" if none needs quotes."""
        return _suggested_line(self.lines, line)


class QuotedLine(NamedTuple):
    """A line into which quotes were put, and the columns (from 1) where they now stand."""

    text: str
    marks: tuple[int, ...]


def read_source(text: str, file: str) -> SourceText:
    """Read as much of a text as possible; never raises, whatever the text contains."""
    large = too_large(len(text.encode("utf-8", "replace")), file)
    if large:
        return SourceText(file, text, (text,), None, (large,), frozenset({1}))
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").split("\n")
    if len(lines) == 1:
        lines = lines[0].split("\r")  # YAML ends a line there, too
    repair = _Repair(file, lines[:])
    repair.clean()
    root = repair.read()
    found = [_with_quoted_line(one, lines) for one in repair.findings]
    if root is None and not any(one.fatal for one in found):
        found.append(
            repair.finding(
                "empty",
                (1, 1),
                "the file says nothing",
                "Begin it with a line such as room: hayloft.",
            )
        )
    return SourceText(file, text, tuple(lines), root, tuple(found), frozenset(repair.lost))


@dataclass(slots=True)
class _Repair:
    """The lines of a file while they are being repaired."""

    file: str
    lines: list[str]
    findings: list[Finding] = field(default_factory=list)
    lost: set[int] = field(default_factory=set)
    _marks: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _parsed: int = 0

    def clean(self) -> None:
        """Take out the characters that a room file may not contain."""
        bare = not any(re.match(r" +\S", line) for line in self.lines)
        for number, line in enumerate(self.lines, start=1):
            for hit in _FORBIDDEN.finditer(line):
                self._note(
                    "character",
                    (number, hit.start() + 1),
                    f"the character U+{ord(hit[0]):04X} is not allowed",
                    "Take it out.",
                )
            kept = self._with_plain_spaces(number, _FORBIDDEN.sub(" ", line))
            if "\t" in kept and not kept.lstrip().startswith("#"):
                kept = self._without_tabs(number, kept, guess=bare)
            self.lines[number - 1] = kept

    def _with_plain_spaces(self, number: int, line: str) -> str:
        """Refuse what only looks like a space, where YAML wants one; in texts it may stand."""
        for where in _WHERE_SPACES_COUNT.finditer(line):
            if hit := _LOOKS_LIKE_A_SPACE.search(line, *where.span()):
                self._note(
                    "character",
                    (number, hit.start() + 1),
                    f"the character U+{ord(hit[0]):04X} only looks like a space",
                    "Write a space.",
                )
        return _WHERE_SPACES_COUNT.sub(lambda where: _LOOKS_LIKE_A_SPACE.sub(" ", where[0]), line)

    def _without_tabs(self, number: int, line: str, *, guess: bool) -> str:
        """Refuse the tabs of a line and replace them by spaces.

        `guess`: the whole file indents by tabs, so each one counts as two spaces. Otherwise the
        depth of a line indented by tabs is not known, and the line is lost.
        """
        self._note(
            "tab",
            (number, line.index("\t") + 1),
            "there is a tab in this line",
            "Write spaces: two for each level.",
        )
        body = line.lstrip()
        indent = line[: len(line) - len(body)]
        body = body.replace("\t", " ")
        if "\t" not in indent:
            return indent + body
        if guess and not indent.strip("\t"):
            self._marks[number] = tuple(range(2, 2 * len(indent) + 1, 2))
            return "  " * len(indent) + body
        self.lost.add(number)
        return ""

    def read(self) -> Node | None:
        """Build the nodes; repair lines or take entries out until the rest can be read."""
        trouble: UnreadableYaml | None = None
        while self._parsed <= MOST_PARSED_CHARACTERS:
            composer = self._composer()
            try:
                root = composer.compose()
            except UnreadableYaml as met:
                trouble = met
                self._count_parsed(met)
            else:
                self.findings += composer.findings
                self.lost |= composer.lost
                return root
            if not self._put_quotes(trouble):
                self._take_out(trouble)
        if trouble:
            self._note(
                "yaml",
                (min(trouble.stop[0], len(self.lines)), 1),
                "too much of this file cannot be read",
                "Mend the places above first.",
            )
        self.lost |= set(range(1, len(self.lines) + 1))
        return None

    def _composer(self) -> Composer:
        return Composer("\n".join(self.lines), self.file, self._place)

    def _count_parsed(self, trouble: UnreadableYaml) -> None:
        """Count the characters that were parsed before the parser stopped."""
        self._parsed += 4_096 + sum(map(len, self.lines[: trouble.stop[0]]))

    def _place(self, where: Place) -> Place:
        """Turn a position in the repaired text into one in the file as it was written."""
        line, column = where
        return line, column - bisect_left(self._marks.get(line, ()), column)

    def _put_quotes(self, trouble: UnreadableYaml) -> bool:
        """Put quotes into the line that stopped the parser, if it then gets further."""
        for number in {trouble.stop[0]: 1, trouble.start[0]: 1}:
            if number > len(self.lines) or number in self._marks:
                continue
            for code, better in _possible_repairs(self.lines[number - 1]):
                if self._gets_further(number, better, trouble):
                    what = "test" if code == "test-unquoted" else "text"
                    self._note(
                        code,
                        (number, better.marks[0]),
                        f"YAML cannot read this {what} without quotes",
                        f"Put the {what} in quotes: {_uncommented(better.text)}",
                    )
                    self.lines[number - 1] = better.text
                    self._marks[number] = better.marks
                    return True
        return False

    def _gets_further(self, number: int, better: QuotedLine, trouble: UnreadableYaml) -> bool:
        before = self.lines[number - 1]
        self.lines[number - 1] = better.text
        try:
            self._composer().compose()
        except UnreadableYaml as next_one:
            self._count_parsed(next_one)
            return next_one.stop[0] > max(trouble.stop[0], number)
        else:
            return True
        finally:
            self.lines[number - 1] = before

    def _take_out(self, trouble: UnreadableYaml) -> None:
        """Report what stopped the parser, and blank the entry in which that began."""
        at = min(trouble.start[0], len(self.lines)) - 1
        while at > 0 and not self.lines[at].strip():
            at -= 1
        last = _entry_end(self.lines, at, siblings=trouble.kind == "indent")
        message, suggestion = _SENTENCES[trouble.kind]
        rest = "" if last == at else f" Nothing from here to line {last + 1} could be checked."
        line, column = self._place(trouble.start)
        if line != at + 1:  # the file ends in the middle of something
            column = len(self.lines[at]) - len(self.lines[at].lstrip()) + 1
        code = "too-deep" if trouble.kind == "depth" else "yaml"
        self._note(code, (at + 1, column), message, suggestion + rest)
        for number in range(at, last + 1):
            self.lines[number] = ""
            self.lost.add(number + 1)

    def finding(self, code: str, at: Place, message: str, suggestion: str) -> Finding:
        """Make an error of this file."""
        return Finding(Severity.ERROR, code, self.file, *at, message, suggestion)

    def _note(self, code: str, at: Place, message: str, suggestion: str) -> None:
        self.findings.append(self.finding(code, at, message, suggestion))


def _with_quoted_line(finding: Finding, lines: Sequence[str]) -> Finding:
    """Show the whole line with its quotes in a finding that asks for quotes."""
    better = _suggested_line(lines, finding.line) if finding.code == "test-unquoted" else ""
    if not better or better in finding.suggestion:
        return finding
    return finding._replace(suggestion=f"Put the test in quotes: {better}")


def _uncommented(line: str) -> str:
    """Take a line's comment and indentation off."""
    return _UP_TO_COMMENT.match(line)[0].strip()  # type: ignore[index]  # an empty match at least


def _suggested_line(lines: Sequence[str], line: int) -> str:
    better = with_tests_quoted(lines[line - 1]) if 0 < line <= len(lines) else None
    return _uncommented(better.text) if better else ""


def with_tests_quoted(line: str) -> QuotedLine | None:
    """Put every value of a line that looks like an unquoted test in quotes; None: there is none."""
    spans: list[tuple[int, int]] = []
    at = len(line) if len(line) > LONGEST_MENDED_LINE else 0
    while named := _KEY_AND_COLON.search(line, at):
        if _COMMENT.search(line, at, named.start()):
            break
        at = named.end()
        if line[at] in "\"'" and not _LOOKS_LIKE_A_TEST.match(line, at):
            closed = line.find(line[at], at + 1)
            at = closed + 1 if closed > 0 else len(line)
        elif _LOOKS_LIKE_A_TEST.match(line, at):
            end = at
            while not _TEST_END.match(line, end):
                end += 1
            if end > at:
                spans.append((at, end))
            at = max(end, at + 1)
    return _with_quotes(line, spans)


def _possible_repairs(line: str) -> Iterator[tuple[str, QuotedLine]]:
    """List the ways in which quotes might make a line readable, the likeliest first."""
    tests = with_tests_quoted(line)
    if tests:
        yield "test-unquoted", tests
    whole = _SINGLE_VALUE_LINE.match(line) if len(line) <= LONGEST_MENDED_LINE else None
    text = whole and _with_quotes(line, [whole.span("text")])
    if text:
        yield "text-unquoted", text


def _with_quotes(line: str, spans: list[tuple[int, int]]) -> QuotedLine | None:
    """Put quotes round parts of a line.

    None if there are no parts, or if a part contains quotes of both kinds.
    """
    parts: list[str] = []
    marks: list[int] = []
    done = 0
    for first, end in spans:
        text = line[first:end]
        mark = "'" if '"' in text or "\\" in text else '"'
        if mark == "'" and "'" in text:
            return None
        begin = first + 1 + len(marks)
        marks += [begin, begin + 1 + len(text)]
        parts += [line[done:first], mark, text, mark]
        done = end
    return QuotedLine("".join([*parts, line[done:]]), tuple(marks)) if spans else None


def _entry_end(lines: list[str], at: int, *, siblings: bool) -> int:
    """Find the last line of an entry: the lines after it that are indented deeper.

    `siblings`: the lines that are indented as deep as the entry belong to it as well.
    """
    depth = _indentation(lines[at])
    if siblings and depth > 0:
        depth -= 1
    last = at
    for number in range(at + 1, len(lines)):
        if lines[number].strip():
            if _indentation(lines[number]) <= depth:
                break
            last = number
    return last


def _indentation(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
