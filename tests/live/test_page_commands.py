"""The page as it is started: beside the rooms, on a network, for people who were invited."""

from __future__ import annotations

import asyncio
import re
import urllib.error
import urllib.request
from contextlib import suppress
from http.client import HTTPException
from pathlib import Path
from typing import NoReturn

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE
from adapters.cli.page_process import DEFAULT_PAGE, PageWanted, page_address
from adapters.live.broker import Broker
from adapters.page.page_server import PageOptions
from adapters.page.room_link import RoomLink
from engine.errors import UnusableError
from tests.house.tree import TOP
from tests.live.broker import Mosquitto, free_port, until
from tests.live.process import Roomcue

CELLAR = TOP / "simulator/shipped/cellar.yaml"


def opened(port: int, path: str = "/cellar") -> tuple[int, str]:
    """Open an address of the page; status 0: nothing listens there, or it ends in mid-answer."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}") as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()
    except (OSError, HTTPException):
        return 0, ""


def called(*arguments: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner().invoke(app, [str(one) for one in arguments])


@pytest.mark.parametrize("how", ["stop", "kill"])
def test_the_page_beside_the_rooms_comes_and_goes_with_them(tmp_path: Path, how: str) -> None:
    """Even where they are killed, and could end nobody."""
    port = free_port()
    with (
        Mosquitto(tmp_path / "broker") as broker,
        Roomcue([CELLAR], tmp_path / "j", "--page", str(port), port=broker.port) as room,
    ):
        until(lambda: "Nobody has said what is playing." in opened(port)[1], "the page shows it")
        getattr(room, how)()
        until(lambda: opened(port)[0] == 0, "the page is gone as well")


def test_on_a_network_it_starts_only_for_people_who_are_invited(tmp_path: Path) -> None:
    people = tmp_path / "people"
    given = ("page", CELLAR, "--listen", f"0.0.0.0:{free_port()}", "--people", people)
    refused = called(*given)
    assert refused.exit_code == UNUSABLE
    assert "nobody is invited: say 'roomcue invite NAME" in refused.stderr


def test_an_invitation_is_a_link_and_its_code(tmp_path: Path) -> None:
    people = tmp_path / "people"
    given = ("--people", people, "--page", "http://192.0.2.7:8480")
    printed = called("invite", "Ana", *given)
    assert printed.exit_code == OK
    assert re.match(r"http://192\.0\.2\.7:8480/enter/[A-Za-z0-9_-]{32}\n", printed.stdout)
    assert "\u2588" in printed.stdout
    assert called("invite", "--people", people).stdout == "Ana\n"
    assert called("invite", "Ana", "--remove", "--people", people).exit_code == OK
    assert called("invite", "Ana", "--remove", "--people", people).exit_code == PROBLEMS
    assert called("invite", "--people", people).stdout == ""


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (("invite", "Ana", "--page", "ftp://x"), "write http://192.0.2.7:8480"),
        (("invite", "A\tna"), "is no name"),
        (("invite", "Ana\udcff"), "is no name"),
        (("page", str(CELLAR), "--listen", "hall:80"), "write a port, or 127.0.0.1:8480"),
        (("page", str(CELLAR), "--proxy", "192.0.2.2"), "--proxy and --proxy-says go together"),
        (("page", str(CELLAR), "--proxy", "all", "--proxy-says", "X-Name"), "write it in figures"),
        (("page", str(CELLAR), "--proxy", "::1", "--proxy-says", "X Name"), "is no header's name"),
        (("page", str(CELLAR), "--host", "a b"), "is no host's name"),
        (("page", str(CELLAR)), "with the file"),
        (("run", str(CELLAR), "--unproven", "--stdin", "--page", "8480"), "listens to a broker"),
    ],
)
def test_what_cannot_be_used_is_told_in_a_sentence(
    tmp_path: Path, wrong: tuple[str, ...], said: str
) -> None:
    more = ("--journal", tmp_path / "j") if wrong[0] == "run" else ("--people", tmp_path / "p")
    answer = called(*wrong, *more)
    assert answer.exit_code == UNUSABLE
    assert said in answer.stderr
    assert "Traceback" not in answer.stderr


def test_without_what_serves_it_the_page_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("adapters.cli.page_process.find_spec", lambda _: None)
    for given in (("page", CELLAR), ("invite", "Ana", "--people", tmp_path / "people")):
        answer = called(*given)
        assert answer.exit_code == UNUSABLE
        assert "say pip install 'roomcue[page]'" in answer.stderr


@pytest.mark.parametrize("follows", [(), ("--stdin",), (str(CELLAR),)])
def test_the_page_beside_the_rooms_needs_no_address(
    follows: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Whether it stands last, before another option, or before a room file."""
    told: list[PageWanted] = []

    def seen(wanted: PageWanted, *_: object) -> NoReturn:
        told.append(wanted)
        raise UnusableError("seen")

    monkeypatch.setattr(PageWanted, "checked", seen)
    rooms = () if str(CELLAR) in follows else (CELLAR,)
    stdin = () if "--stdin" in follows else ("--stdin",)
    given = ("--unproven", "--journal", tmp_path / "j", *stdin)
    assert "seen" in called("run", *rooms, *given, "--page", *follows).stderr
    assert [one.address for one in told] == [DEFAULT_PAGE]


def test_a_proxy_is_known_however_its_address_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[PageOptions] = []
    monkeypatch.setattr("adapters.page.page_server.serve_page", lambda one, _: served.append(one))
    written = ("--proxy", "::ffff:192.0.2.2", "--proxy", "2001:DB8:0::1", "--proxy-says", "X-Name")
    assert called("page", CELLAR, *written).exit_code == OK
    assert served[0].door.proxies == {"192.0.2.2", "2001:db8::1"}


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("8480", ("127.0.0.1", 8480)),
        (":8480", ("127.0.0.1", 8480)),
        ("0.0.0.0:80", ("0.0.0.0", 80)),  # noqa: S104 - it is read, not listened to
        ("[::1]:8480", ("::1", 8480)),
        ("localhost:8480", ("127.0.0.1", 8480)),
    ],
)
def test_a_place_is_a_port_or_an_address_and_a_port(text: str, address: tuple[str, int]) -> None:
    assert page_address(text) == address


@pytest.mark.parametrize("text", ["", "hall", "hall:80", "0", "127.0.0.1:70000", "1:2:3", "-1"])
def test_anything_else_is_none(text: str) -> None:
    with suppress(UnusableError):
        pytest.fail(f"{text} is {page_address(text)}")


def test_a_page_that_finds_no_broker_says_so_once() -> None:
    said: list[str] = []
    port = free_port()

    async def listen() -> None:
        link = RoomLink(Broker("127.0.0.1", port), said.append)
        link.listen([])
        try:
            await asyncio.sleep(2.5)  # long enough for a second try
        finally:
            link.leave()

    asyncio.run(listen())
    assert [one.split(";")[0] for one in said] == [f"no broker answers at 127.0.0.1, port {port}"]


def test_an_empty_list_of_invited_people_says_how_to_invite_one(tmp_path: Path) -> None:
    done = called("invite", "--people", tmp_path / "nobody")
    assert (done.exit_code, done.stdout) == (OK, "")
    assert "nobody is invited yet; 'roomcue invite NAME' does it" in done.stderr
