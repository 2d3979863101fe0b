"""Any event at any time: what a hub may say, with every value that it may carry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random
from typing import Any, Final, Literal

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
    OutcomeWord,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    PlaybackState,
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
    moment_of,
)
from engine.formats import Raster, bars_for
from engine.state import Core
from tests.soundness.random_rooms import RandomRoom

RASTERS: Final = (
    *((1_920, 1_080), (3_840, 2_160), (3_840, 1_600), (3_200, 1_440), (5_760, 1_080)),
    *((1_080, 1_920), (720, 576), (1_440, 1_080), (1_280, 720), (900, 720), (8_000, 800)),
)
FULL_HD: Final = Raster(1_920, 1_080)
PLAYING: Final[tuple[PlaybackState, ...]] = (
    "playing",
    "playing",
    "playing",
    "paused",
    "stopped",
    "unknown",
)
PEOPLE: Final = (None, None, "ana", "rui")
"""Who may say something; nobody needs to say who they are."""
ANSWERS: Final[tuple[AnswerWord, ...]] = (
    *("ready", "ready", "ready", "done", "done", "no", "no"),
    *("not_tonight", "more_time", "all_away"),
)


def any_event(rng: Random, made: RandomRoom, core: Core, now: int) -> Event:
    """Say anything; what is open is answered, and what stands is reported, more often than not."""
    makers: list[tuple[Callable[..., Event], int]] = [
        (_source, 3),
        (_playback, 6),
        (_title, 4),
        (_signal, 3),
        (ratio_seen, 6),
        (_bars, 2),
        (_format, 2),
        (_lens, 5 if len(made.room.presets) > 1 else 1),
        (_panels, 4 if len(made.room.panels) > 1 else 1),
        (_answer, 12 if core.asked is not None else 0),
        (_outcome, 6 if open_orders(core) else 0),
        (_override, 6),
        (_way_out, 4),
        (_told, 4 if made.room.told else 0),
        (_projector, 2),
        (_quiet, 2),
    ]
    maker = rng.choices([one for one, _ in makers], [weight for _, weight in makers])[0]
    event = maker(rng, made, core, now)
    stamp = _stamped(rng, now)
    return replace(event, **stamp) if stamp else event


def open_orders(core: Core) -> list[int]:
    """Give the numbers of the orders that are open."""
    cues = [cue.id for cue in core.open_cues]
    return [one for one in (core.picture, core.recall, *cues) if one is not None]


def any_ratio(rng: Random, made: RandomRoom) -> float:
    """Give a ratio: a usual one, one beside a limit of the room's cells, or any at all."""
    usual = (1.3333, 1.7778, 1.85, 2.0, 2.2, 2.35, 2.39, 2.4)
    if rng.random() < 0.4:
        return rng.choice(usual)
    if rng.random() < 0.5:
        limit = rng.choice((1.5, 1.66, 1.78, 1.95, 2.06, 2.1, 2.2, 2.3, 2.35, made_aspect(made)))
        return min(4.0, max(1.0, limit + rng.choice((-0.0051, -0.005, -0.0001, 0.003, 0.005))))
    return round(rng.uniform(1, 4), 4)


def made_aspect(made: RandomRoom) -> float:
    """Give the screen's own ratio."""
    return float(made.file["screen"]["aspect"])


def ratio_seen(rng: Random, made: RandomRoom, _core: Core, _now: int) -> Event:
    """Read a ratio, or nothing but black."""
    return BlackSeen() if rng.random() < 0.15 else RatioSeen(ratio=any_ratio(rng, made))


def any_raster(rng: Random) -> tuple[int, int]:
    """Give columns and rows."""
    if rng.random() < 0.8:
        return rng.choice(RASTERS)
    return rng.randint(1, 16_384), rng.randint(1, 8_640)


def any_look(rng: Random, made: RandomRoom) -> OverrideLook:
    """Wish for some parts of a look, or for all of it at once."""
    room = made.room

    def some(names: Any) -> str | None:  # noqa: ANN401 - any collection of names
        return rng.choice([*names]) if rng.random() < 0.5 else None

    return OverrideLook(
        picture=some(("plain", "whole", *room.pictures, *room.pictures)),
        lift=rng.choice((0.0, 0.02, 0.1, 0.0297, 0.05, 0.25)) if rng.random() < 0.25 else None,
        preset=some(room.presets),
        panels=some(room.panels),
        cues={name: rng.choice(values) for name, values in room.cues.items()}
        if room.cues and rng.random() < 0.25
        else None,
    )


def _source(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    return SourceChosen(source=rng.choice([*made.room.sources]), **_stamped(rng, now))


def _playback(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    source = rng.choice([*made.room.sources]) if rng.random() < 0.1 else None
    return Playback(state=rng.choice(PLAYING), source=source, **_stamped(rng, now))


def _title(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    return Title(
        begun=rng.random() < 0.75,
        declared=any_ratio(rng, made) if rng.random() < 0.5 else None,
        name=rng.choice(["one", "two"]) if rng.random() < 0.5 else None,
        series=rng.choice(["one", "saga"]) if rng.random() < 0.15 else None,
        **_stamped(rng, now),
    )


def _signal(rng: Random, _made: RandomRoom, _core: Core, _now: int) -> Event:
    columns, rows = any_raster(rng) if rng.random() < 0.5 else (None, None)
    if rng.random() < 0.1:
        rows = None
    return Signal(
        locked=rng.random() < 0.8,
        columns=columns,
        rows=rows,
        range=rng.choice([None, None, "standard", "high"]),
        three_d=rng.choice([None, None, False, True]),
    )


def _bars(rng: Random, made: RandomRoom, core: Core, _now: int) -> Event:
    raster = FULL_HD
    if rng.random() < 0.3:  # the signal's own raster, or any
        columns, rows = (core.columns, core.rows) if rng.random() < 0.5 else any_raster(rng)
        raster = Raster(columns or 1_920, rows or 1_080)
    bars = bars_for(round(any_ratio(rng, made) * 10_000), raster)
    bottom = bars.bottom if rng.random() < 0.6 else bars.bottom // 2
    top = bars.top if rng.random() < 0.9 else bars.top // 2  # lettering in the upper bar
    sides = rng.choice((0, 0, 0, 12, 240))  # bars on all four sides, if above and below too
    return BarsSeen(
        top=top,
        bottom=bottom,
        left=bars.left or sides,
        right=bars.right or sides,
        columns=raster.columns,
        rows=raster.rows,
    )


def _format(rng: Random, made: RandomRoom, _core: Core, _now: int) -> Event:
    columns, rows = any_raster(rng) if rng.random() < 0.3 else (None, None)
    frames: tuple[Literal["4:3", "16:9"], ...] = ("4:3", "16:9")
    code, frame = rng.randint(0, 15), rng.choice(frames)
    data: dict[str, Any] = {}
    if rng.random() < 0.4:  # bar data, of a pair of bars or of both
        raster = FULL_HD if columns is None or rows is None else Raster(columns, rows)
        bars = bars_for(round(any_ratio(rng, made) * 10_000), raster)
        if rng.random() < 0.7:
            data |= {"top_ends": bars.top, "bottom_starts": raster.rows - bars.bottom + 1}
        if rng.random() < 0.5:
            data |= {"left_ends": bars.left, "right_starts": raster.columns - bars.right + 1}
        columns, rows = raster
    return FormatCode(code=code, frame=frame, columns=columns, rows=rows, **data)


def _lens(rng: Random, made: RandomRoom, core: Core, now: int) -> Event:
    presets = [*made.room.presets, *made.room.presets, core.preset, None]
    moving, preset = rng.random() < 0.4, rng.choice(presets)
    known = moving or preset is not None or rng.random() < 0.5
    return LensReport(moving=moving, preset=preset, known=known, **_stamped(rng, now))


def _panels(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    panels = [*made.room.panels, *made.room.panels, None]
    return PanelReport(panels=rng.choice(panels), **_stamped(rng, now))


def _answer(rng: Random, _made: RandomRoom, core: Core, _now: int) -> Event:
    prompt = 1 if core.asked is None else core.asked.id
    if rng.random() < 0.1:
        prompt = max(1, prompt - 1)  # a late word
    return Answer(prompt=prompt, answer=rng.choice(ANSWERS), who=rng.choice(PEOPLE))


def _outcome(rng: Random, _made: RandomRoom, core: Core, _now: int) -> Event:
    outcomes: tuple[OutcomeWord, ...] = ("done", "done", "refused", "no answer")
    return Outcome(order=rng.choice(open_orders(core)), outcome=rng.choice(outcomes))


def _override(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    later = moment_of(now) + timedelta(milliseconds=rng.choice((1, 400, 20_000, 3_600_000)))
    ends: tuple[Literal["title", "session"] | datetime, ...] = ("session", "title", later)
    look = any_look(rng, made) if rng.random() < 0.8 else None
    source = rng.choice([*made.room.sources]) if rng.random() < 0.1 else None
    return Override(
        taken=rng.random() < 0.75,
        until=rng.choice(ends),
        look=look,
        source=source,
        who=rng.choice(PEOPLE),
    )


def _way_out(rng: Random, made: RandomRoom, _core: Core, _now: int) -> Event:
    who = rng.choice(PEOPLE)
    preset = rng.choice([None, *made.room.presets])
    ways: tuple[Event, ...] = (
        Undo(who=who),
        FindLens(preset=preset, who=who),
        Forget(name=rng.choice([None, "one", "two"]), who=who),
        Helper(free=rng.random() < 0.6, who=who),
    )
    return rng.choice(ways)


def _told(rng: Random, made: RandomRoom, _core: Core, now: int) -> Event:
    fact = rng.choice([*made.room.told.values()])
    values: list[Any] = [*fact.values, None]
    if not fact.values:
        values += range((fact.least or 0) - 1, (fact.most or 0) + 2)  # and refused ones
    value, who = rng.choice(values), rng.choice(PEOPLE)
    return ToldFact(fact=fact.name, value=value, who=who, **_stamped(rng, now))


def _projector(rng: Random, _made: RandomRoom, _core: Core, _now: int) -> Event:
    return ProjectorReport(state=rng.choice(["lit", "lit", "lit", "warming", "off", "cooling"]))


def _quiet(rng: Random, _made: RandomRoom, _core: Core, _now: int) -> Event:
    minute = rng.choice((0, 419, 420, 750, 1_095, 1_319, 1_320, 1_439, rng.randint(0, 1_439)))
    quiet: tuple[Event, ...] = (
        Mark(words=rng.choice(["", "that was wrong"]), who=rng.choice(PEOPLE)),
        Resumed(),
        Resumed(minute=minute),
        Resumed(stalled=True),
        Resumed(stalled=True, unsent=(rng.choice(("picture", "recall", "cue lamps")),)),
        Service(begun=rng.random() < 0.3),
        Service(begun=False),
        TimeOfDay(minute=minute),
        TimeOfDay(minute=minute),
    )
    return rng.choice(quiet)


def _stamped(rng: Random, now: int) -> dict[str, Any]:
    """Sometimes give an event an id, new or old, or the time at which it was so."""
    stamp: dict[str, Any] = {}
    if rng.random() < 0.15:
        stamp["id"] = f"e{now}" if rng.random() < 0.8 else "again"
    if rng.random() < 0.1:
        stamp["at"] = moment_of(now) - timedelta(seconds=rng.choice((0, 1, 60)))
    return stamp
