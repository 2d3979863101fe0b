"""`roomcue testcard`: a card of the raster's size, on which pixels can be read."""

from __future__ import annotations

from io import BytesIO
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from skimage.io import imread
from skimage.transform import ProjectiveTransform
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from adapters.render.plan_sentences import AT_THE_SCREEN, BEAM
from adapters.render.testcard import COLOURS, card_png, expected, inside
from engine.optics import fit
from engine.planning.alignment import align
from engine.room import Room
from tests.engine.planned import corners, room, screen

Pixels = npt.NDArray[np.uint8]
WHITE = (255, 255, 255)


def card(at: Room, preset: str) -> Pixels:
    """The card as another library reads it."""
    pixels: Pixels = imread(BytesIO(card_png(at, preset)))
    return pixels[..., :3]


HD = room(raster=(1_920, 1_080))
DRAWN = card(HD, "broad")


def run(*words: object) -> Result:
    """Run a command in this process."""
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.mark.parametrize("raster", [(4_096, 2_160), (3_840, 2_160), (1_920, 1_200)])
@pytest.mark.parametrize("preset", ["broad", "tall"])
def test_the_card_has_the_rasters_size(raster: tuple[int, int], preset: str) -> None:
    drawn = card(room(raster=raster), preset)
    assert drawn.shape == (raster[1], raster[0], 3)
    packed = np.unique(drawn.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32))
    found = {(int(one) >> 16, int(one) >> 8 & 255, int(one) & 255) for one in packed}
    assert found <= set(COLOURS)


def test_the_rules_mark_every_tenth_pixel_of_each_edge() -> None:
    """Short marks are four pixels long and more; between them the rule is dark."""
    for edge in (DRAWN[2, :], DRAWN[-3, :]):
        lit = np.flatnonzero((edge == WHITE).all(axis=1))
        assert {*lit} >= set(range(10, 1_910, 10))
        assert all(x % 10 == 0 or x == 1_919 for x in lit)
    for edge in (DRAWN[:, 2], DRAWN[:, -3]):
        lit = np.flatnonzero((edge == WHITE).all(axis=1))
        assert {*lit} >= set(range(300, 460, 10))  # elsewhere graph paper hides it


def test_graph_paper_lies_where_a_corner_is_expected_and_counts_in_tens() -> None:
    """The screen's top left corner at the broad preset is 0 x 140: 1920 / 2.40 is 800 rows."""
    first = expected(HD, "broad")[0]
    assert (first.name, first.x, first.y) == ("top_left", 0, 140)
    paper = DRAWN[150:250, 3:119]
    dark = (paper == 0).all(axis=2)
    columns = np.flatnonzero(~dark[5, :]) + 3
    assert {10, 20, 50, 100} <= {*columns}
    rows = np.flatnonzero(~dark[:, 2]) + 150
    assert {150, 160, 200, 240} <= {*rows}


@pytest.mark.parametrize("ratio", [13_333, 17_778, 20_000, 23_900, 27_600])
def test_each_ratio_has_its_frame_at_the_place_that_would_be_ordered(ratio: int) -> None:
    rect = fit(HD, "plain", 0, ratio, "broad", "open")
    middle = rect.top + rect.height // 3
    frames = set(COLOURS[4:])
    assert tuple(DRAWN[middle, rect.left]) in frames
    assert tuple(DRAWN[rect.top, rect.left + rect.width * 2 // 3]) in frames
    assert tuple(DRAWN[rect.bottom - 1, rect.left + rect.width * 2 // 3]) in frames


def test_a_round_circle_stands_in_the_middle_of_the_screen() -> None:
    """Looked for in the picture: white at the left, at the right and aslant, equally far off."""
    radius = 0.46 * 800
    for degrees in (0, 30, 60, 120, 150, 180, 210, 240, 300, 330):
        x = round(960 + radius * cos(radians(degrees)))
        y = round(540 + radius * sin(radians(degrees)))
        place = DRAWN[y - 2 : y + 3, x - 2 : x + 3]
        assert (place == WHITE).all(axis=2).any()


def test_corners_beyond_a_small_raster_are_known_to_be_off_the_card() -> None:
    places = expected(room(), "tall")
    assert [inside(room(), place) for place in places[:4]] == [False] * 4
    assert places[0].x == -544
    assert [inside(room(), place) for place in expected(room(), "broad")[:4]] == [True] * 4


def test_corners_read_off_a_card_thrown_aslant_lead_back_to_the_screen() -> None:
    """The whole way on site; scikit-image says which pixel of the card falls on which corner."""
    at = room(screen(border=200_000), raster=(1_920, 1_080))
    square = np.array([[0, 0], [1_920, 0], [1_920, 1_080], [0, 1_080]], dtype=float)
    thrown = square + np.array([[12, 9], [-18, 4], [-9, -14], [15, -6]], dtype=float)
    way = ProjectiveTransform.from_estimate(square, thrown)  # type: ignore[no-untyped-call]
    white = np.array([[30, 160], [1_890, 160], [1_890, 920], [30, 920], [960, 540]], dtype=float)
    *read, middle = [(float(x), float(y)) for x, y in way.inverse(white)]
    found = align(at, corners(*read))
    assert found.split.middle == pytest.approx(middle, abs=0.02)
    left, top, right, bottom = found.box
    assert all(left <= x <= right and top <= y <= bottom for x, y in read)


def test_the_command_says_how_the_card_is_read_and_with_what_care(tmp_path: Path) -> None:
    room_file = tmp_path / "den.yaml"
    room_file.write_text(
        "room: den\ntime_zone: Europe/Lisbon\nscreen: {width: 3.4 m, aspect: 2.40}\n"
        "projector: {raster: 1920 x 1080}\npresets: {broad: {fits: 2.40}, tall: {fits: 1.78}}\n"
        "sources: {player: {}}\n",
        "utf-8",
    )
    out = tmp_path / "card.png"
    done = run("testcard", room_file, "--out", out)
    said = " ".join(done.stdout.split())
    assert done.exit_code == 0
    assert out.read_bytes().startswith(b"\x89PNG")
    assert "presets: {broad: {measured: {top_left: 0 x 140, top_right: 1920 x 140" in said
    assert BEAM in said
    assert AT_THE_SCREEN in said
    refused = run("testcard", room_file, "--out", out)
    assert refused.exit_code == 2
    tall = run("testcard", room_file, "--out", out, "--preset", "tall", "--force")
    assert tall.exit_code == 0
    assert "lie outside the raster, which is smaller than the screen here" in " ".join(
        tall.stdout.split()
    )
