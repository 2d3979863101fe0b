"""A live room in which somebody is at the screen, and what is asked of them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from adapters.live.messages import QueuedMessage
from engine.events import Answer, LensReport, Outcome, PanelReport, Playback, RatioSeen, Title
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS


def go_to_screen(one: Stage) -> None:
    """Let Ana be at the screen to fit panels; the picture is dark."""
    one.clock.face = 1_200
    one.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
    one.hear(Playback(state="playing"), Title(begun=True, declared=1.78), RatioSeen(ratio=1.78))
    one.pass_to(BEGINS + 30_000)
    one.hear(Answer(prompt=asked(one), answer="ready", who="Ana"))
    dark = one.durable.engine.state.core.picture
    assert dark is not None
    one.hear(Outcome(order=dark, outcome="done"))


@contextmanager
def at_screen(folder: Path) -> Iterator[Stage]:
    """Give a room in which Ana is at the screen, and the broker has taken all that was said so far.

    What its journal has in the end leads to the same decisions again.
    """
    with staged(HAYLOFT, folder / "journal", BEGINS) as one:
        go_to_screen(one)
        one.all_taken()
        yield one
        assert differences(HAYLOFT, one.lines()) == []


def asked(stage: Stage) -> int:
    """Give the open prompt's id."""
    prompt = stage.durable.engine.state.core.asked
    assert prompt is not None
    return prompt.id


def has_light(said: QueuedMessage) -> bool:
    """Tell whether a message orders a picture that is lit."""
    return json.loads(said.message.body).get("picture") not in (None, "dark")
