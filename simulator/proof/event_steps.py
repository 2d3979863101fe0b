"""First halves of steps: every event that the equipment may meet, and every timer that may fire."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple, TypeVar

from engine.deadlines import fire_due
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Override,
    PanelReport,
    ProjectorReport,
    Resumed,
    Service,
)
from engine.handlers import apply_event
from engine.refusal import Refused
from engine.room import PLAIN, WHOLE, Room, Show
from engine.state import Core, OpenCue, PastPrompt, PendingPrompt, Tally, Timers
from engine.title_records import InterruptedTitle, LastChoice, RememberedTitle
from engine.transaction import Transaction
from simulator.proof.alphabet import ANOTHER, FRESH, OVER, Alphabet
from simulator.proof.copies import copied
from simulator.proof.environments import LATER, Environment, entered
from simulator.proof.footprints import Changes, Footprint, Footprints, WatchedCore
from simulator.proof.half_steps import NOW, TALLY, Cause, HalfSteps
from simulator.proof.invariants import event_violations, timer_violations
from simulator.proof.memory_invariants import memory_violations
from simulator.proof.standing_pictures import StandingPictures

MOVED: Final = frozenset({"lens", "preset", "origin", "recall", "panels", "arrangement", "asked"})
"""The fields of a core that tell where the equipment stands, but for the travel's timer."""
ORDER: Final = 1
"""The number of the picture order that is open here."""
TITLE: Final = "one"
"""The name of the title that is on here."""
OWNER: Final = "somebody"
"""Whose prompt it is here, where they have said so."""
CHOICE: Final = LastChoice(Show(WHOLE))
"""What somebody chose the last time for another title."""
CUE: Final = 4
"""The number of the cue's order that is open here."""


OneOfThem = TypeVar("OneOfThem")
LedTo = tuple[Event | str, Core]
"""An event or a timer, and the core that it leads to."""


class Share(NamedTuple):
    """One of so many parts of what may happen in a state, in its order.

    Whoever takes the same part in every state learns what there is to know of it, and no more.
    """

    number: int
    of: int

    @property
    def last(self) -> bool:
        """Tell whether no part comes after this one."""
        return self.number == self.of - 1

    def part(self, whole: Sequence[OneOfThem]) -> Sequence[OneOfThem]:
        """Give what of a whole belongs to the share."""
        return whole[
            len(whole) * self.number // self.of : len(whole) * (self.number + 1) // self.of
        ]


EVERYTHING: Final = Share(0, 1)


class EventSteps:
    """Applies events and fires timers, and checks that each has its effect.

    What moves nothing is left out: it leads to where the equipment stands anyway.
    """

    def __init__(self, room: Room, half_steps: HalfSteps) -> None:
        self.room = room
        self._half_steps = half_steps
        self._footprints = Footprints()
        self._alphabet = Alphabet(room)
        self._listings: dict[int, list[tuple[Event, Footprint]]] = {}
        """By the identity of a list of events, which the alphabet keeps."""
        self._standing = StandingPictures(room)
        source = next(iter(room.sources))
        self.playing = Environment(
            source=source, playback="playing", title=True, first_minutes=True, aspect=23_900
        )
        """The environment in which events are applied."""
        self._idle = self.playing._replace(playback="stopped", title=False, first_minutes=False)
        self._others = (
            self._idle._replace(projector="off"),
            self.playing._replace(service=True),
        )
        self._paused = self.playing._replace(playback="paused", first_minutes=False)
        self._taken = self.playing._replace(override="person", wish=Show())
        self._taken_idle = self._idle._replace(override="person", wish=Show())

    def from_state(
        self, at: int, core: Core, share: Share
    ) -> Iterator[tuple[Event | str | None, Core]]:
        """Yield each event or timer of a share with the core it leads to; None is no event."""
        if share.number == 0:
            yield None, core
        core = remembering(core)
        playing = self._with_picture_order(core)
        yield from self._events(at, core, playing, share)
        if share.last:
            yield from filter(None, self._rest(at, core, playing))
            self._try_memories(at, core)

    def _rest(self, at: int, core: Core, playing: Core) -> Iterator[LedTo | None]:
        """Let each timer fall due, and a person take over and give back who has the room."""
        for timer in Timers._fields:
            if getattr(playing.timers, timer) is not None:
                yield self._fire(at, playing, timer, self.playing)
        yield self._fire(at, core, "session", self._idle)
        yield self._fire(at, core, "override", self._taken)
        overridden = entered(core, self._taken)
        for taking in (True, False):
            yield self._take(at, overridden, Override(taken=taking), self._taken)

    def _try_memories(self, at: int, core: Core) -> None:
        """Check events where more is remembered; lens and panels end up as without it.

        What is remembered does not depend on where lens and panels stand, so it is enough to try
        it in the first state; but for prompts, wherever one is open.
        """
        for memory, environment in self._memories(core) if at == 0 else ():
            for event in self._alphabet.events(memory):
                self._take(at, memory, event, environment)
        if at == 0:
            self._try_repeated(at, core)
            self._try_late(at, core)
            self._try_failed(at, core)
        timers = (("pause", self._paused), ("session", self._taken_idle))
        for timer, environment in timers if at == 0 else ():
            self._fire(at, core, timer, environment)
        if core.asked is not None:
            ending = entered(core, self._idle)
            ending.timers = ending.timers._replace(session=None)
            self._take(at, ending, Answer(prompt=core.asked.id, answer="no"), self._idle)
            self._run_out(at, ending, "give_up", self._idle)
            self._try_owners(at, core, core.asked)

    def _try_owners(self, at: int, core: Core, asked: PendingPrompt) -> None:
        """Check whose word counts at the screen, with time to give and with hardly any left."""
        for who, latest in ((OWNER, LATER), (ANOTHER, NOW + 2)) if asked.at_screen else ():
            owned = entered(core, self.playing)
            owned.asked = asked._replace(who=who, latest=latest)
            owned.timers = owned.timers._replace(give_up=NOW + 1)
            for event in self._alphabet.events(core):
                if isinstance(event, Answer | PanelReport):
                    self._take(at, owned, event, self.playing)

    def _try_late(self, at: int, core: Core) -> None:
        """Check what a late `done` tells, where it is known what its prompt asked for."""
        for name in (None, *self.room.panels):
            tally = TALLY._replace(prompts=(PastPrompt(OVER, name),))
            event = Answer(prompt=OVER, answer="done")
            self._take(at, entered(core, self.playing), event, self.playing, tally)

    def _try_failed(self, at: int, core: Core) -> None:
        """Check that a picture that failed is tried again once the time for it has come."""
        failing = entered(core, self.playing)
        failing.shown, failing.failed = next(iter(self._standing.safe(core)), None), True
        self._run_out(at, failing, "retry", self.playing)

    def _try_repeated(self, at: int, core: Core) -> None:
        """Check that an event whose id was heard before is refused."""
        event = LensReport(moving=True, preset=None, id=FRESH)
        seen = TALLY._replace(seen=(FRESH,))
        tx = self._half_steps.begin(entered(core, self.playing), self.playing, seen)
        try:
            apply_event(tx, event)
        except Refused:
            return
        words = "an event that was heard before takes effect again"
        self._half_steps.violate("roomcue: memory", words, Cause(at, event, self.playing))

    def _memories(self, core: Core) -> Iterator[tuple[Core, Environment]]:
        """Yield the core with what else it may remember, and the environment it is in."""
        for failing in (False, True):
            shown = entered(core, self.playing)
            shown.shown, shown.failed = next(iter(self._standing.safe(core)), None), failing
            yield shown, self.playing
        at_work = self.playing._replace(service=True)
        yield entered(core, at_work), at_work
        preset, panels = [*self.room.presets][-1], [*self.room.panels][-1]
        taken = self._taken._replace(wish=Show(PLAIN, None, preset, panels))
        overridden = entered(core, taken)
        overridden.override_until, overridden.undo = "title", Show(WHOLE, 0)
        yield overridden, taken
        yield from self._titles_known(core, taken)
        stopped = entered(core, self._idle)
        stopped.timers = stopped.timers._replace(session=None)
        yield stopped, self._idle
        yield entered(core, self._paused), self._paused
        over = self._paused._replace(pause_over=True, title=False)
        yield entered(core, over), over
        left = entered(core, over)
        refused = len(self.room.panels) > 1
        left.interrupted = InterruptedTitle(ANOTHER, None, refused=refused, choice=CHOICE)
        left.titles = (RememberedTitle(ANOTHER, None, CHOICE),)
        yield left, over
        if refused:
            refusing = entered(core, self.playing)
            refusing.panels = "refused"
            yield refusing, self.playing
        for name, values in [*self.room.cues.items()][:1]:
            ordered = entered(core, self.playing)
            ordered.open_cues = (OpenCue(CUE, name, values[0], LATER),)
            ordered.timers = ordered.timers._replace(cue=LATER)
            yield ordered, self.playing

    def _titles_known(self, core: Core, taken: Environment) -> Iterator[tuple[Core, Environment]]:
        """Yield the core with titles remembered: another one, the one on, and with a choice."""
        playing = self.playing._replace(remembered=17_778, longest=17_778)
        chosen = taken._replace(remembered=17_778, longest=17_778)
        for name, known in ((TITLE, playing), (ANOTHER, playing), (ANOTHER, chosen)):
            learnt = entered(core, known)
            learnt.title_name, learnt.override_until = name, "title"
            learnt.titles = (
                RememberedTitle(TITLE, 17_778),
                RememberedTitle(ANOTHER, 17_778, CHOICE),
            )
            yield learnt, known

    def _with_picture_order(self, core: Core) -> Core:
        """Open a picture order where one may be open, so that it can be answered or overdue."""
        if not self.room.answers:
            return core
        new = copied(core)
        new.shown, new.picture = next(iter(self._standing.safe(core)), None), ORDER
        new.timers = core.timers._replace(picture=LATER)
        return new

    def _events(self, at: int, core: Core, playing: Core, share: Share) -> Iterator[LedTo]:
        """Apply events; some also without light, in service, or with other lens memory."""
        entered_playing = entered(playing, self.playing)
        unordered = entered(core, self.playing)
        others = [(entered(core, environment), environment) for environment in self._others]
        for event, footprint in share.part(self._listed(playing)):
            tried = [entered_playing]
            if isinstance(event, LensReport | Outcome):
                tried += _lens_memories(unordered, event)
            for one in tried:
                led_to = self._take(at, one, event, self.playing, footprint=footprint)
                if led_to is not None:
                    yield led_to
            if isinstance(event, Service | ProjectorReport | Resumed):
                elsewhere = (self._take(at, other, event, where) for other, where in others)
                yield from filter(None, elsewhere)

    def _listed(self, core: Core) -> list[tuple[Event, Footprint]]:
        """List every event that may come now, each with its footprint while something plays."""
        events = self._alphabet.events(core)
        found = self._listings.get(id(events))
        if found is None:
            footprints = (self._footprints.of((event, self.playing, TALLY)) for event in events)
            found = self._listings[id(events)] = [*zip(events, footprints, strict=True)]
        return found

    def _fire(self, at: int, core: Core, timer: str, environment: Environment) -> LedTo | None:
        """Let one timer fall due now, in an environment."""
        return self._run_out(at, entered(core, environment), timer, environment)

    def _run_out(self, at: int, core: Core, timer: str, environment: Environment) -> LedTo | None:
        """Let one timer fall due now, on a core of its own."""
        core.timers = core.timers._replace(**{timer: NOW})
        return self._take(at, core, timer, environment)

    def _take(  # noqa: PLR0913 - what is heard, where, and what is known of it
        self,
        at: int,
        before: Core,
        heard: Event | str,
        environment: Environment,
        tally: Tally = TALLY,
        *,
        footprint: Footprint | None = None,
    ) -> LedTo | None:
        """Take a half step, or look up what one did that saw the same; give what moves.

        The core has entered the environment. A refusal changes nothing.
        """
        if footprint is None:
            footprint = self._footprints.of((heard, environment, tally))
        changes = footprint.changes(before)
        if changes is None:
            looked_at: set[str] = set()
            core = WatchedCore(before, looked_at)
            tx = self._half_steps.begin(core, environment, tally)
            start = WatchedCore(before, looked_at)
            taken = self._judged(start, heard, tx, Cause(at, heard, environment))
            changes = _of_equipment(core.changes()) if taken else ()
            footprint.keep(before, looked_at, changes)
        else:
            self._half_steps.repeat()
        if not changes or not _moves(before, changes):
            return None
        after = copied(before)
        for name, value in changes:
            setattr(after, name, value)
        return heard, after

    def _judged(self, before: Core, heard: Event | str, tx: Transaction, cause: Cause) -> bool:
        """Apply an event, or fire what is due, and judge what it did; False: it was refused."""
        tally, violate = tx.tally, self._half_steps.violate
        if isinstance(heard, str):
            fire_due(tx)
            for words in timer_violations(self.room, before, heard, tx.core):
                violate("roomcue: timers", words, cause)
        else:
            try:
                apply_event(tx, heard)
            except Refused:
                return False
            for words in event_violations(self.room, before, heard, tx.core):
                violate("roomcue: reports", words, cause)
        for words in memory_violations(before, tally, heard, tx):
            violate("roomcue: memory", words, cause)
        return True


def _of_equipment(changes: Changes) -> Changes:
    """Leave out changes of which none can move anything: most events move nothing anywhere."""
    return changes if any(name in MOVED or name == "timers" for name, _ in changes) else ()


def _moves(before: Core, changes: Changes) -> bool:
    """Tell whether changes lead to another state; of timers only the travel's is part of one."""
    for name, value in changes:
        if name == "timers":
            if (value.travel is None) != (before.timers.travel is None):
                return True
        elif name in MOVED and getattr(before, name) != value:
            return True
    return False


def remembering(core: Core) -> Core:
    """Return a copy of the core that remembers what events may make it forget, or must not touch.

    None of it decides where lens, panels and prompt stand after a first half of a step.
    """
    new = copied(core)
    new.ripe, new.night, new.title_name = True, NOW, TITLE
    new.refused_until = "title"
    if core.recall is None:
        new.unreached = core.preset
    return new


def _lens_memories(core: Core, report: LensReport | Outcome) -> Iterator[Core]:
    """Yield the core with what else it may remember of the lens when a report comes."""
    if isinstance(report, Outcome) and report.order != core.recall:
        return
    if core.recall is not None:
        off = copied(core)
        off.set_off = True
        yield off
        if isinstance(report, LensReport) and not report.moving and report.preset != core.preset:
            off = copied(off)
            off.missed = core.preset
            yield off
        return
    if isinstance(report, LensReport):
        unseen = copied(core)
        unseen.timers = core.timers._replace(unseen=LATER)
        yield unseen
        yield from _awaiting(core, report)


def _awaiting(core: Core, report: LensReport) -> Iterator[Core]:
    """Yield the core with a travel that is counted, and of which reports may still come."""
    if core.lens == "travelling":
        for heard in (True, False):
            closed = copied(core)
            closed.set_off, closed.awaited = heard, "ours"
            yield closed
        return
    there = report.preset or core.preset or ""
    over = ((there, None), ("", None)) if report.moving else ()
    lost = ((there, "ours"), (core.preset or there, "ours"), ("", "by hand"))
    for echo, owner in dict.fromkeys((*over, *lost)):
        remembered = copied(core)
        remembered.echo, remembered.awaited = echo, owner
        remembered.set_off = owner != "ours"
        yield remembered
