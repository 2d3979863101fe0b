"""The contract between room and hub: its version, what is retained, and how everything stands."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from random import Random

import pytest

from adapters.contract.asyncapi import document
from adapters.contract.schema_titles import titled
from adapters.live.messages import (
    CONTRACT,
    EVENTS_FROM_OUTSIDE,
    InboundMessage,
    OutgoingMessage,
    QueuedMessage,
    StateAsked,
    nothing_asked_message,
    payload_of,
    read_message,
    rfc3339,
)
from adapters.live.outbox import outbox_json, outbox_read
from adapters.live.redating import with_time_left
from adapters.live.return_address import ReturnAddress
from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    Title,
    ToldFact,
    moment_of,
)
from engine.refusal import Refused
from rules.room.load import load
from tests.adapters.asyncapi_document import DOCUMENT, MESSAGES, STRICTLY, examples, leaf_of
from tests.adapters.staging import Stage, differences, inbound, staged
from tests.brisk_hayloft import brisk_hayloft
from tests.engine.meetings import START

ROOM = load(brisk_hayloft(), "hayloft.yaml")
EPISODE: tuple[Event, ...] = (
    ProjectorReport(state="lit"),
    LensReport(moving=False, preset="tall"),
    PanelReport(panels="open"),
    SourceChosen(source="disc"),
    Playback(state="playing"),
    Title(begun=True, name="an episode", declared=1.78),
)
"""What has somebody asked to fit the side panels."""


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with staged(ROOM, tmp_path / "journal", START) as stage:
        yield stage


def ask(stage: Stage) -> OutgoingMessage:
    """Let somebody be asked to fit panels; gives what they are asked."""
    said = [one.message for one in stage.hear(*EPISODE).messages]
    while not any(one.subtopic == "ask" for one in said):
        assert stage.durable.deadline is not None
        stage.clock.time = stage.durable.deadline
        said = [one.message for one in stage.note(stage.durable.pass_time()).messages]
    return next(one for one in said if one.subtopic == "ask")


# ------------------------------------------------------------------------- telling everything


def dated(event: Event, second: int, number: int) -> InboundMessage:
    """Tell a thing that is so since a second, with an id that is new."""
    subtopic, payload = payload_of(event)
    at = {"at": rfc3339(START + 1_000 * second), "id": f"hub-{number}"}
    return InboundMessage(subtopic, json.dumps({**json.loads(payload), **at}).encode())


@pytest.mark.parametrize("seed", range(20))
def test_everything_may_be_told_again_in_any_order_and_changes_nothing(
    stage: Stage, seed: int
) -> None:
    """With the moments since when it is so, and new ids: nothing of it is refused."""
    stage.clock.time += 60_000
    since = [*enumerate(EPISODE)]
    stage.note(stage.durable.take([dated(event, second, second) for second, event in since]))
    stood, decided = stage.durable.engine.state.core, len(stage.decisions)
    Random(seed).shuffle(since)
    again = [dated(event, second, 100 + second) for second, event in since]
    stage.note(stage.durable.take(again))
    assert stage.refusals == []
    assert stage.durable.engine.state.core == stood
    assert len(stage.decisions) == decided


@pytest.mark.parametrize("seed", range(20))
def test_a_room_that_has_lost_everything_is_told_it_in_any_order(
    stage: Stage, seed: int, tmp_path: Path
) -> None:
    stage.clock.time += 60_000
    since = [*enumerate(EPISODE)]
    stage.note(stage.durable.take([dated(event, second, second) for second, event in since]))
    with staged(ROOM, tmp_path / "another", START + 60_000) as other:
        Random(seed).shuffle(since)
        other.note(other.durable.take([dated(event, second, second) for second, event in since]))
        assert other.refusals == []
        same = ("source", "playback", "preset", "lens", "arrangement", "title_name", "declared")
        first, second = stage.durable.engine.state.core, other.durable.engine.state.core
        assert [getattr(first, name) for name in same] == [getattr(second, name) for name in same]


@pytest.mark.parametrize("seed", range(20))
def test_where_another_source_is_shown_by_now_it_is_told_in_any_order_with_its_dates(
    stage: Stage, seed: int
) -> None:
    """The source was lost in a gap, and a hub tells everything, be it in the order of its names."""
    stage.clock.time += 600_000
    before = [*EPISODE[:3], SourceChosen(source="streamer"), *EPISODE[4:]]
    stage.note(stage.durable.take([dated(event, at, at) for at, event in enumerate(before)]))
    now: list[Event] = [
        SourceChosen(source="disc"),
        Signal(locked=True, columns=1_920, rows=1_080),
        Playback(state="paused"),
        Title(begun=True, name="a film", declared=2.39),
    ]
    since = [*enumerate(now, 100)]
    Random(seed).shuffle(since)
    stage.note(stage.durable.take([dated(event, at, at) for at, event in since]))
    assert stage.refusals == []
    core = stage.durable.engine.state.core
    assert (core.source, core.playback, core.rows) == ("disc", "paused", 1_080)
    assert (core.title_name, core.declared) == ("a film", 23_900)
    assert differences(ROOM, stage.lines()) == []


@pytest.mark.parametrize("at", [None, moment_of(START + 50_000)], ids=["undated", "dated"])
def test_what_was_undone_does_not_come_back_with_what_is_dated_before_it(
    stage: Stage, at: datetime | None
) -> None:
    stage.clock.time += 60_000
    stage.note(stage.durable.take([dated(event, at, at) for at, event in enumerate(EPISODE)]))
    stage.hear(SourceChosen(source="streamer", at=at))
    stage.note(stage.durable.take([dated(ProjectorReport(state="lit"), 1, 100)]))
    assert (stage.durable.engine.state.core.title_name, stage.refusals) == (None, [])


def test_what_is_dated_is_written_down_once_where_nothing_undoes_it(stage: Stage) -> None:
    """A hub that gives all that it tells at once one date makes no night longer."""
    stage.clock.time += 600_000
    everything = (*EPISODE[:3], EPISODE[5], EPISODE[4], EPISODE[3])
    for at in (100, 200):
        messages = [dated(event, at, at + more) for more, event in enumerate(everything)]
        stage.note(stage.durable.take(messages))
    kinds = [json.loads(line)["event"]["kind"] for line in stage.lines() if b'"event"' in line]
    assert [kind for kind in kinds if kind != "time"][-6:] == [one.kind for one in everything]


# ------------------------------------------------------------------------------- the version


@pytest.mark.parametrize("name", [name for name in MESSAGES if name.startswith("out.")])
def test_every_message_that_is_said_names_the_version(name: str) -> None:
    schema = DOCUMENT["components"]["schemas"][name]
    assert schema["properties"]["contract"]["const"] == CONTRACT
    assert "contract" in schema["required"]
    assert [next(iter(one.items())) for one in examples(name)] == [("contract", CONTRACT)]


@pytest.mark.parametrize("kind", EVENTS_FROM_OUTSIDE)
def test_whatever_is_told_may_name_the_version_and_no_other(kind: str) -> None:
    (example,) = examples(f"in.{kind}")
    plain = read_message(leaf_of(f"in.{kind}"), json.dumps(example).encode())
    named = json.dumps({**example, "contract": CONTRACT}).encode()
    assert read_message(leaf_of(f"in.{kind}"), named) == plain
    for other in (CONTRACT + 1, "1", 1.5, True, None):
        with pytest.raises(Refused) as refused:
            read_message(leaf_of(f"in.{kind}"), json.dumps({**example, "contract": other}).encode())
        assert refused.value.code == "contract"
        assert "keeps contract 1" in refused.value.words


def test_naming_the_version_lets_nothing_in_that_is_refused_without_it() -> None:
    for payload in (b'{"contract":1,"ratio":NaN}', b'{"contract":1,"ratio":2.39,', b'["contract"]'):
        with pytest.raises(Refused):
            read_message("ratio", payload)
    with pytest.raises(Refused):
        read_message("told/guests", b'{"value":NaN}')


# -------------------------------------------------------------------- names in generated code


def titles_needed(part: object) -> Iterator[dict[str, object]]:
    """Give every schema of which a generator makes a class or an enumeration."""
    if isinstance(part, dict):
        if "enum" in part or "properties" in part:
            yield part
        for key, one in part.items():
            if key not in {"examples", "const", "enum"}:
                yield from titles_needed(one)
    elif isinstance(part, list):
        for one in part:
            yield from titles_needed(one)


def test_every_schema_has_a_title_that_a_person_would_give_a_class() -> None:
    schemas = DOCUMENT["components"]["schemas"]
    for name, schema in schemas.items():
        assert str(schema["title"]).isidentifier(), name
        assert str(schema["title"])[0].isupper(), name
    titles = [schema["title"] for schema in schemas.values()]
    assert len({*titles}) == len(titles), "no two messages have one title"
    needed = [one for schema in schemas.values() for one in titles_needed(schema) if one]
    fields = [one for one in needed if one.get("type") != "object" or "title" in one]
    assert all("title" in one for one in fields), [one for one in fields if "title" not in one]


def test_a_kind_is_called_after_its_message() -> None:
    for schema in DOCUMENT["components"]["schemas"].values():
        kind = schema.get("properties", {}).get("kind", {})
        assert kind.get("title") == (f"{schema['title']}Kind" if kind else None)


def test_one_closed_set_of_words_is_one_schema_wherever_it_occurs() -> None:
    """Otherwise a generator numbers them: Stage, Stage1, Stage2."""
    found = [
        frozenset(map(str, one["enum"]))  # type: ignore[call-overload]
        for schema in DOCUMENT["components"]["schemas"].values()
        for one in titles_needed(schema)
        if "enum" in one
    ]
    assert len({*found}) == len(found), [words for words in found if found.count(words) > 1]


def test_a_nested_part_is_called_after_where_it_stands() -> None:
    inner = {"type": "object", "properties": {"b_c": {"enum": ["x", "y"]}}}
    made = titled({"type": "object", "properties": {"a": inner}}, "Whole", {})
    assert made["title"] == "Whole"
    assert made["properties"]["a"]["title"] == "WholeA"
    assert made["properties"]["a"]["properties"]["b_c"]["title"] == "WholeABC"


def test_channels_and_operations_have_names_that_programs_can_use() -> None:
    for name in (*DOCUMENT["channels"], *DOCUMENT["operations"]):
        assert name.isidentifier(), name
    for message in MESSAGES.values():
        assert message["title"].isidentifier()


def test_the_document_says_where_the_broker_is_and_how_to_come_in() -> None:
    made = document([], "0.1.0")
    servers = made["servers"]
    assert isinstance(servers, dict)
    assert {one["protocol"] for one in servers.values()} == {"mqtt", "mqtts"}
    assert {one["protocolVersion"] for one in servers.values()} == {"5.0"}
    assert servers["house"]["security"] == [{"$ref": "#/components/securitySchemes/password"}]


# ---------------------------------------------------------------------------- what is retained


def test_what_people_are_asked_is_retained_while_it_is_open(stage: Stage) -> None:
    """Then it gives way to a message that the broker forgets after a second."""
    prompt = ask(stage)
    number = json.loads(prompt.body)["id"]
    assert prompt.retained
    assert prompt.expires is not None
    over = stage.hear(Answer(prompt=number, answer="no")).messages
    said = [(json.loads(one.message.body)["kind"], one.message) for one in over]
    asked = [(kind, one.retained, one.stays) for kind, one in said if one.subtopic == "ask"]
    assert asked == [("prompt over", False, None), ("nothing asked", True, 1)]


def test_a_question_to_the_hub_takes_no_prompts_place(stage: Stage) -> None:
    (question,) = [one.message for one in stage.durable.lost().messages]
    assert json.loads(question.body)["kind"] == "question"
    assert not question.retained


def test_an_open_prompt_is_said_again_where_the_broker_may_have_forgotten_it(stage: Stage) -> None:
    prompt = ask(stage)
    assert stage.durable.ask_again(lost=True) is None, "it still waits to be sent"
    for serial in [one.serial for one in stage.durable.record.waiting()]:
        stage.durable.record.sent(serial or 0)
    assert stage.durable.ask_again(lost=False) is None
    again = stage.durable.ask_again(lost=True)
    assert again is not None
    assert again.retained
    first, second = json.loads(prompt.body), json.loads(again.body)
    assert {**second, "at": first["at"]} == first


def test_a_prompt_that_is_over_never_stays_at_the_broker(stage: Stage) -> None:
    """Whoever stopped between its end and saying so says it when they are back."""
    stage.hear(SourceChosen(source="disc"))
    stage.restart()
    assert stage.durable.ask_again(lost=True) is None, "nothing was ever asked"
    number = json.loads(ask(stage).body)["id"]
    stage.hear(Answer(prompt=number, answer="no"))
    stage.restart()
    again = stage.durable.ask_again(lost=False)
    assert again is not None
    assert json.loads(again.body)["kind"] == "nothing asked"


def test_a_prompt_of_another_journal_never_stays_at_the_broker(stage: Stage) -> None:
    """Whoever answered it would be told that it is of another journal."""
    for _ in range(2):
        again = stage.durable.ask_again(lost=False)
        assert again is not None
        assert json.loads(again.body)["kind"] == "nothing asked"
        stage.hear(SourceChosen(source="disc"))
        stage.restart()
        assert stage.durable.ask_again(lost=True) is None
        stage.durable.begin_anew(0)


def test_a_room_that_met_no_broker_before_takes_another_journal_s_prompt_away(
    tmp_path: Path,
) -> None:
    """It was started with a new journal while the broker was off, and stopped once more."""
    with staged(ROOM, tmp_path / "journal", START) as stage:
        stage.clock.face = 1_200
        stage.pass_to(START + 120_000)
        for _ in range(2):
            stage.restart()
            again = stage.durable.ask_again(lost=False)
            assert again is not None
            assert json.loads(again.body)["kind"] == "nothing asked"
        stage.hear(SourceChosen(source="disc"))
        stage.restart()
        assert stage.durable.ask_again(lost=False) is None


def test_a_retained_message_is_retained_when_it_has_waited_in_the_journal(stage: Stage) -> None:
    queued = QueuedMessage(ask(stage), 7)
    assert outbox_read(outbox_json((queued,))) == (queued,)
    assert nothing_asked_message(START).kept is False


# ----------------------------------------------------------------------- how everything stands


TABLET = ReturnAddress("replies/tablet", b"7")


def asked(to: ReturnAddress | None = None, payload: bytes = b"{}") -> InboundMessage:
    return InboundMessage("state", payload, reply_to=to)


def test_whoever_asks_is_told_how_everything_stands_where_they_want_it(stage: Stage) -> None:
    """With what was heard before in the same batch; nothing is written into the journal."""
    before = len(stage.lines())
    told = stage.durable.take([*map(inbound, EPISODE), asked(TABLET)])
    assert told.curious == (TABLET,)
    written = len(stage.lines())
    assert written > before
    (to,) = stage.durable.take([asked(TABLET)]).curious
    assert len(stage.lines()) == written
    said = stage.durable.state(to)
    assert (said.to, said.retained) == (TABLET, False)
    data = json.loads(said.body)
    STRICTLY["out.standing"].validate(data)
    assert data["title"]["name"] == "an episode"
    everything = {"region", "lift", "cues", "told", "signal", "title", "prompt", "parts"}
    assert everything <= data.keys()


def test_a_response_has_no_end_of_its_own_though_a_prompt_in_it_has(stage: Stage) -> None:
    ask(stage)
    said = stage.durable.state(TABLET)
    data = json.loads(with_time_left(said, stage.clock.time))
    STRICTLY["out.standing"].validate(data)
    assert data["prompt"]["ends_in"] > 0
    assert data == json.loads(said.body)


def test_without_a_response_topic_it_is_said_to_all_but_what_is_for_one_alone(stage: Stage) -> None:
    for to in (None, ReturnAddress(None, b"7")):
        said = stage.durable.state(to)
        assert (said.subtopic, said.to, said.retained) == ("standing", None, True)
        data = json.loads(said.body)
        assert (data["remembered"], data["room_text"]) == (None, None)


def test_a_question_that_comes_again_is_answered_again(stage: Stage) -> None:
    """It changes nothing, so no receipt keeps it from being heard: the asker waits for it."""
    message = asked(TABLET)._replace(receipt=b"r", repeated=True)
    assert [stage.durable.take([message]).curious for _ in range(2)] == [(TABLET,)] * 2


HEADS = b'{"contract": 1, "id": "hub-7", "at": "2026-11-22T19:30:00Z", "kind": "state"}'


@pytest.mark.parametrize(
    "payload", [b"", b"{}", b" { } ", HEADS, b'{"all":1}', b'{"id":5,"kind":"x"}']
)
def test_a_client_that_stamps_all_that_it_sends_is_answered(payload: bytes) -> None:
    """No response tells it that its question was refused, so it would wait for ever."""
    assert read_message("state", payload) == StateAsked()
    STRICTLY["in.state"].validate(json.loads(payload or b"{}"))


@pytest.mark.parametrize(
    ("payload", "code"),
    [(b"x", "malformed"), (b"[]", "malformed"), (b'{"contract":2}', "contract")],
)
def test_a_question_that_is_none_is_refused(payload: bytes, code: str) -> None:
    with pytest.raises(Refused) as refused:
        read_message("state", payload)
    assert refused.value.code == code
    with pytest.raises(Refused) as refused:
        read_message("state", b"", retained=True)
    assert refused.value.code == "retained"


def test_region_cues_and_signal_stand_in_it(stage: Stage) -> None:
    stage.hear(*EPISODE, Signal(locked=True, columns=3840, rows=2160, range="high"))
    stage.hear(ToldFact(fact="guests", value=True))
    data = json.loads(stage.durable.state(None).body)
    assert data["signal"] == {
        "locked": True,
        "columns": 3840,
        "rows": 2160,
        "range": "high",
        "three_d": None,
    }
    assert data["told"] == {"guests": True}
    assert data["cues"] == {}, "nobody has said that a cue is set"
    cues = [one for one in stage.decisions if one.kind == "cue"]
    stage.hear(*(Outcome(order=one.id, outcome="done") for one in cues))
    data = json.loads(stage.durable.state(None).body)
    assert data["cues"] == {one.cue: one.value for one in cues} != {}
    assert data["region"] is None, "nor that a picture is shown"
    pictures = [one for one in stage.decisions if one.kind == "picture"]
    stage.hear(Outcome(order=pictures[-1].id, outcome="done"))
    data = json.loads(stage.durable.state(None).body)
    assert data["region"] == {
        name: getattr(pictures[-1].region, name) for name in ("left", "top", "width", "height")
    }
