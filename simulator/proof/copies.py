"""Copies of a core, written out field by field: every half step begins with one or two.

Python knows where a line `new.lens = old.lens` finds its field, and not so in a loop over names,
which takes nearly three times as long. So such lines are written here, as dataclasses write theirs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

from engine.state import Core


def _written_out() -> Callable[[Core], Core]:
    """Write the function that does what `Core.copy` does."""
    lines = [f"    new.{field.name} = old.{field.name}" for field in fields(Core)]
    source = "\n".join(["def copied(old):", "    new = make(Core)", *lines, "    return new"])
    known: dict[str, Any] = {"make": object.__new__, "Core": Core}
    exec(source, known)  # noqa: S102 - of nothing but the names of fields
    written: Callable[[Core], Core] = known["copied"]
    return written


copied = _written_out()
