"""The base class of errors that whoever gave the input can put right."""

from __future__ import annotations


class UnusableError(ValueError):
    """Input that cannot be used. The message says what is wrong, where, and what to do instead."""

    @property
    def mistakes(self) -> tuple[str, ...]:
        """Each mistake in a sentence of its own; usually there is one."""
        return (str(self),)
