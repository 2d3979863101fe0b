"""Demands: what environments ask of lens, panels and people that stand in one way.

Where the lens, the panels and a prompt stand after a step does not depend on which picture is
asked for: `reconcile` looks for a travel and asks for panels before it orders a picture, and the
picture holds a travel back only while its order is open, or while the old one stands on and would
fall on panels on the way. So environments that want the same preset and panels and are under the
same duties are one demand. `AnswerSteps` takes it with each picture that may have stood before, and
`PictureSweep` tries all pictures that may be asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Final, Literal, NamedTuple

from engine.aspect import HIGHEST_LIFT
from engine.room import PLAIN, WHOLE, Room, Show
from engine.state import Core
from simulator.proof.environments import Environment
from simulator.proof.equivalence import (
    NOBODY,
    NOTHING_SHOWN,
    Duties,
    EquivalenceClass,
    EquivalenceClasses,
    Situation,
)
from simulator.proof.fact_classes import Pattern

Asking = Literal["chosen", "held", "overridden", "unlit"]
"""Who asks for a picture: a row now, a row before a pause, a person, or nobody."""


class Left(NamedTuple):
    """Which parts of a picture are left as they stood before."""

    picture: bool
    lift: bool


BOTH_LEFT: Final = Left(picture=True, lift=True)


class PictureKey(NamedTuple):
    """A picture that is asked for, and all that decides what is shown of it at one place."""

    asking: Asking
    picture: str | None
    """None: a person leaves the picture as it stands, or nothing is lit."""
    lift: int
    pattern: Pattern
    menu: bool
    either: bool
    """Nothing is known of the shape, so a named picture may be shown or be plain instead."""
    left: Left
    """What is left as it stood before."""


class Pictures(NamedTuple):
    """What promises may meet in one kind of environment."""

    met: dict[int, dict[PictureKey, Environment]]
    """For each promise whose tests of the environment pass, by index: the pictures asked for
    there, each with an environment in which it is."""


class Demand(NamedTuple):
    """What environments of one kind ask of equipment, with one of them."""

    environment: Environment
    duties: Duties
    show: Show
    """The preset and panels that are wanted, and one of the pictures."""
    cues: tuple[tuple[str, str], ...]
    pictures: tuple[Pictures, ...]
    asked: frozenset[str] = NOBODY
    """The panels for which people may have been asked by rules that leave them out now."""

    @property
    def by_person(self) -> bool:
        """Tell whether a person has taken over."""
        return self.environment.override == "person"

    def still_asked(self, core: Core) -> bool:
        """Tell whether an open prompt may stand on here, though no row wants its panels now."""
        return core.asked is not None and core.asked.panels in self.asked


UNLIT: Final = PictureKey(
    "unlit", None, 0, (), menu=False, either=False, left=Left(picture=False, lift=False)
)


class Demands:
    """Finds the demands for equipment that stands in one way; keeps what it has found."""

    def __init__(self, room: Room, classes: EquivalenceClasses) -> None:
        self.room = room
        self.classes = classes
        self.wishes = (PLAIN, WHOLE, *room.pictures, None)
        """The pictures that a person may ask for; None: as it stands."""
        self.wanted = self._ever_wanted()
        """Every picture and lift that may ever be wanted; a row may leave them as they stand."""
        self.lifts = tuple(sorted({lift for _, lift in self.wanted}))
        self.asked: dict[Situation, dict[PictureKey, Environment]] = {}
        """For each situation the pictures that may be asked for, with an environment."""
        self._unmerged: dict[Situation, list[Demand]] = {}
        self._found: dict[object, tuple[Demand, ...]] = {}

    def of(self, core: Core) -> tuple[Demand, ...]:
        """Return one demand for each effect that an environment can have on this equipment."""
        situation = self.classes.situation(core)
        asked = None if core.asked is None else (core.asked.panels, core.asked.at_screen)
        key = (situation, core.preset, core.lens, core.arrangement, asked)
        found = self._found.get(key)
        if found is None:
            merged: dict[object, Demand] = {}
            for demand in self._in(situation):
                effect = _effect(core, demand)
                known = merged.get(effect)
                pictures = demand.pictures if known is None else known.pictures + demand.pictures
                merged[effect] = (known or demand)._replace(pictures=pictures)
            found = self._found[key] = tuple(merged.values())
        return found

    def every(self) -> Iterator[Demand]:
        """List the demands of every situation."""
        for situation in self.classes.situations:
            yield from self._in(situation)

    def pictures(self, situation: Situation) -> dict[PictureKey, Environment]:
        """Return every picture that may be asked for in a situation."""
        self._in(situation)
        return self.asked[situation]

    def _in(self, situation: Situation) -> list[Demand]:
        """Return the demands in a situation, before what some equipment cannot tell apart."""
        found = self._unmerged.get(situation)
        if found is None:
            asked: dict[PictureKey, Environment] = {}
            self.asked[situation] = asked
            found = [
                *self._by_rules(situation, asked),
                *self._under_override(situation, asked),
                *self._inert(asked),
            ]
            # Of what breaks a promise the first is told, and a pause is seldom the plainest.
            found.sort(key=lambda one: one.duties.pausing)
            self._unmerged[situation] = found
        return found

    def _by_rules(
        self, situation: Situation, asked: dict[PictureKey, Environment]
    ) -> Iterator[Demand]:
        demands: dict[object, Demand] = {}
        # A look that is chosen now is best seen outside a pause, which keeps earlier ones.
        for group in sorted(self.classes.by_rules, key=lambda one: one.duties.pausing):
            if group.duties.inert:
                continue
            show, duties = group.shows[situation], group.duties
            pausing = duties.pausing
            open_for = NOBODY if pausing or show.panels is not None else group.asked
            key = (
                None if pausing else (show.preset, show.panels),
                *(pausing, duties.past_first_minutes, duties.nothing_plays, open_for),
            )
            pictures = (Pictures({}),)
            cues = group.cues[situation]
            new = Demand(group.environment, duties, show, cues, pictures, open_for)
            demand = demands.setdefault(key, new)
            for wanted in self._keys(show, duties):
                asked.setdefault(wanted, group.environment)
                if wanted.asking == "held" and show.picture not in {None, PLAIN, wanted.picture}:
                    # Best seen where the row that matches now would show something else.
                    asked[wanted] = group.environment
                self._meet(demand.pictures[0], group, wanted, cues=cues)
        yield from demands.values()

    def _keys(self, show: Show, duties: Duties) -> Iterator[PictureKey]:
        """List the pictures that a class may ask for, its row's own and, in a pause, earlier ones.

        A pause holds the look of whatever row was chosen before it; the first look that a room
        ever chooses may be chosen in a pause.
        """
        named = self.room.pictures
        for picture, lift in dict.fromkeys(
            (show.picture or before[0], before[1] if show.lift is None else show.lift)
            for before in self.wanted
        ):
            either = show.picture is None and picture in named
            left = Left(show.picture is None, show.lift is None)
            pattern = duties.pattern if picture in named else ()
            yield PictureKey("chosen", picture, lift, pattern, duties.may_be_menu, either, left)
        if duties.pausing:
            for picture, lift in self.wanted:
                either = picture in named
                yield PictureKey("held", picture, lift, (), duties.may_be_menu, either, BOTH_LEFT)

    def _under_override(
        self, situation: Situation, asked: dict[PictureKey, Environment]
    ) -> Iterator[Demand]:
        """Yield a demand for each preset and panels that a person may ask for together."""
        kinds: dict[tuple[bool, bool], tuple[EquivalenceClass, Pictures]] = {}
        for group in self.classes.by_rules:
            duties = group.duties
            if duties.inert:
                continue
            # A person's wish knows no pace: it is tried where the rules are held back the most.
            # Within a pause they may ask for panels, in mid-title they may not.
            kind = duties.nothing_plays, duties.pausing
            best, pictures = kinds.setdefault(kind, (group, Pictures({})))
            if duties.past_first_minutes > best.duties.past_first_minutes:
                kinds[kind] = group, pictures
            for picture, (lift, own) in product(self.wishes, self._own_lifts()):
                wish = Show(picture, lift if own else None)
                named = picture in self.room.pictures
                left = Left(picture is None, lift=not own)
                key = PictureKey("overridden", picture, lift, (), duties.may_be_menu, named, left)
                taken = group.environment._replace(override="person", wish=wish)
                asked.setdefault(key, taken)
                self._meet(pictures, group, key, group.cues[situation], wish)
        strictest = sorted(kinds.values(), key=lambda kind: not kind[0].duties.past_first_minutes)
        for number, (group, pictures) in enumerate(strictest):
            # What counts for each title holds back the rules alone, so a title is on where one may.
            title = group.environment.title or group.duties.past_first_minutes
            for wish in self._override_looks(everything=number == 0):
                environment = group.environment._replace(override="person", wish=wish, title=title)
                cues = group.cues[situation]
                yield Demand(environment, group.duties, wish, cues, (pictures,))

    def _own_lifts(self) -> Iterator[tuple[int, bool]]:
        """List lifts under a person's picture, and whether they ask for it themselves.

        Of the lifts that a person may ask for, one stands for all that promises do not tell apart.
        """
        for lift in self.lifts:
            yield lift, False
        cells = [
            row.cells[promise.never.columns.index(column)]
            for promise in self.room.promises
            for column in promise.never.columns
            if column.name == "lift"
            for row in promise.never.rows
        ]
        cuts = {int(cut.value) + off for cell in cells for cut in cell.cuts for off in (-1, 0, 1)}
        told: dict[tuple[bool, ...], int] = {}
        for lift in (HIGHEST_LIFT, *self.lifts, *sorted(cuts)):
            if 0 <= lift <= HIGHEST_LIFT:
                told.setdefault(tuple(cell.accepts(lift) for cell in cells), lift)
        for lift in told.values():
            yield lift, True

    def _override_looks(self, *, everything: bool) -> Iterator[Show]:
        """List what a person may ask for.

        Duties only hold back what demands, so looks of several parts are tried under one kind of
        duties (`everything`): under the others they lead to where a look of one part leads.
        """
        presets, panels = (None, *self.room.presets), (None, *self.room.panels)
        for preset, arrangement in product(presets, panels):
            one_part = preset is None or arrangement is None
            if everything or one_part:
                yield Show(PLAIN, None, preset, arrangement)
            if (everything and one_part) or preset is arrangement is None:
                yield Show(None, None, preset, arrangement)

    def _inert(self, asked: dict[PictureKey, Environment]) -> Iterator[Demand]:
        """Yield demands in which nothing is ordered: no source yet, no light, somebody at work."""
        asked.setdefault(UNLIT, Environment())
        for override in ("rules", "person"):
            lasting: dict[str, Demand] = {}
            for group in self.classes.by_rules:
                wish = Show() if override == "person" else None
                changed = {"source unknown": group.environment}
                if not group.duties.inert:
                    changed = {
                        "no light": group.environment._replace(projector="off"),
                        "service": group.environment._replace(service=True),
                    }
                for why, bare in changed.items():
                    environment = bare._replace(override=override, wish=wish)
                    duties = INERT._replace(pausing=group.duties.pausing)
                    demand = lasting.setdefault(
                        why, Demand(environment, duties, NOTHING_SHOWN, (), (Pictures({}),))
                    )
                    for index, told in group.promises.items():
                        if not self._cues_pass(index, ()):
                            continue
                        where = told._replace(
                            override=override,
                            wish=wish,
                            projector=environment.projector,
                            service=environment.service,
                        )
                        demand.pictures[0].met.setdefault(index, {}).setdefault(UNLIT, where)
            yield from lasting.values()

    def _meet(
        self,
        pictures: Pictures,
        group: EquivalenceClass,
        key: PictureKey,
        cues: tuple[tuple[str, str], ...] = (),
        wish: Show | None = None,
    ) -> None:
        """Note that the promises of a class may meet a picture."""
        for index, told in group.promises.items():
            if self._cues_pass(index, cues):
                where = told if wish is None else told._replace(override="person", wish=wish)
                pictures.met.setdefault(index, {}).setdefault(key, where)

    def _cues_pass(self, index: int, ordered: tuple[tuple[str, str], ...]) -> bool:
        """Tell whether a promise's tests of cues may pass.

        A cue that is not ordered now stands as it was ordered at any time before, if ever: by a
        row, or by a person, who may have ordered any value. While it is theirs nothing is known of
        it.
        """
        now = dict(ordered)
        return all(
            any(
                cell.accepts(value)
                for value in ((now[cue],) if cue in now else self.room.cues[cue])
            )
            or cell.accepts(None)
            for cue, cell in self.classes.tests.cues.get(index, ())
        )

    def _ever_wanted(self) -> tuple[tuple[str, int], ...]:
        """Find every picture and lift that may be wanted, from the first one on."""
        shows = {
            (show.picture, show.lift)
            for group in self.classes.by_rules
            for show in group.shows.values()
        }
        shows |= {(picture, None) for picture in self.wishes}
        found, fresh = {(PLAIN, 0)}, [(PLAIN, 0)]
        while fresh:
            before_picture, before_lift = fresh.pop()
            for picture, lift in shows:
                new = (picture or before_picture, before_lift if lift is None else lift)
                if new not in found:
                    found.add(new)
                    fresh.append(new)
        return tuple(sorted(found))


INERT: Final = Duties((), True, False, False, False, False)  # noqa: FBT003


def _effect(core: Core, demand: Demand) -> object:
    """Return what of a demand matters to equipment that stands so.

    While the lens travels or somebody is at the screen, nothing sets off and nobody is asked: it
    matters whether something is wanted, not what. Of an open prompt it matters too whether its
    panels are still wanted; but nobody is called away from the screen, and it is dark there.
    """
    duties, show, asked = demand.duties, demand.show, core.asked
    if duties.inert:
        return demand.environment.service, demand.environment.source, demand.environment.override
    if duties.pausing and not demand.by_person:
        return "pause"
    stays = demand.still_asked(core)
    lost = core.lens == "unknown"
    preset = None if show.preset == core.preset and not lost else show.preset
    panels = None if show.panels == core.arrangement and asked is None else show.panels
    by_rules = demand.environment.override == "rules"
    if asked is not None and asked.at_screen:
        return by_rules, preset is not None, panels is not None
    leaves_picture = demand.by_person and show.picture is None
    if core.lens == "travelling":
        still = asked is not None and panels == asked.panels
        return by_rules, leaves_picture, preset is not None, panels is not None, still, stays
    demands = lost or preset is not None or panels is not None
    return (
        by_rules,
        leaves_picture,
        preset,
        panels,
        duties.past_first_minutes and demands and by_rules,
        duties.pausing and preset is not None,  # Only rules wait for the end of a pause.
        duties.nothing_plays and lost,
        stays,
    )
