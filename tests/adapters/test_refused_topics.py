"""A broker that takes nothing on a topic of a room's: `alive` says so for as long as it lasts."""

from __future__ import annotations

from pathlib import Path

from adapters.live.messages import OutgoingMessage
from tests.adapters.scripted_broker import NOT_AUTHORIZED, QUOTA_EXCEEDED
from tests.adapters.test_connection import LIT, Connected, connected


def faults(one: Connected) -> list[tuple[str, str]]:
    """Give what `alive` said last of what is wrong: codes and details."""
    said = [word.data for word in one.broker.published if word.subtopic == "alive"][-1]
    return [(fault["code"], fault["details"]) for fault in said["faults"]]


async def test_a_room_whose_orders_are_not_taken_says_so(tmp_path: Path) -> None:
    """Else everything looks well, and nothing happens."""
    async with connected(tmp_path) as one:
        one.broker.refused_topics["order"] = NOT_AUTHORIZED
        one.hear(*LIT)
        await one.broker.until(lambda: bool(faults(one)))
        ((code, details),) = faults(one)
        assert code == "broker_refuses"
        assert "roomcue/hayloft/out/order (Not authorized)" in details
        words = one.broker.leaves().count("alive")
        one.broker.hang_up()
        await one.broker.until(lambda: one.broker.leaves().count("alive") > words)
        assert faults(one), "it is known over the next connection, too"
        one.broker.refused_topics.clear()
        one.room.say(OutgoingMessage("order", b"{}"))
        await one.broker.until(lambda: not faults(one))


async def test_a_room_that_may_not_say_that_it_is_alive_does_not_say_so_for_ever(
    tmp_path: Path,
) -> None:
    async with connected(tmp_path, greeting=1) as one:
        one.broker.refused_topics["alive"] = NOT_AUTHORIZED
        one.room.say_alive()
        one.hear(*LIT)
        await one.broker.until(lambda: "order" in one.broker.leaves())
        await one.broker.until(lambda: bool(faults(one)))
        assert one.broker.leaves().count("alive") <= 4


async def test_what_a_broker_cannot_take_for_now_is_no_fault(tmp_path: Path) -> None:
    async with connected(tmp_path) as one:
        one.broker.refused_topics["order"] = QUOTA_EXCEEDED
        one.hear(*LIT)
        await one.broker.until(lambda: len(one.broker.orders()) == 2)
        words = one.broker.leaves().count("alive")
        one.room.say_alive()
        await one.broker.until(lambda: one.broker.leaves().count("alive") > words)
        assert faults(one) == []
