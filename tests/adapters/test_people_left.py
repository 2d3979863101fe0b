"""People at work whom the journal has forgotten and the broker has not: the room waits for them."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, cast

import pytest

from adapters.live.batch import Batch
from adapters.live.durable_room import DurableRoom
from adapters.live.journal import Journal
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.people_left import PEOPLE_LEFT_WORDS, people_read
from adapters.live.pipeline import Pipeline
from adapters.live.session import Session
from adapters.live.startup import take_up
from engine.decisions import PictureOrder, Prompt
from engine.events import (
    Answer,
    AnswerWord,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    RatioSeen,
    Service,
    SourceChosen,
    Title,
)
from engine.people_at_work import NOBODY, PeopleAtWork, PersonAtScreen
from tests.adapters.at_screen import asked, go_to_screen, has_light
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.staging import VERSION, Stage, StagedClock, differences, inbound, staged
from tests.adapters.test_pipeline import Line, living
from tests.golden.evenings import BEGINS

NOW = BEGINS + 60_000


def stands(one: Stage) -> bytes:
    """Give what the broker keeps of how a room stands."""
    said = one.durable.standing(again=True)
    assert said is not None
    return said.body


@pytest.fixture
def kept(tmp_path: Path) -> bytes:
    """Give what the broker has kept of a room with Ana at the screen."""
    with staged(HAYLOFT, tmp_path / "lost", BEGINS) as one:
        go_to_screen(one)
        return stands(one)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give a journal that draws its own ids, of a lit room."""
    with closing(Journal(tmp_path / "journal")) as journal:
        taken_up(journal).take([inbound(one) for one in LIT])
    return tmp_path / "journal"


def knows_less(one: Stage, kept: bytes) -> bool:
    """Let a room hear what the broker has kept; True: it begins anew."""
    return living(one.durable).knows_less([b"", kept])


@contextmanager
def begun(folder: Path, kept: bytes, now: int = NOW) -> Iterator[Stage]:
    """Begin with a new journal, at a broker that has kept how the room stood; greet it."""
    with staged(HAYLOFT, folder / "journal", now) as one:
        one.clock.face = 1_200
        assert knows_less(one, kept)
        one.note(one.durable.greeting(lost=True))
        yield one


@pytest.fixture
def stage(tmp_path: Path, kept: bytes) -> Iterator[Stage]:
    """Give a room that begins so, once the hub has told everything: a film plays."""
    with begun(tmp_path, kept) as one:
        one.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
        one.hear(Playback(state="playing"), RatioSeen(ratio=1.78))
        yield one


def test_with_a_new_journal_it_stays_dark_until_they_are_done(stage: Stage) -> None:
    """Only their own word counts, as before; the panels that they have fitted stand then."""
    shown = json.loads(stands(stage))
    assert shown["prompt"]["at_screen"]
    told = [shown["prompt"][name] for name in ("who", "panels", "stage")]
    assert told == ["Ana", "sides", "at the screen"]
    assert "at_screen" in shown["holds"]
    dark = stage.durable.engine.state.core.picture
    assert dark is not None
    stage.hear(Outcome(order=dark, outcome="done"), Answer(prompt=asked(stage), answer="done"))
    assert stage.refusals == ["at_screen"]
    assert not any(map(has_light, stage.durable.record.waiting()))
    stage.hear(Answer(prompt=asked(stage), answer="done", who="Ana"))
    stage.pass_to(NOW + 1_000)
    assert any(map(has_light, stage.durable.record.waiting()))
    assert json.loads(stands(stage))["panels"] == "sides"
    assert differences(HAYLOFT, stage.lines()) == []


def test_it_waits_over_a_restart_as_well(stage: Stage) -> None:
    prompt = asked(stage)
    stage.restart()
    assert asked(stage) == prompt
    assert not any(map(has_light, stage.durable.record.waiting()))


def test_where_their_time_is_long_over_they_are_warned_before_the_light_comes_back(
    tmp_path: Path, kept: bytes
) -> None:
    pace = HAYLOFT.pace
    with begun(tmp_path, kept, now := NOW + 86_400_000) as stage:
        stage.hear(*LIT)
        stage.hear(Outcome(order=stage.durable.engine.state.core.picture or 0, outcome="done"))
        stage.pass_to(now + pace.remind)
        (warning,) = (one for one in stage.decisions if isinstance(one, Prompt))
        assert (warning.stage, warning.at) == ("light comes back", now + 1)
        assert [one.picture for one in stage.decisions if isinstance(one, PictureOrder)] == ["dark"]
        stage.all_taken()
        stage.pass_to(now + pace.remind + 2)
        assert any(map(has_light, stage.durable.record.waiting()))


def test_a_technician_is_waited_for_until_the_hub_says_otherwise(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "lost", BEGINS) as one:
        one.hear(*LIT, Service(begun=True))
        kept = stands(one)
    with begun(tmp_path, kept) as stage:
        stage.hear(*LIT, Playback(state="playing"), RatioSeen(ratio=1.78))
        assert not any(isinstance(one, PictureOrder) for one in stage.decisions)
        stage.hear(Service(begun=False))
        assert any(isinstance(one, PictureOrder) for one in stage.decisions)


def test_whoever_is_known_by_now_is_not_asked_of_once_more(tmp_path: Path, kept: bytes) -> None:
    """A connection may end before its greeting, and the next one brings the same again."""
    more = json.dumps({**json.loads(kept), "service": True, "prompt": None}).encode()
    with staged(HAYLOFT, tmp_path / "journal", NOW) as stage:
        assert knows_less(stage, kept)
        assert not knows_less(stage, kept)
        assert knows_less(stage, more)
        assert not knows_less(stage, more)
        assert (stage.durable.prompts_open, stage.durable.engine.state.core.service) == (1, True)


def test_what_was_decided_before_the_broker_has_told_of_them_never_leaves(
    tmp_path: Path, kept: bytes
) -> None:
    """What is retained may come in several pieces, and the room ask for panels by itself."""
    with staged(HAYLOFT, tmp_path / "journal", NOW) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
        stage.hear(Playback(state="playing"), Title(begun=True, declared=1.78))
        stage.pass_to(NOW + 1_000)
        state, client = stage.durable.engine.state, stage.durable.client_name
        assert stage.durable.prompts_open == 1
        assert any(map(has_light, stage.durable.record.waiting()))
        assert knows_less(stage, kept)
        assert stage.durable.client_name != client
        greeting = stage.durable.greeting(lost=True)
        assert not any(map(has_light, greeting.messages))
        again = stage.durable.ask_again(lost=True)
        assert again is not None
        assert json.loads(again.body)["id"] == asked(stage) > state.tally.serial


def test_panels_that_the_room_file_does_not_know_are_nobodys_claim(
    tmp_path: Path, kept: bytes
) -> None:
    """They are not lit all the same; what stands once they are done nobody here can say."""
    strange = kept.replace(b'"panels":"sides"', b'"panels":"wings"')
    with begun(tmp_path, strange) as stage:
        stage.hear(*LIT, PanelReport(panels="open"))
        assert not any(map(has_light, stage.durable.record.waiting()))
        stage.hear(Answer(prompt=asked(stage), answer="done", who="Ana"))
        assert stage.refusals == []
        assert (stage.durable.prompts_open, json.loads(stands(stage))["panels"]) == (0, None)
        stage.restart()
        assert differences(HAYLOFT, stage.lines()) == []


def test_once_the_broker_is_greeted_the_journal_knows_better(tmp_path: Path, kept: bytes) -> None:
    with staged(HAYLOFT, tmp_path / "journal", NOW) as stage:
        stage.note(stage.durable.greeting(lost=True))
        assert not knows_less(stage, kept)


@pytest.mark.parametrize("word", ["done", "all_away"])
@pytest.mark.parametrize("restarts", [False, True])
def test_whoever_has_left_before_the_greeting_is_not_waited_for_again(
    tmp_path: Path, kept: bytes, word: AnswerWord, *, restarts: bool
) -> None:
    """The broker still retains that they are there, and the next connection brings it again."""
    with staged(HAYLOFT, tmp_path / "journal", NOW) as stage:
        stage.clock.face = 1_200
        assert knows_less(stage, kept)
        stage.hear(Answer(prompt=asked(stage), answer=word, who="Ana"))
        if restarts:
            stage.restart()
        assert not knows_less(stage, kept)
        assert stage.durable.prompts_open == 0


@pytest.mark.parametrize("technician", [False, True])
@pytest.mark.parametrize("told", [False, True])
def test_an_older_copy_knows_who_was_at_work_unless_the_broker_tells_how_it_stood(
    path: Path, *, told: bool, technician: bool
) -> None:
    """Its own word is old, but better than none: rights may keep the room from hearing more."""
    with staged(HAYLOFT, path, BEGINS) as stage:
        if technician:
            stage.hear(Service(begun=True))
        else:
            go_to_screen(stage)
    copy = Path(shutil.copy(path, f"{path}.copy"))
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.clock.face = 1_200
        alive = living(stage.durable).alive().body
        if technician:
            stage.hear(Service(begun=False))
        else:
            stage.hear(Answer(prompt=asked(stage), answer="done", who="Ana"))
        stood = (alive, *([stands(stage)] if told else []))
    with closing(Journal(copy)) as journal:
        durable, log = taken_up(journal), io.BytesIO()
        assert LiveRoom(durable, decision_log(log, "hayloft")).knows_less(stood)
        assert PEOPLE_LEFT_WORDS.encode() not in log.getvalue(), "nobody is there who is not known"
        core = durable.engine.state.core
        assert (core.service or core.asked is not None) is not told


def test_a_journal_that_goes_on_knows_better(tmp_path: Path) -> None:
    """They have said `done` where the broker could not be told any more."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        go_to_screen(stage)
        kept = stands(stage)
        stage.hear(Answer(prompt=asked(stage), answer="done", who="Ana"))
        stage.restart()
        assert not knows_less(stage, kept)


@pytest.mark.parametrize("knew", [False, True])
async def test_a_journal_that_is_an_older_copy_does_not_forget_them_either(
    path: Path, *, knew: bool
) -> None:
    """It comes to the broker as another one, which hears once more how the room stood."""
    with staged(HAYLOFT, path, BEGINS) as stage:
        if knew:
            go_to_screen(stage)
    copy = Path(shutil.copy(path, f"{path}.copy"))
    with staged(HAYLOFT, path, BEGINS) as stage:
        if not knew:
            go_to_screen(stage)
        stage.clock.face = 1_200
        stage.hear(SourceChosen(source="console"), SourceChosen(source="disc"))
        stage.pass_to(BEGINS + 60_000)
        kept = stands(stage)
    with closing(Journal(copy)) as journal:
        durable, turn = taken_up(journal), Pipeline(journal, alone=True)
        room, line = living(durable), Named(Batch(stood=(kept,), lost=True))
        turn.readable(room, cast("Session", line))
        assert line.names == [name := durable.client_name]
        turn.readable(room, cast("Session", Line(Batch(stood=(kept,), lost=True))))
        assert (durable.prompts_open, durable.client_name) == (1, name)
        for one in LIT:
            assert not any(map(has_light, durable.take([inbound(one)]).messages))


def taken_up(journal: Journal) -> DurableRoom:
    """Take the room up from a journal that draws its own ids."""
    begun = take_up(journal, HAYLOFT, StagedClock(NOW), VERSION, epoch=7)
    return DurableRoom(journal, begun, VERSION)


class Named(Line):
    """Remembers as whom the room is to come."""

    def __init__(self, batch: Batch) -> None:
        super().__init__(batch)
        self.names: list[object] = []

    def come_as(self, name: object) -> None:
        self.names.append(name)


def prompt_with(**other: Any) -> bytes:  # noqa: ANN401 - whatever may stand there
    """Put a word on how a room stands, with a prompt of somebody at the screen."""
    prompt = {"at_screen": True, "panels": "sides", "who": "Ana", "stage": "on the way", "ends": ""}
    return json.dumps({"prompt": {**prompt, **other}}).encode()


@pytest.mark.parametrize(
    "body",
    [
        *(b"", b"\xff", b"[1]", b"[" * 60_000, b'{"service": "true"}', b'{"prompt": [true]}'),
        *(prompt_with(at_screen=1), prompt_with(at_screen="true")),
    ],
)
def test_what_makes_no_sense_tells_of_nobody(body: bytes) -> None:
    assert people_read(body, HAYLOFT, NOW) == NOBODY


@pytest.mark.parametrize("ends", [None, 7, "soon", "2025-11-20T20:00:00", "9" * 400])
def test_where_no_end_can_be_read_it_is_dark_for_as_long_as_it_may_be(ends: object) -> None:
    latest = NOW + HAYLOFT.pace.give_up
    found = PersonAtScreen("sides", "Ana", False, latest)
    assert people_read(prompt_with(ends=ends), HAYLOFT, NOW) == PeopleAtWork(found)


@pytest.mark.parametrize("panels", ["wings", ["sides"], None])
def test_panels_that_cannot_be_read_are_none_that_are_known(panels: object) -> None:
    found = people_read(prompt_with(panels=panels), HAYLOFT, NOW).at_screen
    assert found is not None
    assert found.panels is None


@pytest.mark.parametrize("who", [None, 7, "", "A" * 65, "An\na"])
def test_who_cannot_be_read_is_nobody_by_name(who: object) -> None:
    found = people_read(prompt_with(who=who), HAYLOFT, NOW).at_screen
    assert found is not None
    assert found.who is None
