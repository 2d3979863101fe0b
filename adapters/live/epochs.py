"""Epochs: what the ids of a journal's orders and prompts begin with.

A journal may be moved away while a hub still remembers the ids of its orders. So each journal draws
a number when it begins with a room, and every id is that number followed by six digits that count.
"""

from __future__ import annotations

import secrets
from typing import Final

from engine.state import IDS_OF_EPOCH

LARGEST_EPOCH: Final = 999_999_999
"""With this the ids stay below 2 ** 53, up to which every reader of JSON is exact (RFC 8259, 6)."""


def new_epoch(after: int = 0) -> int:
    """Draw the epoch of a new journal; two of them are as good as never the same.

    Where a journal goes on with another one, it lies `after` that of before, for ids only rise.
    """
    return after + 1 + secrets.randbelow(LARGEST_EPOCH - after)


def first_serial(epoch: int) -> int:
    """Give the number before the first id of an epoch."""
    return epoch * IDS_OF_EPOCH
