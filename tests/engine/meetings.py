"""Whatever a room may meet, as Hypothesis strategies: right, wrong, late and doubled."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any, get_args

from hypothesis import strategies as st

from engine.aspect import number_of
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
    moment_of,
)
from engine.formats import Raster, bars_for
from engine.room import Room

START = 1_795_375_800_000
TITLES = ("one", "two", "all of them")
"""Two titles and a series."""
RASTER = Raster(1_920, 1_080)
SHAPES = (13_333, 17_778, 18_500, 20_000, 21_100, 22_000, 23_900, 24_000, 27_600)


def names(known: Iterable[str]) -> st.SearchStrategy[str]:
    """Give a name of the room, or rarely one that it does not know."""
    return st.sampled_from([*known, *known, "nonesuch"])


def heard(**given: object) -> dict[str, Any]:
    """Add what every event may carry."""
    moments = st.integers(-600, 4_000).map(lambda s: moment_of(START) + timedelta(seconds=s))
    return {
        "id": st.none() | st.sampled_from(["a", "b", "c"]),
        "at": st.none() | st.none() | moments,
        **given,
    }


@st.composite
def bars(draw: st.DrawFn) -> Event:
    """Read a standard shape, sometimes with one side eaten into, or anything at all."""
    if draw(st.integers(0, 4)) == 0:
        count = st.integers(0, 700)
        return BarsSeen(
            top=draw(count),
            bottom=draw(count),
            left=draw(count),
            right=draw(count),
            columns=1_920,
            rows=1_080,
        )
    shape = bars_for(draw(st.sampled_from(SHAPES)), RASTER)
    bottom = shape.bottom * draw(st.sampled_from([2, 2, 1])) // 2
    return BarsSeen(
        top=shape.top,
        bottom=bottom,
        left=shape.left,
        right=shape.right,
        columns=1_920,
        rows=1_080,
    )


def events(room: Room) -> st.SearchStrategy[Event]:
    """Give one event of any kind."""
    yes = st.booleans()
    sources, presets, panels = names(room.sources), names(room.presets), names(room.panels)
    number, who = st.integers(1, 30), st.none() | st.sampled_from(["first", "second"])
    cues = st.dictionaries(names(room.cues), st.sampled_from(["low", "full", "x"]), max_size=1)
    ends = st.integers(1, 4_000).map(lambda s: moment_of(START) + timedelta(seconds=s))
    look = st.builds(
        OverrideLook,
        picture=st.none() | names(("plain", "whole", *room.pictures)),
        lift=st.none() | st.sampled_from([0, 0.11, 0.5]),
        preset=st.none() | presets,
        panels=st.none() | panels,
        cues=st.none() | cues,
    )
    return st.one_of(
        st.builds(SourceChosen, **heard(source=sources)),
        st.builds(
            Playback,
            **heard(
                state=st.sampled_from(["playing", "playing", "paused", "stopped", "unknown"]),
                source=st.none() | sources,
            ),
        ),
        st.builds(
            Title,
            **heard(
                begun=yes,
                declared=st.none() | st.sampled_from(SHAPES).map(number_of),
                name=st.none() | st.sampled_from(TITLES[:2]),
                series=st.none() | st.none() | st.sampled_from(TITLES[2:]),
            ),
        ),
        st.builds(
            Signal,
            **heard(
                locked=yes,
                columns=st.none() | st.sampled_from([1_920, 3_840]),
                rows=st.none() | st.sampled_from([1_080, 2_160]),
                range=st.none() | st.sampled_from(["standard", "high"]),
                three_d=st.none() | yes,
            ),
        ),
        bars(),
        bars(),
        st.just(BlackSeen()),
        st.builds(RatioSeen, ratio=st.sampled_from(SHAPES).map(number_of)),
        st.builds(
            FormatCode,
            code=st.integers(0, 15),
            frame=st.sampled_from(["4:3", "16:9"]),
            columns=st.none() | st.just(1_920),
            rows=st.none() | st.just(1_080),
            top_ends=st.none() | st.integers(0, 1_100),
            bottom_starts=st.none() | st.integers(0, 1_100),
        ),
        st.builds(LensReport, **heard(moving=yes, preset=st.none() | presets)),
        st.builds(
            LensReport,
            **heard(moving=st.just(False), preset=st.none(), known=st.just(False)),
        ),
        st.builds(PanelReport, **heard(panels=st.none() | panels)),
        st.builds(
            Answer,
            **heard(prompt=number, answer=st.sampled_from(get_args(AnswerWord)), who=who),
        ),
        st.builds(
            Override,
            **heard(
                taken=yes,
                until=st.sampled_from(["title", "session"]) | ends,
                look=st.none() | look,
                source=st.none() | sources,
                who=who,
            ),
        ),
        st.builds(Undo, **heard(who=who)),
        st.builds(FindLens, **heard(preset=st.none() | presets, who=who)),
        st.builds(Forget, **heard(name=st.none() | st.sampled_from(TITLES), who=who)),
        st.builds(Helper, **heard(free=yes, who=who)),
        st.builds(
            ToldFact,
            **heard(
                fact=names(room.told),
                value=st.none() | yes | st.integers(-1, 20) | st.sampled_from(["calm", "x"]),
            ),
        ),
        st.builds(
            Outcome,
            **heard(order=number, outcome=st.sampled_from(["done", "refused", "no answer"])),
        ),
        st.builds(
            ProjectorReport,
            **heard(state=st.sampled_from(["lit", "lit", "lit", "warming", "off", "cooling"])),
        ),
        st.builds(Service, **heard(begun=yes)),
        st.builds(TimeOfDay, **heard(minute=st.integers(0, 1_439))),
        st.builds(Mark, **heard()),
        st.builds(Resumed, **heard()),
        st.builds(
            Resumed,
            stalled=st.just(True),
            unsent=st.lists(
                st.sampled_from(
                    ["picture", "recall", "prompt", *(f"cue {name}" for name in room.cues)]
                ),
                max_size=2,
            ).map(tuple),
        ),
    )


def begun(room: Room) -> list[tuple[int, Event]]:
    """Give a start of an evening: lit, with a source, the lens at rest and the panels known."""
    return [
        (0, ProjectorReport(state="lit")),
        (0, LensReport(moving=False, preset=next(iter(room.presets)))),
        (0, PanelReport(panels=next(iter(room.panels)))),
        (0, SourceChosen(source=next(iter(room.sources)))),
        (0, Playback(state="playing")),
    ]


@st.composite
def evenings(draw: st.DrawFn, room: Room) -> list[tuple[int, Event]]:
    """Give an evening: events, each with the milliseconds that pass before it."""
    waits = st.sampled_from([0, 0, 100, 600, 2_000, 6_000, 9_000, 30_000, 130_000, 1_300_000])
    start = begun(room) if draw(st.booleans()) else []
    return start + draw(st.lists(st.tuples(waits, events(room)), max_size=40))
