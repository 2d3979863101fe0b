"""What a proof cannot say is told of what the room has, and of nothing else."""

from __future__ import annotations

from rules.room.load import load
from simulator.proof.not_proven import not_proven
from simulator.shipped import CELLAR, HAYLOFT, LONGROOM
from tests.simulator.proofs import promised, study

ALWAYS = ("exact durations", "the hub, the broker", "whether the hardware")


def of_room(text: str) -> set[str]:
    """Give the first two words of each line."""
    return {" ".join(line.split()[:2]) for line in not_proven(load(text))}


def test_what_no_proof_can_say_stands_with_every_room() -> None:
    for path in (CELLAR, HAYLOFT, LONGROOM):
        lines = not_proven(load(path.read_text("utf-8")))
        assert all(any(line.startswith(always) for line in lines) for always in ALWAYS)


def test_a_room_in_which_nothing_moves_has_no_first_minutes_that_begin_anew() -> None:
    assert "how long" in of_room(HAYLOFT.read_text("utf-8"))
    assert "how long" not in of_room(CELLAR.read_text("utf-8"))


def test_the_clock_stands_with_rooms_whose_rules_ask_for_the_time() -> None:
    assert "the clock" in of_room(LONGROOM.read_text("utf-8"))
    assert "the clock" not in of_room(HAYLOFT.read_text("utf-8"))


def test_how_soon_a_look_stands_is_said_where_something_is_promised_of_it() -> None:
    mine = "promises:\n  - {name: soon, within: 40 s, because: So.}\n"
    text = study().rstrip() + "\n" + mine
    assert "how soon" in of_room(text)
    assert "how soon" not in of_room(study())
    (durations,) = (line for line in not_proven(load(text)) if line.startswith("exact"))
    assert "but for promises with `within`" in durations


def test_the_picture_between_two_changes_is_named_where_a_promise_speaks_of_pictures() -> None:
    waived = "waived:\n  - {promise: menus plain, because: So.}\n"
    of_preset = study(promised("{preset: tall, source: disc}")).rstrip() + "\n" + waived
    of_picture = study(promised("{picture: gentle, source: disc}")).rstrip() + "\n" + waived
    assert "the third" not in of_room(of_preset)
    assert "the third" in of_room(of_picture)


def test_readings_are_named_where_a_source_is_read() -> None:
    assert "how readings" in of_room(study())
    assert "how readings" not in of_room(study(("disc: {}", "disc: {shape: 1.78}")))
