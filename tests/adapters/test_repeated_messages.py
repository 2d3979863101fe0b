"""What a message says is read once, and is what it would say if it were read anew."""

from __future__ import annotations

import json
from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from adapters.live.messages import EVENTS_FROM_OUTSIDE, read_message
from adapters.live.repeated_messages import LONGEST_REMEMBERED, MOST_REMEMBERED, read_again
from engine.refusal import Refused

BARS = b'{"top": 138, "bottom": 138, "left": 0, "right": 0, "columns": 1920, "rows": 1080}'
PAYLOADS = (
    *(b"", b"{}", b"[]", b"null", b'{"state": "playing"}', b'{"state": "lit"}', BARS),
    *(b'{"value": true}', b'{"value": 1}', b'{"value": 1.0}', b'{"value": "1"}', b'{"value": 0}'),
    *(b'{"value": false}', b'{"value": null}', b'{"source": "disc"}', b'{"contract": 1}', b"\xff"),
)


def outcome(read: Callable[[], object]) -> tuple[str, str]:
    """Give what was read, or the words with which it was refused."""
    try:
        return "read", repr(read())
    except Refused as refused:
        return refused.code, refused.words


@given(
    st.lists(
        st.tuples(
            st.sampled_from([*EVENTS_FROM_OUTSIDE, "told/guests", "told/level", "state", "room"]),
            st.sampled_from(PAYLOADS),
            st.booleans(),
        ),
        max_size=40,
    )
)
def test_whatever_came_before_a_message_says_what_it_says_by_itself(
    heard: list[tuple[str, bytes, bool]],
) -> None:
    """`repr` tells True from 1, which are equal."""
    for topic, payload, retained in heard:
        again = outcome(lambda: read_again(topic, payload, retained=retained))  # noqa: B023
        anew = outcome(lambda: read_message(topic, payload, retained=retained))  # noqa: B023
        assert again == anew


def test_what_is_heard_again_is_the_same_event() -> None:
    assert read_again("bars", BARS, retained=False) is read_again("bars", BARS, retained=False)


def test_a_long_payload_is_not_remembered() -> None:
    """Else somebody could fill the memory with payloads of 64 KiB."""
    long = json.dumps({"state": "playing", "source": "disc"}).encode().ljust(LONGEST_REMEMBERED + 1)
    once, again = (read_again("playback", long, retained=False) for _ in range(2))
    assert once == again
    assert once is not again


def test_of_many_messages_those_that_came_last_are_remembered() -> None:
    def hear(number: int) -> object:
        return read_again("told/level", b'{"value": %d}' % number, retained=False)

    first = hear(0)
    last = [hear(number) for number in range(1, MOST_REMEMBERED + 1)][-1]
    assert hear(MOST_REMEMBERED) is last
    assert hear(0) == first
    assert hear(0) is not first
