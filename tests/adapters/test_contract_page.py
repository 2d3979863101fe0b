"""The contract's page says what the engine and the document do."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, get_args

import pytest

from adapters import contract
from adapters.live.messages import EVENTS_FROM_OUTSIDE
from engine.refusal import RefusalCode
from tests.adapters.asyncapi_document import STRICTLY

PAGE = Path(contract.__file__).with_name("README.md").read_text("utf-8")


def shown() -> list[dict[str, Any]]:
    """Give the messages of roomcue that the contract's page shows."""
    blocks = re.findall(r"```json\n(.*?)```", PAGE, re.DOTALL)
    return [json.loads(line) for block in blocks for line in block.splitlines()]


def test_the_page_shows_a_message_of_each_kind_that_a_hub_acts_on() -> None:
    assert [one["kind"] for one in shown()] == ["picture", "recall", "cue", "withdrawn", "question"]


@pytest.mark.parametrize("message", shown(), ids=lambda one: one["kind"])
def test_what_the_page_shows_is_what_roomcue_says(message: dict[str, Any]) -> None:
    """Field by field, as the AsyncAPI document has it."""
    leaf = "ask" if message["kind"] == "question" else "order"
    STRICTLY[f"out.{leaf}.{message['kind']}"].validate(message)


def rows_under(heading: str) -> list[list[str]]:
    """Give the cells of the first table below a heading."""
    below = PAGE.split(f"{heading}\n")[1].splitlines()
    first = next(place for place, line in enumerate(below) if line.startswith("|"))
    last = next(place for place, line in enumerate(below) if place > first and line[:1] != "|")
    return [line.strip("|").split(" | ") for line in below[first + 2 : last]]


def test_a_hub_is_shown_what_it_can_tell_and_nothing_else() -> None:
    kinds = {kind for row in rows_under("## What a hub tells") for kind in row[0].split(",")}
    assert {kind.strip() for kind in kinds} == {*EVENTS_FROM_OUTSIDE}


def test_each_code_of_a_refusal_says_once_what_a_hub_does() -> None:
    """Whoever cannot tell sends the same message again for ever, or never."""
    named = [code for row in rows_under("### What is refused") for code in codes_in(row[0])]
    assert sorted(named) == sorted(get_args(RefusalCode))


def codes_in(cell: str) -> list[str]:
    return re.findall(r"`(\w+)`", cell)


def test_a_hub_without_a_panel_sensor_is_told_one_thing() -> None:
    """What nobody knows is told as unknown, which would take back what people have answered."""
    everything = PAGE.split("*Everything* is")[1].split("###")[0]
    assert "without a panel sensor leaves `panels` out" in everything
    assert "`null` by a hub that has a sensor" in " ".join(everything.split())
