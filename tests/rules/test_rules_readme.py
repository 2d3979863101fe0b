"""What the room file's reference shows works as it is shown."""

from __future__ import annotations

import re

import pytest

from engine.facts import room_columns
from engine.room import BUILT_IN_PROMISES
from rules.room.load import read_room
from rules.room.schema import RoomFile
from rules.text.unary import parse_test
from tests.engine.story import HAYLOFT
from tests.house.tree import TOP

README = (TOP / "rules" / "README.md").read_text("utf-8")
YAML = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
SECTIONS = README.split("```\nroom: ")[1].split("```")[0]
CELLS = re.findall(
    r"^\| (`[^|]*`) \|", README.split("### Cells")[1].split("### Facts")[0], re.MULTILINE
)


def test_the_small_room_file_loads_clean() -> None:
    loaded = read_room(YAML[0], "README.md")
    assert loaded.room is not None
    assert not [finding for finding in loaded.findings if finding.fatal]


def test_the_words_shown_are_what_people_read() -> None:
    loaded = read_room(YAML[0] + YAML[1], "README.md")
    assert loaded.room is not None
    assert loaded.findings == ()
    assert loaded.room.panels["sides"].words == "Por favor, coloque os dois painéis laterais."


def test_the_labels_shown_are_taken_in_the_room_that_they_speak_of() -> None:
    hayloft = (TOP / "simulator" / "shipped" / "hayloft.yaml").read_text("utf-8")
    text, changed = re.subn(r"^labels:\n(?: .*\n)+", YAML[2], hayloft, flags=re.MULTILINE)
    loaded = read_room(text, "README.md")
    assert changed == 1
    assert loaded.room is not None
    assert loaded.room.spoken("low", "lamps") == "Low"


def test_the_promise_shown_is_taken() -> None:
    loaded = read_room(YAML[0] + YAML[3], "README.md")
    assert loaded.room is not None
    assert [promise.because for promise in loaded.room.promises] == ["Menus are never stretched."]


def test_the_promise_of_time_shown_is_taken() -> None:
    loaded = read_room(YAML[0] + YAML[4], "README.md")
    assert loaded.room is not None
    assert [promise.within for promise in loaded.room.timely] == [40_000]


def test_every_section_of_a_room_file_is_listed() -> None:
    listed = {"room", *re.findall(r"^(\w+): ", SECTIONS, re.MULTILINE)}
    assert listed == set(RoomFile.model_fields)


def test_every_key_of_pace_is_explained() -> None:
    explained = re.findall(
        r"^\| `(\w+)` \| ", README.split("| in `pace`")[1].split("## ")[0], re.MULTILINE
    )
    assert set(explained) == set(RoomFile.model_fields["pace"].annotation.model_fields)  # type: ignore[union-attr]


def test_every_fact_is_named() -> None:
    for column in room_columns(HAYLOFT):
        if column.name not in HAYLOFT.told:
            assert f"`{column.name}`" in README


def test_every_built_in_promise_is_named() -> None:
    for name in BUILT_IN_PROMISES:
        assert f"| `{name}` |" in README


@pytest.mark.parametrize("cell", [text for cell in CELLS for text in re.findall(r"`(.*?)`", cell)])
def test_every_cell_shown_can_be_read(cell: str) -> None:
    text = cell.strip('"')
    words = {word: f'"{word}"' for word in ("playing", "paused")}
    for word, quoted in words.items():
        text = text.replace(word, quoted)
    assert parse_test(text.replace("yes", "true")).text
