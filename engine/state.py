"""Everything the engine remembers.

A `State` has three parts. `core` is what decisions depend on and is finite in shape but for its
timers; a step works on a copy of it, and nobody changes one that is in a State. `settling` belongs
to the filter of the readings and changes most often. `tally` only ever counts up (ids, travels,
what was heard when): decisions see of it no more than the recalls left, which the core keeps.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, fields
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

from engine import settle
from engine.aspect import WIDE_FRAME
from engine.events import LightRange, PlaybackState, ProjectorState
from engine.holds import HoldCode
from engine.optics import Rect
from engine.room import PLAIN, Look, Show
from engine.title_records import Detour, InterruptedTitle, RememberedTitle, StoodShape
from engine.transition_table import LensState, OverrideState, PanelsState

if TYPE_CHECKING:
    from engine.room import Room


OverrideUntil = Literal["title", "session", "time", "arrival"]
"""How long a person keeps the room: to the title's end, the session's, or a moment they named; or
until a lens that they wanted found has arrived."""
TravelOwner = Literal["ours", "by hand"]
"""Whether a travel was ordered by us, or somebody has sent the lens off."""
RefusalUntil = Literal["title", "session"]
"""How long nobody is asked for panels: until another title begins, or the session ends."""

NOTHING_WANTED: Final = Look(PLAIN, 0, None, None)
THE_LOOK: Final = ""
"""Stands for the look among the names of cues."""


class Timers(NamedTuple):
    """When each timer falls due, in ms UTC; of those due at once the first one here goes first."""

    travel: int | None = None
    """The lens should have arrived."""
    picture: int | None = None
    """The picture order has had its time."""
    retry: int | None = None
    """A picture that failed is ordered again."""
    cue: int | None = None
    """The oldest open cue order has had its time."""
    remind: int | None = None
    give_up: int | None = None
    pause: int | None = None
    """The pause counts as a stop."""
    first_minutes: int | None = None
    """The title's first minutes are over; they run in playing time."""
    shape: int | None = None
    """The shape has stood for so long that it is the title's own."""
    longest: int | None = None
    """The shape that stands now will have stood longer than any other of this title."""
    lines: int | None = None
    """No line has come for long, so the title's subtitles are over."""
    linger: int | None = None
    """The wish for a travel has stood long enough."""
    linger_people: int | None = None
    """The wish for panels has stood long enough for people to be asked."""
    override: int | None = None
    cue_wait: int | None = None
    """The wish for cues that wait has stood long enough."""
    cue_override: int | None = None
    """The first of the cues that are overridden up to a moment is the rules' again."""
    session: int | None = None
    echo: int | None = None
    """Until then an equal travel report without an id is the same travel."""
    unseen: int | None = None
    """Until then a report of the lens may tell of what happened while nobody looked."""
    flash: int | None = None
    """Until then no large change of the picture follows the last one."""

    def next(self) -> int | None:
        """Say when the first of them falls due."""
        return min([due for due in self if due is not None], default=None)


NO_TIMERS: Final = Timers()


class OrderedPicture(NamedTuple):
    """A picture as it was ordered, with the region it lights."""

    picture: str
    aspect: int
    lift: int
    region: Rect


class OpenCue(NamedTuple):
    """An open order for a cue."""

    id: int
    cue: str
    value: str
    ends: int


class CueOverride(NamedTuple):
    """A cue that a person has set for a while."""

    cue: str
    value: str
    until: OverrideUntil
    ends: int | None
    """The moment they named, ms UTC."""


class ParkedReading(NamedTuple):
    """The latest reading while readings do not count; it takes effect once they do."""

    reading: settle.BarReading | int | None
    frame: int | None = None
    """The coded frame that a format code has told meanwhile."""


class UnheededWord(NamedTuple):
    """What a detector says of the shape while the format code is believed."""

    ratio: int
    """What it says now, in 1/10,000."""
    agreed: bool
    """Whether that has been the code's shape as well at some moment of this title."""


class PendingPrompt(NamedTuple):
    """An open prompt."""

    id: int
    panels: str
    at_screen: bool = False
    """Somebody is on the way there, or there."""
    sent: bool = False
    """They have been told what to do, for the picture is dark."""
    who: str | None = None
    """Who is there, where they said so."""
    latest: int = 0
    """When it ends at the latest, ms UTC, however much more time somebody wants."""


class Travels(NamedTuple):
    """Travels to one preset ("" for a place that is none)."""

    preset: str
    ordered: int
    by_hand: int
    unconfirmed: int
    """How many of the ordered ones nobody has reported."""


class PastPrompt(NamedTuple):
    """What a prompt asked for."""

    id: int
    panels: str | None
    """None once somebody has said that it is done."""


class DatedAhead(NamedTuple):
    """A report dated ahead of the room's clock: told again, it is no newer than when it came."""

    subject: str
    dated: int
    """Since when it is so, by the clock of whoever tells it, ms UTC."""
    heard: int
    """When it first came, ms UTC."""


class LastHeard(NamedTuple):
    """What was heard of: a subject, or a word that was told of it."""

    subject: str
    when: int
    """Since when it is so, ms UTC."""
    ours: bool = False
    """Whether that moment is by the room's clock, and so moves along where the clock is set; else
    it is the date that a hub gave."""


TELLS: Final = ": "
"""Stands between a subject and what was told of it, in `Tally.heard`."""
_AFTER_WORDS: Final = TELLS + "\uffff"
"""With it in place of `TELLS`, what comes after all words of a subject."""
TOLD_WORD: Final = f"{{}}{TELLS}{{}}"
"""The word that is kept there: a subject, and what was told of it (a tuple)."""
IDS_OF_EPOCH: Final = 1_000_000
"""How many ids of orders and prompts lie between the first one of a journal and that of another."""


class Tally(NamedTuple):
    """Counts, and what was heard and asked; the wanted look never depends on them."""

    serial: int = 0
    """The last number given to an order or a prompt; it begins with the journal's epoch."""
    seen: tuple[str, ...] = ()
    """Ids of the latest events that carried one."""
    heard: tuple[LastHeard, ...] = ()
    """For each subject, when the newest report of it was true; and when what was last told of it
    (`TELLS`), by which a retained message is known to be older. Sorted by what it is about."""
    travels: tuple[Travels, ...] = ()
    tonight: int = 0
    """Travels of this night."""
    prompts: tuple[PastPrompt, ...] = ()
    """The latest prompts, for answers that come late."""
    failed_cues: tuple[str, ...] = ()
    """Cues whose latest order failed: they are taken as set, but nobody knows how they stand."""
    arrived: int | None = None
    """The latest order of ours by which the lens has arrived."""
    moved: int | None = None
    """When something moved that `Core.undo` would put back (ms UTC)."""
    moved_by: OverrideState = "rules"
    """Who had the room then, and so let it move; `moved_who` is their name, if they gave one."""
    moved_who: str | None = None
    taken_by: str | None = None
    """Who has taken the room over, by the name that they gave."""
    chosen_last: tuple[str, ...] = ()
    """What is wanted only because a person chose it the last time: cues by name, and `THE_LOOK`.
    It changes no decision, only the reason that a decision gives."""
    ahead: tuple[DatedAhead, ...] = ()
    """The latest report of each subject that was dated ahead of the clock."""

    def with_heard(self, subject: str, when: int, *, ours: bool) -> Tally:
        """Note that the newest report of a subject, or a word, was true at a moment (ms UTC).

        `ours` says whether that moment is by the room's clock.
        """
        heard = self.heard
        at = after = bisect_left(heard, (subject,))
        if at < len(heard) and heard[at].subject == subject:
            if heard[at].when >= when:
                return self  # It is no older for being told otherwise.
            after += 1
        return self._replace(heard=(*heard[:at], LastHeard(subject, when, ours), *heard[after:]))

    def heard_of(self, subject: str) -> int | None:
        """Say when the newest report of a subject was true (ms UTC); None: there was none."""
        at = bisect_left(self.heard, (subject,))
        known = at < len(self.heard) and self.heard[at].subject == subject
        return self.heard[at].when if known else None

    def words_of(self, subject: str) -> slice:
        """Say where in `heard` the words of a subject stand."""
        first = bisect_left(self.heard, (subject + TELLS,))
        return slice(first, bisect_left(self.heard, (subject + _AFTER_WORDS,), first))


@dataclass(slots=True)
class Core:
    """What decisions depend on; the transition table changes its lens, panels and override."""

    # What has been reported.
    projector: ProjectorState | Literal["unknown"] = "unknown"
    service: bool = False
    source: str | None = None
    playback: PlaybackState = "unknown"
    pause_over: bool = False
    """It is paused, but has been for so long that it counts as stopped."""
    parked: ParkedReading | None = None
    """While readings do not count: the one that holds."""
    locked: bool = True
    frame: int = WIDE_FRAME
    """The coded frame's ratio."""
    columns: int | None = None
    rows: int | None = None
    range: LightRange | None = None
    three_d: bool | None = None
    minute: int | None = None
    apart: int = 0
    """How far the room's clock is from UTC, ms; where nobody tells the time nights turn by UTC."""
    night: int | None = None
    """When a night's recalls were last granted, ms UTC."""
    told: tuple[tuple[str, str | bool | int], ...] = ()
    # The title that is on.
    title: bool = False
    title_name: str | None = None
    series: str | None = None
    """What the title belongs to; it is remembered by that, or else by its own name."""
    declared: int | None = None
    shapes: tuple[int, ...] = ()
    """The different shapes this title has had, oldest first, at most four."""
    seen_in: tuple[int, int] | None = None
    """The raster, columns and rows, in which the latest of them settled."""
    detour: Detour | None = None
    stood: tuple[StoodShape, ...] = ()
    """How long each shape of this title has stood while it played, at most four."""
    stands: StoodShape | None = None
    """The shape that stands while the title plays, and since when (ms UTC)."""
    longest: int | None = None
    """The shape that has stood longest: the title's own, unless it is told or remembered."""
    remembered: int | None = None
    """The shape in which the title is remembered, until another one has stood longer."""
    first_left: int = 0
    """What is left of the title's first minutes, in ms, while a pause or doubt holds them."""
    turns: int = 0
    """How often its shape has changed in its first minutes, as far as that matters."""
    varies: bool = False
    tallest: int | None = None
    subtitles: bool = False
    """Whether lines come again and again in the bar below the picture."""
    detected: bool = False
    """Whether a detector has been heard of this source and signal."""
    coded: int | None = None
    """The ratio that the latest format code names."""
    unheeded: UnheededWord | None = None
    """What a detector says that is not believed, as the code has the first word."""
    doubt: int | None = None
    """Since when the readings have not shown the settled shape, ms UTC, once that has lasted."""
    line: int | None = None
    """When a line was last seen (ms UTC); of several within a few seconds, the first."""
    interrupted: InterruptedTitle | None = None
    left: tuple[InterruptedTitle, ...] = ()
    """Titles that were left on other sources, the latest last."""
    titles: tuple[RememberedTitle, ...] = ()
    """What is remembered of titles and series, the latest last."""
    # Lens, panels, override: states of `engine.transition_table`, and what goes with them.
    lens: LensState = "unknown"
    preset: str | None = None
    """Where the lens rests or, travelling, where it goes."""
    origin: str | None = None
    """Where it set off."""
    recall: int | None = None
    """Our open order for the travel under way; None: somebody sent it off by hand."""
    set_off: bool = False
    """Whether the lens has been reported on its way, or where that led, since our order."""
    put_back: tuple[tuple[str, int], ...] = ()
    """Sources and shapes for which somebody has put the lens back: it is left this session."""
    missed: str | None = None
    """Where an order should have led that ended elsewhere: the lens has one more try at it."""
    echo: str | None = None
    """Where the latest travel went, for as long as reports of it may still come."""
    awaited: TravelOwner | None = None
    """Whose that travel is, until the lens is heard to have ended it, or its time for that is over:
    its order may be closed before, and it may have been counted."""
    panels: PanelsState = "still"
    arrangement: str | None = None
    """How the panels stand; None: not known, which counts as all of them fitted."""
    asked: PendingPrompt | None = None
    refused_until: RefusalUntil = "session"
    """How long a refusal lasts, where there is one."""
    override: OverrideState = "rules"
    override_until: OverrideUntil = "session"
    override_look: Show | None = None
    undo: Show | None = None
    """What stood before the last order of ours that moved something, and may be put back."""
    # What we want and what we have ordered.
    row: int | None = None
    """The row of the table that chose; -1 the default, None nothing yet."""
    title_row: int | None = None
    """The row that chose preset and panels, by the title's own shape; numbered likewise."""
    wanted: Look = NOTHING_WANTED
    violated: bool = False
    """Whether the table was violated when it last chose."""
    ripe: bool = False
    """Whether the wish for a travel or a panel has stood long enough."""
    shown: OrderedPicture | None = None
    """The picture as it was last ordered; None: nobody knows what stands."""
    picture: int | None = None
    """Our open order for it: what stood before may still stand."""
    failed: bool = False
    """Whether that order failed: given again after a while, twice, or once something changes."""
    tries: int = 0
    """How often it has been given again since."""
    unreached: str | None = None
    """A preset that was refused or never reached: likewise."""
    cues: tuple[tuple[str, str], ...] = ()
    open_cues: tuple[OpenCue, ...] = ()
    cue_wish: tuple[tuple[str, str], ...] = ()
    """Cues of a row that wait until the wish for them has stood long enough."""
    cue_overrides: tuple[CueOverride, ...] = ()
    """The cues that people have set, by name."""
    left_title: int = 0
    back_to: str | None = None
    """Where the lens was before the title's last recall: another one only goes back there."""
    left_night: int = 0
    sent_in_vain: int = 0
    """For how many titles in a row the lens was sent that were over in their first minutes."""
    news: tuple[str | bool | int | None, ...] = ()
    """The outside facts that the rules last saw; with new ones the next two begin anew."""
    recalls: int = 0
    asks: int = 0
    """What the rules have led to since: more than `ONCE_AND_BACK` of either is a circle."""
    holds: tuple[HoldCode, ...] = ()
    """The codes of what keeps the wanted look from being ordered."""
    timers: Timers = NO_TIMERS

    def copy(self) -> Core:
        """Give a copy to work on."""
        return Core(*_values(self))

    def __reduce__(self) -> tuple[type[Core], tuple[Any, ...]]:
        """Travel between processes as bare values: a proof sends thousands."""
        return Core, _values(self)


_values = attrgetter(*(field.name for field in fields(Core)))


class State(NamedTuple):
    """The whole of it, with the next moment at which something falls due."""

    core: Core
    settling: settle.Settling
    tally: Tally
    due: int | None
    """The earliest of the core's timers."""


def first_state(room: Room) -> State:
    """Say what is known of a room before anything has been heard."""
    told = {name: fact.default for name, fact in room.told.items() if fact.default is not None}
    core = Core(
        arrangement=next(iter(room.panels)) if len(room.panels) == 1 else None,
        told=tuple(sorted(told.items())),
        left_title=room.pace.per_title,
        left_night=room.pace.per_night,
    )
    return State(core, settle.UNSETTLED, Tally(), None)


DAY: Final = 86_400_000


def night_at(core: Core, now: int) -> int:
    """Count the noons of the room's clock up to `now` (ms UTC): a night runs from one to the next.

    Every moment is read off the clock as it is set now.
    """
    return (now + core.apart - DAY // 2) // DAY


def next_deadline(state: State) -> int | None:
    """Say when `step` has something to do even if nothing is heard, in ms UTC."""
    deadline, left, due = state.settling.deadline, state.settling.left, state.due
    if left is not None and state.core.doubt is None:
        doubt = left + settle.DOUBT
        if deadline is None or doubt < deadline:
            deadline = doubt
    if due is None:
        return deadline
    return due if deadline is None else min(due, deadline)
