"""What a class of environments does to equipment that stands in one way.

For given equipment many classes have the same effect: the same look is wanted, the picture is of
the same kind in the same place, the same orders are forbidden. One class of each effect is enough.
"""

from __future__ import annotations

from typing import NamedTuple

from engine.optics import can_show, fit, larger_preset, on_panel
from engine.reconcile import standing_place
from engine.room import DARK, PLAIN, WHOLE, Room, Show
from engine.state import Core, OrderedPicture
from simulator.proof.environments import PictureKind, picture_kind
from simulator.proof.equivalence import (
    NOTHING_SHOWN,
    EquivalenceClass,
    EquivalenceClasses,
    merge_class,
)

PictureNumber = tuple[str, int]
"""The kind of picture that is shown, and a number for the picture that is wanted."""


class Effect(NamedTuple):
    """All of a class that matters to equipment that stands in one way."""

    preset: str | None
    panels: str | None
    mid_title: bool
    """Something would be moved, and a title's first minutes are over."""
    lens_free: bool
    """The lens is unknown, and nothing plays that would keep it from travelling."""
    menu: bool
    """A menu may be shown, and it matters whether it is distorted."""
    lift: int
    now: PictureNumber
    """The picture where the lens stands now."""
    then: PictureNumber
    """The picture at the larger end of the travel that is wanted."""

    @property
    def travel(self) -> tuple[object, ...]:
        """The part that matters wherever a person leaves the picture as it stands."""
        return self.preset, self.panels, self.mid_title, self.lens_free

    @property
    def picture(self) -> tuple[object, ...]:
        """The part that matters only if the picture is ordered anew."""
        return self.lift, self.now, self.then


class SituationClasses(NamedTuple):
    """One class for each effect on equipment that stands in one way."""

    always: tuple[EquivalenceClass, ...]
    """Classes that matter whatever picture stands.

    In the others a person leaves the picture as it stands; which of them matter depends on it.
    """
    named_stands: tuple[EquivalenceClass, ...]
    must_change: tuple[EquivalenceClass, ...]
    may_stay: tuple[EquivalenceClass, ...]


class RelevantClasses:
    """Finds the classes that differ in their effect; keeps what it has found."""

    def __init__(self, room: Room, classes: EquivalenceClasses) -> None:
        self.room = room
        self._classes = classes
        self._found: dict[object, SituationClasses] = {}
        self._pictures: dict[object, PictureNumber] = {}
        self._numbers: dict[tuple[str, PictureKind], int] = {}
        """Pictures asked for with their kinds, numbered: numbers are quick to compare."""

    def of(self, core: Core) -> tuple[EquivalenceClass, ...]:
        """Return one class for each effect that an environment can have on this equipment."""
        where = standing_place(self.room, core)
        key = (
            self._classes.situation(core),
            core.preset,
            core.lens == "unknown",
            where,
            core.arrangement,
            core.wanted[:2] if self._classes.carries_over else None,
            None if core.asked is None else core.asked.panels,
        )
        found = self._found.get(key)
        if found is None:
            found = self._found[key] = self._by_effect(core, where)
        shown = core.shown
        if shown is not None and shown.picture in self.room.pictures:
            return (*found.always, *found.named_stands)
        if shown is None or shown.picture == DARK or self._unsafe(shown, where, core.arrangement):
            return (*found.always, *found.must_change)
        return (*found.always, *found.may_stay)

    def _unsafe(self, shown: OrderedPicture, where: str | None, panels: str | None) -> bool:
        """Tell whether a picture may fall on panels on some way from here."""
        return any(
            on_panel(self.room, shown.region, preset, panels)
            for preset in (where, *self.room.presets, None)
        )

    def _by_effect(self, core: Core, where: str | None) -> SituationClasses:
        always: dict[object, EquivalenceClass] = {}
        named_stands: dict[object, EquivalenceClass] = {}
        must_change: dict[object, EquivalenceClass] = {}
        may_stay: dict[object, EquivalenceClass] = {}
        situation = self._classes.situation(core)
        for group in self._classes.by_rules:
            merge_class(always, self._effect(core, where, group, group.shows[situation]), group)
        for classes in self._classes.by_hand:
            for group in classes:
                wish = group.environment.wish or NOTHING_SHOWN
                effect = self._effect(core, where, group, wish)
                if not isinstance(effect, Effect):
                    merge_class(always, effect, group)
                elif wish.picture is not None:
                    merge_class(always, (wish, effect), group)
                # What adds nothing where all of the effect matters adds nothing where less does.
                elif merge_class(named_stands, effect, group):
                    merge_class(must_change, (effect.travel, effect.picture), group)
                    merge_class(may_stay, effect.travel, group)
        return SituationClasses(
            tuple(always.values()),
            tuple(named_stands.values()),
            tuple(must_change.values()),
            tuple(may_stay.values()),
        )

    def _effect(
        self, core: Core, where: str | None, group: EquivalenceClass, show: Show
    ) -> Effect | tuple[object, ...]:
        """Return all that matters of a class here; an `Effect` unless no look is chosen."""
        environment = group.environment
        picture = show.picture or core.wanted.picture
        lift = core.wanted.lift if show.lift is None else show.lift
        held = group.pausing and environment.hand == "rules"
        if group.inert:
            look = core.wanted[:2] if held else (picture, lift)
            carried = look if self._classes.carries_over else None
            return environment.service, environment.hand, carried
        if held:
            pictures = (PLAIN, *self._classes.named)
            return "pause", *(
                self._picture(one, 0, group, where, core.arrangement) for one in pictures
            )
        if environment.hand == "person" and (group.may_be_menu or show.picture is None):
            picture = PLAIN
        travels = show.preset is not None and show.preset != core.preset
        asks = show.panels is not None and show.panels != core.arrangement
        going = larger_preset(self.room, where, show.preset) if travels else where
        now = self._picture(picture, lift, group, where, core.arrangement)
        then = now
        if going != where:
            then = self._picture(picture, lift, group, going, core.arrangement)
        return Effect(
            preset=show.preset,
            panels=show.panels,
            mid_title=group.past_opening and (travels or asks or core.lens == "unknown"),
            lens_free=group.nothing_plays and core.lens == "unknown",
            menu=group.may_be_menu
            and (environment.hand == "person" or now[0] in self.room.pictures),
            lift=lift,
            now=now,
            then=then,
        )

    def _picture(
        self,
        picture: str,
        lift: int,
        group: EquivalenceClass,
        where: str | None,
        panels: str | None,
    ) -> PictureNumber:
        """Return what is shown if a picture is asked for with the lens and panels standing so."""
        frame = group.environment.frame
        shape = frame if group.shape is None or picture == WHOLE else group.shape
        key = (picture, lift, shape, where, panels)
        found = self._pictures.get(key)
        if found is None:
            room = self.room
            shown = picture if can_show(room, picture, shape, where, panels) else PLAIN
            region = fit(room, shown, lift, shape, where, panels)
            kind = picture_kind(room, OrderedPicture(shown, shape, lift, region))
            name, *_ = kind
            number = self._numbers.setdefault((picture, kind), len(self._numbers))
            found = self._pictures[key] = name, number
        return found
