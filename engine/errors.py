"""What somebody can mend: the root of all errors whose words go to whoever gave the input."""

from __future__ import annotations


class UnusableError(ValueError):
    """Input that cannot be used; the words say what, where, and what to do instead."""
