"""A few words to tell an evening with: what happens at which second, and what was decided."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, TypeVar

from engine import RoomEngine
from engine.decisions import Decision, Note, PictureOrder, Prompt, RecallOrder
from engine.events import (
    BarsSeen,
    Event,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    SourceChosen,
)
from engine.formats import Raster, bars_for
from engine.room import Room
from engine.snapshot import decode, encode
from engine.state import Core
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.brisk_hayloft import brisk_hayloft
from tests.engine.invariants import claims, violations
from tests.engine.meetings import START

TEXT = brisk_hayloft()
HAYLOFT = load(TEXT, DEMO_ROOM.name)
Kind = TypeVar("Kind", bound=Decision)


def changed(*changes: tuple[str, str]) -> Room:
    """Load the hayloft with pieces of its file put otherwise."""
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return load(text, "changed.yaml")


UNANSWERED = changed(("orders: {answered: yes}\n", ""))
"""The hayloft with a hub that says nothing of orders: they count as done when sent."""
SILENT = changed(("orders: {answered: yes}\n", ""), (", reports: yes}", "}"))
"""The same, with a lens that reports nothing either."""


def shape(ratio: float, *, bottom: int = 0) -> BarsSeen:
    """Read a shape in 3840 x 2160, with rows of its bottom bar eaten into."""
    bars = bars_for(round(ratio * 10_000), Raster(3_840, 2_160))
    return BarsSeen(
        top=bars.top,
        bottom=bars.bottom - bottom,
        left=bars.left,
        right=bars.right,
        columns=3_840,
        rows=2_160,
    )


UNLIMITED = changed(("orders: {answered: yes}\n", ""), ("per_title: 1,", "per_title: 9,"))
"""The hayloft with nine recalls a title."""
TWO_A_NIGHT = changed(
    ("orders: {answered: yes}\n", ""),
    (", reports: yes}", "}"),
    ("per_night: 12", "per_night: 2"),
    ("tall, panels: sides", "tall"),
)
"""The hayloft with two recalls a night, and no panels asked for."""


def given_up_after(give_up: int) -> Room:
    """The hayloft, with prompts that are over after so many ms, and reminded of after 2 min."""
    return replace(UNANSWERED, pace=UNANSWERED.pace._replace(give_up=give_up))


WITH_A_BLIND: Final = (
    "  lamps: full or low\n",
    "  lamps: full or low\n  blind: up or down\n",
)
"""A change of the hayloft's file: a second cue, which no rule orders."""


class Story:
    """An evening under way; every step is held against what must always hold."""

    def __init__(
        self, room: Room = HAYLOFT, *, lens: str | None = "broad", panels: str = "open"
    ) -> None:
        self.engine = RoomEngine(room)
        self.room = room
        self.made: list[Decision] = []
        self.at(0, ProjectorReport(state="lit"))
        if lens is not None:
            self.at(0, LensReport(moving=False, preset=lens))
        self.at(0, PanelReport(panels=panels))

    @property
    def core(self) -> Core:
        """What the engine remembers."""
        return self.engine.state.core

    def at(self, second: float, event: Event | None) -> list[Decision]:
        """Let time pass up to a second, then let something happen; gives what was decided."""
        now = START + round(second * 1_000)
        made: list[Decision] = []
        while (due := self.engine.deadline) is not None and due <= now:
            made += self._step(None, due)
        if event is not None:
            made += self._step(event, now)
        self.made += made
        return made

    def _step(self, event: Event | None, now: int) -> list[Decision]:
        before, engine = self.engine.state, self.engine
        reply = engine.receive(event, now)
        assert violations(self.room, before, reply.decisions, engine.state) == []
        if reply.refusal is not None:
            raise reply.refusal
        assert claims(self.room, before, event, engine.state) == []
        # A State that is not what its types say could not be read after a restart.
        assert decode(encode(engine.state)) == engine.state
        return list(reply.decisions)

    def film(self, second: float, ratio: float, source: str = "disc") -> list[Decision]:
        """Begin to play a film of a shape."""
        made = self.at(second, SourceChosen(source=source))
        made += self.at(second, Playback(state="playing"))
        return made + self.at(second + 0.5, shape(ratio))

    def done(self, second: float) -> list[Decision]:
        """Answer every open order but a recall as done."""
        made = self.at(second, None)
        core = self.core
        numbers = [cue.id for cue in core.open_cues]
        if core.picture is not None:
            numbers.append(core.picture)
        for number in numbers:
            made += self.at(second, Outcome(order=number, outcome="done"))
        return made

    def of(self, kind: type[Kind]) -> list[Kind]:
        """Give all decisions of one kind so far."""
        return [one for one in self.made if isinstance(one, kind)]

    def recalls(self) -> list[str]:
        """Name the presets that were recalled."""
        return [one.preset for one in self.of(RecallOrder)]

    def pictures(self) -> list[str]:
        """Name the pictures that were ordered."""
        return [one.picture for one in self.of(PictureOrder)]

    def prompts(self) -> list[tuple[str, str]]:
        """Name the prompts' panels and stages."""
        return [(one.panels, one.stage) for one in self.of(Prompt)]

    def notes(self) -> list[str]:
        """Name the notes."""
        return [one.code for one in self.of(Note)]

    def travels(self) -> dict[str, tuple[int, int, int]]:
        """Give travels by preset: ordered, by hand, not confirmed."""
        return {one.preset: tuple(one[1:]) for one in self.engine.state.tally.travels}  # type: ignore[misc]
