"""Every picture that may be asked for, shown by the engine wherever lens and panels may stand.

What is shown depends on the picture that is asked for, on where lens and panels stand, and on
whether somebody is at the screen; not on prompts and travels otherwise. So each picture is tried
once at each such place, and what is shown there then counts for every state with that place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from engine.aspect import NARROWEST, WIDEST
from engine.events import Event
from engine.optics import can_show
from engine.reconcile import NOTHING_LIT, somebody_at_screen, standing_place
from engine.room import DARK, PLAIN, WHOLE, Look, Room
from engine.state import Core, OrderedPicture
from engine.step import choose_and_reconcile
from engine.transaction import Transaction
from rules.table.domains import RATIO_STEP
from simulator.proof.copies import copied
from simulator.proof.demands import UNLIT, Demand, Demands, PictureKey, Pictures
from simulator.proof.environments import Environment, entered
from simulator.proof.equipment import LEFT, canonical
from simulator.proof.half_steps import Cause, HalfSteps
from simulator.proof.judgement import Judgement, Met
from simulator.proof.standing_pictures import StandingPictures

PicturePlace = tuple[object, ...]
Shown = tuple[str | None, int | None]
"""A picture's name and lift; None where nothing is known to be shown."""
News = tuple[str | bool | int | None, ...]
Step = tuple[Core, Transaction]
"""What a half step began with, and the half step."""


class PictureSweep:
    """Shows pictures and remembers what came of them."""

    def __init__(
        self, room: Room, demands: Demands, half_steps: HalfSteps, judgement: Judgement
    ) -> None:
        self.room = room
        self._demands = demands
        self._half_steps = half_steps
        self._judgement = judgement
        self._standing = StandingPictures(room)
        self._shown: dict[PicturePlace, dict[PictureKey, frozenset[Shown]]] = {}
        self._ever: dict[tuple[str, str | None, str | None], bool] = {}
        self._judged: set[PicturePlace] = set()
        self._met: dict[tuple[int, PicturePlace], list[Met]] = {}
        self._kept: list[Pictures] = []
        """What the identities in `_met` belong to: they must not be used again."""

    def judge(self, at: int, event: Event | str | None, core: Core) -> None:
        """Check the built-in promises for every picture here, once for each place."""
        place = self.place(core)
        if place in self._judged:
            return
        self._judged.add(place)
        shown: dict[PictureKey, frozenset[Shown]] = {}
        core = canonical(core)
        for key, environment in self._pictures(core).items():
            cause = Cause(at, event, environment)
            steps = [*self._show(core, key, environment)]
            for before, tx in steps:
                self._judgement.step(before, tx, cause)
                self._judgement.picture(tx, cause, menu=key.menu)
            shown[key] = frozenset(self._outcome(core, key, steps))
        self._shown[place] = shown

    def promises_met(self, demand: Demand, core: Core) -> Iterator[Met]:
        """Yield the promises whose tests of environment, picture and lift pass after a demand."""
        for shown_at in _placed_for(core):
            place = self.place(shown_at)
            for pictures in demand.pictures:
                known = self._met.get((id(pictures), place))
                if known is None:
                    self._kept.append(pictures)
                    found = [*self._meet(pictures, shown_at, place)]
                    known = self._met[id(pictures), place] = found
                yield from known

    def _meet(self, pictures: Pictures, core: Core, place: PicturePlace) -> Iterator[Met]:
        shown = self._outcomes(place, core)
        for index, keys in pictures.met.items():
            for key, environment in keys.items():
                passing = [one for one in shown[key] if self._judgement.accepts(index, *one)]
                if passing:
                    picture = (key.picture or passing[0][0]) if key.left.picture else None
                    lift = key.lift if key.left.lift else None
                    yield Met(index, environment, (picture, lift))
                    break

    def _outcomes(self, place: PicturePlace, core: Core) -> dict[PictureKey, frozenset[Shown]]:
        found = self._shown.get(place)
        if found is None:
            core = canonical(core)
            found = self._shown[place] = {
                key: frozenset(self._outcome(core, key, self._show(core, key, environment)))
                for key, environment in self._pictures(core).items()
            }
        return found

    def _outcome(self, core: Core, key: PictureKey, steps: Iterable[Step]) -> Iterator[Shown]:
        """Yield what may be shown; where the shape is unknown, also what another shape allows."""
        if key == UNLIT:
            yield None, None
            return
        for _, tx in steps:
            shown = tx.core.shown
            yield (None, None) if shown is None else (shown.picture, shown.lift)
            if key.either and shown is not None and shown.picture != DARK and not key.menu:
                yield PLAIN, shown.lift
                if self._ever_shown(key.picture or PLAIN, core):
                    yield key.picture, shown.lift

    def _ever_shown(self, picture: str, core: Core) -> bool:
        """Tell whether a picture can be shown here at any ratio."""
        place, panels = standing_place(self.room, core), core.arrangement
        found = self._ever.get((picture, place, panels))
        if found is None:
            ratios = chain(
                range(NARROWEST, WIDEST + 1, RATIO_STEP),  # finds it soon, if it is not rare
                range(NARROWEST, WIDEST + 1),
            )
            found = self._ever[picture, place, panels] = any(
                can_show.__wrapped__(self.room, picture, ratio, place, panels) for ratio in ratios
            )
        return found

    def _pictures(self, core: Core) -> dict[PictureKey, Environment]:
        return self._demands.pictures(self._demands.classes.situation(core))

    def place(self, core: Core) -> PicturePlace:
        """Tell places apart; while somebody is at the screen it is dark, wherever all else is."""
        situation = self._demands.classes.situation(core)
        if somebody_at_screen(core):
            return situation, "somebody at the screen"
        place = standing_place(self.room, core)
        # What somebody is asked for matters only to rules that see that they are.
        seen = core.asked if self._demands.classes.sees_helper else None
        asked = None if seen is None else seen.panels
        return situation, core.lens == "unknown", place, core.arrangement, asked

    def _show(self, core: Core, key: PictureKey, environment: Environment) -> Iterator[Step]:
        """Let the engine show a picture, whatever stood before."""
        if key == UNLIT:
            return
        before: list[OrderedPicture | None] = [None]
        if key.asking == "overridden" and key.picture is None:
            before += (one._replace(lift=key.lift) for one in self._standing_as(core))
            before.append(NOTHING_LIT)
        elif key.asking == "held":
            before.append(NOTHING_LIT)
        for shown in before:
            step = self._shown_after(core, key, environment, shown)
            yield step
            if step[1].core.panels != core.panels:
                # Nobody is asked anew or sent away, where nothing outside has changed since.
                news = step[1].core.news
                yield self._shown_after(core, key, environment, shown, news)

    def _standing_as(self, core: Core) -> Iterator[OrderedPicture]:
        """Yield pictures that may stand: one of each name, and a stretched one wherever it lies.

        Where it lies decides whether it may stand on, and a menu whether a stretched one may.
        """
        named = (PLAIN, WHOLE, *self.room.pictures)
        for at, one in enumerate((*self._standing.safe(core), *self._standing.unsafe(core))):
            for name in named if at == 0 else (PLAIN, *named[2:3]):
                yield one._replace(picture=name)

    def _shown_after(
        self,
        core: Core,
        key: PictureKey,
        environment: Environment,
        shown: OrderedPicture | None,
        news: News = (),
    ) -> Step:
        """Take one half step in which no lens is sent off; what is no news leads to nothing new."""
        start = entered(core, environment)
        start.news, start.recalls, start.asks = news, LEFT, LEFT
        start.shown, start.left_night = shown, 0
        start.wanted = Look(key.picture or PLAIN, key.lift, None, None)
        if key.asking == "held":
            start.row = 0  # Something was chosen before the pause.
        before = copied(start)
        tx = self._half_steps.begin(start, environment, counted=False)
        choose_and_reconcile(tx)
        return before, tx


def _placed_for(core: Core) -> Iterator[Core]:
    """Yield the core, and as it is on the way of a travel that waits for its picture.

    That picture is placed for the whole way, and may stand long before the lens sets off.
    """
    yield core
    if "picture" in core.holds and core.lens == "resting":
        on_the_way = copied(core)
        on_the_way.lens, on_the_way.origin = "travelling", core.wanted.preset
        yield on_the_way
