"""What waits for the broker, and in which order it leaves."""

from __future__ import annotations

import pytest

from adapters.live.inflight import MOST_QUEUED, InflightWindow
from adapters.live.messages import OutgoingMessage, QueuedMessage

NOW = 1_000


def drained(window: InflightWindow) -> list[QueuedMessage]:
    """Send whatever there is room for."""
    sent: list[QueuedMessage] = []
    while (word := window.next(NOW)) is not None:
        window.sent(len(sent) + 1, word)
        sent.append(word)
    return sent


def test_no_more_is_in_flight_than_the_broker_takes() -> None:
    window = InflightWindow()
    window.most = 2
    words = [QueuedMessage(OutgoingMessage("reason", b"%d" % number)) for number in range(3)]
    for word in words:
        window.queue(word)
    assert drained(window) == words[:2]
    assert window.acknowledge(1) == words[0]
    assert drained(window) == words[2:]


def test_what_is_acknowledged_twice_leaves_once() -> None:
    window = InflightWindow()
    window.queue(QueuedMessage(OutgoingMessage("reason", b"")))
    drained(window)
    assert not window.empty
    assert window.acknowledge(1) is not None
    assert window.acknowledge(1) is None
    assert window.empty


def test_what_has_ended_meanwhile_is_not_sent_and_may_be_queued_anew() -> None:
    window = InflightWindow()
    ended = OutgoingMessage("order", b"", NOW, 7, "picture")
    window.queue(QueuedMessage(ended, 1))
    assert not window.takes(ended, 1)
    assert drained(window) == []
    assert window.takes(ended, 1)


def test_how_things_stand_is_never_dropped_however_much_waits() -> None:
    window = InflightWindow()
    window.most = 0
    for number in range(MOST_QUEUED + 5):
        said = OutgoingMessage("reason", b"%d" % number)
        if window.takes(said, None):
            window.queue(QueuedMessage(said))
    assert not window.takes(OutgoingMessage("reason", b"more"), None)
    for number in range(2):
        standing = OutgoingMessage("standing", b"%d" % number, retained=True)
        assert window.takes(standing, None)
        window.queue(QueuedMessage(standing))
    window.most = 2 * MOST_QUEUED
    sent = drained(window)
    assert len(sent) == MOST_QUEUED + 1
    assert sent[-1].message.body == b"1"


def test_once_the_queue_is_dropped_nothing_of_it_leaves() -> None:
    window = InflightWindow()
    window.queue(QueuedMessage(OutgoingMessage("reason", b"")))
    window.drop_queue()
    assert drained(window) == []


@pytest.mark.parametrize(
    ("earlier", "later", "outdated"),
    [
        (
            OutgoingMessage("order", b"", 1, 7, "picture"),
            OutgoingMessage("order", b"", 1, 8, "picture"),
            True,
        ),
        (OutgoingMessage("order", b"", 1, 7, "picture"), OutgoingMessage("order", b"", 1, 7), True),
        (
            OutgoingMessage("order", b"", 1, 7, "picture"),
            OutgoingMessage("order", b"", 1, 8, "recall"),
            False,
        ),
        (OutgoingMessage("ask", b"", 1, 7), OutgoingMessage("ask", b"", 1, 7), True),
        (OutgoingMessage("ask", b"", 1, 7), OutgoingMessage("order", b"", 1, 8, "recall"), False),
        (
            OutgoingMessage("standing", b"", retained=True),
            OutgoingMessage("standing", b"", retained=True),
            True,
        ),
        (
            OutgoingMessage("standing", b"", retained=True),
            OutgoingMessage("alive", b"", retained=True),
            False,
        ),
        (OutgoingMessage("reason", b""), OutgoingMessage("reason", b""), False),
        (OutgoingMessage("reason", b""), OutgoingMessage("order", b"", 1, 8, "recall"), False),
    ],
)
def test_a_word_is_outdated_by_a_later_one_on_the_same_thing(
    earlier: OutgoingMessage, later: OutgoingMessage, *, outdated: bool
) -> None:
    assert later.outdates(earlier) is outdated


def test_an_order_has_left_though_a_reply_that_was_numbered_before_it_leaves_after_it() -> None:
    """Replies wait a moment, for an order leaves first."""
    window = InflightWindow()
    window.queue(QueuedMessage(OutgoingMessage("order", b"", None, 7, "picture"), 3))
    window.queue(QueuedMessage(OutgoingMessage("reply", b""), 2))
    window.queue(QueuedMessage(OutgoingMessage("reason", b"")))
    assert len(drained(window)) == 3
    assert window.last_sent == 3
