"""Rooms for the tests of what is planned on paper: only their physics is filled in."""

from typing import cast

from hypothesis import strategies as st

from engine.optics import raster_size
from engine.room import (
    Corner,
    Corners,
    Crop,
    Lens,
    Light,
    Pace,
    Panels,
    Preset,
    Projector,
    Room,
    RoomBelow,
    Rules,
    Screen,
    Stretch,
    Throw,
)
from rules.words.fluent_catalogue import DEFAULT_LANGUAGE, catalogue_in

GENTLE = Stretch(
    fill=10_000, edge_circle=13_000, middle_circle=10_300, even_middle=3_000, rows_lost=300
)
CROPPED = Crop(rows_lost=800)
OPENINGS: dict[str, int | None] = {"open": None, "sides": 17_800}


def screen(
    width: int = 3_400_000,
    aspect: int = 24_000,
    border: int = 80_000,
    overfill: int = 200,
    gain: float = 1.1,
) -> Screen:
    return Screen(width, width * 10_000 // aspect, border, overfill, gain)


def room(  # noqa: PLR0913 - each test names what it is about
    cloth: Screen | None = None,
    *,
    raster: tuple[int, int] = (4_096, 2_160),
    fits: dict[str, int] | None = None,
    measured: dict[str, Corners] | None = None,
    openings: dict[str, int | None] | None = None,
    pictures: dict[str, Stretch | Crop | RoomBelow] | None = None,
    light: Light | None = None,
    throw: Throw | None = None,
    transmission: float = 1.0,
) -> Room:
    """A room whose rules nobody asks."""
    cloth = cloth or screen()
    fits = {"broad": 24_000, "tall": 17_800} if fits is None else fits
    openings = OPENINGS if openings is None else openings
    return Room(
        name="attic",
        time_zone="Europe/Lisbon",
        screen=cloth,
        projector=Projector(*raster, light, throw, Lens(18_000, True, transmission)),
        presets={
            name: Preset(
                name, ratio, *raster_size(cloth, *raster, ratio), (measured or {}).get(name)
            )
            for name, ratio in fits.items()
        },
        pictures={"gentle": GENTLE, "cropped": CROPPED} if pictures is None else pictures,
        panels={name: Panels(name, opening) for name, opening in openings.items()},
        sources={},
        told={},
        cues={},
        pace=cast("Pace", None),
        answers=True,
        rules=cast("Rules", None),
        promises=(),
        text="",
        catalogue=catalogue_in(DEFAULT_LANGUAGE),
    )


def corners(*places: tuple[float, float]) -> Corners:
    """Corners in raster pixels, clockwise from the top left."""
    return Corners(*(Corner(round(x * 100), round(y * 100)) for x, y in places))


RATIOS = st.integers(10_000, 40_000)
RASTERS = st.sampled_from([(4_096, 2_160), (3_840, 2_160), (1_920, 1_080), (1_920, 1_200)])
STRETCHES = st.builds(
    lambda fill, middle, more, even, rows: Stretch(fill, middle + more, middle, even, rows),
    st.integers(100, 10_000),
    st.integers(10_000, 12_000),
    st.integers(0, 8_000),
    st.integers(0, 9_000),
    st.integers(0, 2_500),
)
LINES = st.builds(RoomBelow, st.integers(100, 5_000))
CROPS = st.builds(Crop, st.integers(10, 4_000))
SCREENS = st.builds(
    screen,
    width=st.integers(300_000, 30_000_000),
    aspect=st.integers(12_000, 28_000),
    border=st.integers(0, 200_000),
    overfill=st.integers(0, 1_000),
    gain=st.floats(0.1, 5),
)


@st.composite
def rooms(draw: st.DrawFn, *, measured: bool = True) -> Room:
    """Rooms of every size, with one to three presets and panels at the sides and above and below.

    Where corners may be measured, some presets have a screen that is off square by a little.
    """
    cloth, raster = draw(SCREENS), draw(RASTERS)
    names = ("one", "two", "three")[: draw(st.integers(1, 3))]
    fits = {name: draw(RATIOS) for name in names}
    off = {
        name: draw(off_square(cloth, raster, fits[name]))
        for name in names
        if measured and draw(st.booleans())
    }
    return room(
        cloth,
        raster=raster,
        fits=fits,
        measured=off,
        openings={"open": None, "some": draw(RATIOS), "more": draw(RATIOS)},
        pictures={"stretched": draw(STRETCHES), "cropped": draw(CROPS), "lines": draw(LINES)},
    )


@st.composite
def off_square(draw: st.DrawFn, cloth: Screen, raster: tuple[int, int], fits: int) -> Corners:
    """The corners of this screen at that zoom, each of them moved by up to a thirtieth."""
    width, height = raster_size(cloth, *raster, fits)
    across, down = cloth.width / width * raster[0], cloth.height / height * raster[1]
    off = st.floats(-1 / 30, 1 / 30)
    return corners(
        *(
            (
                raster[0] / 2 + (side + draw(off)) * across,
                raster[1] / 2 + (end + draw(off)) * down,
            )
            for side, end in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
        )
    )
