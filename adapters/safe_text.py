"""Make text from strangers safe to print on a terminal."""

from __future__ import annotations

import re
from typing import Final

_UNSHOWN: Final = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")


def escaped(text: str) -> str:
    """Replace control characters by their codes, so that text cannot steer a terminal."""
    return _UNSHOWN.sub(lambda found: f"\\x{ord(found[0]):02x}", text)
