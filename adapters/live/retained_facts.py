"""Facts that a hub has retained or tells early: they come in any order, and of unknown age.

A source that is reported, a projector or a playback may undo what was heard before it: a title, or
what plays. Live that is right, for it has happened, unless the dates say that it came first: a hub
that tells everything may do so in any order. Of retained facts nobody knows which came first. So
whatever should not have been undone is entered once more.

What plays may be told a moment before the source that it is of, live as well: it counts as soon as
that source is shown, and is only refused if it is not shown soon.

A retained fact that is dated is older than what is known if of its subject something was told that
is so since a later moment. One that has no date to tell its age, or the date of one that was heard
before, may be older. Panels or a lens that are said to stand otherwise may have been moved since:
then nobody knows how they stand. Of all else it is older if it says what was told before something
else was, or if something was told live over the same connection. What is older changes nothing, for
the hub is asked. What a person has told since stands as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple, TypeVar

from adapters.live.announcements import NotTaken
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
    moment_of,
)
from engine.handlers import subject_of
from engine.prompts import PANELS
from engine.refusal import Refused
from engine.room import Room
from engine.state import State
from engine.told_words import (
    is_told_before,
    last_told,
    says_what_stands,
    was_told,
    words_before,
)

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
    "this retained message may be old: it has no 'at', or one that is no later than what was told "
    "since. Tell once more, live, how it is"
)
EARLY: Final = 5_000
"""For so many ms may a playback come before the source that it is of."""


class EarlyPlayback(NamedTuple):
    """A playback of a source that was not shown yet."""

    playback: Playback
    until: int
    """Up to when (ms UTC) it counts if that source is shown."""
    refusal: NotTaken
    """Why it is refused otherwise."""
    retained: bool


class KeptFact(NamedTuple):
    """A fact that others may undo which come after it, without its id: it would count but once."""

    fact: Undoable
    retained: bool
    """Whether it was retained, or waited for its source; else it came live, with a date."""

    def survives(self, event: Event, now: int, *, retained: bool) -> bool:
        """Tell whether it stands though `event`, which may undo it, came after it, at `now`.

        A date that lies ahead of `now` (ms UTC) is by a clock that nobody can compare.
        """
        fact, source = self.fact, event.source if isinstance(event, SourceChosen) else None
        if isinstance(fact, Playback) and source is not None and fact.source is not None:
            return fact.source == source
        if self.retained:
            return retained
        if fact.at is None or event.at is None:
            return False
        return event.at <= fact.at <= moment_of(now)


FactsMark = tuple[
    frozenset[str],
    frozenset[str],
    dict[type[Event], KeptFact],
    dict[str, EarlyPlayback],
    str | None,
]
"""What was kept at one moment, to go back to."""


class RetainedFacts:
    """What one connection has brought of facts that others may undo."""

    def __init__(self, state: State) -> None:
        """Begin with what the room knows by now."""
        self._before: frozenset[str] = words_before(state)
        """What was told before something else was, up to this connection."""
        self._live: frozenset[str] = frozenset()
        """The subjects of what has come live over this connection, and was taken."""
        self._kept: dict[type[Event], KeptFact] = {}
        self._early: dict[str, EarlyPlayback] = {}
        """By the source; one that the room does not have is refused at once."""
        self._doubted: str | None = ""
        """The source that was known to be shown when the hub was last asked about it; "": never."""

    def clear(self, state: State) -> None:
        """Forget what was retained: another connection brings its own, or the room begins anew."""
        self._before, self._live, self._kept = words_before(state), frozenset(), {}
        live = {source: one for source, one in self._early.items() if not one.retained}
        self._early = live

    def mark(self) -> FactsMark:
        """Remember what is kept, for `go_back`; what is kept is replaced and never changed."""
        return self._before, self._live, self._kept, self._early, self._doubted

    def go_back(self, mark: FactsMark) -> None:
        """Keep what was kept before: what came since could not be written down."""
        self._before, self._live, self._kept, self._early, self._doubted = mark

    def believed(self, event: Event, room: Room, state: State, now: int) -> Event | None:
        """Give a retained fact as far as it can be believed; raises `Refused` for what is older.

        None: it may be older, but says what is known already.

        A date that lies ahead of `now` (ms UTC) tells no age, unless it came live before.
        """
        since = _since(event, state, now)
        if since is None:
            older = self._may_be_older(event, room, state)
        else:
            older = since < last_told(state.tally, subject_of(event))
        if older and not says_what_stands(room, state.core, event):
            raise Refused("stale", OLDER_WORDS)
        if older:
            return None
        if since is None and isinstance(event, PanelReport):
            return _panels_believed(event, state)
        if since is None and isinstance(event, LensReport):
            return _lens_believed(event, state)
        return event

    def _may_be_older(self, event: Event, room: Room, state: State) -> bool:
        """Tell whether a fact was told before something else was, or before a person's word."""
        subject = subject_of(event)
        dated = state.tally.heard_of(subject) is not None
        by_person = isinstance(event, ToldFact) and event.at is None and dated
        told_since = subject in self._live or by_person
        return told_since or is_told_before(room, state.core, self._before, event)

    def that_follow(
        self, event: Event, now: int, *, retained: bool, taken: bool
    ) -> Iterator[Event]:
        """Yield what is to be entered once more after a fact that came at `now` (ms UTC).

        A live fact is newer than what was retained of its kind. What was not taken has undone
        nothing, so nothing follows from it; but what was retained may come before its source.
        """
        if isinstance(event, Undoable) and (retained or taken):
            self._keep(event, retained=retained)
        if not taken:
            return
        if not retained:
            self._note_live(event)
        if isinstance(event, SourceChosen):
            self._take_early(event.source, now)
        kept = self._kept
        if isinstance(event, SourceChosen) and not retained:
            self._kept = _without(kept, Playback)
        for kind in UNDOES.get(type(event), ()):
            if kind in kept and kept[kind].survives(event, now, retained=retained):
                yield kept[kind].fact

    def forget_undone(self, event: Event, room: Room, state: State) -> None:
        """Forget what came live with a date and stands no longer after `event`, nor once more.

        It was undone for good: nothing that is dated before it may bring it back.
        """
        for kind in UNDOES.get(type(event), ()):
            kept = self._kept.get(kind)
            if kept and not kept.retained and not says_what_stands(room, state.core, kept.fact):
                self._kept = _without(self._kept, kind)

    def _note_live(self, event: Event) -> None:
        """Note that a fact came live, and was taken."""
        subject = subject_of(event)
        if subject not in self._live:
            self._live |= {subject}

    def _keep(self, event: Undoable, *, retained: bool) -> None:
        """Keep a fact that others may undo; live it is newer than what was retained of its kind."""
        if retained or event.at is not None:
            fact = KeptFact(replace(event, id=None), retained)
            self._kept = {**self._kept, type(event): fact}
        else:
            self._kept = _without(self._kept, type(event))

    # ------------------------------------------------------------------------- told too early

    def waits(self, event: Event, refused: Refused, message: InboundMessage, now: int) -> bool:
        """Keep a playback that came before its source; False: it is refused for another reason.

        One that was retained never takes the place of one that came live.
        """
        if not isinstance(event, Playback) or event.source is None or refused.code != "not_shown":
            return False
        waiting = self._early.get(event.source)
        if message.is_kept and waiting is not None and not waiting.retained:
            return False
        early = EarlyPlayback(
            *(replace(event, id=None), now + EARLY),
            *(NotTaken(refused, message.subtopic, event.id), message.is_kept),
        )
        self._early = {**self._early, event.source: early}
        return True

    def _take_early(self, source: str, now: int) -> None:
        """Let a playback that has waited for its source follow it, if it is in time."""
        early = self._early.get(source)
        self._early = _without(self._early, source)
        if early is not None and now < early.until:
            self._kept = {**self._kept, Playback: KeptFact(early.playback, retained=True)}
            if not early.retained:
                self._note_live(early.playback)

    @property
    def deadline(self) -> int | None:
        """When what waits for its source is refused, in ms UTC; None: nothing waits."""
        if not self._early:
            return None  # nearly always, and asked after every message
        return min(one.until for one in self._early.values())

    def refuse_early(self, shown: str | None, now: int) -> tuple[list[NotTaken], bool]:
        """Refuse what has waited in vain up to `now`; tells whether the hub is to be asked.

        A broker that drops messages tells nobody, so a word of the source that is `shown` may be
        lost. But a hub may speak for players that nobody sees, and is asked once for each source.
        """
        over = [one for one in self._early.values() if one.until <= now]
        self._early = {source: one for source, one in self._early.items() if one.until > now}
        plays = any(one.playback.state == "playing" for one in over)
        doubts = plays and self._doubted != shown
        if doubts:
            self._doubted = shown
        return [one.refusal for one in over], doubts

    def follow_clock(self, by: int) -> None:
        """Let what waits wait for as long as before: the clock was set by so many ms."""
        self._early = {
            source: one._replace(until=one.until + by) for source, one in self._early.items()
        }


def _without(kept: dict[_Key, _Fact], key: _Key) -> dict[_Key, _Fact]:
    return {one: value for one, value in kept.items() if one != key}


def _since(event: Event, state: State, now: int) -> int | None:
    """Say since when a fact is so, if its date tells it; one that was heard before does not."""
    if event.at is None:
        return None
    dated, subject = milliseconds(event.at), subject_of(event)
    ahead = {(one.subject, one.dated): one.heard for one in state.tally.ahead}
    if dated > now and (subject, dated) not in ahead:
        return None
    if any(one == subject and dated < later for one, later in ahead):
        return None  # By a clock that is fast something later was told.
    since = ahead.get((subject, dated), dated)
    return None if state.tally.heard_of(subject) == since else since


def _panels_believed(report: PanelReport, state: State) -> PanelReport:
    """Take panels as unknown that stood otherwise, or of which somebody has told since."""
    stands = state.core.arrangement
    known = stands is not None or was_told(state, PANELS)
    return replace(report, panels=None) if known and report.panels != stands else report


def _lens_believed(report: LensReport, state: State) -> LensReport:
    """Take a lens as unknown that rested elsewhere, or that has moved since it was first heard of.

    A lens that is on its way goes on: its own report is still to come.
    """
    core = state.core
    stands = core.preset if core.lens == "resting" else None
    known = core.lens != "unknown" or bool(state.tally.travels) or was_told(state, "lens")
    doubtful = known and (core.lens == "travelling" or report.preset != stands)
    return replace(report, preset=None, known=False) if doubtful else report
