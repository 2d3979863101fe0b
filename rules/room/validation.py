"""Validate a room file with the models, and turn their errors into findings with places."""

from __future__ import annotations

from functools import cache
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, Final, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from rules.room.fields import FieldKind
from rules.room.schema import RoomFile
from rules.text.findings import (
    Finding,
    Severity,
    advice_for_unknown,
    left_to_others,
    listed,
    nearest,
)
from rules.text.yaml_nodes import Mapping, Node, Scalar, Sequence, plain_data

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo
    from pydantic_core import ErrorDetails

    from rules.text.recovery import SourceText

MISSPELLING_LIKENESS: Final = 0.85
"""From this likeness (0 to 1) to a known key on, a key counts as misspelt and not as misplaced."""
_TOLD_WITH_FIELD_NAME: Final = frozenset(
    {"out-of-range", "bad-value", "unit-missing", "unit-unknown", "not-finite"}
)
"""The codes of findings whose sentence begins with the name of the field."""
_MAPPING_EXPECTED: Final = frozenset({"model_type", "dict_type", "model_attributes_type"})


class FileSpot(NamedTuple):
    """The node of the file that an error is about."""

    node: Node
    key: Scalar | None
    """The key whose value the node is; None for the root and for items of lists."""
    found: bool
    """Whether the file has a node at the error's location; False: `node` is the nearest one."""

    @property
    def place(self) -> tuple[int, int]:
        """The place of the value, or of its key if no value was written."""
        bare = self.key is not None and isinstance(self.node, Scalar) and self.node.empty
        at = self.key if bare and self.key else self.node
        return at.place


def validated(source: SourceText, root: Mapping) -> tuple[RoomFile | None, list[Finding]]:
    """Validate a file with the models; give the model (None if there are errors) and findings."""
    try:
        return RoomFile.model_validate(plain_data(root)), []
    except ValidationError as error:
        complaints = error.errors(include_url=False, include_input=False)
    findings = [(_finding(source, root, one), _filled_in(source, root, one)) for one in complaints]
    told = {(one.line, one.column) for one, filled in findings if one is not None and not filled}
    return None, [
        one
        for one, filled in findings
        if one is not None and not (filled and (one.line, one.column) in told)
    ]


def _filled_in(source: SourceText, root: Mapping, error: ErrorDetails) -> bool:
    """Tell whether an error is about an entry that was made of another, and is not in the file.

    What is wrong with the other entry has a finding of its own, at the same place.
    """
    location = error["loc"]
    in_file = source.mapping is not None and find_spot(source.mapping, location).found
    return find_spot(root, location).found and not in_file


def find_spot(root: Mapping, location: tuple[int | str, ...]) -> FileSpot:
    """Follow a location into the nodes, as far as it exists there."""
    node: Node = root
    key: Scalar | None = None
    for step in location:
        if isinstance(node, Mapping) and isinstance(step, str) and step in node.entries:
            key, node = node.entries[step].key, node.entries[step].value
        elif isinstance(node, Sequence) and isinstance(step, int) and step < len(node.items):
            key, node = None, node.items[step]
        else:
            return FileSpot(node, key, found=False)
    return FileSpot(node, key, found=True)


def _finding(source: SourceText, root: Mapping, error: ErrorDetails) -> Finding | None:
    """Turn one error into a finding; None if what is missing may stand in a lost line."""
    location, code, words = error["loc"], error["type"], error.get("ctx", {})
    at_key = location[-1:] == ("[key]",)
    location = location[:-1] if at_key else location
    if words.get("field"):
        location = (*location, str(words["field"]))
    where = find_spot(root, location)
    line, column = where.place
    if at_key and where.key:
        line, column = where.key.place
    if code == "missing" and not words:
        return _missing(source, where, location)
    if code == "extra_forbidden" and where.key:
        line, column = where.key.place
        code, message, suggestion = "unknown-key", *_unknown(location, root)
    elif code in _MAPPING_EXPECTED or code == "list_type":
        empty = isinstance(where.node, Scalar) and where.node.empty
        if empty and not source.sure(where.node, where.key):
            return None  # its entries may stand in a lost line
        code, message, suggestion = "wrong-kind", *_wrong_kind(code, location, where.node)
    else:
        message = str(words.get("message", error["msg"]))
        suggestion = str(words.get("suggestion", ""))
        code = code if "message" in words else "bad-value"
    name = location[-1] if where.found and location else where.key and where.key.text
    if code in _TOLD_WITH_FIELD_NAME and not at_key and isinstance(name, str):
        message = message if message.startswith(f"{name} ") else f"{name}: {message}"
    if code == "wrong-kind" and "message" in words and source.quoted(line):
        code, suggestion = "test-unquoted", f"Put the test in quotes: {source.quoted(line)}"
    return Finding(Severity.ERROR, code, source.file, line, column, message, suggestion)


def _missing(
    source: SourceText, where: FileSpot, location: tuple[int | str, ...]
) -> Finding | None:
    entries = where.node.entries if isinstance(where.node, Mapping) else {}
    model = inner_type(_annotation(location[:-1]))
    misspelt = tuple(name for name in entries if name not in model.model_fields)
    name = str(location[-1])
    if not source.sure(where.node, where.key) or any(nearest(one, (name,)) for one in misspelt):
        return None  # it may stand in a lost line, or under another name, which is reported
    at = where.key or where.node
    section = f" in {where.key.text}" if where.key else ""
    example = _example(_field(location))
    return Finding(
        Severity.ERROR,
        "missing",
        source.file,
        at.line,
        at.column,
        f"{name} is missing{section}",
        f"Add it, such as {name}: {example}" if example else "Add it.",
    )


def _unknown(location: tuple[int | str, ...], root: Mapping) -> tuple[str, str]:
    """Give the sentence and suggestion for an unknown key: what may stand there, or its section."""
    key = str(location[-1])
    model = inner_type(_annotation(location[:-1]))
    known = tuple(model.model_fields) if _is_model(model) else ()
    homes = _sections_by_key().get(key, ())
    message = f"{key[:60]} is not known here"
    left = left_to_others(key)
    if left and not nearest(key, known, MISSPELLING_LIKENESS):
        return f"{message}: roomcue leaves {left} to others", advice_for_unknown("", known)
    cues = root.get("cues")
    if location[-2:-1] == ("show",) and isinstance(cues, Mapping) and key in cues.entries:
        return message, f"It is a cue: write cues: {{{key}: ...}}."
    if homes and not nearest(key, known, MISSPELLING_LIKENESS):
        return message, f"It belongs in {listed(homes)}. {advice_for_unknown('', known)}"
    return message, advice_for_unknown(key, known)


def _wrong_kind(code: str, location: tuple[int | str, ...], node: Node) -> tuple[str, str]:
    what = str(location[-1]) if location and isinstance(location[-1], str) else "this"
    if code == "list_type":
        return f"{what} takes a list", "Begin each of its entries with a dash on a line of its own."
    if isinstance(node, Sequence):
        return (
            f"{what} takes entries with names, not a list",
            "Write name: value, without dashes or brackets.",
        )
    model = inner_type(_annotation(location))
    known = f" It takes {listed(model.model_fields, 'and')}." if _is_model(model) else ""
    return (
        f"{what} takes entries of its own, not a single value",
        f"Indent them below it, as name: value.{known}",
    )


def _field(location: tuple[int | str, ...]) -> FieldInfo | None:
    model = inner_type(_annotation(location[:-1]))
    return model.model_fields.get(str(location[-1])) if _is_model(model) else None


def _example(field: FieldInfo | None) -> str:
    """Give an example of what may be written in a field, or "" if there is none."""
    if field is None:
        return ""
    if field.examples:
        return str(field.examples[0])
    written = (one.example for one in field.metadata if isinstance(one, FieldKind))
    return next(written, "")


def _annotation(location: tuple[int | str, ...]) -> Any:  # noqa: ANN401 - types of all kinds
    """Follow a location through the models, and give the type that is expected there."""
    kind: Any = RoomFile
    for step in location:
        kind = inner_type(kind)
        if _is_model(kind):
            field = kind.model_fields.get(str(step))
            kind = field.annotation if field else None
        elif get_origin(kind) in {dict, list}:
            kind = get_args(kind)[-1]
        else:
            return None
    return kind


def inner_type(kind: Any) -> Any:  # noqa: ANN401
    """Take `Annotated` and `None |` off a type."""
    while get_origin(kind) in {Annotated, Union, UnionType}:
        kind = next(one for one in get_args(kind) if one is not NoneType)
    return kind


def _is_model(kind: Any) -> bool:  # noqa: ANN401
    return isinstance(kind, type) and issubclass(kind, BaseModel)


@cache
def _sections_by_key() -> dict[str, tuple[str, ...]]:
    """List the sections in which each key may stand."""
    homes: dict[str, list[str]] = {}
    for name, section in sorted(_fields(RoomFile, "")):
        homes.setdefault(name, []).append(section)
    return {name: tuple(sections) for name, sections in homes.items()}


def _fields(model: type[BaseModel], path: str) -> set[tuple[str, str]]:
    """List the fields of a model and of the models inside it, each with its section."""
    fields = {(name, path) for name in model.model_fields if path}
    for name, field in model.model_fields.items():
        kind = inner_type(field.annotation)
        inside = f"{path}: {name}" if path else name
        if get_origin(kind) in {dict, list}:
            kind, inside = inner_type(get_args(kind)[-1]), f"an entry of {inside}"
        if _is_model(kind):
            fields |= _fields(kind, inside)
    return fields
