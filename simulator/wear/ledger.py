"""The ledger of the lens: every travel that the engine counted, out of recorded nights.

Each night is replayed, and whatever the engine adds to its tally becomes an entry. So the ledger
can say nothing but what the engine did. Totals go on from night to night; where they do not,
nights are missing in between, and the ledger says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from engine import RoomEngine
from engine.decisions import RecallOrder
from engine.events import moment_of
from engine.state import DAY, State, Travels, night_at
from simulator.nights.night_file import BadLine, NightEntry
from simulator.nights.replay import replay

NOWHERE: Final = ""
"""The name of a place that is no preset."""


class Travel(NamedTuple):
    """One travel of the lens."""

    at: int
    """When it was counted, ms UTC."""
    night: int
    """The night it belongs to, counted by local noons."""
    preset: str
    """Where it went; `NOWHERE` for a place that is no preset."""
    origin: str | None
    """Where it set off, if that was known."""
    ordered: bool
    confirmed: bool
    title: str | None
    rule: str | None
    """The rule that asked for it."""
    waited: int
    """Milliseconds from the order to the report of its arrival; 0 for a travel by hand."""
    total: int
    """All travels to this preset up to this one, those before a count was reset too."""


class MissingTravels(NamedTuple):
    """Travels that the totals contain but no night shows."""

    preset: str
    after: int
    """The time of the last line before them, ms UTC."""
    missing: int
    """How many there are; 0 where the count was reset, because then nobody knows."""


class Ledger(NamedTuple):
    """What nights add up to."""

    travels: tuple[Travel, ...]
    holes: tuple[MissingTravels, ...]
    totals: dict[str, int]
    """All travels by preset at the end, those before the first night too."""
    held: tuple[tuple[int, str], ...]
    """Each time the pace forbade a recall: the night, and the limit."""
    watched: dict[str, int]
    """Milliseconds for which something played while the lens rested at each preset."""
    begins: int
    ends: int


class NightLedger(NamedTuple):
    """What one night adds to a ledger. It rests on nothing but that night."""

    travels: tuple[Travel, ...]
    """Their totals are the engine's counts, which may have been reset."""
    held: tuple[tuple[int, str], ...]
    watched: dict[str, int]
    counted_before: dict[str, int]
    """The engine's counts by preset as the night began."""
    counted: dict[str, int]
    """And at its end."""
    begins: int
    ends: int


PACE_HOLDS: Final = frozenset({"first_minutes", "per_title", "per_night"})
"""The limits of the pace that keep a recall back, as `engine.holds.HOLDS` names them."""


def _counted(travels: Iterable[Travels]) -> dict[str, int]:
    return {one.preset: one.ordered + one.by_hand for one in travels}


def _take_back(travels: list[Travel], preset: str, *, ordered: bool) -> None:
    """Drop the latest travel of a kind to a preset; one of an earlier night stays."""
    for number in reversed(range(len(travels))):
        if (travels[number].preset, travels[number].ordered) == (preset, ordered):
            del travels[number]
            return


def ledger_of_night(
    engine: RoomEngine, begins: int, entries: Iterable[NightEntry | BadLine]
) -> tuple[NightLedger, list[BadLine]]:
    """Replay one night from the State that the engine is in; give what it adds to a ledger.

    The lines that could not be used are given as well; the others count.
    """
    bad, travels, held = list[BadLine](), list[Travel](), list[tuple[int, str]]()
    counted_before, watched = _counted(engine.state.tally.travels), dict[str, int]()
    night = _Night(engine)

    def take(now: int) -> None:
        number = night_at(engine.state.core, now)
        for preset, ordered in night.taken_back(engine.state):
            _take_back(travels, preset, ordered=ordered)
        travels.extend(night.travels(engine.state, now, number))
        held.extend((number, hold) for hold in night.held(engine.state))

    for happening in replay(engine, _watched(entries, night), judged=False):
        if isinstance(happening, BadLine):
            bad.append(happening)
            continue
        now = happening.entry.now
        night.watch(now, watched)
        night.order(now, happening.decisions)
        take(now)
    ends = night.latest or begins
    night.watch(ends, watched)
    take(ends)
    counted = _counted(engine.state.tally.travels)
    told = tuple(travels), tuple(held), watched
    return NightLedger(*told, counted_before, counted, begins, max(night.latest, begins)), bad


class LedgerWriter:
    """Writes a ledger, night by night, in their order."""

    def __init__(self) -> None:
        self._travels: list[Travel] = []
        self._holes: list[MissingTravels] = []
        self._held: list[tuple[int, str]] = []
        self._totals: dict[str, int] | None = None
        """What the engine had counted at the end of the latest night."""
        self._earlier: dict[str, int] = {}
        """Totals before counts were reset; they are added to later counts."""
        self._watched: dict[str, int] = {}
        self._begins: int | None = None
        self._latest = 0

    def enter_night(
        self, engine: RoomEngine, begins: int, entries: Iterable[NightEntry | BadLine]
    ) -> list[BadLine]:
        """Replay one night from the State that the engine is in, and enter its travels.

        Returns the lines that could not be used; the others count.
        """
        night, bad = ledger_of_night(engine, begins, entries)
        self.enter(night)
        return bad

    def enter(self, night: NightLedger) -> None:
        """Enter what one night adds."""
        if self._begins is None:
            self._begins = night.begins
        self._join(night.counted_before, night.begins)
        for one in night.travels:
            earlier = self._earlier.get(one.preset, 0)
            self._travels.append(one._replace(total=earlier + one.total))
        self._held += night.held
        for preset, passed in night.watched.items():
            self._watched[preset] = self._watched.get(preset, 0) + passed
        self._latest = night.ends
        self._totals = night.counted

    def _join(self, found: dict[str, int], begins: int) -> None:
        """Compare a night's beginning with the end of the one before, and note what is missing."""
        if self._totals is None:
            self._totals = found
            return
        for preset in sorted({*found, *self._totals}):
            missing = found.get(preset, 0) - self._totals.get(preset, 0)
            if missing < 0:
                before = self._totals[preset]
                self._earlier[preset] = self._earlier.get(preset, 0) + before
            if missing:
                self._holes.append(MissingTravels(preset, self._latest or begins, max(0, missing)))

    def ledger(self) -> Ledger:
        """Return the ledger of all nights so far."""
        return Ledger(
            tuple(self._travels),
            tuple(self._holes),
            self._whole(),
            tuple(self._held),
            self._watched,
            self._begins or 0,
            self._latest,
        )

    def _whole(self) -> dict[str, int]:
        counted = self._totals or {}
        presets = {*counted, *self._earlier}
        return {one: counted.get(one, 0) + self._earlier.get(one, 0) for one in sorted(presets)}


class _Recall(NamedTuple):
    """A recall with what was known when it was ordered."""

    begun: int
    order: RecallOrder
    origin: str | None
    title: str | None


class _Night:
    """What has to be known of a night to say where its travels came from."""

    def __init__(self, engine: RoomEngine) -> None:
        self.latest = 0
        self._since: int | None = None
        self._before = engine.state
        self._recall: _Recall | None = None
        self._holds = engine.state.core.holds

    def watch(self, now: int, watched: dict[str, int]) -> None:
        """Add the time for which something was watched at the preset where the lens was."""
        core = self._before.core
        if self._since is not None and core.playback == "playing" and core.lens == "resting":
            preset = core.preset or NOWHERE
            watched[preset] = watched.get(preset, 0) + max(0, now - self._since)
        self._since = now

    def order(self, now: int, decisions: Iterable[object]) -> None:
        """Remember the latest recall, where the lens stood and what was on."""
        for decision in decisions:
            if isinstance(decision, RecallOrder):
                core = self._before.core
                self._recall = _Recall(now, decision, core.preset, core.title_name)

    def travels(self, state: State, now: int, night: int) -> Iterator[Travel]:
        """Yield the travels that were counted since the last call."""
        before = {one.preset: one for one in self._before.tally.travels}
        core = self._before.core
        by_hand = Travel(
            at=now,
            night=night,
            preset=NOWHERE,
            origin=core.preset if core.lens == "resting" else None,
            ordered=False,
            confirmed=True,
            title=core.title_name,
            rule=None,
            waited=0,
            total=0,
        )
        for one in state.tally.travels:
            old = before.get(one.preset, Travels(one.preset, 0, 0, 0))
            total = old.ordered + old.by_hand
            unconfirmed = one.unconfirmed - old.unconfirmed
            for number in range(one.ordered - old.ordered):
                total += 1
                ours = self._ours(by_hand._replace(preset=one.preset, total=total))
                yield ours._replace(ordered=True, confirmed=number >= unconfirmed)
            for _ in range(one.by_hand - old.by_hand):
                total += 1
                yield by_hand._replace(preset=one.preset, total=total)
        self._before = state

    def taken_back(self, state: State) -> Iterator[tuple[str, bool]]:
        """Yield what the engine counts no more: the preset, and whether it was ordered.

        The target of a travel by hand may be named later, and a recall prove never to have left.
        """
        if state.tally.travels is self._before.tally.travels:
            return  # as after nearly every event
        now = {one.preset: one for one in state.tally.travels}
        for old in self._before.tally.travels:
            one = now.get(old.preset)
            if one is not None:
                yield from [(old.preset, True)] * (old.ordered - one.ordered)
                yield from [(old.preset, False)] * (old.by_hand - one.by_hand)

    def _ours(self, travel: Travel) -> Travel:
        """Return a travel completed with the rule and the time of its order."""
        recall = self._recall
        if recall is None or recall.order.preset != travel.preset:
            return travel._replace(origin=None)
        return travel._replace(
            origin=recall.origin,
            title=recall.title,
            rule=recall.order.rule,
            waited=travel.at - recall.begun,
        )

    def held(self, state: State) -> Iterator[str]:
        """Yield the limits of the pace that have just begun to hold a recall back."""
        for hold in state.core.holds:
            if hold in PACE_HOLDS and hold not in self._holds:
                yield hold
        self._holds = state.core.holds


def _watched(
    entries: Iterable[NightEntry | BadLine], night: _Night
) -> Iterator[NightEntry | BadLine]:
    for entry in entries:
        if isinstance(entry, NightEntry):
            night.latest = entry.now
        yield entry


def per_night(travels: Iterable[Travel]) -> dict[int, int]:
    """Count travels by night."""
    counts: dict[int, int] = {}
    for one in travels:
        counts[one.night] = counts.get(one.night, 0) + 1
    return counts


def per_month(travels: Iterable[Travel], zone: ZoneInfo) -> dict[str, dict[str, int]]:
    """Count travels by preset and by month, by the calendar of the room's zone."""
    counts: dict[str, dict[str, int]] = {}
    for one in travels:
        month = counts.setdefault(f"{moment_of(one.at).astimezone(zone):%Y-%m}", {})
        month[one.preset] = month.get(one.preset, 0) + 1
    return counts


def per_title(travels: Iterable[Travel]) -> dict[str, int]:
    """Count travels by title, most first; travels outside a title are left out."""
    counts: dict[str, int] = {}
    for one in travels:
        if one.title is not None:
            counts[one.title] = counts.get(one.title, 0) + 1
    return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def travels_a_day(ledger: Ledger, preset: str) -> float:
    """Return how many travels a day go to a preset, over the ledger's nights."""
    days = max(1.0, (ledger.ends - ledger.begins) / DAY)
    return len([one for one in ledger.travels if one.preset == preset]) / days


def count_at(ledger: Ledger, preset: str, at: int) -> int:
    """Return how many travels had gone to a preset by a time (ms UTC)."""
    before = [one.total for one in ledger.travels if one.preset == preset and one.at <= at]
    if before:
        return before[-1]
    later = [one.total for one in ledger.travels if one.preset == preset]
    return later[0] - 1 if later else ledger.totals.get(preset, 0)
