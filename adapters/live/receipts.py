"""Receipts: marks of the latest messages, to recognise them if the broker sends them again.

A broker sends again only messages without an acknowledgement, and it may have no more than
`MOST_UNACKNOWLEDGED` of those. So that many receipts of a connection are enough.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import blake2b
from operator import itemgetter
from typing import Final

MOST_UNACKNOWLEDGED: Final = 20
"""How many messages the broker may send before we acknowledge them (MQTT 5.0, 3.1.2.11.3)."""
_DIGEST_BYTES: Final = 16


Receipt = bytes
"""The mark of one message on a connection: its packet id, then a digest of topic and payload."""
Receipts = tuple[Receipt, ...]
_PACKET_ID_BYTES: Final = 2
_packet_of: Final = itemgetter(slice(_PACKET_ID_BYTES))
"""Gives the packet id of a receipt."""


def receipt_of(mid: int, subtopic: str, payload: bytes) -> Receipt:
    """Make the receipt of a message; `mid` is its packet id."""
    digest = blake2b(subtopic.encode() + b"\0" + payload, digest_size=_DIGEST_BYTES)
    return mid.to_bytes(_PACKET_ID_BYTES) + digest.digest()


def with_receipts(receipts: Receipts, come: Iterable[Receipt]) -> Receipts:
    """Add receipts; of several with one packet id only the last one is kept."""
    for receipt in come:
        packets = [*map(_packet_of, receipts)]
        packet = _packet_of(receipt)
        if packet in packets:
            at = packets.index(packet)
            receipts = receipts[:at] + receipts[at + 1 :]
        receipts = (*receipts, receipt)[-MOST_UNACKNOWLEDGED:]
    return receipts


def receipts_bytes(receipts: Receipts) -> bytes:
    """Encode receipts for the journal."""
    return b"".join(receipts)


def receipts_read(data: bytes) -> Receipts:
    """Decode what `receipts_bytes` encoded."""
    length = _PACKET_ID_BYTES + _DIGEST_BYTES
    return tuple(data[at : at + length] for at in range(0, len(data), length))
