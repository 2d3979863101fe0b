"""A new room's file is sound whatever was wished for; what cannot be had is told all at once."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.aspect import in_hundredths
from engine.facts import Facts
from engine.planning.placement import presets_for
from engine.planning.plan import RATIOS
from engine.room import Room, Show
from engine.table import choose
from rules.room.load import load, read_room
from rules.room.names import DEFAULT_PRESET
from rules.room.single_values import NAME_PATTERN, RESERVED_WORDS
from rules.starter.request import MOST_SOURCES, Wishes
from rules.starter.room_text import starter
from rules.table.table_findings import table_findings
from rules.text.findings import BadRoom, Finding, Severity
from rules.text.quantity import show_ratio
from rules.text.yaml_nodes import plain_data
from tests.rules.test_schema_json import accepts, root_of, typed, with_nulls

APART = (13_700, 16_600, 17_800, 18_500, 20_000, 22_000, 23_900, 27_600)
"""Ratios of films, any two of them far enough apart for presets and for panels."""
RASTERS = {"3840 x 2160": 17_800, "4096x2160": 19_000, "1920 x 1200": 16_000}
WIDTHS = ("3.4 m", "11 ft 2 in", "300 mm", "30 m", " 212cm ")
ROOM = Wishes("parlour", "3.4 m x 2.40", "4096 x 2160", "disc, console")


def names() -> st.SearchStrategy[str]:
    return st.from_regex(NAME_PATTERN, fullmatch=True).filter(lambda one: one not in RESERVED_WORDS)


def joined(ratios: list[int]) -> str:
    return ", ".join(map(show_ratio, ratios))


@st.composite
def allowed(draw: st.DrawFn) -> Wishes:
    """Wishes that can all be had: every ratio is one of those that lie apart."""
    screen = draw(st.sampled_from(APART))
    raster, own = draw(st.sampled_from([*RASTERS.items()]))
    low, high = sorted((screen, own))
    zooms = [ratio for ratio in APART if low <= ratio <= high]
    covers = [ratio for ratio in APART if ratio != screen]
    return Wishes(
        draw(names()),
        f"{draw(st.sampled_from(WIDTHS))} x {show_ratio(screen)}",
        raster,
        ", ".join(draw(st.lists(names(), min_size=1, max_size=5, unique=True))),
        joined(draw(st.lists(st.sampled_from(zooms), unique=True)) if zooms else []),
        joined(draw(st.lists(st.sampled_from(covers), unique=True))),
        draw(st.sampled_from(["UTC", "Europe/Lisbon", "America/Halifax"])),
    )


@st.composite
def likely(draw: st.DrawFn) -> Wishes:
    """Wishes as people have them: some can be had together and some cannot."""
    ratio = st.integers(90, 420).map(lambda one: f"{one / 100:.2f}") | st.sampled_from(
        ["16:9", "4:3", "2.39:1", "", "1,78", "2.4 m"]
    )
    ratios = st.lists(ratio, max_size=5).map(", ".join)
    return Wishes(
        draw(st.sampled_from(["parlour", "Parlour", "to", ""])),
        f"{draw(st.sampled_from([*WIDTHS, '3', '3 mm']))} x {draw(ratio)}",
        draw(st.sampled_from([*RASTERS, "4096", "2160 x 4096", "1 x 1"])),
        draw(st.sampled_from(["disc", "disc,console", "disc, Disc", "disc,disc", ""])),
        draw(ratios),
        draw(ratios),
        draw(st.sampled_from(["UTC", "Lisbon", "Europe/Lisbn"])),
    )


def faults(text: str) -> list[Finding]:
    found = [*(loaded := read_room(text, "room.yaml")).findings, *table_findings(loaded)]
    return [one for one in found if one.severity is not Severity.INFO]


def refusals(wishes: Wishes) -> tuple[Finding, ...]:
    """What cannot be had; where all can, see first that the file is without a fault."""
    try:
        text = starter(wishes)
    except BadRoom as error:
        return error.findings
    assert faults(text) == []
    return ()


def refused(wishes: Wishes) -> list[str]:
    return [*map(str, refusals(wishes))]


def shown(room: Room, ratio: int | None) -> Show:
    """What the rules show of a film of this ratio that keeps it and has no subtitles."""
    facts: Facts = dict.fromkeys(column.name for column in room.rules.table.columns)
    facts |= {
        "playback": "playing",
        "varies": False,
        "subtitles": False,
        "aspect": in_hundredths(ratio),
    }
    output = choose(room.rules.table, facts).output
    assert output is not None
    return output


# --------------------------------------------------------------------------- what can be had


@given(allowed())
def test_what_can_be_had_gives_a_file_without_a_fault(wishes: Wishes) -> None:
    text = starter(wishes)
    assert faults(text) == []
    assert "otherwise" not in text
    assert not table_findings(read_room(text, "room.yaml"))


@given(allowed())
def test_the_file_is_valid_by_the_printed_schema(wishes: Wishes) -> None:
    """By jsonschema, as the loader reads it and as an editor does."""
    root = root_of(starter(wishes))
    assert accepts(with_nulls(plain_data(root)))
    assert accepts(typed(root))


@given(allowed())
def test_the_room_is_what_was_wished_for(wishes: Wishes) -> None:
    room = load(starter(wishes), "room.yaml")
    assert (room.name, room.time_zone) == (wishes.name, wishes.time_zone)
    assert [*room.sources] == wishes.sources.split(", ")
    fits = sorted(in_hundredths(one.fits) or 0 for one in room.presets.values())
    wished = sorted(round(float(one) * 10_000) for one in wishes.presets.split(", ") if one)
    assert fits == (wished or [in_hundredths(room.screen.aspect) or 0])
    assert (len(fits) == 1) == (DEFAULT_PRESET in room.presets)
    openings = [in_hundredths(one.opening) or 0 for one in room.panels.values() if one.opening]
    assert sorted(map(show_ratio, openings)) == sorted(filter(None, wishes.panels.split(", ")))


@given(allowed())
def test_each_film_gets_the_longest_zoom_that_shows_it_about_as_large_as_it_gets(
    wishes: Wishes,
) -> None:
    """By the planner: within the 7 % that films taken for one shape differ at most."""
    room = load(starter(wishes), "room.yaml")
    for ratio in RATIOS:
        best, *others = presets_for(room, ratio)
        chosen = shown(room, ratio).preset
        if not others:
            assert chosen is None
            continue
        sizes = {one.preset: one.size for one in (best, *others)}
        assert chosen is not None
        assert sizes[chosen] >= 0.93 * best.size
        width = room.presets[chosen].raster_width
        assert width <= room.presets[best.preset].raster_width


@given(allowed())
def test_panels_are_fitted_for_the_shape_that_they_leave_free_and_taken_off_for_the_screen_s(
    wishes: Wishes,
) -> None:
    room = load(starter(wishes), "room.yaml")
    for name, panels in room.panels.items():
        ratio = room.screen.aspect if panels.opening is None else panels.opening
        assert shown(room, ratio).panels == (name if len(room.panels) > 1 else None)


def test_nothing_moves_before_the_shape_is_known() -> None:
    room = load(starter(ROOM._replace(presets="2.40, 1.78", panels="1.78")), "room.yaml")
    assert shown(room, None) == Show(picture="plain")


def test_every_section_has_its_comment_and_the_first_lines_lead_to_the_schema() -> None:
    text = starter(ROOM._replace(presets="2.40, 1.78", panels="1.78"))
    lines = text.splitlines()
    assert lines[0] == "# yaml-language-server: $schema=room.schema.json"
    assert "roomcue schema > room.schema.json" in lines[1]
    sections = [at for at, line in enumerate(lines) if line[0:1].isalpha()]
    for at in sections[3:]:  # the name, the zone and the language speak for themselves
        assert lines[at - 1].startswith("# "), lines[at]
    assert max(map(len, lines)) <= 110


# ------------------------------------------------------------------------ what cannot be had


@given(likely())
def test_what_cannot_be_had_is_refused_in_sentences_that_say_what_to_write(
    wishes: Wishes,
) -> None:
    for finding in refusals(wishes):
        option = finding.file.split(",")[0]
        wish = option.removeprefix("--").lower().replace("-", "_")
        assert wish in Wishes._fields
        assert finding.fatal
        assert (finding.line, finding.column, option.isupper()) == (0, 0, wish == "name")
        assert not finding.message.endswith(".")
        assert finding.suggestion.endswith((".", "?"))


@given(st.builds(Wishes, *[st.text(max_size=70)] * 7))
def test_nothing_that_is_typed_raises_anything_else(wishes: Wishes) -> None:
    assert all("\n" not in line for line in refused(wishes))


@pytest.mark.parametrize(
    ("wishes", "says"),
    [
        (ROOM._replace(name="Hay Loft"), "NAME: error: 'Hay Loft' is no name."),
        (ROOM._replace(name="Hay Loft"), "Write hay_loft."),
        (ROOM._replace(screen="3.4 m"), "Write width x ratio, such as 3.4 m x 2.40."),
        (ROOM._replace(screen="3.4 x 2.40"), "--screen: error: 3.4 has no unit."),
        (ROOM._replace(screen="3.4 furlong x 2.40"), "furlong is no unit of length."),
        (ROOM._replace(screen="3.4 mm x 2.40"), "Did you mean 3.4 m?"),
        (ROOM._replace(screen="3.4 m x 0.42"), "--screen: error: 0.42 is out of range."),
        (ROOM._replace(screen="3.4 m x 1.42 m"), "1.42 m is a height"),
        (ROOM._replace(screen="3.4 m x 1.42 m"), "Write 3.4 m x 2.39."),
        (ROOM._replace(screen="3 m x 2.40 curved"), "3 m x 2.40 curved: roomcue leaves warp"),
        # 140 in x 16 / sqrt(16^2 + 9^2) is 122.02 in, and 3.1 m x 12 / 13 is 2.8615 m
        (ROOM._replace(screen="140 in diagonal x 16:9"), "no width. Write 122.0 in x 16:9."),
        (ROOM._replace(screen="diagonal 140 in x 16:9"), "no width. Write 122.0 in x 16:9."),
        (ROOM._replace(screen="140 in diag. x 16:9"), "no width. Write 122.0 in x 16:9."),
        (ROOM._replace(screen="0.1 m diagonal x 16:9"), "Write a width of 300 mm to 30 m."),
        (ROOM._replace(screen="3.1 m across corners x 2.40"), "Write 2.861 m x 2.40."),
        (ROOM._replace(screen="134 in x 1.43", panels="84 1/2 in"), "Write 93.8 in to 124.6 in"),
        (ROOM._replace(panels='84"'), "Write 84 in."),
        (ROOM._replace(presets="2.40 1.78"), "2.40 1.78 has no comma. Write 2.40, 1.78."),
        (ROOM._replace(panels="2.40 16:9"), "2.40 16:9 has no comma. Write 2.40, 16:9."),
        (ROOM._replace(presets="2.39 : 1 16 : 9"), "has no comma. Write 2.39 : 1, 16 : 9."),
        (ROOM._replace(raster="4096"), "--raster: error: 4096 is no raster."),
        (ROOM._replace(raster="64 x 64"), "a raster of 64 x 64 is out of range."),
        (
            ROOM._replace(sources="disc, Blue Box"),
            "--sources, 2 of 2: error: 'Blue Box' is no name.",
        ),
        (
            ROOM._replace(sources="disc, tape, disc"),
            "--sources, 3 of 3: error: disc stands here twice.",
        ),
        (ROOM._replace(sources="disc,,tape"), "--sources, 2 of 3: error: a name is missing here."),
        (ROOM._replace(sources="null"), "null has a meaning of its own"),
        (
            ROOM._replace(sources=",".join(f"s{at}" for at in range(MOST_SOURCES + 1))),
            f"there are {MOST_SOURCES + 1} sources. Name at most {MOST_SOURCES}.",
        ),
        (ROOM._replace(presets="2.40, 0.42"), "--presets, 2 of 2: error: 0.42 is out of range."),
        (
            ROOM._replace(presets="2.40, 2.35"),
            "--presets, 2 of 2: error: presets for 2.35 and 2.40",
        ),
        (ROOM._replace(presets="2.40, 1.78, 1.33"), "presets differ from 1.90 to 2.40"),
        (ROOM._replace(screen="3 m x 1.90", presets="1.90, 2.40"), "one zoom shows them all"),
        (
            ROOM._replace(panels="1.78, 1.78"),
            "--panels, 2 of 2: error: panels for 1.78 stand here twice",
        ),
        (
            ROOM._replace(panels="2.40"),
            "--panels: error: panels that leave 2.40 free cover nothing of this screen. Leave",
        ),
        (ROOM._replace(panels="2.35"), "2.40 is the screen itself"),
        (
            ROOM._replace(screen="3 m x 2.40", panels="2.2 m, 1.77"),
            "2.2 m (1.76) and 1.77 are too near to each other for panels.",
        ),
        (
            ROOM._replace(time_zone="Europe/Lisbn"),
            "--time-zone: error: Europe/Lisbn is no time zone.",
        ),
    ],
)
def test_a_mistake_is_told_with_the_option_where_it_stands(wishes: Wishes, says: str) -> None:
    (told,) = refused(wishes)
    assert says in told


def test_several_mistakes_are_told_together_in_the_order_in_which_they_are_asked_for() -> None:
    told = refused(Wishes("X", "3 x 2.40", "1", "a,a", "9", "x", "Nowhere"))
    assert [line.split(":")[0] for line in told] == [
        "NAME",
        "--screen",
        "--raster",
        "--sources, 2 of 2",
        "--presets",
        "--panels",
        "--time-zone",
    ]


def test_the_widest_and_the_narrowest_screen_are_those_of_a_room_file() -> None:
    """Beyond both the wish is refused, and so would the file be."""
    for width in ("300 mm", "30 m"):
        assert faults(starter(ROOM._replace(screen=f"{width} x 2.40"))) == []
    for width in ("299 mm", "30.001 m"):
        (told,) = refused(ROOM._replace(screen=f"{width} x 2.40"))
        assert "Write 300 mm to 30 m." in told
        text = starter(ROOM).replace("width: 3.4 m", f"width: {width}")
        assert [one.code for one in faults(text)] == ["out-of-range"]


@given(st.sampled_from(APART), st.integers(300, 6_000), st.integers(300, 6_000))
def test_a_width_between_panels_is_refused_or_leaves_a_file_without_a_fault(
    aspect: int, screen: int, free: int
) -> None:
    wishes = ROOM._replace(screen=f"{screen} mm x {show_ratio(aspect)}", panels=f"{free} mm")
    try:
        text = starter(wishes)
    except BadRoom:
        return
    assert faults(text) == []
    assert free < screen


@pytest.mark.parametrize("width", ["600 mm", "2.1 m", "9.5 m"])
@pytest.mark.parametrize("aspect", range(110, 400, 9))
def test_the_widths_between_panels_that_are_advised_are_taken(width: str, aspect: int) -> None:
    wishes = ROOM._replace(screen=f"{width} x {aspect / 100:.2f}")
    (told,) = refused(wishes._replace(panels="29 m"))
    advised = re.search(r"Write ([\d.]+ m+) to ([\d.]+ m+), or a ratio", told)
    assert advised is not None, told
    for free in advised.groups():
        assert faults(starter(wishes._replace(panels=free))) == []


def test_a_square_screen_has_no_room_for_panels_at_its_sides() -> None:
    (told,) = refused(ROOM._replace(screen="2.1 m x 1.00", panels="1.9 m"))
    assert told == (
        "--panels: error: panels at the sides do not leave 1.9 m free on a screen that is 2.1 m "
        "wide. It has no room for panels at its sides: write a ratio, for those above and below."
    )


def test_flat_films_and_the_full_container_get_presets_of_their_own() -> None:
    """1.85 and 1.90 are 2.7 % apart: a film settles at the nearer one, their middle parts them."""
    text = starter(ROOM._replace(raster="3840 x 2160", presets="2.40, 1.90, 1.85"))
    assert '"< 1.88"' in text
    assert '"[1.88..1.94)"' in text
    assert not [*table_findings(read_room(text, "room.yaml"))]


def test_panels_end_where_the_zoom_tells_two_films_apart() -> None:
    """Panels for 1.85 would make a 1.90 smaller, which has a preset for its full size."""
    wishes = ROOM._replace(raster="3840 x 2160", presets="2.40, 1.90, 1.85", panels="1.85")
    room = load(starter(wishes), "x")
    assert shown(room, 18_500).panels == "sides_185"
    assert shown(room, 19_000).panels == "open"
    wishes = ROOM._replace(raster="3840 x 2160", presets="2.40, 1.85, 1.78", panels="1.78")
    room = load(starter(wishes), "x")
    assert shown(room, 17_778).panels == "sides_178"
    assert shown(room, 18_500).panels == "open"


def test_people_read_no_name_with_a_ratio_in_it() -> None:
    """Each preset and each arrangement has a label of its own, and none says a figure."""
    room = load(starter(ROOM._replace(presets="2.40, 2.20, 2.00, 1.90", panels="1.78, 1.33")), "x")
    names = [*room.presets, *(name for name in room.panels if name != "open")]
    labels = [room.labelled(name) for name in names]
    assert len(set(labels)) == len(names) == 6
    assert not any(label is None or "." in label for label in labels)
