"""Whether a retained message is older than what was told since.

Without a date that tells otherwise it is, if it only says once more what was told before something
else was: the broker may have kept it all the time. With a date it is, if anything was told of its
subject that is so since a later moment.
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
from engine.state import TELLS, TOLD_WORD, LastHeard

if TYPE_CHECKING:
    from engine.events import Event
    from engine.room import Room
    from engine.state import Core, State, Tally

_SERVICE: Final = f"service{TELLS}"
_FACT: Final = "told "
"""How the subject of a told fact begins (`handlers.subject_of`)."""
LONG_AGO: Final = 0
"""Since when is so what was told before the room began anew (ms UTC)."""


def words_before(state: State) -> frozenset[str]:
    """Give what was told before something else was: it stands no longer."""
    words = [(one, when) for one, when, _ in state.tally.heard if TELLS in one]
    told_since = {_subject(one) for one, when in words if when > LONG_AGO}
    return frozenset(one for one, _ in words if _subject(one) in told_since) - _standing(state.core)


def last_told(tally: Tally, subject: str) -> int:
    """Say since when the latest is so that was told of a subject (ms UTC); 0: nothing was."""
    words = tally.heard[tally.words_of(subject)]
    return max((one.when for one in words), default=LONG_AGO)


def was_told(state: State, subject: str) -> bool:
    """Tell whether anybody has told of a subject: in doubt it stays, however often it is asked."""
    tally = state.tally
    return tally.heard_of(subject) is not None or bool(tally.heard[tally.words_of(subject)])


def begun_anew(tally: Tally) -> Tally:
    """Give the tally of a room that begins anew, and knows but whether somebody is at work.

    What was told before may stand as well as not, and is all that is known: it is old only once
    something is told of the same subject. So is a person's word of a fact.
    """
    heard = (
        LastHeard(one.subject, LONG_AGO) if _begins_anew(one.subject) else one
        for one in tally.heard
        if TELLS in one.subject or not one.subject.startswith(_FACT)
    )
    return tally._replace(heard=tuple(heard))


def _begins_anew(subject: str) -> bool:
    """Tell whether something is a word that may stand as well as not once a room begins anew."""
    return TELLS in subject and not subject.startswith(_SERVICE)


def without_words(tally: Tally) -> Tally:
    """Forget what was told, as for a night that names no titles."""
    heard = tuple(one for one in tally.heard if TELLS not in one.subject)
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
        return dict(core.told).get(event.fact) == room.told[event.fact].value_told(event.value)
    return _word_of(room, core, event) in _standing(core)


def _told_word(subject: str, *what: str | bool | int | None) -> str:
    """Give the word that `Transaction.note_told` has for it."""
    return TOLD_WORD.format(subject, what)


def _subject(word: str) -> str:
    """Say what a word is about."""
    return word.partition(TELLS)[0]


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
            value = room.told[event.fact].value_told(event.value)
            word = _told_word(f"{_FACT}{event.fact}", value)
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
    facts = (_told_word(f"{_FACT}{fact}", value) for fact, value in core.told)
    return frozenset((*one_each, *facts))
