"""Which messages came last over a connection, to know them if they come again over the next.

A broker sends again only what it has not seen acknowledged, and of that there is never more than
it was told that it may send ahead. So the latest `WINDOW` of a connection are enough.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import blake2b
from typing import Final

MOST_UNACKNOWLEDGED: Final = 20
"""How many messages the broker may send before we acknowledge them (MQTT 5.0, 3.1.2.11.3)."""
_DIGEST_BYTES: Final = 16


Receipt = bytes
"""What tells a message of one connection from others: its packet id, then a digest of topic and
payload."""
Receipts = tuple[Receipt, ...]
_PACKET_ID_BYTES: Final = 2


def receipt_of(mid: int, leaf: str, payload: bytes) -> Receipt:
    """Make a message's receipt."""
    digest = blake2b(leaf.encode() + b"\0" + payload, digest_size=_DIGEST_BYTES)
    return mid.to_bytes(_PACKET_ID_BYTES) + digest.digest()


def with_receipts(receipts: Receipts, come: Iterable[Receipt]) -> Receipts:
    """Add what has come; of the messages under one packet id only the last one counts."""
    kept = list(receipts)
    for receipt in come:
        mid = receipt[:_PACKET_ID_BYTES]
        kept = [one for one in kept if one[:_PACKET_ID_BYTES] != mid]
        kept.append(receipt)
    return tuple(kept[-MOST_UNACKNOWLEDGED:])


def receipts_bytes(receipts: Receipts) -> bytes:
    """Write receipts down."""
    return b"".join(receipts)


def receipts_read(data: bytes) -> Receipts:
    """Read what `receipts_bytes` wrote."""
    length = _PACKET_ID_BYTES + _DIGEST_BYTES
    return tuple(data[at : at + length] for at in range(0, len(data), length))
