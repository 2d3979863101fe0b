"""The names that a room file gives, and the facts that its cells may test.

They are read from the nodes and not from the models, so that a mistake in a preset's numbers does
not make the preset unknown to every rule that names it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from typing import TYPE_CHECKING, Final
from zoneinfo import available_timezones

from engine.facts import CUE, columns, standing_columns, told_column
from engine.room import BUILT_IN_PICTURES, DARK, Told
from engine.table import Column
from engine.value_set import ANYTHING, Kind, ValueSet
from rules.room.single_values import Choices, read_choices, read_closed_words
from rules.text.cell_tokens import CellError
from rules.text.findings import Finding, Severity, advice_for_unknown
from rules.text.quantity import QuantityError
from rules.text.unary import parse_test
from rules.text.yaml_nodes import Entry, Mapping, Node, Place, Scalar

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rules.text.recovery import SourceText

OPEN_PANELS: Final = "open"
"""The arrangement of panels that covers nothing; every room has it."""
DEFAULT_PRESET: Final = "fixed"
"""The only preset of a room whose file has no presets."""
NUMERIC_KINDS: Final = frozenset({Kind.RATIO, Kind.MINUTE, Kind.SHARE, Kind.NUMBER})
SHAPE_COLUMN: Final = Column("shapes", Kind.RATIO)
"""The column that named shapes are read as."""

PART_NOUNS: Final = {"picture": "picture", "preset": "preset", "panels": "arrangement of panels"}
"""What a sentence calls the parts of a look that are names."""
_SECTION_OF: Final = {
    "source": "sources",
    "preset": "presets",
    "panels": "panels",
    "picture": "pictures",
}


@dataclass(slots=True)
class Report:
    """Collects findings about one room file."""

    source: SourceText
    findings: list[Finding] = field(default_factory=list)

    def error(self, code: str, at: Place, message: str, suggestion: str = "") -> None:
        """Add a finding that keeps the room from being loaded."""
        self._note(Severity.ERROR, code, at, message, suggestion)

    def warning(self, code: str, at: Place, message: str, suggestion: str = "") -> None:
        """Add a finding about something that is allowed but probably not intended."""
        self._note(Severity.WARNING, code, at, message, suggestion)

    def test(self, scalar: Scalar, column: Column, shapes: dict[str, ValueSet]) -> ValueSet | None:
        """Read a cell; if it cannot be read, add a finding at the wrong character and give None."""
        try:
            return parse_test(scalar.text, column, shapes).region
        except CellError as error:
            advice = f"{error.advice[:1].upper()}{error.advice[1:].rstrip('.')}"
            advice += "" if advice.endswith("?") else "."
            self.error("bad-test", scalar.at(error.offset), error.problem, advice)
            return None

    def _note(
        self, severity: Severity, code: str, at: Place, message: str, suggestion: str
    ) -> None:
        self.findings.append(Finding(severity, code, self.source.file, *at, message, suggestion))


@dataclass(frozen=True, slots=True)
class Names:
    """Every name that a row, a promise or a show may use."""

    presets: tuple[str, ...]
    pictures: tuple[str, ...]
    panels: tuple[str, ...]
    cues: dict[str, tuple[str, ...] | None]
    """The words of each cue; None if they could not be read."""
    shapes: dict[str, ValueSet]
    columns: tuple[Column, ...]
    standing: tuple[Column, ...]
    unsure: frozenset[str]
    """Sections and facts that were not read completely; unknown names in them are not reported."""

    def doubtful(self, fact: str) -> bool:
        """Tell whether some values of a fact, or of a part of a look, may not have been read."""
        return fact in self.unsure or _SECTION_OF.get(fact, fact) in self.unsure


def names_of(report: Report, root: Mapping) -> Names:
    """Collect the names of a completed file, and report those that clash."""
    as_written = report.source.mapping or root
    unsure = {
        name
        for name in (*_SECTION_OF.values(), "told", "cues", "shapes")
        if not _fully_read(report.source, as_written, name)
    }
    presets, panels = _keys(root, "presets"), _keys(root, "panels")
    pictures = tuple(dict.fromkeys((*BUILT_IN_PICTURES, *_keys(root, "pictures"))))
    given = columns(_keys(root, "sources"), presets, panels, ())
    cues = {name: _words(node) for name, node in _entries(root, "cues")}
    standing = standing_columns(pictures, {name: words or () for name, words in cues.items()})
    unsure |= {f"{CUE}{name}" for name, words in cues.items() if words is None}
    taken = {column.name for column in (*given, *standing)}
    _refuse_taken(report, root, taken)
    told = [(name, _choices(node)) for name, node in _entries(root, "told")]
    unsure |= {name for name, values in told if values is None}
    facts = [_told(name, values) for name, values in told if name not in taken]
    return Names(
        presets=presets,
        pictures=pictures,
        panels=panels,
        cues=cues,
        shapes=_shapes(report, root),
        columns=(*given, *facts),
        standing=standing,
        unsure=frozenset(unsure),
    )


def check_show(report: Report, names: Names, show: Node | None) -> None:
    """Report the names in a look that are not known."""
    if not isinstance(show, Mapping):
        return
    for part, known in (
        ("picture", tuple(name for name in names.pictures if name != DARK)),
        ("preset", names.presets),
        ("panels", names.panels),
    ):
        node = show.get(part)
        if isinstance(node, Scalar) and node.text == DARK and part == "picture":
            message = "dark is ordered while somebody works at the screen, never by a rule"
            report.error("unknown-name", node.place, message, advice_for_unknown("", known))
        elif isinstance(node, Scalar) and not names.doubtful(part):
            check_name(report, node, known, PART_NOUNS[part])
    cues = show.get("cues")
    if isinstance(cues, Mapping) and "cues" not in names.unsure:
        for entry in cues.entries.values():
            _check_cue(report, names, entry)


def _check_cue(report: Report, names: Names, entry: Entry) -> None:
    """Report a cue that is not declared, or a value that it cannot have."""
    name = entry.key.text
    if name not in names.cues:
        advice = advice_for_unknown(name, tuple(names.cues)) or "Declare it under cues."
        if name == "after":
            advice = "after stands in show, beside cues: {cues: {...}, after: 20 s}."
        report.error("unknown-name", entry.key.place, f"there is no cue {name[:60]}", advice)
        return
    allowed = names.cues[name]
    if allowed is not None and isinstance(entry.value, Scalar):
        check_name(report, entry.value, allowed, f"value of {name}")


def check_name(report: Report, node: Scalar, known: tuple[str, ...], what: str) -> None:
    """Report a name that is not among the known ones; `what` is the kind that was expected."""
    if node.text not in known:
        text = node.text[:60] or "an empty name"
        advice = advice_for_unknown(node.text, known)
        report.error("unknown-name", node.place, f"{text} is no {what}", advice)


def check_zone(report: Report, node: Node | None) -> None:
    """Report a time zone that the system's zone data does not contain."""
    if not isinstance(node, Scalar):
        return
    if not node.text:
        advice = "Write it like Europe/Lisbon."
        report.error("missing", node.place, "a time zone is missing here", advice)
        return
    known = zones()
    if not known:
        message = "this system has no time zone data"
        advice = "Install it, or make sure of the zone's name."
        report.warning("zone-unchecked", node.place, message, advice)
    elif node.text not in known:
        message = f"{node.text[:60]} is no time zone"
        report.error("unknown-name", node.place, message, _nearest_zone(node.text, known))


@cache
def zones() -> tuple[str, ...]:
    """List the time zones that the system knows."""
    return tuple(sorted(available_timezones()))


def _nearest_zone(text: str, known: tuple[str, ...]) -> str:
    """Suggest a zone with a similar name, or with a city of a similar name."""
    lower = {zone.lower(): zone for zone in known}
    cities = {zone.rpartition("/")[2].lower(): zone for zone in known if "/" in zone}
    city = text.replace(" ", "_").rpartition("/")[2].lower()
    for word, among in ((text.replace(" ", "_").lower(), lower), (city, cities)):
        hit = among.get(word) or among.get(_closest_match(word, among) or "")
        if hit:
            return f"Did you mean {hit}?"
    return "Write it like Europe/Lisbon."


def _closest_match(word: str, among: Iterable[str]) -> str | None:
    found = get_close_matches(word, list(among), n=1, cutoff=0.8)
    return found[0] if found else None


def _fully_read(source: SourceText, root: Mapping, section: str) -> bool:
    """Tell whether every name in a section was read; `root` is the file as written."""
    entry = root.entries.get(section)
    if entry is None:
        return source.sure(root)
    return isinstance(entry.value, Mapping | Scalar) and source.sure(entry.value, entry.key)


def _entries(root: Mapping, section: str) -> list[tuple[str, Node]]:
    node = root.get(section)
    if not isinstance(node, Mapping):
        return []
    return [(name, entry.value) for name, entry in node.entries.items()]


def _keys(root: Mapping, section: str) -> tuple[str, ...]:
    return tuple(name for name, _ in _entries(root, section))


def _refuse_taken(report: Report, root: Mapping, taken: set[str]) -> None:
    """Refuse told facts and cues with the name of a fact that every room has."""
    for section in ("told", "cues"):
        node = root.get(section)
        if not isinstance(node, Mapping):
            continue
        for name, entry in node.entries.items():
            if name in taken:
                report.error(
                    "name-taken",
                    entry.key.place,
                    f"{name} is a fact that every room has",
                    "Choose another name.",
                )


def _choices(node: Node) -> Choices | None:
    """Read the values of a told fact; None if they cannot be read (the model reports that)."""
    values = node.get("values") if isinstance(node, Mapping) else node
    try:
        return read_choices(values.text) if isinstance(values, Scalar) else None
    except QuantityError:
        return None


def _told(name: str, values: Choices | None) -> Column:
    at_first = None
    if values is None:
        return Column(name)
    return told_column(Told(name, values.values, values.least, values.most, at_first))


def _words(node: Node) -> tuple[str, ...] | None:
    try:
        return read_closed_words(node.text) if isinstance(node, Scalar) else None
    except QuantityError:
        return None


def _shapes(report: Report, root: Mapping) -> dict[str, ValueSet]:
    """Read the named shapes; each may refer to those above it."""
    shapes: dict[str, ValueSet] = {}
    for name, node in _entries(root, "shapes"):
        region = report.test(node, SHAPE_COLUMN, shapes) if isinstance(node, Scalar) else None
        shapes[name] = ANYTHING if region is None else region
    return shapes
