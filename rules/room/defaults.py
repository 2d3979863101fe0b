"""Fill in what a room file leaves out, and write the file out in full.

The defaults of single fields stand beside them in the models. Here are the defaults that depend on
the rest of the file, and the rules of a room that writes none. Those move nothing, so that they
are safe in any room.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, get_args, get_origin

from pydantic_core import PydanticUndefined

from rules.room.names import DEFAULT_PRESET, OPEN_PANELS
from rules.room.schema import RoomFile
from rules.room.section import Part
from rules.room.validation import inner_type
from rules.text.recovery import read_source
from rules.text.yaml_nodes import Entry, Mapping, Scalar, plain_data

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

    from rules.text.yaml_nodes import Node

STARTER_RULES: Final = """\
policy: unique
rows:
  - name: at rest
    case: {playback: stopped}
    show: {picture: plain}
    because: Menus carry text and circles, so nothing is stretched or cropped.
  - name: changing shape
    case: {playback: 'not("stopped")', varies: yes}
    show: {picture: whole}
    because: The title changes its shape, and the whole frame is right for whatever comes next.
otherwise:
  picture: plain
  because: The picture stays as it was made, as large as the screen allows.
"""

LINE_WIDTH: Final = 100
"""Characters; an entry that is longer on one line is spread over several."""
_DEFAULT_MARK: Final = "  # default"
_UNQUOTED_VALUE: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.%/]*(?:[ :-][A-Za-z0-9_.%/]+)*")
_UNQUOTED_SENTENCE: Final = re.compile(
    r"[A-Za-z0-9_](?:[A-Za-z0-9_.%/,;()'-]|[ :](?=[A-Za-z0-9_(%]))*"
)
_COLON_GAP: Final = re.compile(r":\s")


class _Default(str):
    """A value that was filled in and is not in the file."""

    __slots__ = ()


def completed(root: Mapping) -> Mapping:
    """Fill in the sections whose defaults depend on others: presets, panels and rules."""
    entries = dict(root.entries)
    if _says_nothing(root.get("presets")):
        fits = _aspect(root) or Scalar("1.78", root.line, root.column, None, plain=True)
        preset = _mapping(fits, {"fits": fits})
        entries["presets"] = _entry("presets", _mapping(fits, {DEFAULT_PRESET: preset}))
    panels = root.get("panels")
    at = panels if panels is not None else root
    if _says_nothing(panels) or (isinstance(panels, Mapping) and OPEN_PANELS not in panels.entries):
        old = panels.entries if isinstance(panels, Mapping) else {}
        last = panels.last if isinstance(panels, Mapping) else at.line
        added = {OPEN_PANELS: _entry(OPEN_PANELS, _mapping(at, {})), **old}
        entries["panels"] = _entry("panels", Mapping(at.line, at.column, last, added))
    if _says_nothing(root.get("rules")):
        starter = read_source(STARTER_RULES, "starter rules").mapping
        assert starter is not None  # noqa: S101 - a text of our own
        entries["rules"] = _entry("rules", starter)
    return replace(
        root,
        entries={name: one for name, one in entries.items() if not _optional_and_empty(one, name)},
    )


def written_out(root: Mapping, given: frozenset[str]) -> str:
    """Write a completed file as YAML with every default, each marked on its line.

    `given` names the sections that the file itself has.
    """
    values = plain_data(root)
    assert isinstance(values, dict)  # noqa: S101 - a mapping gives a dict
    filled = _with_defaults(RoomFile, values)
    lines = []
    for name, value in filled.items():
        first, *rest = _entry_lines(name, value, 0)
        marked = name in given or first.endswith(_DEFAULT_MARK)
        lines += [first if marked else first + _DEFAULT_MARK, *rest]
    return "\n".join(lines) + "\n"


def _aspect(root: Mapping) -> Scalar | None:
    screen = root.get("screen")
    aspect = screen.get("aspect") if isinstance(screen, Mapping) else None
    return aspect if isinstance(aspect, Scalar) else None


def _says_nothing(node: Node | None) -> bool:
    """Tell whether a section is missing or empty."""
    if isinstance(node, Mapping):
        return not node.entries
    return node is None or (isinstance(node, Scalar) and node.empty)


def _optional_and_empty(entry: Entry, name: str) -> bool:
    """Tell whether a section is empty and might as well be left out."""
    field = RoomFile.model_fields.get(name)
    empty = isinstance(entry.value, Scalar) and entry.value.empty
    return empty and field is not None and not field.is_required()


def _entry(name: str, value: Node) -> Entry:
    return Entry(Scalar(name, value.line, value.column, None, plain=True), value)


def _mapping(at: Node, values: dict[str, Node]) -> Mapping:
    entries = {name: _entry(name, value) for name, value in values.items()}
    return Mapping(at.line, at.column, at.line, entries)


def _with_defaults(model: type[Part], values: dict[str, Any]) -> dict[str, Any]:
    """Add the defaults of the fields that a section leaves out, in the order of the fields."""
    filled: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        if name in values:
            filled[name] = _value_with_defaults(field.annotation, values[name])
        elif _has_default(field, top=model is RoomFile):
            filled[name] = _marked_as_default(_value_with_defaults(field.annotation, field.default))
    return filled


def _has_default(field: FieldInfo, *, top: bool) -> bool:
    """Tell whether a field that was left out has a default to show."""
    if field.default is None or field.default is PydanticUndefined:
        return False
    kind = inner_type(field.annotation)
    return bool(field.default) or top or (isinstance(kind, type) and issubclass(kind, Part))


def _value_with_defaults(annotation: Any, value: Any) -> Any:  # noqa: ANN401 - values as YAML gives them
    kind = inner_type(annotation)
    if get_origin(kind) is dict and isinstance(value, dict):
        return {name: _value_with_defaults(get_args(kind)[1], one) for name, one in value.items()}
    if get_origin(kind) is list and isinstance(value, list):
        return [_value_with_defaults(get_args(kind)[0], one) for one in value]
    if isinstance(kind, type) and issubclass(kind, Part):
        if value == "":
            value = {}
        return _with_defaults(kind, value) if isinstance(value, dict) else value
    return value


def _marked_as_default(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, dict):
        return {name: _marked_as_default(one) for name, one in value.items()}
    return _Default(value) if isinstance(value, str) else value


def _entry_lines(name: str, value: Any, depth: int) -> Iterator[str]:  # noqa: ANN401
    """Write one entry: on one line if it is short and holds no default to be marked."""
    head = f"{'  ' * depth}{name}:"
    short = f"{head} {_flow_style(value)}"
    if isinstance(value, str):
        yield f"{head} {_block_style(value)}{_DEFAULT_MARK if isinstance(value, _Default) else ''}"
    elif not value:
        yield short
    elif isinstance(value, list) and isinstance(value[0], dict):
        yield head
        for item in value:
            yield from _list_item_lines(item, depth + 1)
    elif len(short) <= LINE_WIDTH and depth and not _has_marks(value):
        yield short
    elif isinstance(value, list):
        yield head
        yield from (f"{'  ' * (depth + 1)}- {_block_style(item)}" for item in value)
    else:
        yield head
        for inside, one in value.items():
            yield from _entry_lines(inside, one, depth + 1)


def _list_item_lines(item: dict[str, Any], depth: int) -> Iterator[str]:
    """Write one item of a list: its entries, with a dash before the first."""
    lines = [line for name, value in item.items() for line in _entry_lines(name, value, depth + 1)]
    dash = "  " * depth
    yield f"{dash}- {lines[0][len(dash) + 2 :]}"
    yield from lines[1:]


def _has_marks(value: Any) -> bool:  # noqa: ANN401
    if isinstance(value, dict):
        return any(map(_has_marks, value.values()))
    return isinstance(value, _Default)


def _flow_style(value: Any) -> str:  # noqa: ANN401
    if isinstance(value, dict):
        return f"{{{', '.join(f'{name}: {_flow_style(one)}' for name, one in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(_flow_style, value))}]"
    return value if _UNQUOTED_VALUE.fullmatch(value) else _quoted(value)


def _block_style(value: str) -> str:
    plain = _UNQUOTED_SENTENCE.fullmatch(value) and not _COLON_GAP.search(value)
    return value if plain else _quoted(value)


def _quoted(value: str) -> str:
    simple = value.isprintable() and '"' in value and "'" not in value
    return f"'{value}'" if simple else json.dumps(value, ensure_ascii=False)
