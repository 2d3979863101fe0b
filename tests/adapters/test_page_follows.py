"""The page follows its room: under whatever name, by another room file, and when a disk is full."""

from __future__ import annotations

import asyncio

import pytest

from rules.words.fluent_catalogue import catalogue_in
from tests.adapters.page_callers import ALIVE, HERE, Follower, Served, playing, proof_on
from tests.adapters.page_scenes import film, said_of, said_to_asker
from tests.engine.story import changed


@pytest.mark.parametrize("name", ["static", "enter", "name", "stream", "say"])
async def test_a_room_may_have_any_name_and_is_followed(name: str) -> None:
    """The page's own addresses are never a room's."""
    served = Served(room=changed(("room: hayloft", f"room: {name}")))
    await served.shows(film(2.20, room=served.board.room))
    served.app.closing.set()  # so that a stream ends with what there is
    async with served.caller() as caller:
        followed = await caller.get(f"/{name}/stream")
        assert followed.headers["content-type"].startswith("text/event-stream")
        page = await caller.get(f"/{name}")
        form = {"do": "mark", "proof": proof_on(page)}
        await caller.post(f"/{name}/say", data=form, headers={"origin": HERE})
    assert [subtopic for subtopic, _ in served.heard] == ["mark"]


async def test_the_page_follows_when_the_room_has_another_file() -> None:
    """Nothing can be pressed until it is read; then the phone opens the page anew, by that file."""
    served, asked = await playing(), asyncio.Event()
    served.board.ask = asked.set
    lisbon = film(2.20, room=changed(("time_zone:", "language: pt\ntime_zone:")))
    phone = Follower(served)
    await phone.has("Lights and the like")
    await served.hears(said_of(lisbon, 20))
    assert asked.is_set()
    assert served.board.seen_by("Ana").offers == {}
    before = phone.got.count(b"event: hello")
    served.board.hear_standing(said_to_asker(lisbon, 20))
    await phone.has(catalogue_in("pt").say("label", "lights"))
    assert phone.got.count(b"event: hello") == before + 1
    async with served.caller() as caller:
        page = await caller.get("/hayloft")
    assert '<html lang="pt">' in page.text
    assert served.board.seen_by("Ana").offers
    await phone.leave()


async def test_a_full_disk_is_told_in_place_of_silence() -> None:
    """With a damaged journal the room goes on, so that everything can be pressed."""
    served = await playing()
    damaged = {"code": "journal_damaged", "words": "It is damaged.", "details": "at page 7"}
    served.board.hear_alive({**ALIVE, "faults": [damaged]}, None)
    assert served.board.seen_by("Ana").offers
    full = {"code": "disk_full", "words": "The disk is full.", "details": "no space"}
    phone = Follower(served)
    served.board.hear_alive({**ALIVE, "faults": [damaged, full]}, None)
    await phone.has("The disk is full. This is how it stood at")
    assert served.board.seen_by("Ana").offers == {}
    await phone.leave()
