"""Choose the wanted look: one lookup in the rule table, completed with how things stand."""

from __future__ import annotations

from functools import lru_cache
from operator import itemgetter
from typing import TYPE_CHECKING, Final

from engine.facts import facts_of, room_columns
from engine.room import DARK, Look, Show
from engine.table import choose

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.facts import Facts
    from engine.room import Room
    from engine.state import Core
    from engine.transaction import Transaction

AS_IT_STANDS = Show()
OTHERWISE = -1


def choose_look(tx: Transaction) -> None:
    """Look the facts up, and complete what the row shows with how things stand."""
    core = tx.core
    tx.use_facts(facts_of(tx.room, core, tx.settling))
    _see_news(tx)
    choice = choose(tx.room.rules.table, tx.facts)
    row = OTHERWISE if choice.row is None else choice.row
    if choice.violation is not None and (row != core.row or not core.violated):
        labels = ", ".join(tx.room.rules.rows[index].label for index in choice.violation.rows)
        words = f"Rows {labels} match at once: the otherwise row is shown."
        tx.note("rules_overlap", words, "engine: rules")
    show = AS_IT_STANDS if choice.output is None else choice.output
    if core.override == "person":
        want = _stand_with(tx, core.override_look or AS_IT_STANDS, show.cues)
    elif pausing(core) and core.row is not None:
        want = core.wanted._replace(cues=_cues(tx, show.cues))  # A pause moves nothing.
    else:
        want = _stand_with(tx, show, show.cues)
    _ripen(tx, want)
    if not pausing(core):
        core.row = row  # in a pause the look is still that of the row before
    core.violated, core.wanted = choice.violation is not None, want


def _stand_with(tx: Transaction, show: Show, cues: tuple[tuple[str, str], ...]) -> Look:
    """Complete a row's part of a look with what stands."""
    core, before = tx.core, tx.core.wanted
    stands = before.picture
    shown = None if core.failed else core.shown
    if shown is not None and shown.picture != DARK and core.override == "person":
        stands = shown.picture
    # What somebody has just been asked for counts as standing, or asking would undo itself.
    asked = core.asked if core.asks > 0 else None
    stands_panels = core.arrangement if asked is None else asked.panels
    return Look(
        picture=stands if show.picture is None else show.picture,
        lift=before.lift if show.lift is None else show.lift,
        preset=core.preset if show.preset is None else show.preset,
        panels=stands_panels if show.panels is None else show.panels,
        cues=_cues(tx, cues),
    )


def pausing(core: Core) -> bool:
    """Tell whether a pause holds the look: it has not lasted so long that it counts as a stop."""
    return core.playback == "paused" and not core.pause_over


OURS: Final = frozenset({"preset", "panels", "helper", "first_minutes", "time"})
"""Facts that our own orders or the clock change: they do not count as news from outside."""


@lru_cache(256)
def _outside(room: Room) -> Callable[[Facts], tuple[bool | int | str | None, ...]]:
    """Give a function that picks the facts that our own orders do not change."""
    return itemgetter(*(one.name for one in room_columns(room) if one.name not in OURS))


def _see_news(tx: Transaction) -> None:
    """Allow the rules new recalls and prompts where something outside has changed."""
    core = tx.core
    outside = _outside(tx.room)(tx.facts)
    look = core.override_look or AS_IT_STANDS
    wish = (look.picture, look.lift, look.preset, look.panels)
    news = (*outside, core.override, *wish, core.projector, core.service)
    if news != core.news:
        core.news, core.recalls, core.asks = news, 0, 0


def _cues(tx: Transaction, asked: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """Add the cues asked for to those that stay."""
    before = tx.core.wanted.cues
    if not asked or asked == before:
        return before
    if not before:
        return asked
    return tuple(sorted((dict(before) | dict(asked)).items()))


def _ripen(tx: Transaction, want: Look) -> None:
    """Let a wish for a travel or a panel stand for a while before it counts.

    This is what keeps a lens from following every ident, trailer and slip of the remote. A
    person's own wish is ripe at once.
    """
    core = tx.core
    wish = (want.preset, want.panels)
    if wish == (core.preset, core.arrangement) and core.lens != "unknown":
        core.ripe = False
        tx.set_timers(linger=None)
        return
    before = (core.wanted.preset, core.wanted.panels)
    if core.override == "person" or tx.room.pace.linger == 0:
        core.ripe = True
        tx.set_timers(linger=None)
    elif wish != before or (not core.ripe and core.timers.linger is None):
        core.ripe = False
        tx.set_timers(linger=tx.now + tx.room.pace.linger)
