"""The alphabet: every event that a room can meet at a given moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, get_args

from engine.aspect import HIGHEST_LIFT, SCALE
from engine.events import (
    Answer,
    AnswerWord,
    BarsSeen,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    FormatCode,
    Helper,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    Undo,
)
from engine.room import PLAIN, Room
from engine.state import Core

FRESH: Final = "fresh"
"""The id of a report that does not repeat another."""
OVER: Final = 999_999_999
"""The number of an order or prompt that has ended, or never was."""
MIDDAY: Final = 720
ANOTHER: Final = "another"
"""A person who says who they are; also the name of another title."""

_Events = Callable[[Room, Core], Iterator[Event]]


def _sources(room: Room, _core: Core) -> Iterator[Event]:
    for source in room.sources:
        yield SourceChosen(source=source)


def _playbacks(_room: Room, _core: Core) -> Iterator[Event]:
    for state in ("playing", "paused", "stopped", "unknown"):
        yield Playback(state=state)


def _titles(room: Room, core: Core) -> Iterator[Event]:
    yield Title(begun=True)
    yield Title(begun=True, name=ANOTHER)
    yield Title(begun=False)
    source = room.sources.get(core.source or "")
    if source is None or source.declares:
        yield Title(begun=True, name="declared", declared=2.0)


def _signals(_room: Room, _core: Core) -> Iterator[Event]:
    yield Signal(locked=False)
    yield Signal(locked=True)
    yield Signal(locked=True, columns=720, rows=576, range="high", three_d=True)


def _bars(_room: Room, _core: Core) -> Iterator[Event]:
    yield BarsSeen(top=0, bottom=0, left=0, right=0, columns=3_840, rows=2_160)
    yield BarsSeen(top=277, bottom=277, left=0, right=0, columns=3_840, rows=2_160)
    yield BarsSeen(top=2_000, bottom=2_000, left=0, right=0, columns=3_840, rows=2_160)


def _black(_room: Room, _core: Core) -> Iterator[Event]:
    yield BlackSeen()


def _ratios(_room: Room, _core: Core) -> Iterator[Event]:
    yield RatioSeen(ratio=1.78)
    yield RatioSeen(ratio=2.39)


def _formats(_room: Room, _core: Core) -> Iterator[Event]:
    yield FormatCode(code=8, frame="16:9")
    yield FormatCode(code=9, frame="16:9")


def _lens(room: Room, _core: Core) -> Iterator[Event]:
    for moving in (True, False):
        for preset in (None, *room.presets):
            yield LensReport(moving=moving, preset=preset)
            yield LensReport(moving=moving, preset=preset, id=FRESH)
    yield LensReport(moving=False, preset=None, known=False)


def _panels(room: Room, _core: Core) -> Iterator[Event]:
    for panels in (None, *room.panels):
        yield PanelReport(panels=panels)


def _answers(_room: Room, core: Core) -> Iterator[Event]:
    for answer in get_args(AnswerWord):
        yield Answer(prompt=OVER, answer=answer)
        if core.asked is not None:
            yield Answer(prompt=core.asked.id, answer=answer)
        if core.asked is not None and core.asked.at_screen:
            yield Answer(prompt=core.asked.id, answer=answer, who=ANOTHER)


def override_looks(room: Room) -> Iterator[OverrideLook | None]:
    """List what a person may ask for, one look for each effect.

    One named picture represents all: each is shown where it can be, and plain elsewhere.
    """
    yield None
    for preset in room.presets:
        yield OverrideLook(preset=preset)
    for panels in room.panels:
        yield OverrideLook(panels=panels)
    for picture in (PLAIN, *list(room.pictures)[:1]):
        yield OverrideLook(picture=picture)
    yield OverrideLook(lift=HIGHEST_LIFT / SCALE)


def _overrides(room: Room, _core: Core) -> Iterator[Event]:
    yield Override(taken=False)
    for look in override_looks(room):
        yield Override(taken=True, until="title", look=look)


def _undo(_room: Room, _core: Core) -> Iterator[Event]:
    yield Undo()


def _find_lens(room: Room, _core: Core) -> Iterator[Event]:
    for preset in (None, *room.presets):
        yield FindLens(preset=preset)


def _forget(_room: Room, _core: Core) -> Iterator[Event]:
    yield Forget(name=None)
    yield Forget(name=ANOTHER)


def _helper(_room: Room, _core: Core) -> Iterator[Event]:
    yield Helper(free=True)
    yield Helper(free=False)


def _told(room: Room, _core: Core) -> Iterator[Event]:
    for name, fact in room.told.items():
        yield ToldFact(fact=name, value=None)
        for value in fact.values or (fact.least, fact.most):
            yield ToldFact(fact=name, value=value)


def _outcomes(_room: Room, core: Core) -> Iterator[Event]:
    orders = [core.picture, core.recall, *(cue.id for cue in core.open_cues)]
    for order in (OVER, *orders):
        if order is not None:
            for outcome in ("done", "refused", "no answer"):
                yield Outcome(order=order, outcome=outcome)


def _projector(_room: Room, _core: Core) -> Iterator[Event]:
    for state in ("off", "warming", "lit", "cooling"):
        yield ProjectorReport(state=state)


def _service(_room: Room, _core: Core) -> Iterator[Event]:
    yield Service(begun=True)
    yield Service(begun=False)


def _time(_room: Room, _core: Core) -> Iterator[Event]:
    yield TimeOfDay(minute=0)
    yield TimeOfDay(minute=MIDDAY)


def _marks(_room: Room, _core: Core) -> Iterator[Event]:
    yield Mark()


def _resumed(room: Room, _core: Core) -> Iterator[Event]:
    yield Resumed()
    yield Resumed(stalled=True)
    for what in ("picture", "recall", *(f"cue {name}" for name in [*room.cues][:1])):
        yield Resumed(stalled=True, unsent=(what,))


ALPHABET: Final[dict[type[Event], _Events]] = dict(
    zip(
        get_args(Event),
        (
            _sources,
            _playbacks,
            _titles,
            _signals,
            _bars,
            _black,
            _ratios,
            _formats,
            _lens,
            _panels,
            _answers,
            _overrides,
            _undo,
            _find_lens,
            _forget,
            _helper,
            _told,
            _outcomes,
            _projector,
            _service,
            _time,
            _marks,
            _resumed,
        ),
        strict=True,
    )
)
"""What lists the events of each kind; kinds are in the order of the union."""


def possible_events(room: Room, core: Core) -> Iterator[Event]:
    """List every event that may come now, stale and repeated ones included."""
    for events in ALPHABET.values():
        yield from events(room, core)


class Alphabet:
    """A room's alphabet, listed once for all cores that may meet the same events."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self._made: dict[object, tuple[Event, ...]] = {}

    def events(self, core: Core) -> tuple[Event, ...]:
        """List every event that may come now."""
        decisive = (core.source, core.asked, core.picture, core.recall, core.open_cues)
        made = self._made.get(decisive)
        if made is None:
            made = self._made[decisive] = tuple(possible_events(self.room, core))
        return made
