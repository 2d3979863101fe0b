"""Every world that the hub may speak of: the facts that rules, promises and physics tell apart.

A hub may miss events, tell them late or come back to a room in which all is different. So a world
is not reached event by event here: every combination of facts that can be is one. Of the values
of a fact that neither a rule nor a promise nor the picture's place tells apart one stands for
all; a fact that nobody looks at has one value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import pairwise, product
from typing import Final, NamedTuple

from engine import settle
from engine.aspect import NARROWEST, WIDE_FRAME, WIDEST, meant
from engine.choosing import pausing
from engine.facts import PLAYBACKS, room_columns
from engine.optics import Rect, can_show, fit, on_panel
from engine.room import DARK, PLAIN, Room, Show
from engine.settle import Settling
from engine.state import Core, OrderedPicture, Timers
from engine.table import Column, Lookup, RuleTable
from engine.value_set import Value
from rules.table.domains import RATIO_STEP, domain_of

LATER: Final = 10**15
"""When a timer runs out that runs at all: which one is next is chosen, not computed."""
FRAMES: Final = (WIDE_FRAME, 13_333)
"""Coded frames that nearly all sources send."""


class Environment(NamedTuple):
    """What is so outside: all that the equipment's own state leaves open."""

    projector: str = "lit"
    service: bool = False
    source: str | None = None
    playback: str = "unknown"
    pause_over: bool = False
    title: bool = False
    opening: bool = False
    aspect: int | None = None
    """What the readings have settled on."""
    frame: int = WIDE_FRAME
    declared: int | None = None
    tallest: int | None = None
    varies: bool = False
    subtitles: bool = False
    minute: int | None = None
    range: str | None = None
    stereo: bool | None = None
    told: tuple[tuple[str, str | bool | int], ...] = ()
    hand: str = "rules"
    wish: Show | None = None
    """What a person wants who has the room."""

    @property
    def settling(self) -> Settling:
        """What the filter of the readings remembers."""
        return settled_on(self.aspect, self.subtitles)


@lru_cache(4_096)
def settled_on(aspect: int | None, subtitles: bool) -> Settling:  # noqa: FBT001 - a cache's key
    """Give the filter's memory of a ratio that nothing contradicts."""
    return settle.UNSETTLED._replace(aspect=aspect, subtitles=subtitles)


def entered(core: Core, environment: Environment) -> Core:
    """Give a copy of a core, in this world."""
    new = core.copy()
    enter(new, environment)
    return new


def enter(new: Core, environment: Environment) -> None:
    """Put a core into this world."""
    (
        new.projector,
        new.service,
        new.source,
        new.playback,
        new.pause_over,
        new.title,
        opening,
        _,
        new.frame,
        new.declared,
        new.tallest,
        new.varies,
        new.subtitles,
        new.minute,
        new.range,
        new.stereo,
        new.told,
        new.hand,
        new.hand_look,
    ) = environment
    idle = environment.playback in {"stopped", "unknown"} or environment.pause_over
    new.timers = _running(
        new.timers,
        LATER if pausing(new) else None,
        LATER if opening else None,
        LATER if idle else None,
    )


@lru_cache(4_096)
def _running(timers: Timers, pause: int | None, opening: int | None, session: int | None) -> Timers:
    """Let the world's timers run beside the equipment's: there are few combinations of them."""
    return timers._replace(pause=pause, opening=opening, session=session)


# ------------------------------------------------------------------------------ facts in classes


def lookups_by_fact(room: Room) -> dict[str, list[Lookup]]:
    """Collect for every fact how rules and promises look at it; what none looks at is left out."""
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
    """Pick one value out of each class that these lookups tell apart, null first where it may be.

    Numbers are picked from the middle of their class, on the steps that facts come in.
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
            first = -(-int(cut.value) // step) * step
            if cut.after and first == cut.value:
                first += step
            edges |= {first} if least < first <= most else set()
    found += [
        one + (other - step - one) // step // 2 * step for one, other in pairwise(sorted(edges))
    ]
    return tuple(found)


def representative_aspects(room: Room) -> tuple[int, ...]:
    """Pick one ratio out of each class that rules, promises or the picture's place tell apart."""
    looks = lookups_by_fact(room)
    cuts = [lookup for name in ("aspect", "tallest") for lookup in looks.get(name, ())]
    classes: dict[object, list[int]] = {}
    for ratio in range(NARROWEST, WIDEST + 1, RATIO_STEP):
        whole = meant(ratio)
        key = (tuple(one.rows(ratio) for one in cuts), placement_key(room, whole))
        classes.setdefault(key, []).append(whole)
    return tuple(_best(ratios) for ratios in classes.values())


FILMS: Final = (17_778, 18_500, 23_900, 13_333, 20_000, 22_000, 16_600, 27_600)
"""Shapes that real titles have, the commonest first: they tell a better story than others."""


def _best(ratios: list[int]) -> int:
    return next((film for film in FILMS if film in ratios), ratios[len(ratios) // 2])


def representative_frames(room: Room, ratios: tuple[int, ...]) -> tuple[int, ...]:
    """Pick one coded frame out of each class that its place tells apart, the usual ones first."""
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
    """Say all that matters of where pictures of a ratio stand: what can be shown, and is safe."""
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
"""What matters of a picture: whether it is dark, even or which named one, where it is safe, and
which promises see it."""


@lru_cache(65_536)
def picture_kind(room: Room, shown: OrderedPicture) -> PictureKind:
    """Say what matters of a picture."""
    name = shown.picture if shown.picture in room.pictures or shown.picture == DARK else PLAIN
    return (
        name,
        on_panels_at(room, shown.region),
        promise_tests_passed(room, shown.picture, shown.lift),
    )


@lru_cache(4_096)
def promise_tests_passed(room: Room, picture: str, lift: int) -> tuple[bool, ...]:
    """Say which promises' tests of a picture pass, of those that may meet one nobody asks for now.

    In a person's hand and in a pause what was asked for before stands on. Otherwise picture and
    lift are the row's, and need not be remembered for a promise's sake.
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
    """Say for each preset and arrangement, unknown first, whether a region is on panels there."""
    return tuple(
        on_panel(room, region, preset, panels)
        for preset in (None, *room.presets)
        for panels in (None, *room.panels)
    )


# --------------------------------------------------------------------------------------- worlds


def environments(room: Room) -> Iterator[Environment]:
    """List every world with light and nobody at work, before any source is known too."""
    looks, columns = lookups_by_fact(room), {column.name: column for column in room_columns(room)}

    def picked(name: str) -> tuple[Value, ...]:
        return representatives(columns[name], looks[name]) if name in looks else (None,)

    ratios = representative_aspects(room)
    usual = representative_frames(room, ratios)
    told = [
        [(name, value) for value in representatives(columns[name], looks[name])]
        for name in room.told
        if name in looks
    ]
    lasting = list(product(picked("time"), picked("range"), picked("stereo"), product(*told)))
    for source, (playback, over), (title, opening) in product(
        (*room.sources, *((None,) if "source" in looks else ())),
        (*((one, False) for one in PLAYBACKS), ("paused", True)),
        ((False, False), (True, True), (True, False)),
    ):
        spec = room.sources[source] if source is not None else None
        fixed = spec is not None and (spec.shape is not None or spec.leave_alone)
        any_frame = (*usual, *ratios) if spec is not None and spec.leave_alone else usual
        for aspect, frame, (minute, range_, stereo, facts) in product(
            (None,) if fixed else (None, *ratios), dict.fromkeys(any_frame), lasting
        ):
            bare = Environment(
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
                told=tuple((n, v) for n, v in facts if v is not None),
            )
            if not title:
                yield bare
                continue
            for declared, tallest, varies, subtitles in product(
                picked("declared") if spec is None or spec.declares else (None,),
                picked("tallest"),
                (False, True) if "varies" in looks else (False,),
                (False, True) if "subtitles" in looks else (False,),
            ):
                yield bare._replace(
                    declared=declared,  # type: ignore[arg-type]
                    tallest=tallest,  # type: ignore[arg-type]
                    varies=varies,
                    subtitles=subtitles,
                )
