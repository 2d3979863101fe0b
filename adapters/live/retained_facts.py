"""Facts that a hub has retained or tells early: they come in any order, and of unknown age.

A source that is reported, a projector or a playback may undo what was heard before it: a title, or
what plays. Live that is right, for it has happened. Of retained facts nobody knows which came
first, so whatever could have been undone is entered once more.

What plays may be told a moment before the source that it is of, live as well: it counts as soon as
that source is shown, and is only refused if it is not shown soon.

A retained fact that has no date to tell its age, or the date of one that was heard before, may be
older than what is known. Panels or a lens that are said to stand otherwise may have been moved
since: then nobody knows how they stand. Of all else it is older if it says what was told before
something else was, or if something was told live over the same connection; then everything stays as
it stands, for the hub is asked. What a person has told since stands as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple, TypeVar

from adapters.live.messages import InboundMessage
from engine.events import (
    Event,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    milliseconds,
)
from engine.handlers import subject_of
from engine.prompts import PANELS
from engine.refusal import Refused
from engine.room import Room
from engine.state import State
from engine.told_words import is_told_before, says_what_stands, words_before

_Key = TypeVar("_Key")
_Fact = TypeVar("_Fact")
Undoable = Signal | Playback | Title
UNDOES: Final[dict[type[Event], tuple[type[Undoable], ...]]] = {
    ProjectorReport: (Playback, Title),
    SourceChosen: (Signal, Playback, Title),
    Playback: (Title,),
}
"""Which facts may undo others that came before them."""
OLDER_WORDS: Final = (
    "this retained message may be old: it has no 'at', or one that was heard before, and something "
    "was told since. Tell once more, live, how it is"
)
EARLY: Final = 5_000
"""For so many ms may a playback come before the source that it is of."""


class EarlyPlayback(NamedTuple):
    """A playback of a source that was not shown yet."""

    playback: Playback
    until: int
    """Up to when (ms UTC) it counts if that source is shown."""
    refusal: tuple[Refused, str]
    """Why it is refused otherwise, and the topic on which it came."""
    retained: bool


class FactsMark(NamedTuple):
    """What was kept at one moment, to go back to."""

    kept: dict[type[Event], Undoable]
    early: dict[str, EarlyPlayback]
    live: frozenset[str]


class RetainedFacts:
    """What one connection has brought of facts that others may undo."""

    def __init__(self, state: State) -> None:
        """Begin with what the room knows by now."""
        self._before: frozenset[str] = words_before(state)
        """What was told before something else was, up to this connection."""
        self._live: frozenset[str] = frozenset()
        """The subjects of what has come live over this connection."""
        self._kept: dict[type[Event], Undoable] = {}
        self._early: dict[str, EarlyPlayback] = {}
        """By the source; one that the room does not have is refused at once."""

    def clear(self, state: State) -> None:
        """Forget what was retained: another connection brings its own."""
        self._before, self._live, self._kept = words_before(state), frozenset(), {}
        live = {source: one for source, one in self._early.items() if not one.retained}
        self._early = live

    def mark(self) -> FactsMark:
        """Remember what is kept, for `go_back`; what is kept is replaced and never changed."""
        return FactsMark(self._kept, self._early, self._live)

    def go_back(self, mark: FactsMark) -> None:
        """Keep what was kept before: what came since could not be written down."""
        self._kept, self._early, self._live = mark

    def believed(
        self, event: Event, message: InboundMessage, room: Room, state: State, now: int
    ) -> Event | None:
        """Give a fact as far as it can be believed; raises `Refused` for what is older.

        None: it may be older, but says what is known already.

        A date that lies ahead of `now` (ms UTC) tells no age, unless it came live before.
        """
        subject = subject_of(event)
        if not (message.retained and message.payload):  # nobody keeps what empties a topic
            if subject not in self._live:
                self._live |= {subject}
        elif not _tells_age(event, state, now):
            if subject in self._live or self._is_older(event, room, state):
                if says_what_stands(room, state.core, event):
                    return None
                raise Refused("stale", OLDER_WORDS)
            if isinstance(event, PanelReport):
                return _panels_believed(event, state)
            return _lens_believed(event, state) if isinstance(event, LensReport) else event
        return event

    def _is_older(self, event: Event, room: Room, state: State) -> bool:
        """Tell whether a fact was told before something else was, or before a person's word."""
        dated = subject_of(event) in dict(state.tally.heard)
        by_person = isinstance(event, ToldFact) and event.at is None and dated
        return by_person or is_told_before(room, state.core, self._before, event)

    def that_follow(
        self, event: Event, now: int, *, retained: bool, taken: bool
    ) -> Iterator[Event]:
        """Yield what is to be entered once more after a fact that came at `now` (ms UTC).

        A live fact is newer than what was retained of its kind. What was not taken has undone
        nothing, so nothing follows from it.
        """
        if isinstance(event, Undoable):
            self._keep(event, retained=retained)
        if not taken:
            return
        if isinstance(event, SourceChosen):
            early = self._early.get(event.source)
            self._early = _without(self._early, event.source)
            if early is not None and now < early.until:
                self._kept = {**self._kept, Playback: early.playback}
            if not retained:
                kept = self._kept.get(Playback)
                self._kept = _without(self._kept, Playback)
                if isinstance(kept, Playback) and kept.source == event.source:
                    yield kept
        for kind in UNDOES.get(type(event), ()) if retained else ():
            if kind in self._kept:
                yield self._kept[kind]

    def _keep(self, event: Undoable, *, retained: bool) -> None:
        """Keep a fact without its id, by which it would count but once."""
        if retained:
            self._kept = {**self._kept, type(event): replace(event, id=None)}
        else:
            self._kept = _without(self._kept, type(event))

    # ------------------------------------------------------------------------- told too early

    def waits(self, event: Event, refused: Refused, message: InboundMessage, now: int) -> bool:
        """Keep a playback that came before its source; False: it is refused for another reason."""
        if not isinstance(event, Playback) or event.source is None or refused.code != "not_shown":
            return False
        early = EarlyPlayback(
            *(replace(event, id=None), now + EARLY),
            *((refused, message.subtopic), message.retained),
        )
        self._early = {**self._early, event.source: early}
        return True

    @property
    def deadline(self) -> int | None:
        """When what waits for its source is refused, in ms UTC; None: nothing waits."""
        if not self._early:
            return None  # nearly always, and asked after every message
        return min(one.until for one in self._early.values())

    def overdue(self, now: int) -> list[EarlyPlayback]:
        """Give what has waited in vain up to `now`, and is refused."""
        over = [one for one in self._early.values() if one.until <= now]
        self._early = {source: one for source, one in self._early.items() if one.until > now}
        return over

    def follow_clock(self, by: int) -> None:
        """Let what waits wait for as long as before: the clock was set by so many ms."""
        self._early = {
            source: one._replace(until=one.until + by) for source, one in self._early.items()
        }


def _without(kept: dict[_Key, _Fact], key: _Key) -> dict[_Key, _Fact]:
    return {one: value for one, value in kept.items() if one != key}


def _tells_age(event: Event, state: State, now: int) -> bool:
    """Tell whether a fact's date tells its age; one that was heard before does not."""
    if event.at is None:
        return False
    dated, subject, heard = milliseconds(event.at), subject_of(event), dict(state.tally.heard)
    ahead = {(one.subject, one.dated): one.heard for one in state.tally.ahead}
    if dated > now and (subject, dated) not in ahead:
        return False
    if any(one == subject and dated < later for one, later in ahead):
        return False  # By a clock that is fast something later was told.
    return heard.get(subject) != ahead.get((subject, dated), dated)


def _panels_believed(report: PanelReport, state: State) -> PanelReport:
    """Take panels as unknown that stood otherwise, or of which somebody has told since."""
    stands = state.core.arrangement
    known = stands is not None or PANELS in dict(state.tally.heard)
    return replace(report, panels=None) if known and report.panels != stands else report


def _lens_believed(report: LensReport, state: State) -> LensReport:
    """Take a lens as unknown that rested elsewhere, or that has moved since it was first heard of.

    A lens that is on its way goes on: its own report is still to come.
    """
    core, tally = state.core, state.tally
    stands = core.preset if core.lens == "resting" else None
    known = core.lens != "unknown" or bool(tally.travels) or "lens" in dict(tally.heard)
    return (
        replace(report, preset=None, known=False) if known and report.preset != stands else report
    )
