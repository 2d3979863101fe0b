"""What is wrong with a message, in the words of whoever wrote it."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from engine.events import EVENTS
from engine.malformed import describe_mistakes


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            '{"kind": "told", "fact": "guests", "value": [1]}',
            "value: true or false, a whole number or text is expected (given: [1])",
        ),
        (
            '{"kind": "told", "fact": "guests", "value": "a\\u0007"}',
            'value: control characters do not belong here (given: "a\\u0007")',
        ),
        (
            '{"kind": "override", "taken": true, "until": "late"}',
            "until: 'title' or 'session' is expected, or a moment is written as in RFC 3339",
        ),
        ('{"kind": "lens", "moving": 1, "preset": null}', "moving: true or false is expected"),
        (
            '{"kind": "bars", "top": -1}',
            "top: at least 0 is expected (given: -1); bars.bottom: this is",
        ),
        (
            '{"kind": "override", "taken": true, "look": {"picture": 5, "zoom": 1}}',
            "look.picture: text is expected (given: 5); override.look.zoom: nothing of that name",
        ),
        ('{"kind": "mark", "words": "%s"}' % ("x" * 501), "words: text of at most 500 characters"),
    ],
)
def test_a_malformed_message_is_told_in_plain_words(text: str, words: str) -> None:
    with pytest.raises(ValidationError) as caught:
        EVENTS.validate_json(text)
    said = describe_mistakes(caught.value)
    assert words in said
    assert "input" not in said.lower()
