"""What belongs to another journal of a room: its orders and prompts were never ours."""

from __future__ import annotations

import pytest

from engine.events import Answer, Outcome
from engine.refusal import Refused
from engine.state import IDS_OF_EPOCH, first_state
from tests.engine.story import HAYLOFT, Story


@pytest.mark.parametrize("epoch", [0, 6, 8])
def test_what_belongs_to_another_journal_is_said_to(epoch: int) -> None:
    """A hub remembers ids of a journal that was moved away; none of them was ever late here."""
    first = first_state(HAYLOFT)
    story = Story()
    serial = 7 * IDS_OF_EPOCH + 3
    story.engine.go_back(first._replace(tally=first.tally._replace(serial=serial)))
    number = epoch * IDS_OF_EPOCH + 2
    told = r"is not open: it is of another journal of this room, .*; tell how things stand$"
    for event in (
        Outcome(order=number, outcome="done"),
        Answer(prompt=number, answer="no"),
    ):
        with pytest.raises(Refused, match=f" {number} {told}"):
            story.at(12, event)
    for event in (
        Outcome(order=serial + 1, outcome="done"),
        Answer(prompt=serial + 1, answer="no"),
    ):
        with pytest.raises(Refused, match=r"is not open: this room has never given that number$"):
            story.at(13, event)
    with pytest.raises(Refused, match=r"answered or withdrawn, or its end has passed$"):
        story.at(13, Outcome(order=serial - 1, outcome="done"))
