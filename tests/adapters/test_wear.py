"""From counted travels and a few measurements to a date, its uncertainty and the reason."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from adapters.cli.invented_nights import write_invented_nights
from adapters.cli.wear_files import ledger_of_journal, ledger_of_nights
from engine import RoomEngine
from engine.events import LensReport, Playback, ProjectorReport, RatioSeen, SourceChosen, moment_of
from engine.snapshot import VERSION
from simulator.nights.night_file import read_head, read_lines
from simulator.nights.replay import engine_for, replay
from simulator.shipped import DEMO_ROOM, NIGHTS
from simulator.wear.ledger import NOWHERE, count_at, per_night
from tests.adapters.drawn_words import collisions
from tests.adapters.months import A_DAY, PLAN, book, months
from tests.adapters.staging import staged
from tests.adapters.wear_commands import HAYLOFT, align, told
from tests.golden.evenings import BEGINS

CELLAR = DEMO_ROOM.with_name("cellar.yaml")
DAYS = 60
CREEP = 0.02
"""Millimetres a travel."""


@pytest.fixture(scope="module")
def nights(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return months(HAYLOFT, tmp_path_factory.mktemp("nights"), DAYS)


@pytest.fixture(scope="module")
def measured(nights: list[Path]) -> Path:
    ledger = ledger_of_nights(nights, "hayloft")[0]
    path = nights[0].parent / "book"
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY) for day in (0, 20, 40, DAYS - 1)}
    book(path, days, CREEP, "tall")
    return path


@pytest.fixture(scope="module")
def lenient(nights: list[Path]) -> Path:
    """A room whose people mind no strip of up to 40 mm."""
    path = nights[0].parent.parent / "lenient.yaml"
    path.write_text(HAYLOFT.text + "\nwear: {strip: 40 mm}\n", "utf-8")
    return path


def named(nights: list[Path]) -> list[str]:
    return [part for path in nights for part in ("--night", str(path))]


# ------------------------------------------------------------------------------------- the ledger


def test_the_ledger_is_the_engines_own_count_travel_by_travel(nights: list[Path]) -> None:
    ledger = ledger_of_nights(nights, "hayloft")[0]
    assert ledger.holes == ()
    for preset, total in ledger.totals.items():
        ours = [one for one in ledger.travels if one.preset == preset]
        assert [one.total for one in ours] == list(range(1, total + 1))
    assert sum(per_night(ledger.travels).values()) == len(ledger.travels)
    ordered = [one for one in ledger.travels if one.ordered]
    assert ordered
    assert all(one.rule for one in ordered)
    assert {one.waited for one in ordered} == {15_000}, "what the made-up hub's lens takes"


def test_a_night_that_is_missing_is_a_hole_of_so_many_travels(nights: list[Path]) -> None:
    whole = ledger_of_nights(nights, "hayloft")[0]
    alone = [len(ledger_of_nights([path], "hayloft")[0].travels) for path in nights]
    gone = next(number for number in range(1, DAYS - 1) if alone[number])
    without = [path for number, path in enumerate(nights) if number != gone]
    holed = ledger_of_nights(without, "hayloft")[0]
    assert sum(hole.missing for hole in holed.holes) == alone[gone]
    assert holed.totals == whole.totals
    result = told("wear", DEMO_ROOM, *named(without))
    assert "no line tells of" in result.output
    assert "nights are missing" in result.output


def test_a_journal_and_its_nights_tell_the_same_travels(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
        stage.hear(LensReport(moving=False, preset="broad"))
        stage.hear(Playback(state="playing"), RatioSeen(ratio=1.78))
        stage.pass_to(BEGINS + 20_000)
        stage.hear(LensReport(moving=True, preset="tall"))
        stage.pass_to(BEGINS + 30_000)
        stage.hear(LensReport(moving=False, preset="tall"))
        stage.restart()
        stage.pass_to(BEGINS + 100_000)
        stage.hear(
            LensReport(moving=True, preset="broad"), LensReport(moving=False, preset="broad")
        )
        stage.hear(LensReport(moving=False, preset=None))
        stage.clock.time += 2 * A_DAY
        stage.hear(LensReport(moving=False, preset="tall"))
        ledger, said = ledger_of_journal(tmp_path / "journal", "hayloft")
        lines = stage.lines()
    night = tmp_path / "night.jsonl"
    night.write_bytes(b"\n".join(lines))
    assert said == ()
    assert ledger.holes == ()
    told_by_night = ledger_of_nights([night], "hayloft")[0].travels
    assert [one[:1] + one[2:] for one in ledger.travels] == [
        one[:1] + one[2:] for one in told_by_night
    ]
    assert {"tall", "broad", NOWHERE} == {one.preset for one in ledger.travels}


# -------------------------------------------------------------------------------------- the answer


def test_months_of_nights_and_four_measurements_give_a_date_and_the_reason(
    nights: list[Path], measured: Path, lenient: Path, tmp_path: Path
) -> None:
    charts = tmp_path / "charts"
    result = told("wear", lenient, *named(nights), "--book", measured, "--charts", charts)
    assert result.exit_code in (0, 1), result.output
    text = " ".join(result.output.split())
    assert "tall: it stands +" in text
    assert "mm sideways" in text
    assert "edges: any movement inwards leaves a strip dark, more than 180 mm outwards" in text
    assert "a strip that is no wider than 40 mm is let pass" in text
    assert "it shows with less than 5 % probability; the measurements reach no further" in text
    assert " a day)" in text
    assert "broad: not enough measurements (0 of 3)" in text
    assert "One zoom left at broad would have saved" in text
    assert "of the light for" in text
    drawing = ET.parse(charts / "hayloft-tall.svg").getroot()
    assert collisions((charts / "hayloft-tall.svg").read_text("utf-8")) == []
    shown = [one.text for one in drawing.iter() if one.tag.endswith("text")]
    edges = {f"at its {edge} edge, mm" for edge in ("left", "top", "right", "bottom")}
    assert {"now", "travels", "read on", "2026-11-22", *edges} <= set(shown)


def test_how_likely_it_is_by_a_count_or_a_date_grows_with_either(
    nights: list[Path], measured: Path, lenient: Path
) -> None:
    def by(when: str) -> tuple[float, float]:
        arguments: list[str | Path] = ["--book", measured, "--json", "--by", when]
        data = json.loads(told("wear", lenient, *named(nights), *arguments).stdout)
        tall = next(one for one in data["presets"] if one["preset"] == "tall")
        return tall["by"]["travels"], tall["by"]["chance"]

    asked = [by(when) for when in ("0", "1500 travels", "2040-01-01", "20000")]
    assert [travels for travels, _ in asked[:2]] == [0, 1_500]
    assert asked == sorted(asked)
    assert asked[0][1] < 0.01 < asked[1][1] < asked[3][1] < 1
    for when, words in (("soon", "neither a count nor a date"), ("2020-01-01", "lies before")):
        result = told("wear", lenient, *named(nights), "--by", when)
        assert result.exit_code == 2
        assert words in " ".join(result.output.split())


def test_five_percent_is_the_probability_by_the_count_that_is_called_so(
    nights: list[Path], measured: Path, lenient: Path
) -> None:
    arguments: list[str | Path] = [*named(nights), "--book", measured, "--json"]
    first = json.loads(told("wear", lenient, *arguments).stdout)["presets"][1]
    count = round(first["forecast"]["first"])
    again = json.loads(told("wear", lenient, *arguments, "--by", f"{count}").stdout)
    by = again["presets"][1]["by"]
    assert by["chance"] == pytest.approx(0.05, abs=0.001)
    assert set(by["edges"]) == {"left", "top", "right", "bottom"}
    assert max(by["edges"].values()) <= by["chance"]


def test_travels_are_summed_by_month_and_by_title(nights: list[Path]) -> None:
    data = json.loads(told("wear", DEMO_ROOM, *named(nights), "--json").stdout)
    months_ = [sum(counts.values()) for counts in data["months"].values()]
    assert sum(months_) == len(data["travels"])
    assert [*data["months"]] == ["2026-11", "2026-12", "2027-01"]
    with_title = [one["title"] for one in data["travels"] if one["title"] is not None]
    assert data["titles"] == {title: with_title.count(title) for title in data["titles"]}
    assert sum(data["titles"].values()) == len(with_title) > 0
    text = told("wear", DEMO_ROOM, *named(nights)).output
    assert all(said in text for said in ("2026-11: ", "Moved by hand: ", "Ordered by scope: "))
    assert f"Travels by title: {max(data['titles'].values())} in " in text


def test_shift_and_scale_add_up_at_one_edge_and_that_is_the_edge_that_shows(
    nights: list[Path], lenient: Path, tmp_path: Path
) -> None:
    """Each by itself is half way to its limit, and the right edge is there."""
    for number, day in enumerate((0, 20, 40, 59)):
        moved = 13.0 * number
        at = moment_of(BEGINS + day * A_DAY).isoformat()
        edges = f"0 0 {moved} 0 mm"
        options = ("--realigned",) if number == 0 else ()
        written = align(tmp_path, "--preset", "tall", "--edges", edges, "--at", at, *options)
        assert written.exit_code == 0, written.output
    arguments: list[str | Path] = [*named(nights), "--book", tmp_path / "book"]
    data = json.loads(told("wear", lenient, *arguments, "--json").stdout)["presets"][1]
    axes = {one["name"]: one for one in data["axes"]}
    edges_ = {one["name"]: one for one in data["edges"]}
    assert data["worst"] == "right"
    right = edges_["right"]["offset"][1]
    assert axes["across"]["offset"][1] == pytest.approx(right / 2, rel=0.05)
    assert axes["scale"]["offset"][1] == pytest.approx(right / 2, rel=0.05)
    assert edges_["left"]["chance_now"] < 0.05
    assert data["due"] == 0


def test_readings_from_either_side_are_brought_to_the_middle_once_a_session_knows_how_far(
    nights: list[Path], tmp_path: Path
) -> None:
    """Six millimetres apart: readings that take turns tell it roughly, a session tells it well."""
    rows = [
        f"{side} {(3 if side == 'shorter' else -3) + 0.1 * (n % 3)} {0.1 * (n % 2)}"
        for side in ("shorter", "longer")
        for n in range(30)
    ]
    (tmp_path / "session").write_text("\n".join(rows))
    for number, day in enumerate((0, 15, 30, 45, 59)):
        side, moved = ("shorter", 3) if number % 2 else ("longer", -3)
        at = moment_of(BEGINS + day * A_DAY).isoformat()
        edges = f"{moved} 0 {moved} 0 mm"
        options = ("--side", side, "--at", at, "--error", "0.3 mm")
        assert align(tmp_path, "--preset", "tall", "--edges", edges, *options).exit_code == 0
    arguments: list[str | Path] = [*named(nights), "--book", tmp_path / "book", "--json"]
    preset = json.loads(told("wear", DEMO_ROOM, *arguments).stdout)["presets"][1]
    assert preset["sides_told_mm"] == pytest.approx([6, 0], abs=1)
    before = preset["axes"][0]
    session = ("--preset", "tall", "--session", str(tmp_path / "session"))
    assert align(tmp_path, *session).exit_code == 0
    after = json.loads(told("wear", DEMO_ROOM, *arguments).stdout)["presets"][1]["axes"][0]
    assert abs(after["offset"][1]) < 0.2
    wide = [one["offset"][2] - one["offset"][0] for one in (before, after)]
    assert wide[1] < wide[0] / 1.5


def test_the_focus_is_told_with_the_day_on_which_it_was_read(
    nights: list[Path], tmp_path: Path
) -> None:
    options = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--focus", "0.4")
    assert align(tmp_path, *options, "--at", "2026-12-01T20:00:00Z").exit_code == 0
    result = told("wear", DEMO_ROOM, *named(nights), "--book", tmp_path / "book")
    assert "the focus had gone +0.4 on 2026-12-01" in " ".join(result.output.split())
    assert "focus +0.4" in align(tmp_path).output


def test_for_machines_it_is_json_with_the_truth_inside_the_interval(
    nights: list[Path], measured: Path
) -> None:
    data = json.loads(told("wear", DEMO_ROOM, *named(nights), "--book", measured, "--json").stdout)
    tall = next(one for one in data["presets"] if one["preset"] == "tall")
    across = next(one for one in tall["axes"] if one["name"] == "across")
    assert across["creep"][0] <= CREEP * 100 <= across["creep"][2]
    assert tall["measured"] == 4
    assert tall["due"] is not None
    assert tall["words"]
    assert len(data["travels"]) == tall["travels"] + data["presets"][0]["travels"]


def test_the_shipped_night_has_its_travels_told() -> None:
    result = told("wear", DEMO_ROOM, "--night", NIGHTS / "evening.jsonl")
    assert result.exit_code == 0, result.output
    assert "not enough measurements" in result.output


def test_a_reading_beyond_the_limit_is_due_whatever_the_counts_say(
    nights: list[Path], tmp_path: Path
) -> None:
    """Somebody may have pushed the projector: travels explain none of it."""
    for day, moved in ((57, 0.0), (58, 45.0), (59, 50.0)):
        at = moment_of(BEGINS + day * A_DAY).isoformat()
        edges = ("--edges", f"{moved} 0 {moved} 0 mm", "--error", "0.5 mm", "--at", at)
        options = ("--realigned",) if moved == 0 else ()
        assert align(tmp_path, "--preset", "tall", *edges, *options).exit_code == 0
    result = told("wear", DEMO_ROOM, *named(nights), "--book", tmp_path / "book")
    assert result.exit_code == 1
    assert "tall: it moved by about 4" in " ".join(result.output.split())
    assert "tall: align it now: it was last read +50.0 mm" in " ".join(result.output.split())


def test_the_limits_are_those_that_the_plan_has_edge_by_edge(
    nights: list[Path], measured: Path
) -> None:
    """At the preset with panels the sides end at a panel's edge, top and bottom at the screen's."""
    arguments: list[str | Path] = [*named(nights), "--book", measured, "--json"]
    presets = json.loads(told("wear", DEMO_ROOM, *arguments).stdout)["presets"]
    plan = json.loads(told("plan", DEMO_ROOM, "--json").stdout)
    for preset in presets:
        assert preset["margins"] == plan["margins"][preset["preset"]]
    sides = {"inwards_mm": 0, "outwards_mm": 0, "on_panel": True}
    ends = {"inwards_mm": 0, "outwards_mm": 180, "on_panel": False}
    tall = presets[1]["margins"]
    assert (tall["left"], tall["right"], tall["top"], tall["bottom"]) == (sides, sides, ends, ends)


def test_a_realignment_from_one_side_puts_that_side_right_and_is_no_creep(
    nights: list[Path], tmp_path: Path
) -> None:
    rows = [f"shorter 5 {0.1 * (n % 2)}\nlonger -5 {0.1 * (n % 3)}" for n in range(30)]
    (tmp_path / "session").write_text("\n".join(rows))
    session = ("--session", str(tmp_path / "session"))
    assert align(tmp_path, "--preset", "tall", *session).exit_code == 0
    for number, day in enumerate((0, 20, 40, 59)):
        at = moment_of(BEGINS + day * A_DAY).isoformat()
        options = ("--side", "shorter", "--at", at, *(("--realigned",) if number == 0 else ()))
        edges = ("--edges", "0 0 0 0 mm", "--error", "0.3 mm")
        assert align(tmp_path, "--preset", "tall", *edges, *options).exit_code == 0
    arguments: list[str | Path] = [*named(nights), "--book", tmp_path / "book", "--json"]
    axis = json.loads(told("wear", DEMO_ROOM, *arguments).stdout)["presets"][1]["axes"][0]
    assert axis["offset"][1] == pytest.approx(-5, abs=0.5)
    assert axis["creep"][1] == pytest.approx(0, abs=0.1)


def test_a_room_whose_border_leaves_nothing_is_told_so(
    nights: list[Path], measured: Path, tmp_path: Path
) -> None:
    room = tmp_path / "room.yaml"
    text = HAYLOFT.text
    border = next(part for part in text.split(",") if "border:" in part)
    room.write_text(text.replace(border, " border: 20 mm", 1) + "\nwear: {strip: 0 mm}\n")
    result = told("wear", room, *named(nights), "--book", measured)
    assert result.exit_code == 1, result.output
    assert result.output.count("strip is let pass") == 1
    assert "No strip is let pass (wear: strip), so any movement shows at some edge" in " ".join(
        result.output.split()
    )


def test_a_count_that_begins_anew_is_said_and_goes_on_where_it_was(tmp_path: Path) -> None:
    """The lens is the same: its travels add up over journals that know nothing of each other."""
    paths = []
    for number in range(3):
        (night,) = write_invented_nights(
            HAYLOFT, number, PLAN, "0.1.0", BEGINS + number * A_DAY, 1, tmp_path / f"{number}"
        )
        paths.append(night)
    ledger, said = ledger_of_nights(paths, "hayloft")
    assert said == ()
    for preset, total in ledger.totals.items():
        ours = [one.total for one in ledger.travels if one.preset == preset]
        assert ours == [*range(1, total + 1)]
    assert {hole.missing for hole in ledger.holes} == {0}
    days = {day: count_at(ledger, "tall", BEGINS + day * A_DAY + A_DAY // 2) for day in range(3)}
    book(tmp_path / "book", days, CREEP, "tall")
    result = told("wear", DEMO_ROOM, *named(paths), "--book", tmp_path / "book")
    assert result.exit_code == 0, result.output
    assert "begins anew: what went before is added" in " ".join(result.output.split())


def test_a_line_that_cannot_be_used_is_named_and_the_others_count(
    nights: list[Path], tmp_path: Path
) -> None:
    lines = nights[0].read_bytes().splitlines()
    broken = tmp_path / "night.jsonl"
    broken.write_bytes(b"\n".join([*lines[:5], b"{", *lines[5:]]) + b"\n")
    whole, _ = ledger_of_nights(nights[:1], "hayloft")
    ledger, said = ledger_of_nights([broken], "hayloft")
    assert ledger.travels == whole.travels
    (words,) = said
    assert words.startswith(f"{broken}, line 6: ")
    assert words.endswith(": passed over")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--night", "NIGHT", "--night", "NIGHT"), "begin at the same moment"),
        (("--night", "NIGHT", "--journal", "j"), "give either --journal or --night"),
        (("--night", "NIGHT", "--book", "nosuch"), "no such book"),
    ],
)
def test_what_would_be_counted_wrongly_is_refused(
    options: tuple[str, ...], words: str, nights: list[Path]
) -> None:
    named_ = [str(nights[0]) if one == "NIGHT" else one for one in options]
    result = told("wear", DEMO_ROOM, *named_)
    assert result.exit_code == 2
    assert words in " ".join(result.output.split())


def test_measurements_that_the_ledger_does_not_reach_back_to_are_flagged(
    nights: list[Path], measured: Path
) -> None:
    result = told("wear", DEMO_ROOM, *named(nights[30:]), "--book", measured)
    said = " ".join(result.output.split())
    assert "2 measurements are older than the first line" in said
    assert "so they are left out" in said
    assert "not enough measurements (2 of 3)" in said


def test_a_folder_stands_for_the_nights_in_it(nights: list[Path], measured: Path) -> None:
    folder = nights[0].parent
    by_name = told("wear", DEMO_ROOM, *named(nights), "--book", measured).stdout
    assert told("wear", DEMO_ROOM, "--night", folder, "--book", measured).stdout == by_name


def test_between_invented_nights_nothing_has_moved(nights: list[Path]) -> None:
    """Each begins with the lens and the panels where the night before left them."""
    ends: tuple[object, object] | None = None
    for path in nights:
        lines = [json.loads(line) for line in path.read_bytes().splitlines()]
        said = [line["event"] for line in lines if "event" in line]
        lens = next(one["preset"] for one in said if one["kind"] == "lens")
        panels = next(one["panels"] for one in said if one["kind"] == "panels")
        if ends is not None:
            assert (lens, panels) == ends, path.name
        core = played(path).state.core
        assert core.lens == "resting"
        ends = core.preset, core.arrangement


def played(path: Path) -> RoomEngine:
    with path.open("rb") as file:
        head = read_head(file.readline())
        engine = engine_for(HAYLOFT, head)
        for _ in replay(engine, read_lines(head.start, file)):
            pass
    return engine


def test_the_nights_of_another_room_are_not_mixed_in() -> None:
    result = told("wear", DEMO_ROOM, "--night", NIGHTS / "cellar.jsonl")
    assert result.exit_code == 2
    assert "a night of room 'cellar', not of 'hayloft'" in " ".join(result.output.split())


def test_a_night_of_an_earlier_version_is_passed_over_and_the_others_are_counted(
    nights: list[Path], tmp_path: Path
) -> None:
    """Its State cannot be read after an update: the other nights are counted."""
    old, (first, *rest) = tmp_path / "old.jsonl", nights[1].read_text("utf-8").splitlines()
    head = json.loads(first)
    state = f"[{VERSION - 1},[]]"
    old.write_text("\n".join([json.dumps({**head, "state": state}), *rest]) + "\n", "utf-8")
    ledger, said = ledger_of_nights([nights[0], old], "hayloft")
    assert ledger == ledger_of_nights([nights[0]], "hayloft")[0]
    (words,) = said
    needed = f"a snapshot of version {VERSION - 1}, {VERSION} is needed"
    by_its_own = f"Count it with the roomcue that wrote it, version {head['versions']['roomcue']}"
    assert words == f"{old}: this night is passed over: {needed}. {by_its_own}"
    both = told("wear", DEMO_ROOM, "--night", nights[0], "--night", old)
    assert both.exit_code == 1
    assert f"{by_its_own} note: what is passed over is not counted" in " ".join(both.output.split())
    align(tmp_path, "--preset", "tall", "--edges", "0 0 0 0 mm")
    alone = told("wear", DEMO_ROOM, "--night", old, "--book", tmp_path / "book")
    words = " ".join(alone.output.split())
    assert "no night can be read that tells how the lens has travelled" in words
    assert "1970" not in words
