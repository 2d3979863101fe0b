"""A hub that has sent many messages at once is told by its own id which of them was refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from adapters.live.announcements import refusal_message
from adapters.live.messages import MOST_PAYLOAD_BYTES, InboundMessage
from adapters.live.receipts import receipt_of
from adapters.live.retained_facts import EARLY
from engine.events import Playback, ProjectorReport, SourceChosen, ToldFact
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import Stage, staged
from tests.adapters.test_asyncapi_said import held
from tests.golden.evenings import BEGINS

FILM = (ProjectorReport(state="lit"), SourceChosen(source="disc"), Playback(state="playing"))
OLD = b'"at": "2020-01-01T00:00:00Z"'
NEW = b'"at": "2026-01-01T00:00:00Z"'
WITH_ID = {
    "unknown_name": ("source", b'{"source": "dsic", "id": "hub-7"}'),
    "not_open": ("outcome", b'{"order": 7, "outcome": "done", "id": "hub-7"}'),
    "out_of_range": ("told/guests", b'{"value": 7, "id": "hub-7"}'),
    "malformed": ("lens", b'\xef\xbb\xbf{"id": "hub-7", "moving": "yes"}'),
    "not_asked": ("answer", b'\xef\xbb\xbf{"prompt": 7, "answer": "ready", "id": "hub-7"}'),
    "contract": ("lens", b'{"id": "hub-7", "moving": false, "contract": 9}'),
    "unknown_topic": ("sorce", b'{"source": "disc", "id": "hub-7"}'),
}
"""Topics and payloads, by the code with which they are refused."""
WITHOUT_ID = {
    "no id": b'{"source": "dsic"}',
    "no word": b'{"source": "dsic", "id": 7}',
    "nothing": b'{"source": "dsic", "id": ""}',
    "too much": b'{"source": "dsic", "id": "%s"}' % (b"h" * 65),
    "half a character": b'{"source": "dsic", "id": "\\ud800"}',
    "what steers a terminal": b'{"source": "dsic", "id": "\\u001b[2J"}',
    "no object": b'["id", "hub-7"]',
    "no JSON": b'"id": "hub-7"',
    "no UTF-8": b'{"source": "\xff", "id": "hub-7"}',
    "no end": b'{"id":' * 10_000,
    "too long": b'{"id": "hub-7", "source": "%s"}' % (b"x" * MOST_PAYLOAD_BYTES),
}


def refused(stage: Stage, *messages: InboundMessage) -> list[tuple[str, str | None]]:
    """Give the codes and ids of what is said of messages that are refused."""
    return said_of(stage.note(stage.durable.take(messages)).refusals)


def said_of(refusals: object) -> list[tuple[str, str | None]]:
    assert isinstance(refusals, tuple)
    said = [refusal_message(HAYLOFT.catalogue, one, BEGINS) for one in refusals]
    assert {held(one) for one in said} <= {"out.reason.refused"}
    return [(data["code"], data["id"]) for data in (json.loads(one.body) for one in said)]


@pytest.mark.parametrize("code", WITH_ID)
def test_of_ten_messages_sent_at_once_the_refused_one_is_named(tmp_path: Path, code: str) -> None:
    subtopic, payload = WITH_ID[code]
    good = [
        InboundMessage("told/guests", b'{"value": true, "id": "hub-%d"}' % one)
        for one in range(20, 29)
    ]
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM)
        batch = [*good[:4], InboundMessage(subtopic, payload), *good[4:]]
        assert refused(stage, *batch) == [(code, "hub-7")]


@pytest.mark.parametrize("payload", WITHOUT_ID.values(), ids=[*WITHOUT_ID])
def test_where_no_id_can_be_read_none_is_named(tmp_path: Path, payload: bytes) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        ((_, named),) = refused(stage, InboundMessage("source", payload))
        assert named is None


def test_what_is_stale_repeated_or_redelivered_is_named(tmp_path: Path) -> None:
    new = InboundMessage("projector", b'{"state": "lit", "id": "new", %s}' % NEW)
    old = InboundMessage("projector", b'{"state": "off", "id": "old", %s}' % OLD)
    again = new._replace(receipt=receipt_of(7, new.subtopic, new.payload))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        assert refused(stage, again) == []
        stage.durable.connected()
        assert refused(stage, again._replace(repeated=True)) == [("redelivered", "new")]
        assert refused(stage, old, new) == [("stale", "old"), ("repeated", "new")]


def test_what_plays_before_its_source_and_what_was_retained_too_long_is_named(
    tmp_path: Path,
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*FILM, ToldFact(fact="guests", value=False))
        early = b'{"state": "playing", "source": "streamer", "id": "early"}'
        assert refused(stage, InboundMessage("playback", early)) == []
        stage.clock.time += EARLY
        assert said_of(stage.durable.pass_time().refusals) == [("not_shown", "early")]
        kept = b'{"value": true, "id": "kept"}'
        assert refused(stage, InboundMessage("told/guests", kept, retained=True)) == [
            ("stale", "kept")
        ]


def test_a_persons_word_that_cannot_be_read_is_replied_to_by_its_id(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        word = InboundMessage("answer", b'{"prompt": "x", "answer": "ready", "id": "tap-3"}')
        stage.note(stage.durable.take([word]))
        (reply,) = [
            json.loads(one.message.body)
            for one in stage.durable.record.waiting()
            if one.message.subtopic == "reply"
        ]
        assert (reply["taken"], reply["event"]) == (False, "tap-3")
