"""Know files of roomcue's by how they begin, and say which one is meant where another was given."""

from __future__ import annotations

import re
from codecs import BOM_UTF8
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Final, Literal

from engine.errors import UnusableError
from simulator import HEAD_BEGINS

FileKind = Literal[
    "a night",
    "a journal",
    "a book of measurements",
    "a list of people",
    "a file of decisions",
    "a file of readings",
    "a script of an evening",
    "a room file",
    "a PEM file",
    "a file with a password alone",
    "an AsyncAPI document",
    "a JSON Schema",
    "an HTML page",
    "a drawing",
    "a PNG picture",
    "a diagram of states",
]
A_LINE: Final[FileKind] = "a file with a password alone"
"""Its line may say anything."""
BEGINNING: Final = 4_096
"""So many bytes show what a file is."""
LOOKED_AT: Final = 100
"""So many lines are enough for that."""
_BEGINNINGS: Final[tuple[tuple[re.Pattern[bytes], FileKind], ...]] = (
    (re.compile(re.escape(HEAD_BEGINS)), "a night"),
    (re.compile(rb"SQLite format 3\0"), "a journal"),
    (re.compile(rb'\{[^\n]*"kind": ?"(measured|repeated)"'), "a book of measurements"),
    (re.compile(rb'\{\s*"people"\s*:'), "a list of people"),
    (re.compile(rb'\{"t": ?[\d.]+, ?"decision"'), "a file of decisions"),
    (re.compile(rb'\{"t": ?[\d.]+, ?"bars"'), "a file of readings"),
    (re.compile(rb"(\s|#[^\n]*\n)*\d{1,2}:\d\d(:\d\d)?[ \t]+\w"), "a script of an evening"),
    (re.compile(rb"-----BEGIN "), "a PEM file"),
    (re.compile(rb'\{\s*"asyncapi"'), "an AsyncAPI document"),
    (re.compile(rb'\{\s*"\$schema"'), "a JSON Schema"),
    (re.compile(rb"\s*<!doctype html", re.IGNORECASE), "an HTML page"),
    (re.compile(rb"\s*(<\?xml[^>]*>\s*)?<svg"), "a drawing"),
    (re.compile(rb"\x89PNG"), "a PNG picture"),
    (re.compile(rb"stateDiagram"), "a diagram of states"),
    (re.compile(rb"([^{\n][^\n]*\n|\n)*room:\s"), "a room file"),
)
_CALLED: Final[dict[FileKind, str]] = {"a journal": "a journal or another database"}
"""What a file is called where its beginning does not say all."""
_INSTEAD: Final[dict[FileKind, str]] = {
    "a night": "'roomcue export' and 'invent' write nights",
    "a journal": "'roomcue run' writes one",
    "a book of measurements": "'roomcue align' writes one",
    "a list of people": "'roomcue invite' writes one",
    "a file of decisions": 'a line is {"t": 12.5, "decision": {...}}, as a night has it',
    "a room file": "'roomcue new' writes one",
    "a PEM file": "whoever signed the broker's certificate gives one",
    "a file with a password alone": "write the password into a file of its own",
}
"""Where what is meant comes from."""


def other_kind(data: bytes, wanted: FileKind, *also: FileKind, instead: str = "") -> str | None:
    """Say in a sentence that a file which begins so is another one of ours than is meant here.

    None: it is what is wanted, or nothing that is known by its beginning.
    """
    if wanted == A_LINE and _is_one_line(data):
        return None  # whatever it looks like
    beginning = data[:BEGINNING].removeprefix(BOM_UTF8)
    found = next((kind for begins, kind in _BEGINNINGS if begins.match(beginning)), wanted)
    if found in (wanted, *also):
        return None
    meant = f"{' or '.join((wanted, *also))} is meant here: {instead or _INSTEAD[wanted]}"
    return f"this is {_CALLED.get(found, found)}, and {meant}"


def _is_one_line(data: bytes) -> bool:
    """Tell whether a file is a single line of text, all of which is seen."""
    line = data.rstrip(b"\r\n")
    return len(data) < BEGINNING and not {*line} & {*b"\n\0"}


def refuse_other_kind(data: bytes, path: Path, wanted: FileKind, *also: FileKind) -> None:
    """Raise `UnusableError` where a file begins as another one of ours than is meant here."""
    other = other_kind(data, wanted, *also)
    if other is not None:
        raise UnusableError(f"{path}: {other}")


def lines_of_kind(
    lines: Iterator[bytes], path: Path, wanted: FileKind, *also: FileKind
) -> Iterator[bytes]:
    """Give a file's lines on; raises `UnusableError` where they begin as another one of ours."""
    begins = [*islice(lines, LOOKED_AT)]
    refuse_other_kind(b"".join(begins), path, wanted, *also)
    yield from begins
    yield from lines
