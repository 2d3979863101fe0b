"""Every environment that a hub may report: the facts that rules, promises and physics tell apart.

A hub may miss events, send them late, or come back to a room in which everything is different. So
environments are not reached event by event: every possible combination of facts is one. Values of
a fact that no rule, no promise and no picture's place tells apart are represented by one of
them; a fact that nothing looks at has one value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import pairwise, product
from typing import Any, Final, Literal, NamedTuple

from engine import settle
from engine.aspect import NARROWEST, WIDE_FRAME, WIDEST, meant
from engine.choosing import pausing
from engine.events import LightRange, PlaybackState, ProjectorState
from engine.facts import PLAYBACKS, room_columns
from engine.lookup import Lookup
from engine.optics import Rect, can_show, fit, on_panel
from engine.room import DARK, PLAIN, Room, Show
from engine.settle import Settling
from engine.state import Core, OrderedPicture, Timers
from engine.table import Column, RuleTable
from engine.transition_table import HandState
from engine.value_set import Value
from rules.table.domains import RATIO_STEP, domain_of

LATER: Final = 10**15
"""When running timers end (ms UTC): an exploration chooses which one fires next."""
FRAMES: Final = (WIDE_FRAME, 13_333)
"""Ratios of the coded frames that nearly all sources send, in 1/10,000."""


class Environment(NamedTuple):
    """All facts that do not belong to the equipment's own state."""

    projector: ProjectorState | Literal["unknown"] = "lit"
    service: bool = False
    source: str | None = None
    playback: PlaybackState = "unknown"
    pause_over: bool = False
    title: bool = False
    opening: bool = False
    aspect: int | None = None
    """The ratio that the readings have settled on, in 1/10,000."""
    frame: int = WIDE_FRAME
    declared: int | None = None
    tallest: int | None = None
    varies: bool = False
    subtitles: bool = False
    minute: int | None = None
    range: LightRange | None = None
    stereo: bool | None = None
    told: tuple[tuple[str, str | bool | int], ...] = ()
    hand: HandState = "rules"
    wish: Show | None = None
    """What the person who has taken over wants."""

    @property
    def settling(self) -> Settling:
        """What the filter of readings remembers in this environment."""
        return settled_on(self.aspect, self.subtitles)


@lru_cache(4_096)
def settled_on(aspect: int | None, subtitles: bool) -> Settling:  # noqa: FBT001 - a cache's key
    """Return the filter's memory of a ratio that no reading contradicts."""
    return settle.UNSETTLED._replace(aspect=aspect, subtitles=subtitles)


def entered(core: Core, environment: Environment) -> Core:
    """Return a copy of a core, put into this environment."""
    new = core.copy()
    enter(new, environment)
    return new


def enter(core: Core, environment: Environment) -> None:
    """Put a core into this environment, in place."""
    core.projector = environment.projector
    core.service = environment.service
    core.source = environment.source
    core.playback = environment.playback
    core.pause_over = environment.pause_over
    core.title = environment.title
    core.frame = environment.frame
    core.declared = environment.declared
    core.tallest = environment.tallest
    core.varies = environment.varies
    core.subtitles = environment.subtitles
    core.minute = environment.minute
    core.range = environment.range
    core.stereo = environment.stereo
    core.told = environment.told
    core.hand = environment.hand
    core.hand_look = environment.wish
    idle = environment.playback in {"stopped", "unknown"} or environment.pause_over
    core.timers = _running(
        core.timers,
        LATER if pausing(core) else None,
        LATER if environment.opening else None,
        LATER if idle else None,
    )


@lru_cache(4_096)
def _running(timers: Timers, pause: int | None, opening: int | None, session: int | None) -> Timers:
    """Return the equipment's timers with the environment's; cached, as there are few of them."""
    return timers._replace(pause=pause, opening=opening, session=session)


# ------------------------------------------------------------------------------ facts in classes


def lookups_by_fact(room: Room) -> dict[str, list[Lookup]]:
    """Return for each fact the lookups of rules and promises that test it.

    Facts that none of them tests are left out.
    """
    tables: list[RuleTable[object]] = [room.rules.table]  # type: ignore[list-item]
    tables += [promise.never for promise in room.promises]  # type: ignore[misc]
    found: dict[str, list[Lookup]] = {}
    for table in tables:
        for column, lookup in zip(table.columns, table.lookups, strict=True):
            kinds = {lookup.null, lookup.true, lookup.false, lookup.other_strings, *lookup.spans}
            if lookup.strings or len(kinds) > 1:
                found.setdefault(column.name, []).append(lookup)
    return found


def representatives(column: Column, lookups: Iterable[Lookup]) -> tuple[Value, ...]:
    """Pick one value out of each set that these lookups tell apart; a null of its own comes first.

    A number is picked from the middle of its range, on the steps that facts come in.
    """
    domain = domain_of(column)
    found: list[Value] = [None] if domain.region.null else []
    if domain.region.true:
        return (*found, False, True)
    if domain.region.strings:
        return (*found, *column.words)
    step = domain.step or 1
    least, most = column.least or 0, column.most or 0
    edges = {least, most + step}
    for lookup in lookups:
        for cut in lookup.cuts:
            first = -(-int(cut.value) // step) * step  # rounded up to a step
            if cut.after and first == cut.value:
                first += step
            if least < first <= most:
                edges.add(first)
    for one, other in pairwise(sorted(edges)):
        last = other - step
        found.append(one + (last - one) // step // 2 * step)
    return tuple(found)


def representative_aspects(room: Room) -> tuple[int, ...]:
    """Pick one ratio out of each set that rules, promises or pictures' places tell apart."""
    looks = lookups_by_fact(room)
    cuts = [lookup for name in ("aspect", "tallest") for lookup in looks.get(name, ())]
    classes: dict[object, list[int]] = {}
    for ratio in range(NARROWEST, WIDEST + 1, RATIO_STEP):
        whole = meant(ratio)
        key = (tuple(one.rows(ratio) for one in cuts), placement_key(room, whole))
        classes.setdefault(key, []).append(whole)
    return tuple(_best(ratios) for ratios in classes.values())


FILMS: Final = (17_778, 18_500, 23_900, 13_333, 20_000, 22_000, 16_600, 27_600)
"""Shapes of real titles in 1/10,000, the commonest first: they make a counterexample plausible."""


def _best(ratios: list[int]) -> int:
    return next((film for film in FILMS if film in ratios), ratios[len(ratios) // 2])


def representative_frames(room: Room, ratios: tuple[int, ...]) -> tuple[int, ...]:
    """Pick one coded frame out of each set that its place tells apart, the usual ones first."""
    classes: dict[object, int] = {}
    for frame in (*FRAMES, *ratios):
        place = [
            _kind_at(room, PLAIN, frame, preset, panels)
            for preset in (None, *room.presets)
            for panels in (None, *room.panels)
        ]
        classes.setdefault(tuple(place), frame)
    return tuple(dict.fromkeys((*FRAMES, *classes.values())))


def placement_key(room: Room, ratio: int) -> tuple[object, ...]:
    """Return what can be shown of a ratio, and where it is safe, for all pictures and places."""
    return tuple(
        (can_show(room, name, ratio, preset, panels), _kind_at(room, name, ratio, preset, panels))
        for name in (PLAIN, *room.pictures)
        for preset in (None, *room.presets)
        for panels in (None, *room.panels)
    )


def _kind_at(
    room: Room, name: str, ratio: int, preset: str | None, panels: str | None
) -> PictureKind:
    return picture_kind(
        room, OrderedPicture(name, ratio, 0, fit(room, name, 0, ratio, preset, panels))
    )


PictureKind = tuple[str, tuple[bool, ...], tuple[bool, ...]]
"""What matters of a picture: its name (plain for whole), where it is safe, and which promises'
tests of a picture it passes."""


@lru_cache(65_536)
def picture_kind(room: Room, shown: OrderedPicture) -> PictureKind:
    """Return what matters of a picture."""
    name = shown.picture if shown.picture in room.pictures or shown.picture == DARK else PLAIN
    return (
        name,
        on_panels_at(room, shown.region),
        promise_tests_passed(room, shown.picture, shown.lift),
    )


@lru_cache(4_096)
def promise_tests_passed(room: Room, picture: str, lift: int) -> tuple[bool, ...]:
    """Return which promises' tests of picture and lift pass.

    Only promises that may hold under a person's hand or in a pause are looked at: there an
    earlier picture may still stand. Elsewhere picture and lift are those of the chosen row and
    need not be remembered.
    """
    found = []
    for promise in room.promises:
        names = (column.name for column in promise.never.columns)
        cells = dict(zip(names, promise.never.rows[0].cells, strict=True))
        by_hand = "hand" not in cells or cells["hand"].accepts("person")
        if by_hand or "playback" not in cells or cells["playback"].accepts("paused"):
            found.append(
                ("picture" not in cells or cells["picture"].accepts(picture))
                and ("lift" not in cells or cells["lift"].accepts(lift))
            )
    return tuple(found)


@lru_cache(65_536)
def on_panels_at(room: Room, region: Rect) -> tuple[bool, ...]:
    """Tell for each preset and arrangement, unknown first, whether a region falls on panels."""
    return tuple(
        on_panel(room, region, preset, panels)
        for preset in (None, *room.presets)
        for panels in (None, *room.panels)
    )


# --------------------------------------------------------------------------------- environments


def environments(room: Room) -> Iterator[Environment]:
    """List every environment with light and nobody at work, those without a known source too."""
    facts = _Facts(room)
    ratios = representative_aspects(room)
    usual = representative_frames(room, ratios)
    lasting = list(
        product(facts.of("time"), facts.of("range"), facts.of("stereo"), product(*facts.told()))
    )
    playing = [(one, False) for one in PLAYBACKS]
    playing.append(("paused", True))
    for source, (playback, over), (title, opening) in product(
        (*room.sources, *((None,) if facts.tested("source") else ())),
        playing,
        ((False, False), (True, True), (True, False)),
    ):
        spec = None if source is None else room.sources[source]
        fixed = spec is not None and (spec.shape is not None or spec.leave_alone)
        frames = (*usual, *ratios) if spec is not None and spec.leave_alone else usual
        for aspect, frame, (minute, range_, stereo, told) in product(
            (None,) if fixed else (None, *ratios), dict.fromkeys(frames), lasting
        ):
            environment = Environment(
                source=source,
                playback=playback,
                pause_over=over,
                title=title,
                opening=opening,
                aspect=aspect,
                frame=frame,
                minute=minute,
                range=range_,
                stereo=stereo,
                told=tuple((name, value) for name, value in told if value is not None),
            )
            if title:
                declares = spec is None or spec.declares
                yield from facts.in_title(environment, declares=declares)
            else:
                yield environment


class _Facts:
    """The representative values of each fact that rules or promises test."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._lookups = lookups_by_fact(room)
        self._columns = {column.name: column for column in room_columns(room)}

    def tested(self, name: str) -> bool:
        return name in self._lookups

    def of(self, name: str) -> tuple[Any, ...]:
        """Return a fact's values; only null where nothing tests it."""
        if name not in self._lookups:
            return (None,)
        return representatives(self._columns[name], self._lookups[name])

    def told(self) -> list[list[tuple[str, Any]]]:
        """Return the values of each told fact that is tested, with its name."""
        return [
            [(name, value) for value in self.of(name)]
            for name in self._room.told
            if self.tested(name)
        ]

    def in_title(self, bare: Environment, *, declares: bool) -> Iterator[Environment]:
        """Yield an environment in a title, with all that may be known of the title."""
        for declared, tallest, varies, subtitles in product(
            self.of("declared") if declares else (None,),
            self.of("tallest"),
            (False, True) if self.tested("varies") else (False,),
            (False, True) if self.tested("subtitles") else (False,),
        ):
            yield bare._replace(
                declared=declared, tallest=tallest, varies=varies, subtitles=subtitles
            )
