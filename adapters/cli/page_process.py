"""The page beside the rooms: a process of its own, started anew if it ends."""

from __future__ import annotations

import os
import socket
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from ipaddress import ip_address
from pathlib import Path
from threading import Event, Thread
from typing import Any, Final, NamedTuple
from urllib.parse import quote

import typer
from typer.core import TyperCommand

from adapters.cli.exit_status import UNUSABLE
from adapters.cli.files import require_kind
from adapters.live.broker import Broker
from adapters.live.child_commands import isolated_program
from engine.errors import UnusableError

DEFAULT_PAGE: Final = "127.0.0.1:8480"
ROOM_SUFFIXES: Final = (".yaml", ".yml")
OF_THE_PAGE: Final = ("starlette", "uvicorn")
MOST_PORT: Final = 65_535
ANEW_AFTER: Final = 5.0
"""Seconds after which a page that has ended is started again."""
GOODBYE: Final = 5.0
"""Seconds that the page may take to end."""


def require_page(*more: str) -> None:
    """Raise `UnusableError` if what serves the page, or `more` that is needed, is not installed."""
    for name in (*OF_THE_PAGE, *more):
        if find_spec(name) is None:
            raise UnusableError(
                f"the page needs {name}, which is not installed: say pip install 'roomcue[page]'"
            )


class RunCommand(TyperCommand):
    """A command whose `--page` may stand alone: the page is then for this machine."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:  # noqa: ANN401 - the library hides it
        """Write out a `--page` that names no address."""
        if "--page" in args:
            at = args.index("--page")
            follows = args[at + 1 : at + 2]
            if not follows or not _may_be_address(follows[0]):
                args = [*args[:at], f"--page={DEFAULT_PAGE}", *args[at + 1 :]]
        return super().parse_args(ctx, args)


def _may_be_address(text: str) -> bool:
    """Tell whether what follows `--page` is meant as its address: no option, and no room file."""
    return not text.startswith("-") and Path(text).suffix not in ROOM_SUFFIXES


def page_address(text: str) -> tuple[str, int]:
    """Read where the page shall listen: a port, or an address and a port; raises UnusableError."""
    host, _, port = text.rpartition(":")
    host = host.strip("[]") or "127.0.0.1"
    if not _is_address(host) or not port.isdecimal() or not 0 < int(port[:6]) <= MOST_PORT:
        raise UnusableError(
            f"'{text[:60]}' is no place for the page: write a port, or 127.0.0.1:8480"
        )
    return ("127.0.0.1" if host == "localhost" else host), int(port)


def _is_address(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return host == "localhost"
    return True


class PageWanted(NamedTuple):
    """How `run` was asked to serve the page."""

    address: str | None
    """None: it shall not be served."""
    people: Path | None
    authority: Path | None
    password_file: Path | None

    def checked(self, broker: Broker | None) -> PageWanted:
        """Give it back if it can be served; raises `UnusableError` before anything takes long."""
        if self.address is None:
            return self
        if broker is None:
            raise UnusableError("the page listens to a broker: give --broker or --embedded with it")
        require_page()
        require_kind(self.people, "a list of people")
        _require_free(page_address(self.address))
        return self

    def arguments(self, rooms: Sequence[Path], broker: Broker) -> list[str]:
        """Give the arguments of `roomcue page` that serve it; raises `UnusableError`."""
        host, port = page_address(self.address or DEFAULT_PAGE)
        scheme = "mqtt" if broker.tls is None else "mqtts"
        user = "" if broker.user is None else f"{quote(broker.user, safe='')}@"
        given: list[tuple[str, object]] = [
            ("--broker", f"{scheme}://{user}{_in_address(broker.host)}:{broker.port}"),
            ("--listen", f"{_in_address(host)}:{port}"),
            ("--people", self.people),
            ("--ca", self.authority),
            ("--password-file", self.password_file),
        ]
        named = [str(one) for pair in given if pair[1] is not None for one in pair]
        return [*map(str, rooms), *named]


@contextmanager
def page_beside(wanted: PageWanted, rooms: Sequence[Path], broker: Broker | None) -> Iterator[None]:
    """Keep the page running in a process of its own that ends with this one, if it is wanted.

    Raises `UnusableError` where its address is none, or is taken.
    """
    wanted.checked(broker)  # once more: a room's proof may have taken minutes since
    if wanted.address is None or broker is None:
        yield
        return
    arguments = wanted.arguments(rooms, broker)
    stop = Event()
    watched, ours = os.pipe()
    command = [*isolated_program(watched), "page", *arguments]
    running: list[subprocess.Popen[bytes]] = []
    keeper = Thread(target=_keep, args=(command, watched, running, stop), daemon=True)
    keeper.start()
    try:
        yield
    finally:
        stop.set()
        for process in running:
            process.terminate()
        keeper.join(GOODBYE)
        os.close(ours)  # with which a page ends that has not ended yet


def _keep(
    command: Sequence[str], watched: int, running: list[subprocess.Popen[bytes]], stop: Event
) -> None:
    """Start the page, and start it again when it has ended, until `stop`."""
    while not stop.is_set():
        process = subprocess.Popen(  # noqa: S603 - our own program
            command, stdin=subprocess.DEVNULL, process_group=0, pass_fds=(watched,)
        )
        running[:] = [process]
        status = process.wait()
        if stop.is_set():
            return
        if status == UNUSABLE:
            typer.echo("page: it is not served; the rooms run without it", err=True)
            return
        typer.echo(f"page: it has ended with status {status}: once more", err=True)
        stop.wait(ANEW_AFTER)


def _require_free(address: tuple[str, int]) -> None:
    """Raise `UnusableError` if nothing can listen there: better now than in another process."""
    family = socket.AF_INET6 if ":" in address[0] else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(address)
        except OSError as error:
            raise UnusableError(
                f"the page cannot listen on {address[0]}, port {address[1]}: {error.strerror}; "
                "name another one"
            ) from error


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host
