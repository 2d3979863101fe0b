"""`roomcue plan`: what the table, the JSON and the drawings of a room say."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from adapters.render.plan_sentences import (
    AT_THE_PANELS,
    BEAM,
    BEFORE_DRILLING,
    NO_BRIGHTER,
    ON_A_LADDER,
)
from adapters.render.plan_text import WIDTH
from engine.planning.plan import RATIOS
from simulator.shipped import DEMO_ROOM
from tests.house.tree import TOP

SVG = "{http://www.w3.org/2000/svg}"
CORNERS = """\
  broad:
    fits: 2.40
    measured:
      top_left: 62.5 x 263
      top_right: 4051 x 236
      bottom_right: 4040 x 1921.5
      bottom_left: 44 x 1922
      middles: {top: 2057 x 245, right: 4046 x 1079, bottom: 2040 x 1926, left: 53 x 1090}
"""


def run(*words: object) -> Result:
    """Run a command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(app, [str(word) for word in words])


def edited(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the shipped room with some changes, each of one place."""
    text = DEMO_ROOM.read_text("utf-8")
    for before, after in changes:
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    room = folder / "room.yaml"
    room.write_text(text, "utf-8")
    return room


def flat(text: str) -> str:
    """What was printed, as one line: sentences may be broken anywhere."""
    return " ".join(text.split())


def test_the_plan_answers_what_an_integrator_asks() -> None:
    done = run("plan", DEMO_ROOM)
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    two_twenty = lines[next(at for at, line in enumerate(lines) if line.startswith("2.20 ")) :]
    plain = next(line for line in two_twenty if line.startswith("broad plain"))
    gentle = next(line for line in two_twenty if line.startswith("broad gentle"))
    # where does 2.20 land, and how bright is it
    assert plain.split()[2:7] == ["3.116x1.416", "3754x1706", "171,227", "284,1", "103"]
    # how wide is a circle at the edge with this picture
    assert "1.01-1.14" in gentle
    # is a second preset worth its travels
    said = flat(done.stdout)
    assert "tall gives +46 % light and +60 % pixels for 1.33 to 1.90" in said
    assert "For 2.00 to 2.76 the lens may stay at broad: no other preset shows it larger." in said
    assert "tall would give +46 % light and same to +44 % pixels, and -21 to -5 % width." in said


def test_the_plan_says_plainly_what_makes_nothing_brighter_and_what_panels_are_for() -> None:
    said = flat(run("plan", DEMO_ROOM).stdout)
    assert NO_BRIGHTER in said
    assert "tall: 151.1 cd/m2" in said
    assert "the lens lets 88 % through there" in said
    assert "Raster black at broad: 0.052 cd/m2 on the screen, 0.0094 on a dark wall" in said
    assert "panels pay" in said


@pytest.mark.parametrize("broad", ["  broad: {fits: 2.40}\n", CORNERS])
def test_no_line_is_wider_than_a_hundred_columns(tmp_path: Path, broad: str) -> None:
    room = edited(tmp_path, ("  broad: {fits: 2.40}\n", broad))
    lines = run("plan", room).stdout.splitlines()
    assert len(lines) > 100
    assert max(map(len, lines)) <= WIDTH


def test_a_room_that_new_has_written_is_planned_in_tables_once_its_light_is_known(
    tmp_path: Path,
) -> None:
    """The names that `new` gives made the table two letters too wide: each row was a sentence."""
    room = tmp_path / "den.yaml"
    made = run("new", "den", "--screen", "5 m x 2.76", "--raster", "4096 x 2160",
               "--sources", "disc", "--presets", "2.76, 1.85", "--out", room)  # fmt: skip
    assert made.exit_code == 0
    text = room.read_text("utf-8")
    room.write_text(text.replace("  # light: {lumens: 2200}", "  light: {lumens: 6000}"), "utf-8")
    lines = run("plan", room).stdout.splitlines()
    rows = [line.split() for line in lines if line.startswith("zoom_276 gentle ")]
    assert len(rows) >= 10
    assert all(row[2].count("x") == row[3].count("x") == 1 for row in rows)


def test_every_ratio_has_its_block_and_one_alone_may_be_asked_for() -> None:
    every = run("plan", DEMO_ROOM, "--json")
    assert [one["ratio"] for one in json.loads(every.stdout)["ratios"]] == [
        ratio / 10_000 for ratio in RATIOS
    ]
    some = run("plan", DEMO_ROOM, "--ratio", "16:9", "--ratio", "2.05", "--json")
    assert [one["ratio"] for one in json.loads(some.stdout)["ratios"]] == [1.7778, 2.05]


def test_the_json_carries_what_the_table_shows() -> None:
    data = json.loads(run("plan", DEMO_ROOM, "--ratio", "2.20", "--json").stdout)
    (shape,) = data["ratios"]
    ways = {(way["preset"], way["picture"]): way for way in shape["ways"]}
    plain, gentle = ways["broad", "plain"], ways["broad", "gentle"]
    assert plain["region"] == {"left": 171, "top": 227, "width": 3754, "height": 1706}
    assert plain["screen_mm"]["width"] == pytest.approx(3_116, abs=1)
    assert plain["white"] == pytest.approx(103.4, abs=0.1)
    assert plain["lines"] == {"land": False, "lift": pytest.approx(0.058, abs=1e-3), "can": True}
    assert plain["covered_by"] == ["sides"]
    assert gentle["stretch"]["edge_circle"] == pytest.approx(1.14, abs=0.005)
    assert gentle["stretch"]["kept"]
    assert ways["tall", "gentle"]["as_plain"]
    assert data["fixed"] == "broad"
    assert data["presets"][1]["reach"]["in_range"]
    assert data["seats"][0]["seen"][0]["degrees"] == pytest.approx(51.9, abs=0.1)
    assert data["says"][0] == NO_BRIGHTER


def test_what_the_limits_do_not_allow_is_said_beneath_its_ratio() -> None:
    said = flat(run("plan", DEMO_ROOM, "--ratio", "1.78").stdout)
    assert "so rules show plain: broad gentle 45 % (stopped by its limits)" in said
    assert "tall gentle 19 % (stopped where the raster ends)" in said
    assert "gentle, cropped at tall: nothing to gain" in flat(
        run("plan", DEMO_ROOM, "--ratio", "2.20").stdout
    )


def test_panels_seats_and_the_border_are_told_of(tmp_path: Path) -> None:
    said = flat(run("plan", DEMO_ROOM).stdout)
    assert "sides: fitted, they leave 1.33 to 1.78 alone and make smaller 1.85 -4 %" in said
    assert "front, 3.200 m back, 4.800 m" in said
    assert "broad plain: lost in the border 15 mm top, 15 mm bottom" in said
    far = edited(tmp_path, ("back: 4.8 m", "back: 8 m"))
    assert "From back the whole screen is seen under 24 degrees: 30 are the least" in flat(
        run("plan", far).stdout
    )


def test_a_room_with_one_preset_hears_what_a_second_would_give(tmp_path: Path) -> None:
    text = DEMO_ROOM.read_text("utf-8").replace("  tall: {fits: 1.78}\n", "")
    room = tmp_path / "room.yaml"
    room.write_text(text.replace("preset: tall, ", ""), "utf-8")
    done = run("plan", room)
    assert done.exit_code == 0
    assert "made for 2.00" in done.stdout
    assert "A preset made for each would give" in flat(done.stdout)


def test_a_room_of_twelve_lines_is_planned_without_light_lens_and_seats(tmp_path: Path) -> None:
    room = tmp_path / "den.yaml"
    room.write_text(
        "room: den\ntime_zone: Europe/Lisbon\nscreen: {diagonal: 110 in, aspect: 16:9}\n"
        "projector: {raster: 1920 x 1080}\nsources: {player: {}}\n",
        "utf-8",
    )
    done = run("plan", room)
    assert done.exit_code == 0
    said = flat(done.stdout)
    assert "8 ft 0 in x 4 ft 6 in, 110 in across corners" in said
    assert "The room file says nothing of light" in said
    assert "cd/m2" not in done.stdout.split("In plain words")[0]
    assert (
        "the lens may stay at fixed: no preset that the lens reaches gives more at that size."
        in said
    )


def test_measured_corners_are_told_with_what_to_put_right_first(tmp_path: Path) -> None:
    room = edited(tmp_path, ("  broad: {fits: 2.40}\n", CORNERS))
    said = flat(run("plan", room, "--ratio", "2.40").stdout)
    assert "Use columns 44 to 4051, rows 236 to 1922" in said
    assert "Spill 16 mm left, 23 mm top, 9 mm right; the border is 180 mm, which takes it" in said
    assert "Trapezoid 1.59 % larger at the right" in said
    assert "Bow top +4.5" in said
    assert "First turn the projector to the right by about 1.4" in said
    assert "; then read the corners again" in said
    assert "Rolled 0.3" in said
    assert ON_A_LADDER in said
    data = json.loads(run("plan", room, "--json").stdout)["alignment"][0]
    assert data["region"] == {"left": 44, "top": 236, "width": 4007, "height": 1686}
    assert data["first"]["error"] == "turned"
    assert data["pose"]["yaw_degrees"]["value"] == pytest.approx(-1.4, abs=0.1)
    assert data["pose"]["yaw_degrees"]["standard_deviation"] < 0.1


def test_cautions_stand_where_a_figure_sends_somebody_to_the_lens_or_up_a_ladder() -> None:
    said = flat(run("plan", DEMO_ROOM).stdout)
    for caution in (BEAM, BEFORE_DRILLING, AT_THE_PANELS):
        assert caution in said
    assert ON_A_LADDER not in said  # no corner was measured, so nothing is to be turned


def test_the_readme_shows_the_plan_as_it_is() -> None:
    text = (TOP / "rules" / "README.md").read_text("utf-8").split("## Planning and")[1]
    section = text.split("## What `check`")[0]
    shown = [line.strip() for line in section.splitlines() if line[:4] == " " * 4]
    lines = run("plan", DEMO_ROOM).stdout.splitlines()
    table = [line for line in shown if line.startswith(("2.20 ", "broad ", "tall "))]
    assert len(table) == 4
    assert all(line in lines for line in table)


def test_the_corners_that_the_readme_types_are_taken(tmp_path: Path) -> None:
    text = (TOP / "rules" / "README.md").read_text("utf-8").split("## Planning and")[1]
    typed = text.split("measured: ")[1].split("\n")[0]
    room = edited(tmp_path, ("broad: {fits: 2.40}", f"broad: {{fits: 2.40, measured: {typed}}}"))
    done = run("plan", room, "--json")
    assert done.exit_code == 0
    assert [one["preset"] for one in json.loads(done.stdout)["alignment"]] == ["broad"]


SMALL = """\
room: den
time_zone: Europe/Lisbon
screen: {width: 9.3 m, aspect: 1.78, border: 60 mm, overfill: 0 %}
projector:
  raster: 1920 x 1200
  light: {lumens: 2860, contrast: LIGHT}
presets: {near: {fits: 1.78}}
panels: {lids: {opening: 2.39}}
sources: {disc: {}}
rules:
  rows:
    - case: {playback: playing}
      show: {picture: plain}
      because: It stands as it was made.
  otherwise: {picture: plain}
"""


def test_panels_of_the_pictures_own_shape_cost_it_the_rows_that_keep_them_clear(
    tmp_path: Path,
) -> None:
    """By hand: a pixel is 9300 / 1920 = 4.84 mm. It said 12 mm, of an uncut width."""
    room = tmp_path / "den.yaml"
    room.write_text(SMALL.replace("LIGHT", "2000:1"), "utf-8")
    said = flat(run("plan", room, "--ratio", "2.39").stdout)
    assert "lids: fitted, they leave nothing alone and make smaller 2.39 -5 mm" in said


@pytest.mark.parametrize(
    ("contrast", "black", "verdict"),
    [
        ("3230:1", "0.0052", "but every picture here covers the lit screen"),
        ("3430:1", "0.0049", "so that panels hardly pay"),
    ],
)
def test_a_black_beside_what_an_eye_sees_is_told_with_as_many_places_as_it_takes(
    contrast: str, black: str, verdict: str, tmp_path: Path
) -> None:
    """By hand: 2860 lm on 9.3 m x 5.8125 m is 16.84 cd/m2. It said 0.005 both times."""
    room = tmp_path / "den.yaml"
    room.write_text(SMALL.replace("LIGHT", contrast), "utf-8")
    said = flat(run("plan", room, "--ratio", "1.78").stdout)
    assert f"{black} cd/m2 on the screen, " in said
    assert f"a rested eye sees 0.005, {verdict}." in said


def test_the_drawings_are_one_sheet_a_preset_and_one_a_picture(tmp_path: Path) -> None:
    done = run("plan", DEMO_ROOM, "--pictures", tmp_path / "new" / "sheets")
    assert done.exit_code == 0
    drawn = sorted(path.name for path in (tmp_path / "new" / "sheets").iterdir())
    assert drawn == [
        "places-broad.svg",
        "places-tall.svg",
        "stretch-cropped.svg",
        "stretch-gentle.svg",
    ]
    assert done.stdout.count("drawn: ") == 4
    again = run("plan", DEMO_ROOM, "--pictures", tmp_path / "new" / "sheets")
    assert again.exit_code == 2
    assert "--force" in again.output
    forced = run("plan", DEMO_ROOM, "--pictures", tmp_path / "new" / "sheets", "--force")
    assert forced.exit_code == 0


def test_a_sheet_shows_every_ratio_to_scale(tmp_path: Path) -> None:
    """The screen of 3.4 m by 1.417 m is drawn as often as there are cells, in its own shape."""
    run("plan", DEMO_ROOM, "--pictures", tmp_path)
    sheet = ET.parse(tmp_path / "places-broad.svg").getroot()
    texts = ["".join(text.itertext()) for text in sheet.iter(f"{SVG}text")]
    assert [text for text in texts if text in {"2.20", "2.76", "1.33"}] == ["1.33", "2.20", "2.76"]
    assert "3.12 x 1.42 m, 3754 x 1706" in texts
    screens = [
        (float(rect.attrib["width"]), float(rect.attrib["height"]))
        for rect in sheet.iter(f"{SVG}rect")
        if rect.attrib.get("fill") == "#33383e" and "rx" not in rect.attrib
    ]
    shapes = {round(width / height, 2) for width, height in screens if width > 30}
    assert shapes == {2.4}
    assert sum(width > 30 for width, _ in screens) == 14 * 5


def test_circles_in_the_drawing_are_as_wide_as_the_plan_says(tmp_path: Path) -> None:
    """Measured in the drawing itself: the outermost circle of 2.20 at the broad preset."""
    run("plan", DEMO_ROOM, "--ratio", "2.20", "--pictures", tmp_path)
    sheet = ET.parse(tmp_path / "stretch-gentle.svg").getroot()
    circles = [
        [tuple(map(float, place.split(","))) for place in one.attrib["points"].split()]
        for one in sheet.iter(f"{SVG}polygon")
        if one.attrib.get("stroke-width") == "1.6"
    ]
    shapes = []
    for circle in circles:
        xs, ys = zip(*circle, strict=True)
        shapes.append((max(xs) - min(xs)) / (max(ys) - min(ys)))
    plain, bent = shapes[: len(shapes) // 2], shapes[len(shapes) // 2 :]
    assert plain == pytest.approx([1] * len(plain), abs=0.01)
    assert min(bent) == pytest.approx(1.015, abs=0.01)
    assert 1.10 < max(bent) < 1.14


def test_a_picture_that_changes_nothing_is_drawn_as_a_sheet_that_says_so(tmp_path: Path) -> None:
    run("plan", DEMO_ROOM, "--ratio", "2.40", "--pictures", tmp_path)
    sheet = (tmp_path / "stretch-gentle.svg").read_text("utf-8")
    assert "It changes nothing for these ratios." in sheet


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan", DEMO_ROOM, "--ratio", "0.5"), "--ratio: 0.5 is out of range"),
        (("plan", DEMO_ROOM, "--ratio", "wide"), "wide is no ratio"),
        (("plan", DEMO_ROOM, "--ratio", "2,39"), "Write a decimal point: 2.39."),
        (("plan", DEMO_ROOM, "--ratio", "2,39:1"), "Write a decimal point: 2.39:1."),
        (("plan", DEMO_ROOM, "--ratio", "16:9, 2.39"), "of its own: --ratio 16:9 --ratio 2.39"),
        (("plan", DEMO_ROOM, "--ratio", "1.78,2.39,"), "own: --ratio 1.78 --ratio 2.39\n"),
        (("testcard", DEMO_ROOM, "--out", "."), "name it card.png"),
        (("testcard", DEMO_ROOM, "--out", "/"), "name it /card.png"),
        (("testcard", DEMO_ROOM, "--out", "card.jpg"), "is a PNG file; name it card.png"),
        (("plan", "nowhere.yaml"), "there is no such file"),
        (("plan", DEMO_ROOM, "--pictures", DEMO_ROOM), "no folder can be made here"),
        (("testcard", DEMO_ROOM, "--out", "/nowhere/card.png"), "cannot be written"),
        (("testcard", DEMO_ROOM, "--out", "card.png", "--preset", "tal"), "Did you mean tall?"),
    ],
)
def test_what_cannot_be_planned_or_written_is_named_with_status_2(
    words: tuple[object, ...], says: str
) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert says in done.output
    assert "Traceback" not in done.output


def test_a_room_that_cannot_be_built_is_not_planned(tmp_path: Path) -> None:
    room = edited(tmp_path, ("distance: 5.2 m", "distance: 2 m"))
    done = run("plan", room)
    assert done.exit_code == 2
    assert "preset broad needs a throw ratio of 0.59" in done.output
    assert done.stdout == ""
