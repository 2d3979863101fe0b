"""What is said by hand in a rehearsal means the event that a hub would publish."""

from __future__ import annotations

import json

import pytest

from adapters.cli.typed_words import EXAMPLES, TypedError, read_typed
from adapters.live.messages import payload_of


@pytest.mark.parametrize(
    ("words", "topic", "payload"),
    [
        ("playback paused", "playback", {"state": "paused"}),
        ("playback playing disc", "playback", {"state": "playing", "source": "disc"}),
        ("source disc", "source", {"source": "disc"}),
        ("projector lit", "projector", {"state": "lit"}),
        ("override picture=plain", "override", {"taken": True, "look": {"picture": "plain"}}),
        (
            "override preset=tall until=title who=ana",
            "override",
            {"taken": True, "until": "title", "look": {"preset": "tall"}, "who": "ana"},
        ),
        ("override off", "override", {"taken": False}),
        ("answer 3 ready", "answer", {"prompt": 3, "answer": "ready"}),
        ("answer 3 no who=ana", "answer", {"prompt": 3, "answer": "no", "who": "ana"}),
        ("told guests true", "told/guests", {"value": True}),
        ("told guests no", "told/guests", {"value": False}),
        ("told guests unknown", "told/guests", {"value": None}),
        ("told volume 7", "told/volume", {"value": 7}),
        ("lens broad", "lens", {"moving": False, "preset": "broad"}),
        ("lens moving tall", "lens", {"moving": True, "preset": "tall"}),
        ("lens unknown", "lens", {"moving": False, "preset": None}),
        ("panels unknown", "panels", {"panels": None}),
        (
            "title begins 'an episode' 1.78",
            "title",
            {"begun": True, "name": "an episode", "declared": 1.7778},
        ),
        ("title ends", "title", {"begun": False}),
        ("signal lost", "signal", {"locked": False}),
        (
            "signal locked columns=3840 rows=2160",
            "signal",
            {"locked": True, "columns": 3840, "rows": 2160},
        ),
        ("ratio 2.39", "ratio", {"ratio": 2.39}),
        ("format 10 16:9", "format", {"code": 10, "frame": "16:9"}),
        ("black", "black", {}),
        ("service begins", "service", {"begun": True}),
        ("mark who's moved it", "mark", {"words": "who's moved it"}),
        ("mark", "mark", {}),
        ("mark it moved at 8=9 who=Ana", "mark", {"words": "it moved at 8=9", "who": "Ana"}),
        ("mark who='Ana Maria'", "mark", {"who": "Ana Maria"}),
        ("mark who=Ana moved it", "mark", {"words": "who=Ana moved it"}),
        ("forget 'a series'", "forget", {"name": "a series"}),
        ("forget", "forget", {"name": None}),
        ("outcome 3 'no answer'", "outcome", {"order": 3, "outcome": "no answer"}),
        ('playback {"state": "paused"}', "playback", {"state": "paused"}),
        ('told/guests {"value": true}', "told/guests", {"value": True}),
        ('in/source {"source": "disc"}', "source", {"source": "disc"}),
    ],
)
def test_words_mean_what_a_hub_publishes(words: str, topic: str, payload: object) -> None:
    subtopic, body = payload_of(read_typed(words))
    assert (subtopic, json.loads(body)) == (topic, payload)


def test_the_examples_that_are_given_can_be_said() -> None:
    for example in EXAMPLES.split("; "):
        read_typed(example)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("playbak paused", "did you mean 'playback'?"),
        ("dance", "say for example: playback paused"),
        ("playback dancing", "state: 'playing', 'paused', 'stopped' or 'unknown' is expected"),
        ("answer three ready", "prompt: a whole number is expected"),
        ("answer 03 ready", "prompt: a whole number is expected"),
        (
            "source disc console",
            "source: 'console' has no place there: write 'source source', or field=value",
        ),
        (
            "lens tall moving",
            "lens: 'moving' has no place there: write 'lens [moving] preset', or field=value",
        ),
        ("source disc shape=1.78", "shape"),
        ("title begins 'an episode", "a quotation mark is never closed"),
        ("playback {", "in/playback"),
        ("room {}", "a new room file is not said by hand"),
        ("resumed", "is nothing that can be said"),
        ("told guests \udc80", "in/told/guests"),
        ("", "is nothing that can be said"),
    ],
)
def test_what_cannot_be_said_is_told_in_a_sentence(words: str, why: str) -> None:
    with pytest.raises(TypedError) as refused:
        read_typed(words)
    assert why in str(refused.value)
