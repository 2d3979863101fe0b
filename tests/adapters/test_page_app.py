"""The page takes a word only from its own people, on its own pages, and of what it offers now."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from adapters.page.invitations import Invitations
from adapters.page.visitors import Door
from tests.adapters.page_callers import HERE, Follower, Served, playing, press, proof_on
from tests.adapters.page_scenes import asked_for_panels, at_screen, film, said_of


async def test_a_press_is_said_with_the_name_of_whoever_pressed() -> None:
    served = await playing()
    async with served.caller() as ana:
        page = await ana.get("/hayloft")
        form = {"name": "Ana", "room": "hayloft", "proof": proof_on(page)}
        assert (await ana.post("/name", data=form, headers={"origin": HERE})).status_code == 303
        answer = await press(ana, "leave.session")
    assert (answer.status_code, answer.headers["location"]) == (303, "/hayloft?open")
    assert served.heard == [
        ("override", {"taken": True, "until": "session", "source": "disc", "who": "Ana"})
    ]


async def test_the_answer_is_read_on_the_page_that_is_opened_next_and_once() -> None:
    served = await playing()
    async with served.caller() as caller:
        await press(caller, "mark")
        assert "It is so." in (await caller.get("/hayloft")).text
        assert "It is so." not in (await caller.get("/hayloft")).text


async def test_what_is_folded_away_is_unfolded_after_a_press_without_scripts() -> None:
    """Nothing else would keep open what somebody had opened to press there."""
    served = Served()
    story, _ = asked_for_panels()
    await served.shows(story)
    async with served.caller() as caller:
        assert 'data-fold="ways" data-opens="false">' in (await caller.get("/hayloft")).text
        answer = await press(caller, "mark")
        page = (await caller.get(answer.headers["location"])).text
    assert 'data-fold="ways" data-opens="true" open>' in page
    assert 'data-opens="false"' not in page


async def test_nobody_needs_a_name_and_guests_are_told_apart() -> None:
    served = await playing()
    async with served.caller() as one, served.caller() as other:
        await press(one, "mark")
        await press(other, "mark")
    names = [fields["who"] for _, fields in served.heard]
    assert all(re.fullmatch("Guest [0-9]{4}", name) for name in names), "a number is no amount"


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "http://127.0.0.1:8480.elsewhere.example"},
        {"origin": "http://["},
        {"origin": "http://[::1"},
    ],
)
async def test_a_form_of_another_page_is_not_taken(headers: dict[str, str]) -> None:
    served = await playing()
    async with served.caller() as caller:
        assert (await press(caller, "mark", headers=headers)).status_code == 403
    assert served.heard == []


async def test_a_form_without_the_proof_is_not_taken() -> None:
    served = await playing()
    async with served.caller() as caller, served.caller() as other:
        foreign = proof_on(await other.get("/hayloft"))
        for proof in ("", "0" * 64, foreign, "é"):
            answer = await press(caller, "mark", fields={"proof": proof})
            assert answer.status_code == 403
    assert served.heard == []


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "[", ""])
async def test_by_a_foreign_name_the_page_is_not_opened(host: str) -> None:
    """So no other site's name can be made to lead here."""
    served = await playing()
    async with served.caller() as caller:
        assert (await caller.get("/hayloft", headers={"host": host})).status_code == 421


@pytest.mark.parametrize("host", ["localhost:8480", "127.0.0.1:8480", "[::1]:8480", "hall.lan"])
async def test_by_its_own_names_it_is(host: str) -> None:
    served = await playing()
    async with served.caller() as caller:
        assert (await caller.get("/hayloft", headers={"host": host})).status_code == 200


async def test_on_loopback_no_other_machines_address_is_a_name_of_it() -> None:
    served = await playing()
    async with served.caller() as caller:
        assert (await caller.get("/hayloft", headers={"host": "192.0.2.7"})).status_code == 421


async def test_what_is_not_offered_is_not_said() -> None:
    """Neither what another moment offered, nor what nobody ever did."""
    served = await playing()
    async with served.caller() as caller:
        for value in ("answer.1.done", "undo.picture:none", "room", "../in/room", ""):
            await press(caller, value)
            page = await caller.get("/hayloft")
            assert "That is over already: nothing has changed." in page.text
    assert served.heard == []


async def test_another_persons_page_cannot_bring_the_light_back() -> None:
    """Whatever form they make: done, no and everybody away are theirs who is at the screen."""
    served = Served()
    story = at_screen()
    await served.shows(story, 45)
    number = story.core.asked.id if story.core.asked else 0
    async with served.caller() as rui:
        for word in ("done", "no", "all_away", "not_tonight"):
            await press(rui, f"answer.{number}.{word}")
        assert served.heard == []
        await press(rui, f"answer.{number}.more_time")
    assert [fields["answer"] for _, fields in served.heard] == ["more_time"]


async def test_whoever_is_at_the_screen_keeps_their_name() -> None:
    """Under another one they could not say that they are done."""
    served = Served()
    await served.shows(at_screen("Ana"), 45)
    async with served.caller() as ana:
        ana.cookies.set("roomcue-name", "Ana", domain="127.0.0.1")
        proof = proof_on(await ana.get("/hayloft"))
        form = {"name": "Eva", "proof": proof}
        await ana.post("/name", data=form, headers={"origin": HERE})
        page = await ana.get("/hayloft")
    assert "You: Ana" in page.text
    assert "You are at the screen." in page.text


async def test_once_somebody_is_at_the_screen_nothing_older_is_offered_to_others() -> None:
    """Not even for the moment in which a flood of changes waits to be shown."""
    served = Served()
    story, number = asked_for_panels()
    await served.shows(story, 35)
    done = f"answer.{number}.done"
    assert done in served.board.seen_by("Rui").offers
    served.board.hear_standing(said_of(at_screen("Ana"), 45))
    assert done not in served.board.seen_by("Rui").offers
    assert done in served.board.seen_by("Ana").offers


async def test_nobody_takes_the_name_of_whoever_is_at_the_screen() -> None:
    """Under it they could say done, and the light would fall on somebody by another's word."""
    served = Served()
    story = at_screen("Ana")
    await served.shows(story, 45)
    number = story.core.asked.id if story.core.asked else 0
    async with served.caller() as rui:
        form = {"name": " Ana ", "proof": proof_on(await rui.get("/hayloft"))}
        await rui.post("/name", data=form, headers={"origin": HERE})
        await press(rui, f"answer.{number}.done")
        assert "You: Ana" not in (await rui.get("/hayloft")).text
    assert served.heard == []


async def test_nothing_is_said_to_a_room_that_does_not_answer() -> None:
    served = await playing()
    async with served.caller() as caller:
        served.board.lose_broker()
        await press(caller, "mark")
        assert "No answer came" in (await caller.get("/hayloft")).text
    assert served.heard == []


async def test_a_long_form_is_not_read() -> None:
    served = await playing()
    async with served.caller() as caller:
        answer = await press(caller, "mark", fields={"more": "x" * 9_000})
        assert answer.status_code == 413


async def test_a_flood_of_presses_is_told_to_wait() -> None:
    served = await playing()
    async with served.caller() as caller:
        page = await caller.get("/hayloft")
        form = {"do": "mark", "proof": proof_on(page)}
        json = {"origin": HERE, "accept": "application/json"}
        answers = [await caller.post("/hayloft/say", data=form, headers=json) for _ in range(40)]
    assert {one.status_code for one in answers} == {200, 429}
    assert len(served.heard) < 20
    assert answers[-1].json() == {"words": "That was too often: wait a moment."}


async def test_names_and_titles_bring_no_markup() -> None:
    bad = '"><script>alert(1)</script>'
    served = await playing()
    async with served.caller() as caller:
        page = await caller.get("/hayloft")
        form = {"name": bad, "proof": proof_on(page)}
        await caller.post("/name", data=form, headers={"origin": HERE})
        page = await caller.get("/hayloft")
    assert bad not in page.text
    assert "&lt;script&gt;" in page.text
    assert page.text.count("<script") == 1


async def test_a_page_runs_and_loads_nothing_foreign() -> None:
    served = await playing()
    async with served.caller() as caller:
        page = await caller.get("/hayloft")
    policy = page.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self';")
    assert "unsafe" not in policy
    assert "http" not in page.text.replace("http-equiv", "")
    assert " style=" not in page.text
    assert page.headers["cache-control"] == "no-store"
    assert all("HttpOnly; SameSite=Strict" in one for one in page.headers.get_list("set-cookie"))


async def test_the_whole_page_is_small() -> None:
    served = await playing()
    async with served.caller() as caller:
        names = ("page.css", "page.js", "icon.svg")
        static = [await caller.get(f"/static/{name}") for name in names]
        page = await caller.get("/hayloft")
        assert (await caller.get("/static/..%2Fguard.py")).status_code == 404
    assert sum(len(one.content) for one in (page, *static)) < 60_000


# --------------------------------------------------------------------------------- on a network


def invited(folder: Path) -> tuple[Served, str, Invitations]:
    """Serve the page to a network, with one person invited; gives the link's secret."""
    invitations = Invitations(folder / "people")
    link = invitations.invite("Ana")
    return Served(Door(invitations=invitations), loopback=False), link, invitations


NETWORK = "http://192.0.2.7:8480"


async def test_on_a_network_nobody_comes_in_without_a_link(tmp_path: Path) -> None:
    served, _, _ = invited(tmp_path)
    await served.shows(film())
    async with served.caller(NETWORK, "192.0.2.9") as stranger:
        for path in ("/", "/hayloft"):
            assert (await stranger.get(path)).status_code == 403
        assert (await stranger.get("/hayloft/stream")).status_code == 204
        form = {"do": "mark", "proof": "0" * 64}
        said = await stranger.post("/hayloft/say", data=form, headers={"origin": NETWORK})
        assert said.status_code == 403
        assert (await stranger.get("/static/page.css")).status_code == 200
    assert served.heard == []


async def test_a_link_opens_the_page_once(tmp_path: Path) -> None:
    """Its secret leaves the address for a cookie, and a stolen link opens nothing."""
    served, link, invitations = invited(tmp_path)
    await served.shows(film())
    async with served.caller(NETWORK, "192.0.2.8") as ana:
        asked = await ana.get(f"/enter/{link}")
        assert "This link is for Ana." in asked.text
        entered = await ana.post("/enter", data={"link": link}, headers={"origin": NETWORK})
        assert (entered.status_code, entered.headers["location"]) == (303, "/")
        assert "HttpOnly; SameSite=Strict" in entered.headers["set-cookie"]
        page = await ana.get("/hayloft")
        assert "You: Ana" in page.text
        assert link not in page.text
        await press(ana, "mark")
        assert served.heard == [("mark", {"who": "Ana"})]
        async with served.caller(NETWORK, "192.0.2.9") as thief:
            assert (await thief.get(f"/enter/{link}")).status_code == 403
            stolen = await thief.post("/enter", data={"link": link}, headers={"origin": NETWORK})
            assert stolen.status_code == 403
            assert (await thief.get("/hayloft")).status_code == 403
        assert invitations.remove("Ana")
        assert (await ana.get("/hayloft")).status_code == 403


async def test_looking_ahead_uses_no_link_up(tmp_path: Path) -> None:
    """Programs that preview links open them as well."""
    served, link, _ = invited(tmp_path)
    async with served.caller(NETWORK) as caller:
        for _ in range(3):
            assert (await caller.get(f"/enter/{link}")).status_code == 200


async def test_guessing_at_links_is_slow(tmp_path: Path) -> None:
    served, _, _ = invited(tmp_path)
    async with served.caller(NETWORK, "192.0.2.9") as thief:
        statuses = [(await thief.get(f"/enter/guess-{at}")).status_code for at in range(15)]
    assert statuses[:10] == [403] * 10
    assert statuses[-1] == 429


async def test_a_link_is_worth_nothing_after_a_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    invitations = Invitations(tmp_path / "people")
    monkeypatch.setattr("adapters.page.invitations.time", lambda: 0.0)
    link = invitations.invite("Ana")
    monkeypatch.setattr("adapters.page.invitations.time", lambda: 86_401.0)
    assert invitations.who_is_asked_in(link) is None
    assert invitations.enter(link) is None


async def test_while_the_file_of_people_cannot_be_read_nobody_comes_in(tmp_path: Path) -> None:
    served, link, _ = invited(tmp_path)
    await served.shows(film())
    (tmp_path / "people").write_text("{")
    async with served.caller(NETWORK) as caller:
        assert (await caller.get("/hayloft")).status_code == 403
        assert (await caller.get(f"/enter/{link}")).status_code == 403
        entered = await caller.post("/enter", data={"link": link}, headers={"origin": NETWORK})
        assert entered.status_code == 403


def test_the_file_of_people_holds_no_secret(tmp_path: Path) -> None:
    invitations = Invitations(tmp_path / "people")
    link = invitations.invite("Ana")
    key = invitations.enter(link)
    assert key is not None
    text = (tmp_path / "people").read_text()
    assert link not in text
    assert key not in text
    assert (tmp_path / "people").stat().st_mode & 0o077 == 0
    assert Invitations(tmp_path / "people").who_has(key) == "Ana"


@pytest.mark.parametrize(
    ("peer", "name", "status"),
    [
        ("192.0.2.2", "Ana", 200),
        ("192.0.2.2", "", 403),
        ("192.0.2.9", "Ana", 403),
    ],
)
async def test_only_the_trusted_proxy_says_who_comes(peer: str, name: str, status: int) -> None:
    door = Door(proxy_header="X-Name", proxies=frozenset({"192.0.2.2"}))
    served = Served(door, loopback=False)
    await served.shows(film())
    async with served.caller("http://hall.lan", peer) as caller:
        page = await caller.get("/hayloft", headers={"x-name": name})
    assert page.status_code == status


async def test_a_name_that_a_proxy_hands_on_beside_its_own_is_not_believed() -> None:
    """A proxy may add its header to one that came: which of them it has written nobody knows."""
    door = Door(proxy_header="X-Name", proxies=frozenset({"192.0.2.2"}))
    served = Served(door, loopback=False)
    await served.shows(film())
    async with served.caller("http://hall.lan", "192.0.2.2") as caller:
        page = await caller.get("/hayloft", headers=[("x-name", "Ana"), ("x-name", "Rui")])
    assert page.status_code == 403


async def test_a_proxy_may_say_a_name_with_accents() -> None:
    door = Door(proxy_header="X-Name", proxies=frozenset({"192.0.2.2"}))
    served = Served(door, loopback=False)
    await served.shows(film())
    async with served.caller("http://hall.lan", "192.0.2.2") as caller:
        for coded in ("utf-8", "latin-1"):
            page = await caller.get("/hayloft", headers=[(b"x-name", "Zoé".encode(coded))])
            assert "You: Zoé" in page.text


# ----------------------------------------------------------------------------------- the stream


async def test_a_slow_reader_holds_up_nobody_and_gets_the_newest() -> None:
    """Nothing queues up for it: after many changes it is sent the last one alone."""
    served = await playing()
    slow, quick = Follower(served), Follower(served)
    await slow.has("Disc is playing.")
    slow.hold()
    for at in range(20):
        await served.hears(_titled(f"film {at}"))
    await quick.has("film 19 is playing.")
    assert b"film 1 is" not in slow.got
    slow.let_go()
    await slow.has("film 19 is playing.")
    assert slow.got.count(b" is playing.") <= 3
    await slow.leave()
    await quick.leave()


async def test_only_the_parts_that_changed_are_sent() -> None:
    served = await playing()
    follower = Follower(served)
    await follower.has("Disc is playing.")
    before = len(follower.got)
    await served.hears(_titled("another film"))
    await follower.has("another film is playing.")
    parts = follower.got[before:].count(b"event: part")
    assert parts < 5
    await follower.leave()


async def test_whoever_is_shut_out_is_shown_nothing_more() -> None:
    served = await playing()
    follower = Follower(served)
    await follower.has("Disc is playing.")
    follower.may_stay = False
    await served.hears(_titled("another film"))
    await follower.task
    assert b"another film" not in follower.got


async def test_a_stream_ends_when_the_server_closes() -> None:
    served = await playing()
    follower = Follower(served)
    await follower.has("Disc is playing.")
    served.app.closing.set()
    await follower.task


def _titled(name: str) -> dict[str, Any]:
    said = said_of(film(2.20))
    return {**said, "title": {**said["title"], "name": name}}
