"""What is remembered of titles by name: their shape, and what the family chose for them last.

A series is remembered by its own name, any other title by its own. What is remembered stands
again when the title begins the next time, until it is refuted, chosen otherwise or forgotten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.aspect import ratio_text
from engine.cues import drop_cue_overrides, override_cues
from engine.facts import what_is_remembered
from engine.overrides import give_back, take_over
from engine.refusal import Refused
from engine.room import BUILT_IN_PICTURES, Show
from engine.title_records import NO_CHOICE, LastChoice, RememberedTitle, StoodShape

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.events import Forget
    from engine.room import Room
    from engine.state import Core
    from engine.title_records import InterruptedTitle
    from engine.transaction import Transaction

LOOKED_INTO: Final = 10_000
"""How long a title is on (ms) before it counts as watched: until then lens and people wait."""
TITLES_KEPT: Final = 200
"""How many titles and series are remembered at most."""


def remember_shape(tx: Transaction, stood: int) -> None:
    """Remember the shape of the title that is on, if it has stood for long enough (`stood`: ms)."""
    core = tx.core
    if core.longest is not None and stood >= tx.room.pace.first_minutes:
        known = _known_or_new(core)
        if known is not None:
            _keep(core, known._replace(aspect=core.longest))


def _known_or_new(core: Core) -> RememberedTitle | None:
    """Give what is remembered of the title that is on, if only its name; None: it has none."""
    name = core.series or core.title_name
    return None if name is None else what_is_remembered(core) or RememberedTitle(name, None)


def _keep(core: Core, title: RememberedTitle) -> None:
    """Keep what is remembered of a title as the latest of all; nothing is not kept."""
    others = tuple(one for one in core.titles if one.name != title.name)
    if title.aspect is None and title.choice == NO_CHOICE:
        core.titles = others
    else:
        core.titles = (*others, title)[-TITLES_KEPT:]


def recall_title(tx: Transaction, head_start: int, *, played_on: bool) -> None:
    """Let a title begin with what is remembered of it: as if its shape had stood so long (ms).

    Of one that is played on people have been told before.
    """
    core = tx.core
    known = what_is_remembered(core)
    if known is None:
        return
    if known.aspect is not None:
        core.remembered = core.longest = known.aspect
        core.stood = (StoodShape(known.aspect, head_start),)
        by = "name" if core.series is None else "series"
        if not played_on:
            tx.note("title_remembered", "engine: titles", by=by, shape=ratio_text(known.aspect))
    choose_again(tx, known.choice)


# ------------------------------------------------------------------------- the family's last choice


def remember_choice(core: Core, look: Show | None, cues: Mapping[str, str]) -> None:
    """Remember what a person chooses up to the end of the title that is on; None: no look."""
    known = _known_or_new(core)
    if known is not None:
        last = known.choice
        chosen = tuple(sorted((dict(last.cues) | dict(cues)).items()))
        choice = LastChoice(last.look if look is None else look, chosen)
        _keep(core, known._replace(choice=choice))


def forget_choice(core: Core, cues: Mapping[str, str] | None) -> None:
    """Forget what was chosen last for the title that is on: these cues; None: all of it."""
    known = what_is_remembered(core)
    if known is None:
        return
    last = known.choice
    if cues is None:
        choice = NO_CHOICE
    else:
        choice = last._replace(cues=tuple(one for one in last.cues if one[0] not in cues))
    _keep(core, known._replace(choice=choice))


def choice_that_stands(core: Core) -> LastChoice:
    """Give what a person has taken over up to the end of the title that is on, as it stands now."""
    taken = core.override == "person" and core.override_until == "title"
    cues = ((one.cue, one.value) for one in core.cue_overrides if one.until == "title")
    return LastChoice(core.override_look if taken else None, tuple(cues))


def choose_again(tx: Transaction, choice: LastChoice) -> None:
    """Let a last choice stand again up to the title's end; what people have taken over goes first.

    A choice may be older than the room file: what that does not know is left out.
    """
    core, room = tx.core, tx.room
    look = _known_part(room, choice.look)
    if look is not None and core.override == "rules":
        take_over(tx, "title", None, look, "last_time")
        tx.set_timers(linger=tx.now + LOOKED_INTO)
    own = {one.cue for one in core.cue_overrides}
    cues = {
        name: value
        for name, value in choice.cues
        if name not in own and value in room.cues.get(name, ())
    }
    if cues:
        override_cues(tx, cues, "title", None, last_time=True)


def _known_part(room: Room, look: Show | None) -> Show | None:
    """Give the part of a look that the room knows; None where it knows nothing that was chosen."""
    if look is None:
        return None
    known = look._replace(
        picture=look.picture if look.picture in {*BUILT_IN_PICTURES, *room.pictures} else None,
        preset=look.preset if look.preset in room.presets else None,
        panels=look.panels if look.panels in room.panels else None,
    )
    return None if known == Show() != look else known


# ----------------------------------------------------------------------------------------- forget


def forget_titles(tx: Transaction, event: Forget) -> None:
    """Forget what was learnt of a title or series, or of all; what has begun is learnt anew."""
    core = tx.core
    names = {one.name for one in core.titles if event.name in (None, one.name)}
    if not names:
        what = "no title" if event.name is None else f"nothing by the name '{event.name}'"
        raise Refused("not_remembered", f"{what} is remembered: there is nothing to forget")
    known = what_is_remembered(core)
    if known is not None and known.name in names:
        _forget_what_is_on(tx, known)
    core.titles = tuple(one for one in core.titles if one.name not in names)
    core.left = tuple(_learnt_anew(one, names) for one in core.left)
    if core.interrupted is not None:
        core.interrupted = _learnt_anew(core.interrupted, names)


def _forget_what_is_on(tx: Transaction, known: RememberedTitle) -> None:
    """Let the title that is on go on without what it began with."""
    core = tx.core
    core.remembered, core.stood, core.longest = None, (), _latest(core.shapes)
    if core.stands is not None:
        core.stands = core.stands._replace(ms=tx.now)
    tx.set_timers(longest=None)
    if core.override_until == "title" and known.choice.look is not None:
        give_back(tx, "forgotten")
    chosen = {(cue, value, "title") for cue, value in known.choice.cues}
    drop_cue_overrides(tx, lambda one: (one.cue, one.value, one.until) in chosen)


def _learnt_anew(title: InterruptedTitle, names: set[str]) -> InterruptedTitle:
    """Give a title that was left without what it began with, where its name is one of these."""
    if (title.series or title.name) not in names:
        return title
    return title._replace(stood=(), longest=_latest(title.shapes), choice=NO_CHOICE)


def _latest(shapes: tuple[int, ...]) -> int | None:
    return shapes[-1] if shapes else None
