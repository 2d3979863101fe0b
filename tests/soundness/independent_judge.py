"""An independent judge of evenings: which promises does one step of the real engine break?

What it is told is each event that was taken and each State that followed. It never asks the proof,
and it asks the engine only for what it would otherwise have to re-implement: where titles begin and
end and which shapes they have had, what readings settle on, where lens and panels stand, how far a
prompt has come, and what picture was ordered last. All other facts it keeps from the events
themselves; cells, ratios and the place of the light it reckons on its own.

What the promises mean:

- A promise of the room is broken where all its tests pass after a step. A picture counts as it was
  last ordered, whether the order failed or not, and so does a cue, unless its order was withdrawn
  (then as ordered before); one that a person has set counts as unknown. While a new picture waits
  because the last large change was less than a third of a second ago ("flash"), the picture that
  still stands was not chosen for this moment, and no promise that tests it, or its lift, is judged.
- "menus plain": a stretched or cropped picture was ordered last, that order has not failed, and
  what is shown may be a menu: playback is stopped, or unknown at a source that is not left alone.
  "Flash" excuses this one as well.
- "no travel in mid-title": the rules, and not a person, order a recall while a title plays (or is
  paused, or of unknown playback) past its first minutes.
- "no picture on panels": the picture that was ordered last, by an order that has not failed, falls
  by more than a pixel on panels that are fitted, or may be, from any place where the lens may be.
  A lens of unknown place may be at every preset, a travelling one at both ends of its way.
- "room for lines", which every room owes: where a picture with room for lines stands, and lens and
  panels are known, that room is on the screen, off the panels and within the raster. A person whose
  wish names no picture has the one that stood, where it stood.

In service and without light nothing is known to stand, so nothing can be broken by a picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from typing import Any, Final, NamedTuple

from engine.decisions import CueOrder, Decision, RecallOrder, Withdrawn
from engine.events import (
    Event,
    Playback,
    Resumed,
    Signal,
    SourceChosen,
    TimeOfDay,
    ToldFact,
)
from engine.room import DARK, MENUS_PLAIN, NO_PICTURE_ON_PANELS, NO_TRAVEL_IN_MID_TITLE
from engine.state import Core, State
from tests.soundness.cell_reading import Test, Value, reading_of
from tests.soundness.random_cells import is_truth, told_words
from tests.soundness.screen_plane import ScreenPlane, ratio_of_text

HELPER: Final = {"still": "free", "asked": "asked", "reminded": "asked", "refused": "refused"}
_MILLISECONDS: Final = {"ms": 1, "s": 1_000, "min": 60_000, "h": 3_600_000}
_SCALE: Final = 10_000
ROOM_FOR_LINES: Final = "room for lines"


class Seen(NamedTuple):
    """One step of the real engine."""

    now: int
    event: Event | None
    """What was heard and taken; None where something fell due, or the event was refused."""
    before: State
    decisions: tuple[Decision, ...]
    after: State


def milliseconds(text: str) -> int:
    """Read a time as a room file writes it."""
    number, unit = text.split()
    return int(number) * _MILLISECONDS[unit]


class IndependentJudge:
    """Judges the steps of one evening, in their order."""

    def __init__(self, file: dict[str, Any]) -> None:
        self.file, self.plane = file, ScreenPlane(file)
        self.pause = milliseconds(file["pace"]["pause"])
        promises = [one for one in file.get("promises", ()) if "never" in one]
        self.promises = {one["name"]: self.tests_of(one["never"]) for one in promises}
        self.source: str | None = None
        self.playback, self.paused_at = "unknown", 0
        self.range: str | None = None
        self.three_d: bool | None = None
        self.minute: int | None = None
        self.told: dict[str, Value] = {name: self._at_first(name) for name in told_words(file)}
        self._spills = cache(self.plane.spill)
        self.cue_orders: dict[int, tuple[str, str]] = {}
        """The orders for cues that were not withdrawn, by number, with cue and value."""

    def see(self, seen: Seen) -> frozenset[str]:
        """Take in one step; give the names of all promises that are broken after it."""
        if seen.event is not None:
            self._hear(seen.event, seen.now)
        self._follow_cues(seen.decisions)
        facts = self.facts(seen.after, seen.now)
        core = seen.after.core
        broken = {*self._built_in(facts, seen)}
        for name, tests in self.promises.items():
            waits = "flash" in core.holds and any(fact in {"picture", "lift"} for fact, _ in tests)
            if not waits and all(test(facts[fact]) for fact, test in tests):
                broken.add(name)
        return frozenset(broken)

    def facts(self, state: State, now: int) -> dict[str, Value]:
        """Gather all that cells may test."""
        core, shown = state.core, state.core.shown
        return {
            "source": self.source,
            "playback": self._playback(core, now),
            "aspect": _hundredths(self._aspect(state)),
            "declared": _hundredths(_ratio(core.declared)),
            "tallest": _hundredths(_ratio(core.tallest)),
            "varies": core.varies,
            "subtitles": core.subtitles,
            "doubtful": core.doubt is not None,
            "first_minutes": core.timers.first_minutes is not None or core.first_left > 0,
            "preset": core.preset,
            "panels": core.arrangement,
            "helper": HELPER[core.panels],
            "time": None if self.minute is None else Fraction(self.minute),
            "range": self.range,
            "three_d": self.three_d,
            "picture": None if shown is None else shown.picture,
            "lift": None if shown is None else _ratio(shown.lift),
            "travelling": core.lens == "travelling",
            "override": core.override,
            **self.told,
            **dict.fromkeys((f"cue {cue}" for cue in self.file.get("cues", ())), None),
            **{f"cue {cue}": value for cue, value in self.cue_orders.values()},
            **{f"cue {one.cue}": None for one in core.cue_overrides},
        }

    def tests_of(self, never: dict[str, str]) -> list[tuple[str, Test]]:
        """Read the cells of a case, by fact."""
        shapes = self.file.get("shapes", {})
        return [
            (fact, reading_of(cell, truth=is_truth(self.file, fact), shapes=shapes))
            for fact, cell in never.items()
        ]

    # ------------------------------------------------------------------------ what was heard

    def _hear(self, event: Event, now: int) -> None:
        match event:
            case SourceChosen(source=name):
                if self.source not in {None, name}:
                    self.playback = "unknown"
                self.source = name
            case Playback(state=playback):
                if playback != self.playback:
                    self.playback, self.paused_at = playback, now
            case Signal(locked=True):
                self.range = event.range or self.range
                self.three_d = self.three_d if event.three_d is None else event.three_d
            case TimeOfDay(minute=minute) | Resumed(minute=int(minute)):
                self.minute = minute
            case ToldFact(fact=name, value=value):
                self.told[name] = self._at_first(name) if value is None else _plain(value)
            case _:
                pass

    def _follow_cues(self, decisions: tuple[Decision, ...]) -> None:
        for decision in decisions:
            if isinstance(decision, CueOrder):
                self.cue_orders[decision.id] = decision.cue, decision.value
            elif isinstance(decision, Withdrawn):
                self.cue_orders.pop(decision.order, None)

    def _at_first(self, name: str) -> Value:
        told = self.file["told"][name]
        first = None if isinstance(told, str) else told.get("at_first")
        if first is None or not told_words(self.file)[name]:
            return None if first is None else Fraction(first)
        return first == "yes" if is_truth(self.file, name) else str(first)

    def _playback(self, core: Core, now: int) -> str:
        over = self.playback == "paused" and now >= self.paused_at + self.pause
        says_titles = self._source().get("titles") == "yes"
        preview = self.playback == "playing" and says_titles and not core.title
        return "stopped" if over or preview else self.playback

    def _aspect(self, state: State) -> Fraction | None:
        """Say which shape the picture has: the source's own, its menus', the read, the declared.

        Where the player has the first word, what it declares goes before what is read.
        """
        core, source = state.core, self._source()
        if "shape" in source:
            return ratio_of_text(source["shape"])
        if source.get("leave_alone") == "yes":
            return _ratio(core.frame)
        if "menu_shape" in source and not core.title:
            return ratio_of_text(source["menu_shape"])
        if source.get("first_word") == "player" and core.declared is not None:
            return _ratio(core.declared)
        read = state.settling.aspect
        return _ratio(core.declared if read is None else read)

    def _source(self) -> dict[str, str]:
        found: dict[str, str] = {} if self.source is None else self.file["sources"][self.source]
        return found

    # ------------------------------------------------------------------ the built-in promises

    def _built_in(self, facts: dict[str, Value], seen: Seen) -> Iterator[str]:
        core, playback = seen.after.core, facts["playback"]
        plays = playback == "playing" or (core.title and playback != "stopped")
        recalled = any(isinstance(one, RecallOrder) for one in seen.decisions)
        if recalled and plays and not facts["first_minutes"] and core.override == "rules":
            yield NO_TRAVEL_IN_MID_TITLE
        if core.shown is None or core.failed or core.shown.picture == DARK:
            return
        alone = self._source().get("leave_alone") == "yes"
        menu = playback == "stopped" or (playback == "unknown" and not alone)
        changed = core.shown.picture in self.file.get("pictures", {})
        if menu and changed and "flash" not in core.holds:
            yield MENUS_PLAIN
        if "flash" not in core.holds and not self._has_room_for_lines(core):
            yield ROOM_FOR_LINES
        if self._on_panels(core):
            yield NO_PICTURE_ON_PANELS

    def _has_room_for_lines(self, core: Core) -> bool:
        shown, preset, panels = core.shown, core.preset, core.arrangement
        assert shown is not None
        room = self.file.get("pictures", {}).get(shown.picture, {}).get("room_below")
        if room is None or core.lens != "resting" or preset is None or panels is None:
            return True
        wish = core.override_look
        if core.override == "person" and (wish is None or wish.picture is None):
            return True
        left, top, width, height = shown.region
        share = Fraction(room.removesuffix(" %")) / 100
        return self.plane.room_fits((left, top, width, height), share, preset, panels)

    def _on_panels(self, core: Core) -> bool:
        if core.shown is None:
            return False
        left, top, width, height = core.shown.region
        known = core.arrangement
        arrangements = self.plane.openings if known is None else (known,)
        return any(
            self._spills((left, top, width, height), preset, panels)
            for preset in self._places(core)
            for panels in arrangements
        )

    def _places(self, core: Core) -> tuple[str, ...]:
        """Give the presets at which the lens may be."""
        ends = (core.origin, core.preset) if core.lens == "travelling" else (core.preset,)
        if core.lens == "unknown" or None in ends:
            return tuple(self.plane.presets)
        return tuple(end for end in ends if end is not None)


def _plain(value: bool | int | str) -> Value:
    return value if isinstance(value, bool | str) else Fraction(value)


def _ratio(number: int | None) -> Fraction | None:
    return None if number is None else Fraction(number, _SCALE)


def _hundredths(ratio: Fraction | None) -> Fraction | None:
    """Round a ratio as people write it: 16:9 is 1.78; none is outside 1.00 to 4.00."""
    if ratio is None:
        return None
    return min(max(Fraction(int(ratio * 100 + Fraction(1, 2)), 100), Fraction(1)), Fraction(4))
