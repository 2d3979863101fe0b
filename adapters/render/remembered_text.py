"""Say what a room remembers of titles, as a list for whoever looks after it."""

from __future__ import annotations

import json
import shlex
from typing import TYPE_CHECKING

from adapters.render.columns import plural, widths
from adapters.render.why_text import choice_words
from adapters.safe_text import escaped
from engine.aspect import ratio_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.title_records import RememberedTitle


def remembered_lines(room: str, titles: Sequence[RememberedTitle]) -> list[str]:
    """Write a line for each title or series, the latest first, and how to forget one."""
    if not titles:
        return [f"{room} remembers nothing of any title."]
    rows = [
        (escaped(one.name), ratio_text(one.aspect), escaped(choice_words(one.choice)))
        for one in reversed(titles)
    ]
    name, shape, _ = widths(rows)
    forget = json.dumps({"name": titles[-1].name}, ensure_ascii=False)
    return [
        f"{room} remembers {plural(len(titles), 'title')} by name, the latest first:",
        "their shape, and what somebody chose the last time.",
        *(f"  {one[0].ljust(name)}  {one[1].ljust(shape)}  {one[2]}".rstrip() for one in rows),
        f"To forget one: roomcue tell {room} forget {escaped(shlex.quote(forget))}",
    ]
