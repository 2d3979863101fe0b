"""Equivalence classes: environments that the engine treats alike, so that one stands for many.

Two environments are equivalent if, wherever lens, panels and people stand, the same looks win,
the same orders are forbidden, and the same pictures can be shown. Classes are folded together
fact by fact (`FactTests.fold`), so their number grows with the different outcomes, not with the
product of all facts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import product
from typing import Any, Final, NamedTuple, cast

from engine.aspect import WIDE_FRAME, WIDEST, in_hundredths, same_shape
from engine.choosing import OTHERWISE
from engine.facts import (
    HELPER,
    HELPER_OF,
    PLAYBACKS,
    Facts,
    HelperFact,
    aspect_of,
    facts_of,
    facts_of_title,
    in_title,
    may_be_menu,
    pausing,
)
from engine.readings import heeds_readings
from engine.room import Room, Show
from engine.state import Core, first_state
from engine.table import winner
from engine.transition_table import nothing_plays
from simulator.proof.environments import Environment, enter
from simulator.proof.fact_classes import FILMS, FactTests, Mask, Pattern, RatioClasses
from simulator.proof.stopping import go_on, never

NOTHING_SHOWN: Final = Show()
NOBODY: Final[frozenset[str]] = frozenset()
OF_THE_MOMENT: Final = ("source", "playback", "aspect", "declared", "first_minutes")
"""Facts that depend on each other; all others may have any value beside any other."""
LASTING: Final = ("doubtful", "time", "range", "three_d")

TITLES: Final = ((False, False), (True, True), (True, False))
"""Whether a title is on, and whether its first minutes run, where the pace gives it any."""

Situation = tuple[str | None, str | None, HelperFact]
"""Preset, panels and helper, as facts."""


class Duties(NamedTuple):
    """What an environment forbids or asks for, whatever look wins in it."""

    pattern: Pattern
    inert: bool
    """Nothing is ordered: no light, a technician at work, or no source known yet."""
    past_first_minutes: bool
    """Something plays, and its first minutes are over."""
    nothing_plays: bool
    pausing: bool
    may_be_menu: bool


class EquivalenceClass(NamedTuple):
    """One environment that stands for its class, and what decides in it."""

    environment: Environment
    duties: Duties
    rows: dict[Situation, int]
    """The row that wins in each situation; -1 is the default."""
    shows: dict[Situation, Show]
    """What is shown, without cues: preset and panels as the title's own shape asks for."""
    cues: dict[Situation, tuple[tuple[str, str], ...]]
    asked: frozenset[str]
    """The panels for which people may have been asked where only our own orders and the clock have
    changed since."""
    promises: dict[int, Environment]
    """Promises, by index, whose tests of the environment pass, each with an environment in which
    they do. Whether such a promise breaks depends on the equipment."""


class EquivalenceClasses:
    """All equivalence classes of a room's environments with light and nobody at work."""

    def __init__(self, room: Room, stop: Callable[[], bool] = never) -> None:
        """Find the classes; raises `BrokenOff` once `stop` says so."""
        self.room = room
        self._stop = stop
        self.tests = FactTests(room)
        self._preset_tested = self.tests.tested("preset")
        self._panels_tested = self.tests.tested("panels")
        self.sees_helper = self.tests.tested("helper")
        """Whether rules or promises see that somebody is asked."""
        self.situations = tuple(
            (preset, panels, helper)
            for preset in ((None, *room.presets) if self._preset_tested else (None,))
            for panels in ((None, *room.panels) if self._panels_tested else (None,))
            for helper in (HELPER if self.sees_helper else HELPER[:1])
        )
        """Every situation that rules can tell from others."""
        self._rows_in: dict[Situation, set[int]] = {one: set() for one in self.situations}
        self._won: dict[int, tuple[int, Show]] = {}
        self._standing = {
            (preset, panels, helper): self.tests.mask("preset", preset)
            .both(self.tests.mask("panels", panels))
            .both(self.tests.mask("helper", helper))
            for preset, panels, helper in self.situations
        }
        self.environment_count = 0
        """How many kinds of environments were told apart before they were merged into classes."""
        self.by_rules = tuple(self._classified().values())
        self.unmet = self.tests.unmet
        """Tests of promises that no environment passes: promise's index and fact."""

    def __len__(self) -> int:
        return len(self.by_rules)

    def situation(self, core: Core) -> Situation:
        """Return what rules see of where the equipment stands."""
        return (
            core.preset if self._preset_tested else None,
            core.arrangement if self._panels_tested else None,
            HELPER_OF[core.panels] if self.sees_helper else HELPER[0],
        )

    def rows(self, situations: Iterable[Situation]) -> frozenset[int]:
        """Return the rows that are chosen in any of these situations; -1 is the default."""
        return frozenset(row for situation in situations for row in self._rows_in[situation])

    def _classified(self) -> dict[object, EquivalenceClass]:
        """Merge all environments into classes."""
        found: dict[object, EquivalenceClass] = {}
        for environment, duties, mask in self._outcomes():
            self.environment_count += 1
            go_on(self._stop)
            rows, shows, cues = {}, {}, {}
            for situation, standing in self._standing.items():
                rows[situation], show = self._winner(mask.rows & standing.rows)
                slow = NOTHING_SHOWN
                if mask.of_title & self.tests.looked_up:
                    _, slow = self._winner(mask.of_title & standing.rows)
                shows[situation] = show._replace(
                    preset=slow.preset, panels=slow.panels, cues=(), after=0
                )
                # Cues that wait may not be ordered yet, so whatever was ordered before may stand.
                cues[situation] = () if show.after else show.cues
                self._rows_in[situation].add(rows[situation])
            asked = self.tests.panels_asked(mask.asking) if self._leaves_panels(shows) else NOBODY
            new = EquivalenceClass(environment, duties, rows, shows, cues, asked, {})
            ordered = tuple(cues.values()) if self.tests.cues else ()
            known = found.setdefault((duties, *shows.values(), *ordered, asked), new)
            for index in bits(mask.promises):
                known.promises.setdefault(index, environment)
        return found

    def _leaves_panels(self, shows: dict[Situation, Show]) -> bool:
        """Tell whether what people were asked for may stand on, for a row that leaves it out."""
        return any(show.panels is None for show in shows.values())

    def _winner(self, accepted: int) -> tuple[int, Show]:
        """Return the row that wins where these rows match, and what it shows."""
        found = self._won.get(accepted)
        if found is None:
            choice = winner(self.room.rules.table, accepted)
            row = OTHERWISE if choice.row is None else choice.row
            found = self._won[accepted] = row, choice.output or NOTHING_SHOWN
        return found

    def _outcomes(self) -> Iterator[tuple[Environment, Duties, Mask]]:
        """Yield what environments come to: duties, and the rows and promises still possible."""
        tests = self.tests
        lasting = [(name, tests.values(name)) for name in (*LASTING, *self.room.told)]
        of_titles = {
            shaped: [
                (name, tests.values(name) if shaped and tests.tested(name) else (untitled,))
                for name, untitled in SHAPELESS.items()
            ]
            for shaped in (False, True)
        }
        moments: dict[tuple[bool, Mask], dict[Duties, Environment]] = {}
        for environment, duties, mask in self._moments():
            key = (has_played(environment), mask)
            moments.setdefault(key, {}).setdefault(duties, environment)
        seen = set()
        for (shaped, mask), by_duties in moments.items():
            for left, told in tests.fold(mask, (*of_titles[shaped], *lasting)).items():
                for duties, environment in by_duties.items():
                    if (duties, left) not in seen:
                        seen.add((duties, left))
                        yield _with_facts(environment, told, self.room), duties, left

    def _moments(self) -> Iterator[tuple[Environment, Duties, Mask]]:
        """Yield the facts that depend on each other: source, playback, title and shapes."""
        core = first_state(self.room).core
        core.projector = "lit"
        playing = [(one, False) for one in PLAYBACKS]
        playing.append(("paused", True))
        ratios = RatioClasses(self.room, self.tests, self._stop)
        titles = TITLES if self.room.pace.first_minutes else (TITLES[0], TITLES[2])
        # Of what breaks a promise the first is told: the plainest is that nothing else was before.
        for shapes_of in (self._shapes, self._elsewhere):
            for source, (title, first_minutes) in product((*self.room.sources, None), titles):
                shapes = [*shapes_of(ratios, source, title=title)]
                for (playback, over), shape in product(playing, shapes):
                    environment = Environment(
                        source=source,
                        playback=playback,
                        pause_over=over,
                        title=title,
                        first_minutes=first_minutes,
                        aspect=shape.settled,
                        frame=shape.frame,
                        declared=shape.declared,
                        longest=shape.longest,
                        remembered=shape.remembered,
                    )
                    go_on(self._stop)
                    yield self._moment(core, environment, ratios)

    def _moment(
        self, core: Core, environment: Environment, ratios: RatioClasses
    ) -> tuple[Environment, Duties, Mask]:
        room = self.room
        enter(core, environment)
        facts = facts_of(room, core, environment.settling)
        mask = self.tests.every
        for name in OF_THE_MOMENT:
            mask = mask.both(self.tests.mask(name, facts[name]))
        of_title = facts_of_title(room, core, environment.settling, facts)
        # Where a shape is not the title's own, people may have been asked while it was.
        own = self._of_title(facts if of_title is None else of_title)
        rows = 0 if of_title is None else own.of_title
        mask = mask._replace(of_title=rows, asking=own.asking)
        source, playback = room.sources.get(environment.source or ""), facts["playback"]
        inert = source is None
        shape = aspect_of(source, core, environment.settling) or environment.frame
        aspect = cast("int | None", facts["aspect"])
        duties = Duties(
            pattern=() if inert else ratios.pattern(aspect, shape),
            inert=inert,
            past_first_minutes=not inert
            and in_title(playback, title=environment.title)
            and not environment.first_minutes,
            nothing_plays=not inert and nothing_plays(core, room),
            pausing=pausing(core),
            may_be_menu=not inert and may_be_menu(source, playback),
        )
        return environment, duties, mask

    def _of_title(self, facts: Facts) -> Mask:
        """Return the rows that accept the facts of the moment, with the title's own shape."""
        found = self.tests.every
        for name in OF_THE_MOMENT:
            found = found.both(self.tests.mask(name, facts[name]))
        return found

    def _own_shapes(self, ratios: RatioClasses) -> tuple[int, ...]:
        """Return shapes that may be remembered of a title: one for each kind of rows."""
        found = {
            self.tests.mask("aspect", in_hundredths(ratio)).of_title: ratio
            for ratio in reversed(ratios.of("aspect", placed=False))
        }
        return tuple(found.values())

    def _shapes(self, ratios: RatioClasses, source: str | None, *, title: bool) -> Iterator[_Shape]:
        """Yield what may be known of the picture's shape while a source is shown."""
        spec = None if source is None else self.room.sources[source]
        declares = title and (spec is None or spec.declares)
        declared: tuple[int | None, ...] = (None,)
        if declares and self.tests.tested("declared"):
            declared = (None, *ratios.of("declared", placed=False))
        if spec is not None and spec.leave_alone and spec.shape is None:
            yield from (
                _Shape(None, frame, each)
                for frame, each in product(ratios.frames_that_are_shapes(), declared)
            )
        elif spec is not None and (spec.shape or (spec.menu_shape and not title)):
            yield from (_Shape(None, WIDE_FRAME, each) for each in declared)
        else:
            for settled, each in product(ratios.settled(), declared):
                yield _Shape(settled, WIDE_FRAME, each)
            yield from (_Shape(None, frame, None) for frame in ratios.frames())
            if declares:
                for each in ratios.of("aspect", "declared"):
                    yield _Shape(None, WIDE_FRAME, each)

    def _elsewhere(
        self, ratios: RatioClasses, source: str | None, *, title: bool
    ) -> Iterator[_Shape]:
        """Yield shapes that stand while the title's own is another: one remembered, or one seen."""
        if not title or source is None or not heeds_readings(self.room, source):
            return
        own_shapes = self._own_shapes(ratios)
        seen = ((settled, WIDE_FRAME) for settled in ratios.settled())
        for settled, frame in (*seen, *((None, frame) for frame in ratios.frames())):
            for own in own_shapes:
                yield _Shape(settled, frame, None, remembered=own)
            other = next(one for one in FILMS if not same_shape(one, settled or WIDEST))
            yield _Shape(settled, frame, None, longest=other)


class _Shape(NamedTuple):
    """What is known of a picture's shape, ratios in 1/10,000."""

    settled: int | None
    frame: int
    declared: int | None
    remembered: int | None = None
    longest: int | None = None


SHAPELESS: Final[dict[str, bool | None]] = {
    "tallest": None,
    "varies": False,
    "subtitles": False,
}
"""What is known of the shapes of a title that has not played yet, or of none."""


def has_played(environment: Environment) -> bool:
    """Tell whether the title that is on may have played, so that its shapes may be known.

    A stop ends the title, and one that begins then has not played yet. So does a pause that lasts,
    but what it has ended may be gone on with before anything plays.
    """
    return environment.title and environment.playback != "stopped"


def _with_facts(environment: Environment, told: dict[str, Any], room: Room) -> Environment:
    """Return an environment with the facts that were folded apart from it."""
    return environment._replace(
        tallest=told["tallest"],
        varies=told["varies"],
        subtitles=told["subtitles"],
        doubtful=told["doubtful"],
        minute=told["time"],
        range=told["range"],
        three_d=told["three_d"],
        told=tuple((name, told[name]) for name in sorted(room.told) if told[name] is not None),
    )


def bits(mask: int) -> Iterator[int]:
    """List the numbers of the bits that are set."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
