"""The page follows its room: under whatever name, by another room file, and when a disk is full."""

from __future__ import annotations

import asyncio
from collections import Counter
from unittest import mock

import pytest

from adapters.page import room_board
from rules.words.fluent_catalogue import catalogue_in
from tests.adapters.page_callers import ALIVE, HERE, Follower, Served, playing, proof_on
from tests.adapters.page_scenes import film, said_of, said_to_asker
from tests.engine.story import Story, changed


def lisbon() -> Story:
    """The same film by another room file, in Portuguese."""
    return film(2.20, room=changed(("time_zone:", "language: pt\ntime_zone:")))


async def read_what_came(served: Served) -> None:
    """Wait until the page has read the room files that came."""
    async with asyncio.timeout(20):
        while learning := served.board.learning:
            await learning


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
    phone = Follower(served)
    await phone.has("Lights and the like")
    await served.hears(said_of(lisbon(), 20))
    assert asked.is_set()
    assert "which is being read" in served.board.seen_by("Ana").parts["gone"].html
    assert served.board.seen_by("Ana").offers == {}
    before = phone.got.count(b"event: hello")
    served.board.hear_standing(said_to_asker(lisbon(), 20))
    await phone.has(catalogue_in("pt").say("label", "lights"))
    assert phone.got.count(b"event: hello") == before + 1
    async with served.caller() as caller:
        page = await caller.get("/hayloft")
    assert '<html lang="pt">' in page.text
    assert served.board.seen_by("Ana").offers
    await phone.leave()


async def test_a_room_that_takes_its_former_file_back_is_shown_by_that() -> None:
    """Though the other one was still being read."""
    served = await playing()
    served.board.hear_standing(said_to_asker(lisbon(), 20))
    await served.hears(said_of(film(2.20), 21))
    assert served.board.seen_by("Ana").offers
    await read_what_came(served)
    assert served.board.room.catalogue.say("label", "lights") == "Lights and the like"
    assert served.board.seen_by("Ana").offers


async def test_of_two_new_files_the_later_one_counts() -> None:
    """It is asked for again and again until it has come, as an answer may be lost."""
    served, asked = await playing(), asyncio.Semaphore(0)
    served.board.ask = asked.release
    later = film(
        2.20, room=changed(("time_zone:", "language: pt\nlabels: {hayloft: Sala}\ntime_zone:"))
    )
    with mock.patch.object(room_board, "ASK_AGAIN", 0.01):
        served.board.hear_standing(said_to_asker(lisbon(), 20))
        served.board.hear_standing(said_of(later, 21))
        await read_what_came(served)
        async with asyncio.timeout(20):
            for _ in range(3):
                await asked.acquire()
    served.board.hear_standing(said_to_asker(later, 22))
    await read_what_came(served)
    assert served.board.room.text == later.room.text


async def test_a_file_of_another_version_is_asked_for_once() -> None:
    """Reading it again would change nothing; what is shown keeps the time at which it was heard."""
    served, asked = await playing(), Counter[str]()
    served.board.ask = lambda: asked.update(["text"])
    foreign = {**said_to_asker(lisbon(), 20), "room_text": "room: hayloft\nunheard_of: 1\n"}
    await served.hears({**foreign, "room_text": None})
    served.board.hear_standing(foreign)
    await read_what_came(served)
    with mock.patch.object(room_board, "ASK_AGAIN", 0.01):
        await served.hears({**foreign, "room_text": None})
        await asyncio.sleep(0.03)
    assert asked["text"] == 1
    shown = served.board.seen_by("Ana").parts["gone"].html
    assert "which this page cannot read" in shown
    assert "not answering" not in shown
    assert served.board.seen_by("Ana").offers == {}


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
