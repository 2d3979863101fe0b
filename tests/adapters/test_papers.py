"""`roomcue papers`: what each paper says, and that its drawings measure what the engine knows."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from adapters.papers.as_built_paper import Built
from adapters.papers.client_paper import look_for
from adapters.papers.paper_words import heading
from adapters.papers.papers import write_papers
from adapters.papers.quote_paper import OFFERED, quote_paper, span
from adapters.papers.site_drawings import MARGIN, front_elevation, side_section
from adapters.render.palette import ON_PAPER
from adapters.render.plan_sentences import change
from engine.planning.plan import Plan, plan
from rules.room.load import load
from rules.text.findings import BadRoom
from rules.words.fluent_catalogue import catalogue_in
from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.adapters.drawn_words import collisions
from tests.house.tree import TOP
from tests.soak import sample

FIGURE = re.compile(r"\d+(?:\.\d+)?(?= (?:m|s|%|cd/m2)$)|\d+\.\d+(?=\u2013)")
"""A figure of a cell with its unit, or the least of two."""
SVG = "{http://www.w3.org/2000/svg}"
SHIPPED = sorted((TOP / "simulator" / "shipped").glob("*.yaml"))
MANY = """\
room: gallery
time_zone: Europe/Lisbon
screen: {width: 6.2 m, aspect: 2.00, border: 300 mm}
projector:
  raster: 3840 x 2160
  light: {lumens: 9000}
  throw: {distance: 14 m, ratio: 1.50 to 3.40, shift: {up: 60 %, across: 20 %}, offset: {up: 1.8 m}}
presets: {one: {fits: 2.00}, two: {fits: 1.90}, three: {fits: 1.78}}
panels:
  open: {}
  narrow: {opening: 4.1 m, moved: by hand}
  wider: {opening: 1.78, moved: by hand}
  flat: {opening: 2.40, moved: by hand}
seats: {first_row: 7 m, second_row: 7.4 m, last_row: 15.5 m}
sources: {disc: {}}
rules:
  otherwise: {picture: plain}
"""


def planned(text: str) -> Plan:
    return plan(load(text, "room.yaml"))


def hayloft(*changes: tuple[str, str]) -> Plan:
    """The shipped room, with some changes of one place each."""
    text = DEMO_ROOM.read_text("utf-8")
    for before, after in changes:
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    return planned(text)


def papers_of(found: Plan) -> dict[str, str]:
    return write_papers(found, Built(), "0.1.0", "2026-11-28")


def words_of(page: str) -> str:
    """What a page says, as one line without its markup."""
    body = re.sub(r"<(style|svg).*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


def drawn(drawing: str) -> list[str]:
    return ["".join(text.itertext()) for text in ET.fromstring(drawing).iter(f"{SVG}text")]


def test_the_front_is_drawn_to_scale_and_measures_what_the_engine_knows() -> None:
    found = hayloft()
    front = front_elevation(found)
    screen, _in_legend = (
        one
        for one in ET.fromstring(front).iter(f"{SVG}rect")
        if one.attrib.get("fill") == ON_PAPER.screen
    )
    shape = float(screen.attrib["width"]) / float(screen.attrib["height"])
    assert shape == pytest.approx(3_400_000 / found.room.screen.height, rel=1e-3)
    said = drawn(front)
    for zoom in found.zooms:
        assert f"raster of {zoom.preset} {zoom.width / 1_000:.0f} mm" in said
        assert f"raster of {zoom.preset} {zoom.height / 1_000:.0f} mm" in said
    (sides,) = found.maskings
    assert said.count(f"{sides.side / 1_000:.0f} mm") == 2
    assert "screen 3400 mm" in said


def test_the_section_is_drawn_to_scale_with_the_lens_where_it_stands() -> None:
    """The beam begins at the lens: 5.2 m from the screen, half a metre above its middle."""
    found = hayloft(("distance: 5.2 m", "offset: {up: 500 mm}, shift: {up: 60 %}, distance: 5.2 m"))
    side = side_section(found)
    beams = [one.attrib["points"].split() for one in ET.fromstring(side).iter(f"{SVG}polygon")]
    (x, y), (_, above), (_, below) = (
        tuple(map(float, point.split(","))) for point in max(beams, key=lambda one: len(str(one)))
    )
    scale = (x - MARGIN) / 5_200_000
    height = max(zoom.height for zoom in found.zooms)
    largest = max(abs(float(one[1].split(",")[1]) - float(one[2].split(",")[1])) for one in beams)
    assert largest == pytest.approx(height * scale, rel=1e-3)
    assert (above + below) / 2 - y == pytest.approx(500_000 * scale, abs=0.1)
    said = drawn(side)
    lens = found.room.screen.height / 2 + 500_000
    assert {"lens 5200 mm", "front 3200 mm", "back 4800 mm", f"lens {lens / 1_000:.0f} mm up"} <= {
        *said
    }


@pytest.mark.parametrize("text", [MANY, *(one.read_text("utf-8") for one in SHIPPED)])
def test_no_words_of_a_drawing_stand_on_others(text: str) -> None:
    found = planned(text)
    assert collisions(front_elevation(found)) == []
    assert collisions(side_section(found)) == []


def test_a_room_without_a_throw_has_its_section_without_a_lens() -> None:
    bare = re.sub(r"  throw:.*\n", "", MANY)
    said = drawn(side_section(planned(bare)))
    assert not any("lens" in words for words in said)
    assert "last_row 15500 mm" in said
    assert "give projector: throw" in words_of(papers_of(planned(bare))["site.html"])


def test_the_cutting_list_is_as_large_as_what_panels_cover() -> None:
    found = planned(MANY)
    said = words_of(papers_of(found)["site.html"])
    for one in found.maskings:
        if one.side:
            assert f"{one.panels} at the sides 2 {one.side / 1_000:.0f} x 3100" in said
        if one.end:
            assert f"{one.panels} above and below 2 6200 x {one.end / 1_000:.0f}" in said
    assert "narrow at the sides 2 1050 x 3100 4100 x 3100" in said


def test_the_clients_page_shows_what_the_rules_show_and_speaks_the_rooms_language() -> None:
    found = hayloft()
    wide, flat = look_for(found, 23_900), look_for(found, 17_778)
    assert (wide.picture, wide.preset, wide.panels) == ("plain", "broad", "open")
    assert (flat.picture, flat.preset, flat.panels) == ("plain", "tall", "sides")
    english = words_of(papers_of(found)["client.html"])
    assert "Panels keep the sides black. The lens moves first." in english
    assert "One film, three ways" in english
    assert not re.search(r"\d\.\d\d", english.split("roomcue 0.1.0")[1])
    portuguese = papers_of(hayloft(("time_zone:", "language: pt\ntime_zone:")))["client.html"]
    assert '<html lang="pt">' in portuguese
    say = catalogue_in("pt").say
    for code in ("say_no", "keep_it", "care_ladder"):
        assert say("paper", code) in words_of(portuguese)


def test_what_was_built_is_named_by_its_hash_and_signed_row_by_row(tmp_path: Path) -> None:
    run("papers", DEMO_ROOM, "--out", tmp_path)
    built = words_of((tmp_path / "as-built.html").read_text("utf-8"))
    assert hashlib.sha256(DEMO_ROOM.read_bytes()).hexdigest() in built
    room = load(DEMO_ROOM.read_text("utf-8"), "room.yaml")
    for note in room.rules.rows:
        assert f"{note.label} " in built
    assert "aspect: scope, subtitles: yes" in built
    assert "Nothing is proven of this file yet" in built or "Not proven:" in built
    assert (tmp_path / "card-broad.png").read_bytes().startswith(b"\x89PNG")


def test_the_offer_says_the_plans_own_figures() -> None:
    """A line is a kind of film: what its films have in common, or from the least to the most."""
    found = hayloft()
    lines = quote_paper(found).lines
    said = [figure for line in lines for cell in line for figure in FIGURE.findall(cell)]
    for trade in found.trades:
        widths = f"{trade.fixed.area.width / 1e6:.2f}", f"{trade.best.area.width / 1e6:.2f}"
        light = 0 if trade.light is None else round((trade.light - 1) * 100)
        kind = min(OFFERED, key=lambda one: abs(one[1] - trade.ratio))[0]
        name = heading(found.room.catalogue, kind)
        (line,) = [one for one in lines if one[0].startswith(name) and _within(one[1], widths[0])]
        assert line[2] == "103 cd/m\u00b2"
        assert line[3] == ("Tall" if trade.moves else "Stays")
        assert not trade.moves or (_within(line[4], widths[1]) and line[5] == f"+{light} %")
    assert "1.89" in said


def _within(cell: str, figure: str) -> bool:
    ends = [float(one) for one in FIGURE.findall(cell)]
    return min(ends) <= float(figure) <= max(ends)


@pytest.mark.parametrize("name", ["hayloft", "longroom", "cellar"])
def test_a_client_reads_no_ratio_in_an_offer(name: str) -> None:
    """Each line has a name of its own, and no cell a figure without a unit."""
    found = planned((TOP / "simulator" / "shipped" / f"{name}.yaml").read_text("utf-8"))
    lines = quote_paper(found).lines
    assert len({line[0] for line in lines}) == len(lines) < len(found.trades)
    for cell in (cell for line in lines for cell in line if FIGURE.search(cell)):
        assert cell.endswith((" m", " s", " %", " cd/m2")), cell


def test_what_a_room_file_says_never_becomes_markup() -> None:
    marked = hayloft(("en: It fills the screen.", 'en: "It <b>fills</b> & <i>more</i>."'))
    built = papers_of(marked)["as-built.html"]
    assert "It &lt;b&gt;fills&lt;/b&gt; &amp; &lt;i&gt;more&lt;/i&gt;." in built


def test_papers_are_not_written_over_unless_it_is_asked_for(tmp_path: Path) -> None:
    assert run("papers", DEMO_ROOM, "--out", tmp_path).exit_code == 0
    again = run("papers", DEMO_ROOM, "--out", tmp_path)
    assert again.exit_code == 2
    assert "--force" in again.output
    assert run("papers", DEMO_ROOM, "--out", tmp_path, "--force").exit_code == 0


NAMES = st.from_regex(r"[a-z][a-z_]{0,30}", fullmatch=True)


@st.composite
def rooms_with_long_names(draw: st.DrawFn) -> str:
    """Rooms of any size with up to four presets, three arrangements and four rows of seats."""
    width = draw(st.integers(1_500, 9_000))
    presets, rows = (
        draw(st.lists(NAMES, min_size=least, max_size=4, unique=True)) for least in (1, 0)
    )
    panels = draw(st.lists(NAMES.filter(lambda name: name != "open"), max_size=3, unique=True))
    openings = draw(st.lists(st.integers(130, 300), min_size=3, max_size=3))
    up = draw(st.integers(-1_500, 1_500))
    shift = f"shift: {{up: 200 %, across: 200 %}}, offset: {{up: {up} mm}}"
    lines = [
        f"room: {draw(NAMES)}",
        "time_zone: Europe/Lisbon",
        f"screen: {{width: {width} mm, aspect: 2.40, border: 200 mm}}",
        "projector:",
        "  raster: 4096 x 2160",
        f"  throw: {{distance: {width * 2} mm, ratio: 1.0 to 5.0, {shift}}}",
        "presets:",
        *(f"  {name}: {{fits: {2.4 - 0.2 * at:.2f}}}" for at, name in enumerate(presets)),
        "panels:",
        "  open: {}",
        *(
            f"  {name}: {{opening: {one / 100:.2f}}}"
            for name, one in zip(panels, openings, strict=False)
        ),
        f"seats: {{{', '.join(f'{name}: {2_000 + 900 * at} mm' for at, name in enumerate(rows))}}}",
        "sources: {player: {}}",
        "rules: {otherwise: {picture: plain}}",
    ]
    return "\n".join(lines) + "\n"


@settings(max_examples=sample(4, 500), deadline=None)
@given(rooms_with_long_names())
def test_no_words_stand_on_others_whatever_the_room(text: str) -> None:
    """In every room that can be loaded, however long its names and however many they are."""
    try:
        found = planned(text)
    except BadRoom:
        assume(False)
    assert collisions(front_elevation(found)) == []
    assert collisions(side_section(found)) == []


def test_each_drawing_says_what_its_lines_and_areas_stand_for() -> None:
    found = hayloft()
    front, side = drawn(front_elevation(found)), drawn(side_section(found))
    assert {"screen", "border", "all panels that may be fitted"} <= {*front}
    assert {"light of each preset", "eyes of a row of seats", "what they see"} <= {*side}
    bare = drawn(front_elevation(planned(MANY.replace("panels:", "told: {}\npanels:"))))
    assert "edge of a preset's raster" in bare


def test_panels_above_and_below_are_measured_too() -> None:
    found = planned(MANY)
    (flat,) = (one for one in found.maskings if one.end)
    said = drawn(front_elevation(found))
    assert said.count(f"{flat.end / 1_000:.0f} mm") == 2
    assert any(words.startswith("flat leave ") for words in said)


def test_of_three_ways_the_one_that_the_room_uses_is_named_by_words() -> None:
    """The room stretches what nearly fills its screen; a room that crops it names the crop."""
    page = papers_of(hayloft())["client.html"]
    used = re.findall(r'<figure class="used">.*?</figure>', page, flags=re.DOTALL)
    (stretched,) = map(words_of, used)
    assert "Widened towards the sides." in stretched
    assert "This is how your room shows it." in stretched
    cropping = hayloft(("show: {picture: gentle, lift", "show: {picture: cropped, lift"))
    page = papers_of(cropping)["client.html"]
    used = re.findall(r'<figure class="used">.*?</figure>', page, flags=re.DOTALL)
    assert ["Enlarged." in words_of(one) for one in used] == [True]


def test_an_offer_leaves_out_columns_in_which_nothing_stands() -> None:
    """A room without panels and without known light has neither in its offer."""
    cellar = planned((TOP / "simulator" / "shipped" / "cellar.yaml").read_text("utf-8"))
    said = words_of(papers_of(cellar)["quote.html"])
    assert "Panels" not in said
    assert "Film Width Lens Width Detail Move" in said
    assert "Detail is how many" in said
    for meaning in ("Light is how bright", "panels"):
        assert meaning not in said


def test_a_client_reads_names_as_words_and_of_no_travel_that_no_rule_orders() -> None:
    """What the file names without a label is written as words are."""
    lines = """room: den
time_zone: Europe/Lisbon
screen: {width: 4 m, aspect: 2.40}
projector: {raster: 4096 x 2160, throw: {distance: 8 m, ratio: 1.0 to 5.0}}
presets: {wide_place: {fits: 2.40}, tall_place: {fits: 1.78}}
panels: {open: {}, side_panels: {opening: 1.78}}
sources: {game_box: {leave_alone: yes, shape: 1.78}}
"""
    still = papers_of(planned(lines + "rules: {otherwise: {picture: plain}}\n"))
    said, offer = words_of(still["client.html"]), words_of(still["quote.html"])
    assert "The lens stays where it is." in said
    assert "the lens may move" not in said
    assert "in use: Game box." in said
    assert "Tall place" in offer
    assert "Side panels, " in offer
    moved = papers_of(planned(lines + "rules: {otherwise: {preset: tall_place}}\n"))
    assert "the lens may move" in words_of(moved["client.html"])


def test_what_was_measured_comes_from_the_book_beside_the_room_file(tmp_path: Path) -> None:
    room = tmp_path / "room.yaml"
    small = DEMO_ROOM.read_text("utf-8").replace("4096 x 2160", "1024 x 540")  # small cards
    room.write_text(small)
    without = run("papers", room, "--out", tmp_path / "one")
    assert without.exit_code == 0
    said = words_of((tmp_path / "one" / "as-built.html").read_text("utf-8"))
    assert "There is no book of measurements beside the room file" in said
    book = tmp_path / "hayloft.alignments.jsonl"
    edges = ("--edges", "1.5 0 1.2 0.4 mm", "--error", "0.5", "--lit", "40")
    measured = ("--at", "2026-11-20T10:00:00Z", "--book", book)
    assert run("align", room, "--preset", "tall", *edges, *measured).exit_code == 0
    found = run("papers", room, "--out", tmp_path / "two")
    assert "measurements: hayloft.alignments.jsonl" in found.output
    said = words_of((tmp_path / "two" / "as-built.html").read_text("utf-8"))
    assert "2026-11-20 10:00 tall left +1.5, top +0, right +1.2, bottom +0.4 mm, each read" in said
    named = run("papers", room, "--out", tmp_path / "three", "--book", tmp_path / "none.jsonl")
    assert named.exit_code == 2
    assert "there is no such book" in named.output


def test_the_book_that_is_begun_where_one_stands_is_found_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The room file may lie elsewhere; a book beside it goes before."""
    house, here = tmp_path / "house", tmp_path / "here"
    for folder in (house, here):
        folder.mkdir()
    room = house / "room.yaml"
    room.write_text(DEMO_ROOM.read_text("utf-8").replace("4096 x 2160", "1024 x 540"))
    monkeypatch.chdir(here)
    read = ("--edges", "1.5 0 1.2 0.4 mm", "--error", "0.5", "--at", "2026-11-20T10:00:00Z")
    assert run("align", room, "--preset", "tall", *read).exit_code == 0
    assert "measurements: hayloft" in run("papers", room, "--out", "one").output
    beside = house / "hayloft.alignments.jsonl"
    assert run("align", room, "--preset", "broad", *read, "--book", beside).exit_code == 0
    assert run("papers", room, "--out", "two").exit_code == 0
    said = words_of((here / "two" / "as-built.html").read_text("utf-8"))
    assert "10:00 broad left" in said
    assert "10:00 tall left" not in said


def test_a_case_to_sign_is_its_own_rows_however_the_file_is_laid_out() -> None:
    """Over several lines, with a remark behind it, behind the look, or without a cell."""
    rows = """\
rules:
  policy: first
  rows:
    - name: wide
      case:
        playback: playing
        aspect: ">= 2.30"
      show: {picture: plain}
      because: It fills the screen.
    - name: old
      case: {playback: playing, aspect: "< 1.5"}  # old films
      show: {picture: whole}
      because: They keep their edges.
    - name: rest
      show: {picture: plain}
      case: {}
      because: Nothing else is known.
"""
    found = planned(MANY.replace("rules:\n  otherwise: {picture: plain}\n", rows))
    built = words_of(papers_of(found)["as-built.html"])
    assert "wide playback: playing, aspect: &gt;= 2.30 picture plain" in built
    assert "old playback: playing, aspect: &lt; 1.5 picture whole" in built
    assert "rest always picture plain" in built


@pytest.mark.parametrize(
    ("times", "says"),
    [
        ((1.05, 1.12), "+5\u201312 %"),
        ((1.0, 1.03), "0\u20133 %"),
        ((0.66, 0.88), "-34 \u2026 -12 %"),
        ((0.97, 1.0), "-3 \u2026 0 %"),
        ((0.95, 1.03), "-5 \u2026 +3 %"),
        ((1.001, 0.999), "0 %"),
    ],
)
def test_a_line_of_the_offer_hides_no_film_and_no_minus(
    times: tuple[float, ...], says: str
) -> None:
    """Of films of which one changes nothing it said that none does."""
    assert span([change(one) for one in times]) == says
