"""Replies to people on their way: where they go, when they are sent, and that none is lost."""

from __future__ import annotations

import json
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live.messages import InboundMessage, payload_of
from adapters.live.outbox import outbox_json, outbox_read
from adapters.live.reply_messages import OwedReply
from adapters.live.return_address import ReturnAddress, return_address
from engine.events import LensReport, Mark, Override, OverrideLook, PanelReport
from engine.replies import PEOPLES_EVENTS
from tests.adapters.hayloft import HAYLOFT, LIT
from tests.adapters.scripted_broker import CORRELATION_DATA, EXPIRY, Published, asking
from tests.adapters.staging import inbound, staged
from tests.adapters.test_connection import Connected, connected
from tests.engine.story import UNANSWERED
from tests.engine.two_phones import Evening
from tests.golden.evenings import BEGINS

WISH = Override(taken=True, look=OverrideLook(preset="tall"), id="w1", who="Ana")
STANDS = (LensReport(moving=False, preset="broad"), PanelReport(panels="open"))
REPLIES = "roomcue/hayloft/out/reply"


async def replied(one: Connected, properties: bytes = b"") -> Published:
    """Let a person mark something over the broker, and give their reply."""
    before = len(one.broker.published)
    subtopic, payload = payload_of(Mark(id="m1"))
    one.broker.publish(f"roomcue/hayloft/in/{subtopic}", payload, 7, properties)

    def found() -> list[Published]:
        return [said for said in one.broker.published[before:] if said.data["kind"] == "reply"]

    await one.broker.until(lambda: bool(found()))
    (reply,) = found()
    return reply


async def test_a_reply_goes_where_its_asker_wants_it_with_what_they_know_it_by(
    tmp_path: Path,
) -> None:
    """MQTT 5.0, 4.10: request and response."""
    async with connected(tmp_path) as one:
        said = await replied(one, asking("replies/tablet", b"\x00\xff7"))
        assert (said.topic, said.retained) == ("replies/tablet", False)
        assert bytes([CORRELATION_DATA, 0, 3]) + b"\x00\xff7" in said.properties
        assert EXPIRY in said.properties
        assert (said.data["to"], said.data["event"], said.data["taken"]) == ("mark", "m1", True)


async def test_whoever_names_no_topic_is_replied_to_in_the_room(tmp_path: Path) -> None:
    async with connected(tmp_path) as one:
        said = await replied(one)
        assert (said.topic, said.retained) == (REPLIES, False)
        assert CORRELATION_DATA not in said.properties[5:]


@pytest.mark.parametrize(
    "topic",
    ["replies/+", "#", "roomcue/hayloft/in/mark", "roomcue/den/out/order", "roomcue", "$SYS/x"],
)
async def test_a_reply_passes_for_no_event_and_no_order(tmp_path: Path, topic: str) -> None:
    """Such a topic is not used: the reply comes in the room, known by its correlation data."""
    async with connected(tmp_path) as one:
        said = await replied(one, asking(topic, b"7"))
        assert said.topic == REPLIES
        assert bytes([CORRELATION_DATA, 0, 1]) + b"7" in said.properties


def test_an_address_is_taken_as_far_as_it_is_fit() -> None:
    assert return_address("a" * 256, b"c" * 128) == ReturnAddress("a" * 256, b"c" * 128)
    assert return_address("a" * 257, b"c" * 129) is None
    assert return_address("", None) is None
    assert return_address("line\nbreak", b"7") == ReturnAddress(None, b"7")
    assert return_address("roomcues/own", None) == ReturnAddress("roomcues/own")


def test_a_wish_is_replied_to_after_its_orders_have_left(tmp_path: Path) -> None:
    with staged(UNANSWERED, tmp_path / "journal", BEGINS) as stage:
        stage.durable.take([inbound(event) for event in (*LIT, *STANDS)])
        first = [one.message for one in stage.durable.take([inbound(WISH)]).messages]
        said = [*first, *(one.message for one in stage.durable.record.outbox.replies())]
        assert [one.subtopic for one in said] == ["order", "reply"]
        reply = json.loads(said[-1].body)
        assert (reply["to"], reply["event"], reply["who"]) == ("override", "w1", "Ana")
        assert reply["words"] == "As you wish."
        order = json.loads(said[0].body)
        lens = next(one for one in reply["next"] if one["code"] == "lens")
        assert (lens["number"], lens["at"]) == (order["id"], order["ends"])


@pytest.mark.parametrize("fetched", [False, True])
def test_a_reply_waits_in_the_journal_until_the_broker_has_it(
    tmp_path: Path, *, fetched: bool
) -> None:
    """Committed with its event; after a crash it is sent as it was, once."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        to = return_address("replies/tablet", b"\x00\xff")
        word = InboundMessage(*payload_of(Mark(id="m1")), receipt=b"\0\1mark", reply_to=to)
        stage.durable.take([word])
        sent = stage.durable.record.outbox.replies() if fetched else ()
        stage.restart()
        waiting = [one for one in stage.durable.record.waiting() if one.message.subtopic == "reply"]
        (said,) = waiting
        assert sent in ((), (said,))
        assert (said.message.to, json.loads(said.message.body)["event"]) == (to, "m1")
        again = stage.durable.take([word._replace(repeated=True)])
        assert again.messages == ()
        assert [one.refused.code for one in again.refusals] == ["redelivered"]
        stage.clock.time += 60_000
        assert said not in stage.durable.record.waiting()


def test_the_words_of_a_reply_are_made_once_its_order_may_leave(tmp_path: Path) -> None:
    """They cost a tenth of what an order waits for; the journal has what they follow from."""
    with staged(UNANSWERED, tmp_path / "journal", BEGINS) as stage:
        stage.durable.take([inbound(event) for event in (*LIT, *STANDS)])
        with patch.object(OwedReply, "message", autospec=True) as made:
            (order,) = stage.durable.take([inbound(WISH)]).messages
            assert order.message.subtopic == "order"
            made.assert_not_called()
        waiting = [one.message.subtopic for one in stage.durable.record.waiting()]
        assert waiting[-2:] == ["order", "reply"]


def test_after_a_crash_each_reply_goes_where_its_asker_wants_it(tmp_path: Path) -> None:
    """Words of one batch: with an address, without one, and one that cannot be read."""
    tablet, phone = return_address("replies/tablet", b"\x00\xff"), return_address(None, b"7")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.durable.take(
            [
                inbound(Mark(id="m1"))._replace(reply_to=tablet),
                inbound(Mark(id="m2")),
                InboundMessage("override", b"{", reply_to=phone),
                inbound(Mark(id="m1"))._replace(reply_to=phone),
            ]
        )
        stage.restart()
        said = [one.message for one in stage.durable.record.waiting()]
        replies = [one for one in said if one.subtopic == "reply"]
        found = {(one.to, *map(json.loads(one.body).get, ("event", "code"))) for one in replies}
        assert found == {
            (tablet, "m1", "noted"),
            (None, "m2", "noted"),
            (phone, None, "malformed"),
            (phone, "m1", "repeated"),
        }
        assert len(replies) == 4


def test_no_reply_takes_the_place_of_another(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.durable.take([inbound(Mark(id="m1")), inbound(Mark(id="m2"))])
        stage.durable.take([inbound(Mark(id="m3"))])
        said = [json.loads(one.message.body) for one in stage.durable.record.waiting()]
        assert [one["event"] for one in said if one["kind"] == "reply"] == ["m1", "m2", "m3"]
        waiting = stage.durable.record.waiting()
        assert outbox_read(outbox_json(waiting)) == waiting


@pytest.mark.parametrize("crashes", [False, True])
def test_a_word_that_cannot_be_read_takes_no_place_of_a_reply_that_is_still_owed(
    tmp_path: Path, *, crashes: bool
) -> None:
    """It comes within the moment for which the reply before it waits to be put into words."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.durable.take([inbound(Mark(id="m1"))])
        stage.durable.take([InboundMessage("override", b"{"), inbound(Mark(id="m2"))])
        if crashes:
            stage.restart()
        said = [json.loads(one.message.body) for one in stage.durable.record.waiting()]
        codes = [one["code"] for one in said if one["kind"] == "reply"]
        assert sorted(codes) == ["malformed", "noted", "noted"]


def test_a_word_that_cannot_be_read_is_replied_to_as_well(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        (said,) = stage.durable.take([InboundMessage("override", b"{", receipt=b"\0\1x")]).messages
        reply = json.loads(said.message.body)
        assert (reply["to"], reply["taken"], reply["code"]) == ("override", False, "malformed")
        assert reply["words"] == (
            "That was not understood: nothing has changed. Choose from what is offered."
        )


def test_what_is_no_persons_word_gets_no_reply(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        said = stage.durable.take([inbound(event) for event in (*LIT, *STANDS)])
        assert {one.message.subtopic for one in said.messages} == {"order"}
        assert stage.durable.take([InboundMessage("lens", b"{")]).messages == ()


def test_replies_that_no_broker_takes_do_not_pile_up(tmp_path: Path) -> None:
    """Each is worth a minute; after that it waits no longer, though the broker is there."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        for number in range(300):
            stage.clock.time += 1_000
            stage.durable.take([inbound(Mark(id=f"m{number}"))])
        assert len(stage.durable.record.waiting()) == 60


@pytest.mark.parametrize("seed", range(4))
def test_each_word_of_two_people_gets_exactly_one_reply(tmp_path: Path, seed: int) -> None:
    """And what is no person's word gets none, whatever the evening has come to."""
    evening = Evening(HAYLOFT, seed)
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*evening.beginning())
        for _ in range(100):
            stage.pass_to(stage.clock.time + evening.wait())
            event = evening.event(stage.durable.engine.state, stage.clock.time)
            said = [one.message for one in stage.hear(event).messages]
            said += [one.message for one in stage.durable.record.outbox.replies()]
            replies = [json.loads(one.body) for one in said if one.subtopic == "reply"]
            asked = [event.kind] if isinstance(event, PEOPLES_EVENTS) else []
            assert [one["to"] for one in replies] == asked
            assert all(one["words"] and one["next"] for one in replies)
