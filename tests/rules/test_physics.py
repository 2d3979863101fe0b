"""What cannot be built, measured or shown is found when the room file loads, at its line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.planning.plan import plan
from engine.room import Corner, Middles
from rules.room.load import load, read_room
from rules.text.findings import Finding, Severity
from tests.rules.files import GOOD, room_text

ERROR, WARNING = Severity.ERROR, Severity.WARNING
SQUARE = ("0 x 227", "4096 x 227", "4096 x 1933", "0 x 1933")
BROAD = "broad: {fits: 2.40}"


def findings(*changes: tuple[str, str]) -> tuple[Finding, ...]:
    """What is found in the hayloft after some changes, each of one place."""
    text = room_text("hayloft.yaml")
    for before, after in changes:
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    return read_room(text, "room.yaml").findings


def corners(*places: str, middles: str = "") -> tuple[str, str]:
    """The broad preset with its corners typed on the line that is its own."""
    names = ("top_left", "top_right", "bottom_right", "bottom_left")
    typed = ", ".join(f"{name}: {place}" for name, place in zip(names, places, strict=True))
    return BROAD, f"broad: {{fits: 2.40, measured: {{{typed}{middles}}}}}"


@pytest.mark.parametrize("name", GOOD)
def test_a_room_that_can_be_built_has_nothing_to_be_found(name: str) -> None:
    assert read_room(room_text(name), name).findings == ()


@pytest.mark.parametrize(
    ("before", "after", "line", "field", "allowed"),
    [
        ("width: 3.4 m", "width: 4 mm", 5, "width:", "300 mm to 30 m"),
        ("width: 3.4 m", "width: 0 m", 5, "width:", "300 mm to 30 m"),
        ("width: 3.4 m", "width: -3.4 m", 5, "width:", "300 mm to 30 m"),
        ("width: 3.4 m, ", "", 5, "width or diagonal is missing", "Add width"),
        ("gain: 1.1", "gain: 40", 5, "gain:", "0.1 to 5"),
        ("gain: 1.1", "gain: 0", 5, "gain:", "0.1 to 5"),
        ("border: 80 mm", "border: 3 m", 5, "border:", "0 mm to 1 m"),
        ("lumens: 2200", "lumens: 0", 9, "lumens:", "50 to 200000"),
        ("distance: 5.2 m", "distance: 90 m", 11, "distance:", "300 mm to 60 m"),
        ("ratio: 1.35 to 2.70", "ratio: 2.70 to 1.35", 12, "ratio:", "1.35 to 2.70"),
        ("ratio: 1.35 to 2.70", "ratio: 0 to 2.70", 12, "ratio:", "0.20 to 15.00"),
        ("opening: 1.78", "opening: 5", 33, "opening:", "1.00 to 4.00"),
        ("opening: 1.78", "opening: 2.40", 33, "opening:", "1.00 to 2.37"),
        ("opening: 1.78", "opening: 3.4 m", 33, "opening:", "1.417 m to 3.366 m, or a ratio"),
        ("opening: 1.78", "opening: 4 m", 33, "opening:", "1.417 m to 3.366 m, or a ratio"),
        ("opening: 1.78", "opening: 1.41 m", 33, "opening:", "1.417 m to 3.366 m"),
        ("opening: 1.78", "opening: 40 m", 33, "opening:", "300 mm to 30 m"),
        ("sources:\n", "seats: {front: 3 mm}\nsources:\n", 35, "front:", "500 mm to 60 m"),
    ],
)
def test_a_size_that_cannot_be_names_field_line_and_allowed_range(
    before: str, after: str, line: int, field: str, allowed: str
) -> None:
    (one,) = findings((before, after))
    assert (one.severity, one.line) == (ERROR, line)
    assert one.message.startswith(field)
    assert allowed in one.suggestion


@pytest.mark.parametrize(
    ("distance", "severity", "preset"),
    [("2.2 m", ERROR, "broad"), ("4.55 m", WARNING, "broad"), ("9 m", ERROR, "tall")],
)
def test_a_preset_out_of_the_lenss_range_is_found_at_its_line(
    distance: str, severity: Severity, preset: str
) -> None:
    """By hand: 9 m over the 2.686 m of `tall` is a throw ratio of 3.35, the lens ends at 2.70."""
    found = findings(("distance: 5.2 m", f"distance: {distance}"))
    one = next(one for one in found if f"preset {preset}" in one.message)
    assert (one.code, one.severity) == ("out-of-reach", severity)
    assert one.line == (18 if preset == "broad" else 19)
    assert "the lens has 1.35 to 2.70" in one.message


def test_a_lens_without_a_zoom_is_told_apart_from_what_is_needed() -> None:
    """By hand: 5.2 m over the 3.4 m of `broad` is a throw ratio of 1.5294."""
    one = findings(("ratio: 1.35 to 2.70", "ratio: 1.53"))[0]
    assert "preset broad needs a throw ratio of 1.5294, and the lens has 1.53" in one.message
    assert one.suggestion.startswith("Let the distance be 5.202 m for this preset.")


def test_that_a_zoom_fits_nothing_from_so_near_is_told() -> None:
    """By hand: 2 m over 3.4 m is a throw ratio of 0.59, and the lens begins at 1.35."""
    one = findings(("distance: 5.2 m", "distance: 2 m"))[0]
    fits = "From this distance it fits no ratio on this screen. Let the distance be 4.59"
    assert one.suggestion.startswith(fits), one.suggestion


def test_the_ratios_that_a_distance_allows_are_told() -> None:
    (one,) = findings(("distance: 5.2 m", "distance: 9 m"))
    assert "From this distance it fits 2.36 to 4.00." in one.suggestion
    assert "let the distance be 3.63 m to 7.25 m" in one.suggestion


def test_of_one_ratio_that_a_distance_allows_no_range_is_told() -> None:
    """By hand: 2.00 is 2.8333 m wide at the screen's height, and 5.2 m over that is 1.8353."""
    one = findings(("ratio: 1.35 to 2.70", "ratio: 1.8353"))[0]
    assert "From this distance it fits 2.00. Or let the distance be" in one.suggestion


@pytest.mark.parametrize(
    ("offset", "severity", "says"),
    [
        ("{up: 1.2 m}", ERROR, "66.9 % down"),
        ("{up: -1.2 m}", ERROR, "66.9 % up"),
        ("{up: 60 cm, across: 40 cm}", WARNING, "33.5 % down and 11.8 % to the left at once"),
    ],
)
def test_a_lens_shift_that_is_not_to_be_had_is_found(
    offset: str, severity: Severity, says: str
) -> None:
    """By hand: 1.2 m over the raster's 1.793 m is 66.9 %; a lens above the middle shifts down."""
    first, second = findings(("offset: {up: 40 cm}", f"offset: {offset}"))
    assert (first.line, second.line) == (18, 19)
    assert {first.severity, second.severity} == {severity}
    assert says in first.message


def test_a_room_without_presets_is_told_at_the_distance_that_does_not_do() -> None:
    text = room_text("attic.yaml").replace(
        "{raster: 1920 x 1080}",
        "{raster: 1920 x 1080, throw: {distance: 2 m, ratio: 1.5 to 1.8}}",
    )
    (one,) = read_room(text, "room.yaml").findings
    assert (one.code, one.line) == ("out-of-reach", 5)


# -------------------------------------------------------------------------- measured corners


def test_square_corners_are_taken_and_may_lie_a_little_outside_the_raster() -> None:
    assert findings(corners(*SQUARE)) == ()
    assert findings(corners("-20 x 227", *SQUARE[1:])) == ()


def test_corners_off_square_are_fine_within_the_border_and_an_error_beyond_it() -> None:
    """By hand: 20 columns of 4096 on 3.4 m are 17 mm, 120 are 102 mm; the border has 80 mm."""
    assert findings(corners("20 x 227", *SQUARE[1:])) == ()
    (one,) = findings(corners("120 x 227", *SQUARE[1:]))
    assert (one.code, one.severity, one.line) == ("spill", ERROR, 18)
    assert "on the left" in one.message
    # One corner alone is off: no projector that is turned, tipped or rolled shows that.
    assert "First: read the corners again" in one.suggestion


@pytest.mark.parametrize(
    "places",
    [
        (SQUARE[0], SQUARE[1], SQUARE[3], SQUARE[2]),
        (SQUARE[2], SQUARE[3], SQUARE[0], SQUARE[1]),
        (SQUARE[0], SQUARE[0], SQUARE[2], SQUARE[3]),
    ],
)
def test_corners_that_cross_are_refused_at_their_line(places: tuple[str, ...]) -> None:
    (one,) = findings(corners(*places))
    assert (one.code, one.severity, one.line) == ("contradiction", ERROR, 18)
    assert "cross" in one.message
    assert "top left first" in one.suggestion


def test_a_corner_where_this_screen_has_none_is_refused_with_the_range_that_it_has() -> None:
    (one,) = findings(corners("-2000 x 227", *SQUARE[1:]))
    assert (one.code, one.line) == ("out-of-range", 18)
    assert one.message.startswith("top_left: -2000 x 227")
    assert one.suggestion == "Write -409 x 0 to 4505 x 2160."


def test_corners_lie_outside_a_raster_that_is_smaller_than_the_screen() -> None:
    typed = "{top_left: -544 x 2, top_right: 4640 x 2, bottom_right: 4640 x 2158, "
    typed += "bottom_left: -544 x 2158}"
    assert findings(("tall: {fits: 1.78}", f"tall: {{fits: 1.78, measured: {typed}}}")) == ()


def test_a_screen_much_longer_on_one_side_is_no_screen() -> None:
    (one,) = findings(corners("20 x 227", "4096 x 227", "4096 x 1533", "0 x 1933"))
    assert one.severity is ERROR
    assert "1.31 times as long as the one opposite" in one.message


def test_a_picture_read_off_instead_of_the_screen_is_told() -> None:
    found = findings(corners("500 x 227", "3596 x 227", "3596 x 1933", "500 x 1933"))
    assert {one.severity for one in found} == {WARNING}
    assert "a shape of 1.81, and aspect says 2.40" in found[0].message


def test_another_zoom_than_the_presets_is_told() -> None:
    found = findings(corners("100 x 500", "3000 x 500", "3000 x 1708", "100 x 1708"))
    assert "the raster is 4.80 m wide, and by fits 3.40 m" in found[0].message


NEAR = st.integers(-600, 600)
ANYWHERE = st.integers(-99_999, 99_999)
OFF = st.tuples(*(st.one_of(NEAR, ANYWHERE) for _ in range(8)))


@given(OFF)
def test_whatever_corners_are_typed_are_refused_or_can_be_planned_with(
    off: tuple[int, ...],
) -> None:
    square = (0, 227, 4_096, 227, 4_096, 1_933, 0, 1_933)
    places = [value + more / 3 for value, more in zip(square, off, strict=True)]
    typed = [f"{x:.2f} x {y:.2f}" for x, y in zip(places[::2], places[1::2], strict=True)]
    before, after = corners(*typed)
    found = read_room(room_text("hayloft.yaml").replace(before, after), "room.yaml")
    if found.room is None:
        assert any(one.severity is ERROR for one in found.findings)
    else:
        assert plan(found.room, (17_778, 24_000)).aligned[0][1].beyond == ()


MIDDLES = ", middles: {top: 2048 x 223, right: 4096 x 1080, bottom: 2048 x 1930, left: %s x 1080}"


def test_the_middles_of_the_edges_are_read_and_kept() -> None:
    before, after = corners(*SQUARE, middles=MIDDLES % "-2.5")
    loaded = load(room_text("hayloft.yaml").replace(before, after), "room.yaml")
    assert loaded.presets["broad"].middles == Middles(
        Corner(204_800, 22_300),
        Corner(409_600, 108_000),
        Corner(204_800, 193_000),
        Corner(-250, 108_000),
    )


def test_a_middle_far_from_its_edge_is_refused() -> None:
    (one,) = findings(corners(*SQUARE, middles=MIDDLES % "300"))
    assert (one.severity, one.line) == (ERROR, 18)
    assert one.message.startswith("left: 300 x 1080 is far from the middle of the left edge")
    assert "within 85 pixels" in one.suggestion


def test_middles_are_given_all_or_none() -> None:
    found = findings(corners(*SQUARE, middles=", middles: {top: 2048 x 223}"))
    assert [one.code for one in found] == ["missing"] * 3


# --------------------------------------------------------------------- looks that rules name


@pytest.mark.parametrize(
    ("shape", "says"),
    [
        ("[1.90..2.30)", "at 1.90 gentle fills 61 % of the unlit width"),
        ("[2.05..2.30)", "at 2.05 gentle fills 93 %"),
    ],
)
def test_a_stretch_beyond_its_limit_is_told_where_a_rule_shows_it(shape: str, says: str) -> None:
    """By hand: the limits allow 1.1245 / 0.97 = 1.1593 of the width, so 2.40 is had from 2.08."""
    (one,) = findings(('nearly: "[2.10..2.30)"', f'nearly: "{shape}"'))
    assert (one.code, one.severity, one.line) == ("beyond-limit", WARNING, 84)
    assert says in one.message
    assert "Take ratios from 2.08 on" in one.suggestion


def test_following_the_advice_about_a_stretch_silences_it() -> None:
    assert findings(('nearly: "[2.10..2.30)"', 'nearly: "[2.08..2.30)"')) == ()
    assert (
        findings(
            ('nearly: "[2.10..2.30)"', 'nearly: "[1.90..2.30)"'), ("fill: 100 %", "fill: 60 %")
        )
        == ()
    )


def test_a_stretch_on_a_raster_that_ends_before_the_screen_is_told_so() -> None:
    (one,) = findings(
        (
            "show: {picture: plain, preset: tall, panels: sides}",
            "show: {picture: gentle, preset: tall, panels: open}",
        )
    )
    assert one.suggestion.startswith("The raster ends before the screen at this preset")


def test_a_picture_that_never_changes_anything_is_told() -> None:
    (one,) = findings(
        ("aspect: nearly, guests: no}", 'aspect: ">= 2.38", guests: no}'),
    )
    assert (one.code, one.line) == ("no-effect", 84)


def test_panels_in_the_way_of_a_rows_pictures_are_told() -> None:
    (one,) = findings(
        ('aspect: "flat, null", first_minutes: yes', 'aspect: "scope, null", first_minutes: yes'),
        ("show: {picture: plain, preset: tall, panels: sides}", "show: {panels: sides}"),
    )
    assert (one.code, one.severity, one.line) == ("picture-on-panels", WARNING, 88)
    assert "would fall on the panels sides, and is made 26 % smaller" in one.message


def test_a_lift_that_puts_picture_on_the_wall_is_told_and_its_advice_holds() -> None:
    """By hand: 14 % of 1.417 m are 198 mm, the border takes 80 mm."""
    (one,) = findings(("lift: 4 %", "lift: 14 %"))
    assert (one.code, one.severity, one.line) == ("spill", WARNING, 80)
    most = one.suggestion.split("at most ")[1].split(" %")[0]
    assert findings(("lift: 4 %", f"lift: {most} %")) == ()


def test_the_default_look_is_held_against_the_wall_too() -> None:
    (one,) = findings(("otherwise: {picture: plain,", "otherwise: {picture: plain, lift: 14 %,"))
    assert (one.code, one.line) == ("spill", 90)


def test_nothing_is_said_of_the_rules_that_a_room_starts_with() -> None:
    room = load(room_text("attic.yaml"), "attic.yaml")
    assert len(room.rules.rows) == 2
    assert room.seats == {}


def test_seats_are_read_in_the_units_of_the_room() -> None:
    text = room_text("attic.yaml") + "seats: {front: 10 ft, back: 5.2 m}\n"
    assert load(text, "attic.yaml").seats == {"front": 3_048_000, "back": 5_200_000}
