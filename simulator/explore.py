"""Every state that a room's equipment can get into, under everything that the hub may say.

A step is taken in the engine's own two halves, `hear` (or `fire_due`) and `answer`, with the
world changed at will between them: whatever the hub says, late, twice or never, the equipment
then stands in one of the states found here. What is explored is the equipment: lens, panels,
prompt, picture, hand. Its state holds which timers run, not how long, so what is found holds for
every duration; of counters only whether one is left.

Some of what the engine remembers only ever keeps it from doing something: that a wish is not
ripe, that recalls are used up, that a picture has just changed, failed or is not confirmed. No
state is kept for these. Wherever an order is given, what may have stood in its way is tried too.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from engine.decisions import FactValue, PictureOrder, Prompt, RecallOrder
from engine.events import Event, Hand, LensReport, ProjectorReport, Resumed, Service
from engine.hearing import hear
from engine.region import Value
from engine.room import (
    DARK,
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    PLAIN,
    WHOLE,
    Room,
    Show,
)
from engine.snapshot import decode, encode
from engine.state import Core, State, Tally, Timers, first_state
from engine.step import answer
from engine.timing import fire_due
from engine.turn import Refused, Turn
from simulator.alphabet import events
from simulator.always import on_panels, unfired, unheard, unsound
from simulator.claims import HAND_WORDS, STANDING, Claim, Claims, Place, standing_place
from simulator.worlds import LATER, World, entered, kind_of

NOW: Final = 10**9
ORDER: Final = 1
"""The number that an open picture order has here."""
TALLY: Final = Tally(serial=1_000)
LIMIT: Final = 200_000
MOST_BROKEN: Final = 20
LEFT: Final = 2
"""Recalls left, wherever any are: the engine asks no more than whether one is."""
STANDS: Final = ("preset", "panels", "hands", "picture", "lift", "travelling", "hand")
"""The equipment's own part of what promises may test."""
NOTHING_TOLD: Final[dict[str, FactValue]] = {}
NO_TIMES: Final = Timers()


class Cause(NamedTuple):
    """How a state came about: what was heard or ran out, and what the world was then."""

    before: int
    """The state it came from; -1 for the first."""
    event: Event | str | None
    """An event, or a timer's name; None: the world alone changed."""
    world: World


class Broken(NamedTuple):
    """A promise that does not hold, and how one gets there."""

    promise: str
    words: str
    cause: Cause
    row: int | None = None
    """The row that had chosen what stood."""


class Exploration(NamedTuple):
    """What came of it."""

    worlds: int
    """How many worlds the hub may speak of."""
    claims: int
    """How many of them rules, promises and physics tell apart."""
    states: int
    """How many states the equipment can be in."""
    steps: int
    """How many halves of steps were taken: something heard, or an answer given."""
    complete: bool
    """Nothing was cut off."""
    broken: tuple[Broken, ...]
    rows: frozenset[int]
    """The rows that are ever chosen, -1 being the default."""
    unmet: tuple[tuple[int, str], ...]
    """Of each promise, by its index, the tests that nothing ever passes."""


def key_of(room: Room, core: Core, *, remembers: bool) -> tuple[object, ...]:
    """Say what of the equipment's state is kept; two cores of one key can do the same.

    Who has the room and what they want is the world's business. Where a hand's travel set off
    matters only for how large the picture may be meanwhile.
    """
    shown, asked = core.shown, core.asked
    hand_travels = core.lens == "travelling" and core.recall is None
    return (
        core.lens,
        core.preset,
        standing_place(room, core) if hand_travels else core.origin,
        core.recall is None,
        core.timers.travel is None,
        core.panels,
        core.arrangement,
        None if asked is None else asked[1:],
        None if shown is None or core.failed else kind_of(room, shown),
        core.wanted[:2] if remembers else None,
    )


def normal(core: Core) -> Core:
    """Give a copy that holds only what the key tells, the rest as if nothing stood in the way."""
    new = core.copy()
    if new.failed:
        new.shown = None
    new.failed, new.picture, new.unreached, new.set_off, new.echo = False, None, None, False, None
    new.ripe, new.holds, new.news, new.recalls, new.asks = False, (), (), 0, 0
    new.cues, new.open_cues = (), ()
    new.left_title = new.left_night = LEFT
    timers = core.timers
    new.timers = NO_TIMES._replace(
        travel=None if timers.travel is None else LATER,
        remind=None if timers.remind is None else LATER,
        give_up=None if timers.give_up is None else LATER,
    )
    return new


PLAYING: Final = World(playback="playing", title=True, opening=True, aspect=23_900)


class Trial(Turn):
    """A step under way whose decisions are judged and thrown away: nobody reads their facts."""

    __slots__ = ()

    def told(self) -> dict[str, FactValue]:
        """Leave out what decisions tell people."""
        return NOTHING_TOLD


class Explorer:
    """A search under way."""

    def __init__(self, room: Room, limit: int = LIMIT) -> None:
        self.room = room
        self.limit = limit
        self.claims = Claims(room)
        self.seen: dict[object, int] = {}
        self.cores: list[Core] = []
        self.causes: list[Cause] = []
        self.sources: list[set[int]] = []
        """For each state those from which it was come to."""
        self.steps = 0
        self.broken: dict[str, Broken] = {}
        self.places: set[Place] = set()
        self._queue: deque[int] = deque()
        self._standing = [
            [
                (column.name, cell)
                for column, cell in zip(one.never.columns, one.never.rows[0].cells, strict=True)
                if column.name in STANDING
            ]
            for one in room.promises
        ]
        self._verdicts: dict[tuple[Value, ...], tuple[int, ...]] = {}
        self._heard: set[object] = set()
        self._cued: set[int] = set()
        source = next(iter(room.sources))
        self._playing = PLAYING._replace(source=source)
        self._others = (
            self._playing._replace(projector="off", title=False, opening=False, playback="stopped"),
            self._playing._replace(service=True),
        )

    # ------------------------------------------------------------------------------ the search

    def run(
        self, tell: Callable[[int, int], None] | None = None, *, to_first: bool = False
    ) -> Exploration:
        """Search until nothing new is found, or until the first promise breaks.

        `tell` hears how many states are done, and known.
        """
        self._keep(normal(first_state(self.room).core), Cause(-1, None, World()))
        done = 0
        while self._queue and len(self.cores) <= self.limit:
            if to_first and self.broken:
                break
            at = self._queue.popleft()
            self._expand(at)
            done += 1
            if tell is not None and done % 50 == 0:
                tell(done, len(self.cores))
        return Exploration(
            worlds=self.claims.world_count,
            claims=len(self.claims),
            states=len(self.cores),
            steps=self.steps,
            complete=not self._queue,
            broken=tuple(self.broken.values()),
            rows=self.claims.rows(self.places),
            unmet=self._unmet(),
        )

    def _key(self, core: Core) -> tuple[object, ...]:
        return key_of(self.room, core, remembers=self.claims.remembers)

    def _keep(self, core: Core, cause: Cause) -> None:
        """Enter a state that the equipment has got into, and how."""
        key = self._key(core)
        at = self.seen.get(key)
        if at is None:
            at = self.seen[key] = len(self.cores)
            self._queue.append(at)
            self.cores.append(normal(core))
            self.causes.append(cause)
            self.sources.append(set())
        self.sources[at].add(cause.before)

    def path(self, cause: Cause) -> tuple[Event | str | None, ...]:
        """List what happened, from the first state on, down to a cause."""
        found = [cause.event]
        while cause.before >= 0:
            cause = self.causes[cause.before]
            found.append(cause.event)
        return tuple(found[-2::-1])

    def _expand(self, at: int) -> None:
        core = self.cores[at]
        if self._survives(core):
            self._break(
                "restart", "a state is not the same once written and read", Cause(at, None, World())
            )
        for event, heard in self._hear_all(at, core):
            key = self._key(heard)
            if key in self._heard:
                continue
            self._heard.add(key)
            self._answer_all(at, event, normal(heard))

    def _survives(self, core: Core) -> bool:
        state = State(core, self._playing.settling, TALLY, core.timers.next())
        return decode(encode(state)) != state

    def _break(self, promise: str, words: str, cause: Cause, row: int | None = None) -> None:
        """Note how a promise breaks; the first way found is one of the shortest."""
        if len(self.broken) < MOST_BROKEN:
            self.broken.setdefault(promise, Broken(promise, words, cause, row))

    # ---------------------------------------------------------------------------- first halves

    def _hear_all(self, at: int, core: Core) -> Iterator[tuple[Event | str | None, Core]]:
        """Let everything happen once: whatever may be told, and whatever may run out."""
        yield None, core
        playing = core
        if core.shown is not None and self.room.answers:
            playing = core.copy()
            playing.picture = ORDER
            playing.timers = core.timers._replace(picture=LATER)
        for event in events(self.room, playing):
            yield from self._hear(at, playing, event, self._playing)
            if isinstance(event, Service | ProjectorReport | Resumed):
                for world in self._others:
                    yield from self._hear(at, core, event, world)
            elif isinstance(event, LensReport):
                for changed in _lens_memories(core, event):
                    yield from self._hear(at, changed, event, self._playing)
        for timer in Timers._fields:
            if getattr(playing.timers, timer) is not None:
                yield from self._fire(at, playing, timer, self._playing)
        idle = self._playing._replace(playback="stopped", title=False, opening=False)
        yield from self._fire(at, core, "session", idle)
        taken = self._playing._replace(hand="person", wish=Show())
        yield from self._fire(at, core, "hand", taken)
        for taking in (True, False):
            yield from self._hear(at, core, Hand(taken=taking), taken)

    def _hear(
        self, at: int, core: Core, event: Event, world: World
    ) -> Iterator[tuple[Event, Core]]:
        before = entered(core, world)
        turn = Trial(self.room, State(before, world.settling, TALLY, None), NOW)
        self.steps += 1
        try:
            hear(turn, event)
        except Refused:
            return
        for words in unheard(self.room, before, event, turn.core):
            self._break("reports", words, Cause(at, event, world))
        yield event, turn.core

    def _fire(self, at: int, core: Core, timer: str, world: World) -> Iterator[tuple[str, Core]]:
        before = entered(core, world)
        before.timers = before.timers._replace(**{timer: NOW})
        turn = Trial(self.room, State(before, world.settling, TALLY, NOW), NOW)
        self.steps += 1
        fire_due(turn)
        for words in unfired(self.room, before, timer, turn.core):
            self._break("timers", words, Cause(at, timer, world))
        yield timer, turn.core

    # --------------------------------------------------------------------------- second halves

    def _answer_all(self, at: int, event: Event | str | None, core: Core) -> None:
        """Let every world be the one that is answered to."""
        claims = self.claims
        self.places.add(claims.place(core))
        for claim in claims.seen_from(core):
            cause = Cause(at, event, claim.world)
            for before, turn in self._answers(core, claim):
                self._judge(before, claim, turn, cause)
                self._keep(turn.core, cause)

    def _answers(self, core: Core, claim: Claim) -> Iterator[tuple[Core, Turn]]:
        """Answer, and answer again with what may stand in the way of what was ordered."""
        whole = True
        for start, first in self._at_once(core, claim):
            yield start, first
            if "linger" not in first.core.holds:
                continue
            ripe = self._ripened(first, claim, LEFT, 0)
            yield first.core, ripe
            if whole and len(ripe.decisions) > 0:
                yield first.core, self._ripened(first, claim, 0, 0)
                yield first.core, self._ripened(first, claim, LEFT, LEFT)
            whole = False

    def _ripened(self, first: Turn, claim: Claim, night: int, asks: int) -> Turn:
        """Let a wish have stood for long enough, with so many recalls left and prompts made."""
        core = first.core.copy()
        core.timers = core.timers._replace(linger=NOW)
        core.left_night, core.asks = night, asks
        turn = Trial(self.room, State(core, claim.world.settling, first.tally, NOW), NOW)
        fire_due(turn)
        answer(turn)
        self.steps += 1
        return turn

    def _at_once(self, core: Core, claim: Claim) -> Iterator[tuple[Core, Turn]]:
        for start in self._starts(core, claim):
            before, turn = self._answer(start, claim)
            yield before, turn
            after, ordered, going = turn.core, False, False
            for decision in turn.decisions:
                ordered |= isinstance(decision, PictureOrder)
                going |= isinstance(decision, RecallOrder)
                going |= isinstance(decision, Prompt) and decision.stage == "at the screen"
            if ordered and (_waits(after) or len(turn.decisions) > 1):
                for changed in self._instead(start, after):
                    yield self._answer(changed, claim)
            if going:
                waiting = start.copy()
                waiting.left_night = 0
                yield self._answer(waiting, claim)
                if start.shown is not None and self.room.answers:
                    waiting = start.copy()
                    waiting.picture = ORDER
                    waiting.timers = waiting.timers._replace(picture=LATER)
                    yield self._answer(waiting, claim)

    def _instead(self, start: Core, after: Core) -> Iterator[Core]:
        """Give what may have kept a picture from being ordered, so that other things go on.

        It failed before, it stands already, or the last one has only just changed.
        """
        shown = after.shown
        if start.shown is None:
            if self.room.answers:
                failed = start.copy()
                failed.shown, failed.failed = shown, True
                yield failed
            return
        if shown is not None and kind_of(self.room, shown) == kind_of(self.room, start.shown):
            same = start.copy()
            same.shown = shown
            yield same
        elif shown is not None and shown.picture != DARK:
            flashed = start.copy()
            flashed.timers = flashed.timers._replace(flash=LATER)
            yield flashed

    def _starts(self, core: Core, claim: Claim) -> Iterator[Core]:
        """Enter the claim's world, with what may have been wanted before where that matters."""
        world = claim.world
        start = entered(core, world)
        if claim.dead:
            start.shown = None  # In service or without light nobody knows what stands.
        if id(claim) in self._cued:
            # Cues touch nothing else: it is enough to give each once.
            start.cues = claim.cues[self.claims.place(core)]
        self._cued.add(id(claim))
        yield start
        if core.asked is not None and world.hand == "rules":
            # Whoever has just been asked is not sent away by a row that leaves the panels open.
            kept = start.copy()
            kept.asks = 1
            kept.wanted = kept.wanted._replace(panels=core.asked.panels)
            yield kept

    def _answer(self, core: Core, claim: Claim) -> tuple[Core, Turn]:
        turn = Trial(self.room, State(core, claim.world.settling, TALLY, None), NOW)
        answer(turn)
        self.steps += 1
        return core, turn

    # ------------------------------------------------------------------------------ judgement

    def _judge(self, before: Core, claim: Claim, turn: Turn, cause: Cause) -> None:
        after = turn.core
        for words in unsound(before, tuple(turn.decisions), after):
            self._break("engine", words, cause)
        self._built_in(claim, turn, cause)
        if claim.touched and "flash" not in after.holds:
            shown = after.shown
            standing = (
                after.preset,
                after.arrangement,
                HAND_WORDS[after.panels],
                None if shown is None else shown.picture,
                None if shown is None else shown.lift,
                after.lens == "travelling",
                after.hand,
            )
            verdict = self._verdicts.get(standing)
            if verdict is None:
                verdict = self._verdicts[standing] = self._verdict(standing)
            for index in verdict:
                if index in claim.touched:
                    promise = self.room.promises[index]
                    told = cause._replace(world=claim.touched[index])
                    self._break(promise.label, promise.because, told, after.row)

    def _verdict(self, standing: tuple[Value, ...]) -> tuple[int, ...]:
        """Say of which promises the tests of the equipment pass; see `STANDS` for the order."""
        facts = dict(zip(STANDS, standing, strict=True))
        return tuple(
            index
            for index, cells in enumerate(self._standing)
            if all(cell.accepts(facts[name]) for name, cell in cells)
        )

    def _built_in(self, claim: Claim, turn: Turn, cause: Cause) -> None:
        after = turn.core
        shown = after.shown
        if shown is not None and not after.failed:
            for words in on_panels(self.room, after):
                self._break(NO_PICTURE_ON_PANELS, words, cause, after.row)
            if claim.menu and shown.picture in self.room.pictures and "flash" not in after.holds:
                self._break(MENUS_PLAIN, f"a menu is shown as {shown.picture}", cause, after.row)
        if claim.late and claim.world.hand == "rules":
            for decision in turn.decisions:
                if isinstance(decision, RecallOrder):
                    words = f"{decision.preset} is recalled in mid-title"
                    self._break(NO_TRAVEL_IN_MID_TITLE, words, cause, after.row)

    def _unmet(self) -> tuple[tuple[int, str], ...]:
        """Find the tests of promises that nothing ever passed."""
        cores, rules = self.cores, self.room.rules.table.rows
        pictures = {PLAIN, WHOLE, *self.room.pictures, *(row.output.picture for row in rules)}
        dark = any(core.asked is not None and core.asked.at_screen for core in cores)
        met: dict[str, set[object]] = {
            "preset": {core.preset for core in cores},
            "panels": {core.arrangement for core in cores},
            "hands": {HAND_WORDS[core.panels] for core in cores},
            "travelling": {core.lens == "travelling" for core in cores},
            "hand": {"rules", "person"},
            "picture": {None, *pictures, *((DARK,) if dark else ())},
            "lift": {None, 0, *(row.output.lift for row in rules)},
        }
        standing = [
            (index, name)
            for index, cells in enumerate(self._standing)
            for name, cell in cells
            if not any(cell.accepts(value) for value in met[name])  # type: ignore[arg-type]
        ]
        return (*sorted(self.claims.unmet), *standing)


def _lens_memories(core: Core, report: LensReport) -> Iterator[Core]:
    """Give what else may be remembered of the lens that a report meets."""
    if core.recall is not None:
        off = core.copy()
        off.set_off = True
        yield off
    elif report.moving and report.id is None:
        echo = core.copy()
        echo.echo = report.preset or ""
        yield echo


def _waits(core: Core) -> bool:
    """Tell whether more is wanted than a picture."""
    return core.asked is not None or "linger" in core.holds or "picture" in core.holds


def explore(room: Room, limit: int = LIMIT) -> Exploration:
    """Explore a room; beyond `limit` states the rest is cut off, and `complete` is False."""
    return Explorer(room, limit).run()
