"""A room file says in the room's language what people call its names, and why its rows show it."""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.events import Playback, ProjectorReport, SourceChosen, ToldFact
from engine.replies import reply_to_person
from engine.room import Room
from engine.upcoming import moves
from rules.room.load import read_room
from rules.text.findings import Finding, Severity
from tests.engine.meetings import START

TEXT = """\
room: den
time_zone: Europe/Lisbon
language: LANGUAGE
screen: {width: 3 m, aspect: 2.40}
projector: {raster: 3840 x 2160}
orders: {answered: yes}
sources: {disc: {}}
told:
  guests: yes or no
  seats: 0 to 9
cues:
  lamps: full or half
  curtain: full or half
labels:
LABELS
rules:
  rows:
    - case: {playback: stopped}
      show: {cues: {lamps: half, curtain: full}}
      because: {en: Menus need light., pt: Os menus precisam de luz.}
  otherwise: {cues: {lamps: full}, because: {pt: Não há regra.}}
"""
LABELS = """\
  den: {en: Our den, pt: O covil}
  disc: {en: Discs, pt: Discos}
  guests: {en: Visitors, pt: Visitas}
  guests yes: {en: They are here, pt: Estão cá}
  lamps: {en: Lamps, pt: Luzes}
  half: {en: Half, pt: A meio}
  lamps half: {en: Dim, pt: Fracas}
"""


def read(labels: str = LABELS, language: str = "en") -> tuple[Room | None, list[Finding]]:
    found = read_room(TEXT.replace("LANGUAGE", language).replace("LABELS", labels), "den.yaml")
    return found.room, [
        one for one in found.findings if one.code in {"unknown-name", "words-missing"}
    ]


def room_in(language: str) -> Room:
    found, _ = read(language=language)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", ["Our den", "Discs", "Visitors", "They are here", "No", "Dim", "Half", "Full"]),
        ("pt", ["O covil", "Discos", "Visitas", "Estão cá", "Não", "Fracas", "A meio", "Full"]),
    ],
)
def test_names_are_spoken_in_the_rooms_language(language: str, words: list[str]) -> None:
    """A value has a label of its own after its cue, else that of the word, else it is written."""
    room = room_in(language)
    told = [room.spoken_value(one, "guests") for one in (True, False)]
    cues = [room.spoken("half", "lamps"), room.spoken("half", "curtain"), room.spoken("full")]
    assert [*map(room.spoken, ("den", "disc", "guests")), *told, *cues] == words


def test_rows_say_why_in_the_rooms_language_or_in_the_one_they_have() -> None:
    assert room_in("pt").rules.rows[0].because == "Os menus precisam de luz."
    assert room_in("en").rules.rows[0].because == "Menus need light."
    assert room_in("en").rules.otherwise.because == "Não há regra."


def test_what_is_said_of_a_cue_and_a_fact_names_them() -> None:
    """A cue without a label stays something else in the room."""
    room = room_in("pt")
    engine = RoomEngine(room)
    engine.receive(ProjectorReport(state="lit"), START)
    engine.receive(Playback(state="stopped"), START)
    decisions = engine.receive(SourceChosen(source="disc"), START + 1_000).decisions
    said = [one.words for one in moves(room, decisions, was_dark=False)]
    assert said[-2:] == ["Muda outra coisa na sala, como uma luz ou uma cortina.", "Luzes: Fracas."]
    before, event = engine.state, ToldFact(fact="guests", value=True)
    decisions = engine.receive(event, START + 2_000).decisions
    reply = reply_to_person(room, event, before, engine.state, decisions)
    assert reply.words == "Obrigado, fica registado. Visitas: Estão cá."


@pytest.mark.parametrize("label", ["lamp", "lamps low", "guests perhaps", "seats 10"])
def test_a_label_of_what_the_file_does_not_name_is_refused(label: str) -> None:
    room, (one, *_) = read(f"{LABELS}  {label}: Something\n")
    assert room is None
    assert (one.code, one.severity, one.line) == ("unknown-name", Severity.ERROR, 22)
    assert f"{label} is no name of this file" in one.message


def test_a_label_that_the_language_lacks_is_told() -> None:
    room, found = read("  lamps: {pt: Luzes}\n  seats 3: Three\n")
    assert room is not None
    assert [(one.code, one.line) for one in found] == [("words-missing", 15), ("words-missing", 23)]
