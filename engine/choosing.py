"""Choose the wanted look from the rule table, completed with how things stand.

What is quick (picture, lift, cues) follows what is there now. What is slow or costs somebody a
walk (preset, panels) follows what the title is: where a title declares another shape than stands
now, or is remembered with one, the table is looked up a second time with that. Where its own shape
is only seen, it is the one that has stood longest, and nothing slow is moved for any other.
"""

from __future__ import annotations

from functools import lru_cache
from operator import itemgetter
from typing import TYPE_CHECKING, Final

from engine.facts import facts_of, facts_of_title, pausing, room_columns, shape_is_guess
from engine.lens_search import end_search
from engine.room import DARK, Look, Show
from engine.table import choose
from engine.title_records import IN_A_LOOP

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.facts import Facts
    from engine.room import Pace, Room
    from engine.state import Core
    from engine.transaction import Transaction

AS_IT_STANDS = Show()
OTHERWISE = -1


def choose_look(tx: Transaction) -> None:
    """Look the facts up, and complete what the rows show with how things stand."""
    core = tx.core
    if core.override_until == "arrival":
        end_search(tx)
    facts = facts_of(tx.room, core, tx.settling)
    of_title = facts_of_title(tx.room, core, tx.settling, facts)
    tx.facts, tx.title_facts = facts, facts if of_title is None else of_title
    _see_news(tx)
    choice = choose(tx.room.rules.table, facts)
    slow = choice if of_title in (None, facts) else choose(tx.room.rules.table, tx.title_facts)
    rows = tuple(OTHERWISE if one.row is None else one.row for one in (choice, slow))
    violation = choice.violation or slow.violation
    if violation is not None and (rows != (core.row, core.title_row) or not core.violated):
        labels = ", ".join(tx.room.rules.rows[index].label for index in violation.rows)
        tx.note("rules_overlap", "engine: rules", rows=labels)
    show = choice.output or AS_IT_STANDS
    tx.row_now, tx.cues_now = rows[0], show.cues
    if of_title is None:
        show = show._replace(preset=None, panels=None)
    elif slow is not choice:
        own = slow.output or AS_IT_STANDS
        show = show._replace(preset=own.preset, panels=own.panels)
    if core.override == "person":
        want = _stand_with(tx, _taken_over(core), show)
    elif pausing(core) and core.row is not None:
        want = _in_pause(tx, show)
    else:
        want = _stand_with(tx, show, show)
    _ripen(tx, want)
    if not pausing(core):
        core.row, core.title_row = rows  # in a pause the look is still that of the rows before
    core.violated, core.wanted = violation is not None, want


def _taken_over(core: Core) -> Show:
    """Give the look that a person has taken over with, but without a lift of their own.

    `reconcile` adds that lift, and so it ends with the override. If it became part of the wanted
    look, rows that name no lift would keep it for ever. A lift that rows have set stays in a title
    whose picture stays, because it was meant for the lines below that picture.
    """
    look = core.override_look or AS_IT_STANDS
    stays = core.title and look.picture is None
    return look._replace(lift=None if stays else 0)


def _in_pause(tx: Transaction, row: Show) -> Look:
    """Keep the look as it is in a pause, which moves nothing.

    A shape that may be a paused ident's is wished for anew once the title plays on.
    """
    core = tx.core
    if not core.ripe and shape_is_guess(core):
        return _stand_with(tx, AS_IT_STANDS, row)
    return core.wanted._replace(cues=_cues(tx, row))


def _stand_with(tx: Transaction, show: Show, row: Show) -> Look:
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
        cues=_cues(tx, row),
    )


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
    own = tx.title_facts["aspect"]
    news = (*outside, own, core.override, *wish, core.projector, core.service)
    if news != core.news:
        core.news, core.recalls, core.asks = news, 0, 0


def _cues(tx: Transaction, show: Show) -> tuple[tuple[str, str], ...]:
    """Add a row's cues to those that stay, once they have been wished for as long as it says."""
    core, asked = tx.core, show.cues
    before = dict(core.wanted.cues)
    new = any(before.get(name) != value for name, value in asked)
    # The first light of an evening comes at once: nothing stands that could be kept for a moment.
    first = core.playback != "unknown" and not any(name in before for name, _ in asked)
    waits = new and show.after > 0 and not first
    if waits and (core.cue_wish != asked or core.timers.cue_wait is not None):
        if core.cue_wish != asked:
            core.cue_wish = asked
            tx.set_timers(cue_wait=tx.now + show.after)
        return core.wanted.cues
    if core.cue_wish:
        core.cue_wish = ()
        tx.set_timers(cue_wait=None)
    return tuple(sorted((before | dict(asked)).items()))


def _ripen(tx: Transaction, want: Look) -> None:
    """Let a wish for a travel or a panel stand for a while before it counts.

    This is what keeps a lens from following every ident, trailer and slip of the remote; people
    are spared for longer. A person's own wish counts at once, and so does what a title declares.
    """
    core, pace = tx.core, tx.room.pace
    wish = (want.preset, want.panels)
    if wish == (core.preset, core.arrangement):
        core.ripe = False
        tx.set_timers(linger=None, linger_people=None)
        return
    if core.override == "person" and core.timers.linger is not None:
        core.ripe = False  # What was chosen the last time waits until the title is watched.
        return
    # What a title declares will not change again.
    if core.override == "person" or (core.title and core.declared is not None):
        core.ripe = True
        tx.set_timers(linger=None, linger_people=None)
        return
    changed = wish != (core.wanted.preset, core.wanted.panels)
    if changed or (not core.ripe and core.timers.linger is None):
        lingers = _linger(core, pace)
        core.ripe = lingers == 0
        tx.set_timers(linger=tx.now + lingers if lingers else None)
    if changed:
        tx.set_timers(linger_people=tx.now + pace.linger_people if pace.linger_people else None)


def _linger(core: Core, pace: Pace) -> int:
    """Say how long a wish stands before it counts: longer where a menu may play its previews.

    It plays them round and round, and each looks like the beginning of a film. A film is sent for
    within its first minutes all the same.
    """
    named = core.title_name is not None or core.series is not None
    if core.sent_in_vain < IN_A_LOOP or named:
        return pace.linger
    return max(pace.linger, pace.first_minutes * 3 // 4)


def is_ripe(core: Core) -> bool:
    """Tell whether a wish for a travel or a panel counts by now.

    Where a title's own shape is only seen, nothing is sent for it while no reading shows it.
    """
    told = core.declared is not None or core.remembered is not None
    seen = core.override == "person" or not core.title or told or core.doubt is None
    return core.ripe and seen
