"""Whether a retained message only says once more what was told before something else was.

Without a date that tells otherwise it is older than what stands: the broker may have kept it all
the time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.events import (
    Playback,
    ProjectorReport,
    Service,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
)
from engine.state import TELLS, TOLD_WORD

if TYPE_CHECKING:
    from engine.events import Event
    from engine.room import Room
    from engine.state import Core, State, Tally

_SERVICE: Final = f"service{TELLS}"


def words_before(state: State) -> frozenset[str]:
    """Give what was told before something else was: it stands no longer.

    A room that has begun anew under another file knows nothing but whether somebody is at work:
    what was told before may stand as well as not, and is all that is known.
    """
    core = state.core
    words = frozenset(dict(state.tally.heard)) - _standing(core)
    if core.source is None and core.projector == "unknown":
        return frozenset(one for one in words if one.startswith(_SERVICE))
    return words


def without_words(tally: Tally) -> Tally:
    """Forget what was told, as for a night that names no titles."""
    heard = tuple(one for one in tally.heard if TELLS not in one[0])
    return tally._replace(heard=heard)


def is_told_before(room: Room, core: Core, before: frozenset[str], event: Event) -> bool:
    """Tell whether a fact says what was told `before` something else was."""
    if isinstance(event, Playback) and event.source is None:
        sources = (None, *room.sources)
        return any(_told_word("playback", event.state, one) in before for one in sources)
    return _word_of(room, core, event) in before


def says_what_stands(room: Room, core: Core, event: Event) -> bool:
    """Tell whether a fact says no more than what is known already."""
    if isinstance(event, Playback) and event.source is None:
        return event.state == core.playback
    if isinstance(event, Title) and event.begun and event.name is None:
        return core.title
    if isinstance(event, ToldFact) and event.fact in room.told:
        return dict(core.told).get(event.fact) == _value_of(room, event)
    return _word_of(room, core, event) in _standing(core)


def _told_word(subject: str, *what: str | bool | int | None) -> str:
    """Give the word that `Transaction.note_told` has for it."""
    return TOLD_WORD.format(subject, what)


def _value_of(room: Room, event: ToldFact) -> str | bool | int | None:
    """Give what a fact is told to be, which is its default where nothing is told."""
    return room.told[event.fact].default if event.value is None else event.value


def _word_of(room: Room, core: Core, event: Event) -> str | None:
    """Give what an event tells; None: nothing that is compared."""
    word: str | None = None
    match event:
        case SourceChosen():
            word = _told_word("source", event.source)
        case Playback():
            word = _told_word("playback", event.state, event.source)
        case Title():
            word = _told_word("title", event.begun, event.name if event.begun else None)
        case ToldFact() if event.fact in room.told:
            word = _told_word(f"told {event.fact}", _value_of(room, event))
        case Signal():
            raster = event.columns or core.columns, event.rows or core.rows
            three_d = core.three_d if event.three_d is None else event.three_d
            more = *raster, event.range or core.range, bool(three_d)
            word = _told_word("signal", event.locked, *(more if event.locked else ()))
        case ProjectorReport():
            word = _told_word("projector", event.state)
        case Service():
            word = _told_word("service", event.begun)
    return word


def _standing(core: Core) -> frozenset[str]:
    """Give what stands of all that is told."""
    signal = (core.columns, core.rows, core.range, bool(core.three_d))
    one_each = (
        _told_word("projector", core.projector),
        _told_word("service", core.service),
        _told_word("source", core.source),
        _told_word("playback", core.playback, core.source),
        _told_word("title", core.title, core.title_name),
        _told_word("signal", core.locked, *(signal if core.locked else ())),
    )
    facts = (_told_word(f"told {fact}", value) for fact, value in core.told)
    return frozenset((*one_each, *facts))
