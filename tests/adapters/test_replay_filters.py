"""`replay` shows what is asked for: causes before effects, faults, marks, travels, one rule."""

from __future__ import annotations

import json
import os
from pathlib import Path
from unittest.mock import patch

import pytest

from simulator.shipped import DEMO_NIGHT, NIGHTS
from tests.adapters.commands import run

REFUSED = NIGHTS / "refused-recall.jsonl"


def lines_of(*words: object) -> list[str]:
    with patch.dict(os.environ, COLUMNS="120"):
        done = run("replay", *words)
    assert done.exit_code == 0, done.output
    return [line for line in done.stdout.splitlines() if line]


def test_what_settled_stands_before_what_follows_from_it() -> None:
    lines = lines_of(DEMO_NIGHT)
    settled = next(at for at, line in enumerate(lines) if "aspect 1.78 -> 2.20" in line)
    assert "read as 2.20 since 19:31:37" in lines[settled]
    assert "gentle for 2.20" in lines[settled + 1]


def test_no_caution_is_said_twice() -> None:
    cautions = [line.strip() for line in lines_of(DEMO_NIGHT) if line.strip().startswith("! ")]
    assert cautions
    assert len(cautions) == len(set(cautions))


def test_a_night_ends_with_its_sums_and_what_went_wrong_in_it() -> None:
    lines = lines_of(REFUSED)
    assert "1 request to people: 0 done, 0 declined, 1 ran out." in lines
    assert not any(line.startswith("Lens to") for line in lines)  # the recall was refused
    assert any(line.startswith("19:32:02  refused: The lens stayed at 'broad'") for line in lines)
    assert "Nothing went wrong." in lines_of(NIGHTS / "pause.jsonl")


def test_faults_alone_are_the_list_with_its_chains() -> None:
    lines = lines_of(REFUSED, "--only", "faults")
    assert sum("recall #4 to tall" in line for line in lines) == 1  # the mark names it alone
    assert sum("To do: " in line for line in lines) == 2  # once for the recall and its mark
    assert not any("lamps" in line for line in lines)


def test_marks_alone_are_what_somebody_said() -> None:
    lines = lines_of(REFUSED, "--only", "marks")
    assert any("marked: Somebody said" in line for line in lines)
    assert not any("unanswered:" in line for line in lines)


@pytest.mark.parametrize(
    "options",
    [
        ("--rule", "otherwise"),
        ("--rule", "engine: nosuch"),
        ("--only", "marks", "--to", "19:40"),
        ("--only", "travels", "--from", "19:31", "--to", "19:32"),
    ],
)
def test_where_nothing_is_as_asked_that_is_said(options: tuple[str, ...]) -> None:
    lines = [line for line in lines_of(DEMO_NIGHT, *options) if line][1:]
    assert lines == ["Nothing of what was asked for happened in this night, or in this part of it."]


def test_travels_alone_are_recalls_and_what_the_lens_reports() -> None:
    lines = [line for line in lines_of(DEMO_NIGHT, "--only", "travels") if line[:2].isdecimal()]
    assert any("recall    lens to preset 'tall'" in line for line in lines)
    assert any("lens: rests at tall" in line for line in lines)
    assert not any(kind in line for line in lines for kind in ("picture  ", "cue  ", "prompt "))


def test_one_rule_alone_is_what_it_decided() -> None:
    lines = lines_of(DEMO_NIGHT, "--rule", "nearly scope")
    decided = [line for line in lines if "picture   " in line or "cue  " in line]
    assert decided
    assert all("gentle" in line for line in decided)
    wrong = run("replay", DEMO_NIGHT, "--rule", "nearly scop")
    assert wrong.exit_code == 2
    assert "no rule of this room" in wrong.output


def test_a_filter_is_never_passed_over_in_silence() -> None:
    done = run("replay", DEMO_NIGHT, "--verify", "--only", "marks")
    assert done.exit_code == 2
    assert "--verify compares a whole night" in done.output


def test_lines_for_machines_are_filtered_as_text_is() -> None:
    faults = [json.loads(line) for line in lines_of(REFUSED, "--json", "--only", "faults")]
    assert [one["code"] for one in faults] == [
        "recall_refused",
        "prompt_unanswered",
        "recall_refused",
    ]
    assert [one["kind"] for one in faults] == ["refused", "unanswered", "marked"]
    assert faults[0]["causes"][1] == {"t": 120, "words": "recall #4 to tall"}
    assert faults[0]["to_do"].startswith("Recall 'tall' with the projector's own remote")
    ruled = [
        json.loads(line)
        for line in lines_of(DEMO_NIGHT, "--json", "--rule", "scope", "--from", "20:40")
    ]
    assert ruled
    assert {one["decision"]["rule"] for one in ruled} == {"scope"}
    assert all(one["t"] >= 4_200 for one in ruled)
    travels = [json.loads(line) for line in lines_of(DEMO_NIGHT, "--json", "--only", "travels")]
    assert {one["decision"]["kind"] for one in travels} == {"recall"}


@pytest.mark.parametrize(
    ("options", "first", "last"),
    [
        (("--from", "21:14"), "21:14:00", "21:46:30"),
        (("--to", "19:31"), "19:30:00", "19:31:41"),
        (("--from", "20:46:00", "--to", "20:48:08"), "20:46:00", "20:48:08"),
    ],
)
def test_a_stretch_of_the_night_alone(options: tuple[str, ...], first: str, last: str) -> None:
    times = [line[:8] for line in lines_of(DEMO_NIGHT, *options) if line[2:3] == ":"]
    assert (times[0], times[-1]) == (first, last)


def test_a_log_is_written_beside_the_faults_as_json_too() -> None:
    """It has every decision of the night, whatever is shown."""
    done = run("replay", REFUSED, "--json", "--only", "faults", "--log", "json")
    whole = run("replay", REFUSED, "--json", "--log", "json")
    assert "recall" in done.stderr
    assert done.stderr == whole.stderr
    other = run("replay", REFUSED, "--log", "plain")
    assert (other.exit_code, other.stderr) == (
        2,
        "error: --log is json, not plain: write --log json\n",
    )


def test_a_night_whose_name_begins_with_a_hyphen_is_told_apart_from_an_option(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("-n.jsonl").write_bytes(DEMO_NIGHT.read_bytes())
    wrong = run("replay", "-n.jsonl")
    assert wrong.exit_code == 2
    assert "If the file is meant, write ./-n.jsonl" in wrong.stderr
    assert run("replay", "./-n.jsonl").exit_code == 0
    assert "If the file" not in run("replay", "-x.jsonl").stderr


@pytest.mark.parametrize("width", [80, 90, 110, 112, 116, 118, 120, 124, 126, 128, 132, 140])
def test_why_breaks_no_word_apart(width: int) -> None:
    """Where its table has no room for whole words, the rows are listed."""
    with patch.dict(os.environ, COLUMNS=str(width)):
        found = run("why", DEMO_NIGHT, "--at", "21:14").stdout
    words = set(found.replace("(", " ").replace(",", " ").split())
    assert {"subtitles", "playing)", "console", "not", "watching", "lamps:", "full"} <= words


@pytest.mark.parametrize("option", ["--to", "--until"])
def test_a_stretch_that_ends_before_it_begins_is_refused(option: str) -> None:
    """Nothing is said of where the night ends: it holds both moments."""
    done = run("replay", DEMO_NIGHT, "--from", "21:00", option, "20:00")
    assert done.exit_code == 2
    assert f"{option} 20:00 lies before --from 21:00: name a later time" in done.output
    assert "ends" not in done.output
    assert run("replay", DEMO_NIGHT, "--from", "21:00", "--to", "00:30").exit_code == 0
