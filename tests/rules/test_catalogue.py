"""The catalogue: every code has its sentence in every language, and a family can read it."""

from __future__ import annotations

import ast as python
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import get_args

import pytest
from babel import Locale
from fluent.syntax import FluentParser, ast
from fluent.syntax.visitor import Visitor

from adapters.live.announcements import OwnFaultCode
from adapters.page.page_words import LabelCode, PageCode
from adapters.papers.paper_words import HeadingCode, PaperCode
from engine.catalogue import Group
from engine.choosable import PartName
from engine.decisions import (
    CautionCode,
    NoteCode,
    OverrideEnd,
    OverrideStart,
    ReasonCode,
    ScreenLight,
    Stage,
)
from engine.events import AnswerWord
from engine.holds import HoldCode
from engine.refusal import RefusalCode
from engine.replies import OwnWord, ReplyCode
from engine.upcoming import NextCode
from rules import BadRoom, load_room
from rules.words import fluent_catalogue
from rules.words.fluent_catalogue import (
    DEFAULT_LANGUAGE,
    FOLDER,
    FluentCatalogue,
    catalogue_in,
    entries,
    key,
    languages,
)
from tests.house.tree import TOP

CODES: dict[Group, tuple[str, ...]] = {
    "task": ("take_off", "sides", "top_and_bottom"),
    "prompt": get_args(Stage),
    "caution": get_args(CautionCode),
    "choice": get_args(AnswerWord),
    "reason": tuple(one for one in get_args(ReasonCode) if one != "row"),
    "note": get_args(NoteCode),
    "hold": get_args(HoldCode),
    "refusal": get_args(RefusalCode),
    "reply": (*get_args(ReplyCode), *get_args(OwnWord)),
    "help": get_args(HoldCode),
    "next": get_args(NextCode),
    "label": get_args(LabelCode),
    "page": get_args(PageCode),
    "paper": get_args(PaperCode),
    "heading": get_args(HeadingCode),
    "fault": get_args(OwnFaultCode),
    "undo": get_args(PartName),
}
"""Every code that somebody may read about, by its group."""
QUOTE = r"['\"\u2018-\u201f\u00ab\u00bb]"
UNFIT = re.compile(rf"\d[.,:]\d|(?<!\w){QUOTE}|{QUOTE}(?!\w)|\b[A-Z]{{2,}}\b|[{{}}]")
"""What no family should have to read: a ratio, a quoted name, a standard, a hole in a sentence."""


class Read(Visitor):
    """What one sentence is made of: its parameters, and the cases that it tells apart."""

    def __init__(self) -> None:
        self.parameters: set[str] = set()
        self.cases: dict[str, set[str]] = {}
        self.refers = False

    def visit_VariableReference(self, node: ast.VariableReference) -> None:  # noqa: N802
        self.parameters.add(node.id.name)

    def visit_MessageReference(self, _: ast.MessageReference) -> None:  # noqa: N802
        self.refers = True

    def visit_TermReference(self, _: ast.TermReference) -> None:  # noqa: N802
        self.refers = True

    def visit_SelectExpression(self, node: ast.SelectExpression) -> None:  # noqa: N802
        assert isinstance(node.selector, ast.VariableReference)
        names = {one.key.name for one in node.variants if isinstance(one.key, ast.Identifier)}
        self.cases[node.selector.id.name] = names
        self.generic_visit(node)


@cache
def messages(language: str) -> tuple[ast.Message, ...]:
    body = FluentParser().parse((FOLDER / f"{language}.ftl").read_text("utf-8")).body
    assert not [one for one in body if isinstance(one, ast.Junk)], "a line that Fluent cannot read"
    return tuple(one for one in body if isinstance(one, ast.Message))


@cache
def read(language: str) -> dict[str, Read]:
    found = {}
    for message in messages(language):
        found[message.id.name] = Read()
        found[message.id.name].visit(message)
    return found


def sentences(language: str) -> Iterator[tuple[str, str]]:
    """Every sentence of a language in each of its cases, with its name."""
    for name, one in read(language).items():
        group, _, code = name.partition("-")
        plain = dict.fromkeys(one.parameters, "Something.")
        for parameter, cases in one.cases.items() or {"": {""}}.items():
            for case in cases:
                words = catalogue_in(language).say(group, code, {**plain, parameter: case})  # type: ignore[arg-type]
                yield f"{name} {case}".strip(), words


@pytest.mark.parametrize("language", languages())
def test_a_file_is_cut_into_the_sentences_that_fluent_finds_in_it(language: str) -> None:
    """A sentence is read when it is first said, alone: it must be the same as in the whole file."""
    cut = entries((FOLDER / f"{language}.ftl").read_text("utf-8"))
    alone = {name: FluentParser().parse_entry(text) for name, text in cut.items()}
    assert [*alone] == [one.id.name for one in messages(language)]
    for whole in messages(language):
        read_alone = alone[whole.id.name]
        assert isinstance(read_alone, ast.Message)
        assert whole.value is not None
        assert read_alone.value is not None
        assert whole.value.equals(read_alone.value), whole.id.name


@pytest.mark.parametrize("language", languages())
def test_no_sentence_refers_to_another(language: str) -> None:
    """It could not be read alone."""
    assert [name for name, one in read(language).items() if one.refers] == []


def test_english_is_one_of_several_languages() -> None:
    assert DEFAULT_LANGUAGE in languages()
    assert len(languages()) > 1


@pytest.mark.parametrize("language", languages())
def test_every_code_has_one_sentence_and_no_sentence_is_without_its_code(language: str) -> None:
    wanted = Counter(f"{group}-{key(code)}" for group in CODES for code in CODES[group])
    there = Counter(one.id.name for one in messages(language))
    assert wanted - there == Counter(), f"these are missing in {language}.ftl"
    assert there - wanted == Counter(), f"these are too many in {language}.ftl"


@pytest.mark.parametrize("language", languages())
def test_a_sentence_tells_the_same_in_every_language(language: str) -> None:
    """The same parameters, and the same cases told apart."""
    first = read(DEFAULT_LANGUAGE)
    for name, one in read(language).items():
        assert one.parameters == first[name].parameters, name
        assert one.cases == first[name].cases, name


TOLD_APART = {
    "prompt-at_the_screen": {"light": {*get_args(ScreenLight)}},
    "next-cue": {"named": {"yes", "no"}},
    "note-cue_failed": {"named": {"yes", "no"}},
    "reply-known": {"named": {"yes", "no"}},
    "label-undo_since": {"by": {"rules", "person", "named"}},
    "note-override_begun": {"why": {*get_args(OverrideStart)}},
    "note-override_ended": {"why": {*get_args(OverrideEnd)}},
}
"""The sentences that say something else in each case, and every case that the engine knows."""


def test_every_case_that_the_engine_knows_is_told_apart() -> None:
    told = {name: one.cases for name, one in read(DEFAULT_LANGUAGE).items() if one.cases}
    assert told == TOLD_APART


LABELS = ("choice-", "label-", "heading-")
GIVEN = {
    "prompt": {"light", "task"},
    "heading": {"kind"},
    "label": {"by", "number", "time", "who"},
    "reply": {"named", "value", "what"},
    "next": {"named", "value", "what"},
    "page": {"seconds", "time", "what", "who", "words"},
    "paper": {"count", "minutes", "seconds", "sources"},
}
"""What sentences are given besides those of notes, which the stories in `test_words` hold."""


def test_a_sentence_tells_nothing_that_it_is_not_given() -> None:
    for name, one in read(DEFAULT_LANGUAGE).items():
        group = name.partition("-")[0]
        assert group == "note" or one.parameters <= GIVEN.get(group, set()), name


@pytest.mark.parametrize("language", languages())
def test_a_family_reads_no_ratio_no_quoted_name_and_no_standard(language: str) -> None:
    said = dict(sentences(language))
    assert len(said) > len(messages(language))
    assert [name for name, words in said.items() if UNFIT.search(words)] == []


@pytest.mark.parametrize("language", languages())
def test_every_sentence_ends_as_one(language: str) -> None:
    """Labels of answers and of the page are no sentences, and headings of papers are none."""
    said = {name: words for name, words in sentences(language) if not name.startswith(LABELS)}
    ends = {name: words[-1] for name, words in said.items()}
    assert {*ends.values()} <= {".", "?"}, ends


@pytest.mark.parametrize("language", languages())
def test_a_language_has_a_known_code_of_its_own(language: str) -> None:
    """Of any other, plurals would be those of the machine on which roomcue runs."""
    assert Locale.parse(language).language == language


def test_a_third_language_is_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    german = (FOLDER / "en.ftl").read_text("utf-8").replace("= Done", "= Fertig")
    (tmp_path / "de.ftl").write_text(german, "utf-8")
    monkeypatch.setattr(fluent_catalogue, "FOLDER", tmp_path)
    assert languages.__wrapped__() == ("de",)
    assert FluentCatalogue("de").say("choice", "done") == "Fertig"


SAYS_OTHERWISE = {
    "holds.py": "how technicians are told of holds",
    "room.py": "what `check` says of the built-in promises",
}
"""Modules of the engine with sentences that no family reads, and what these are."""


def test_the_engine_itself_says_nothing_to_people() -> None:
    """Its sentences would stay English. What it refuses is said to whoever wrote the message."""
    said = {
        f"{path.name}: {node.value}"
        for path in sorted((TOP / "engine").glob("*.py"))
        if path.name not in SAYS_OTHERWISE
        for node in python.walk(python.parse(path.read_text("utf-8")))
        if isinstance(node, python.Constant) and isinstance(node.value, str)
        if re.fullmatch(r"[A-Z][^\n]* [^\n]*[.?]", node.value) and not is_docstring(path, node)
    }
    assert said == set()


def is_docstring(path: Path, node: python.Constant) -> bool:
    """Tell whether a text stands alone on its lines, as what documents the code above it does."""
    line = path.read_text("utf-8").splitlines()[node.lineno - 1]
    return line.lstrip().startswith('"""')


def test_a_code_without_a_sentence_is_an_error_at_once() -> None:
    with pytest.raises(KeyError):
        catalogue_in("en").say("note", "nonesuch")


# ----------------------------------------------------------------------------- in a room file


def den(language: str = "", panels: str = "sides: {opening: 1.78}, top: {opening: 2.76}") -> str:
    return (
        f"room: den\ntime_zone: Europe/Lisbon\n{language}screen: {{width: 3 m, aspect: 2.40}}\n"
        f"projector: {{raster: 3840 x 2160}}\nsources: {{disc: {{}}}}\npanels: {{{panels}}}\n"
    )


def test_a_room_speaks_english_unless_its_file_says_otherwise() -> None:
    assert load_room(den()).catalogue.language == "en"
    assert load_room(den("language: pt\n")).catalogue.language == "pt"


def test_an_unknown_language_is_told_with_those_that_there_are() -> None:
    with pytest.raises(BadRoom) as error:
        load_room(den("language: xx\n"))
    assert "Here may stand: en or pt" in str(error.value)


def test_panels_without_words_are_asked_for_by_where_they_stand() -> None:
    words = {name: one.words for name, one in load_room(den()).panels.items()}
    assert words == {
        "open": "Please take the panels off the screen.",
        "sides": "Please fit the panels at the sides of the screen.",
        "top": "Please fit the panels at the top and bottom of the screen.",
    }


@pytest.mark.parametrize("language", ["en", "pt"])
def test_panels_are_asked_for_in_the_room_files_own_words(language: str) -> None:
    sides = "sides: {opening: 1.78, words: {en: Both sides., pt: Ambos.}}"
    own = f"{sides}, top: {{opening: 2.76, words: Up.}}"
    room = load_room(den(f"language: {language}\n", own))
    assert room.panels["top"].words == "Up."
    assert room.panels["sides"].words == {"en": "Both sides.", "pt": "Ambos."}[language]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("{xx: Olá.}", "xx is no language that roomcue speaks. Here may stand: en or pt."),
        ("[Olá.]", "a single value is awaited here, not a list."),
        ("{pt: ''}", "a sentence is missing here."),
        ("x" * 301, "this sentence has 301 characters"),
    ],
)
def test_words_that_cannot_be_taken_are_told(words: str, says: str) -> None:
    with pytest.raises(BadRoom) as error:
        load_room(den(panels=f"sides: {{opening: 1.78, words: {words}}}"))
    assert says in str(error.value)
