"""Receipts: which messages came last, to know them if they come again."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from adapters.live.receipts import (
    MOST_UNACKNOWLEDGED,
    receipt_of,
    receipts_bytes,
    receipts_read,
    with_receipts,
)

MESSAGES = st.lists(st.tuples(st.integers(1, 65_535), st.binary(max_size=3)), max_size=60)


@given(MESSAGES)
def test_of_the_messages_under_one_packet_id_the_last_one_counts_and_no_more_than_a_window(
    messages: list[tuple[int, bytes]],
) -> None:
    come = [receipt_of(mid, "mark", payload) for mid, payload in messages]
    kept = with_receipts((), come)
    last = {one[:2]: one for one in come}
    assert len(kept) == min(MOST_UNACKNOWLEDGED, len(last))
    assert all(last[one[:2]] == one for one in kept)
    newest = [one for at, one in enumerate(come) if one[:2] not in {o[:2] for o in come[at + 1 :]}]
    assert [*kept] == newest[-MOST_UNACKNOWLEDGED:]


def test_a_hundred_thousand_messages_at_once_are_noted_at_once() -> None:
    """A broker that resumes a session may send all that waits: looking through it took minutes."""
    come = [receipt_of(number % 65_535 + 1, "bars", b"%d" % number) for number in range(100_000)]
    assert with_receipts((), come) == tuple(come[-MOST_UNACKNOWLEDGED:])


@given(MESSAGES)
def test_receipts_are_read_as_they_were_written(messages: list[tuple[int, bytes]]) -> None:
    kept = with_receipts((), [receipt_of(mid, "mark", payload) for mid, payload in messages])
    assert receipts_read(receipts_bytes(kept)) == kept


def test_another_packet_id_topic_or_payload_gives_another_receipt() -> None:
    one = receipt_of(7, "mark", b"{}")
    others = (
        receipt_of(8, "mark", b"{}"),
        receipt_of(7, "marks", b"{}"),
        receipt_of(7, "mark", b""),
    )
    assert one not in others
    assert len({one, *others}) == 4
