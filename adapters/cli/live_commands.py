"""Commands for live rooms: run them, tell them something, describe topics, export a night."""

from __future__ import annotations

import json
import os
import re
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Annotated, Final
from urllib.parse import unquote, urlsplit

import typer

from adapters.cli.exit_status import OK, PROBLEMS, errors_reported, print_error, read_room_file
from adapters.cli.files import require_kind, write_lines
from adapters.cli.page_process import PageWanted, RunCommand, page_beside
from adapters.cli.proven_rooms import INSIST, unproven_rooms
from adapters.cli.version import roomcue_version
from adapters.live.broker import Broker
from adapters.live.embedded_broker import (
    DEFAULT_PORT,
    EMBEDDED_LIMITS,
    LOOPBACK,
    require_broker,
)
from adapters.live.journal_file import DiskFullError, HeldError, NotKeptError
from adapters.live.log_stream import patient_standard_error
from engine.errors import UnusableError
from engine.room import Room
from rules.room.single_values import NAME_PATTERN
from simulator.shipped import DEMO_ROOM

PASSWORD: Final = "ROOMCUE_PASSWORD"  # noqa: S105 - the variable's name
TLS_PORT: Final = 8883
JOURNAL: Final = Path("roomcue.journal")

live_commands = typer.Typer(rich_markup_mode=None)

BrokerUrl = Annotated[
    str | None, typer.Option("--broker", help="mqtt://[user@]host[:port], or mqtts:// with TLS.")
]
Authority = Annotated[
    Path | None, typer.Option("--ca", help="PEM file of whoever signed the broker's certificate.")
]
PasswordFile = Annotated[
    Path | None,
    typer.Option(help=f"File with the broker's password; else the variable {PASSWORD}."),
]


RoomFiles = Annotated[
    list[Path] | None, typer.Argument(help="Room files; the shipped room if none is named.")
]
JournalFile = Annotated[
    Path, typer.Option(help="The journal file, to which everything is written.")
]
Embedded = Annotated[
    bool, typer.Option("--embedded", help="Start a broker for this machine alone.")
]
Stdin = Annotated[
    bool, typer.Option("--stdin", help="No broker: events as JSON lines on standard input.")
]
EmbeddedPort = Annotated[
    int, typer.Option("--port", min=1, max=65_534, help="The port of the embedded broker.")
]
Keep = Annotated[int, typer.Option(min=1, help="How many nights to keep in the journal.")]
MetricsPort = Annotated[
    int | None,
    typer.Option("--metrics", min=1, max=65_535, help="Serve counters on this local port."),
]
Unproven = Annotated[
    bool, typer.Option(INSIST, help="Start rooms that check rejects or has not proven.")
]


PageAddress = Annotated[
    str | None,
    typer.Option(
        "--page",
        metavar="[ADDR]",
        help="Serve the page for phones on this machine, or at a port, or an address and a port.",
    ),
]
PagePeople = Annotated[
    Path | None, typer.Option("--page-people", help="The file of whoever is invited to the page.")
]


@live_commands.command(cls=RunCommand)
def run(
    rooms: RoomFiles = None,
    broker: BrokerUrl = None,
    journal: JournalFile = JOURNAL,
    embedded: Embedded = False,
    stdin: Stdin = False,
    port: EmbeddedPort = DEFAULT_PORT,
    ca: Authority = None,
    password_file: PasswordFile = None,
    keep: Keep = 400,
    metrics: MetricsPort = None,
    log: Annotated[str, typer.Option(help="How to write the log: plain or json.")] = "plain",
    unproven: Unproven = False,
    page: PageAddress = None,
    page_people: PagePeople = None,
) -> None:
    """Run rooms live: take events, decide, order, ask people, write everything down."""
    from adapters.live import run_rooms  # noqa: PLC0415 - no other command waits for the broker's client

    with patient_standard_error(plain=log == "plain"), errors_reported():
        _check_choices(log, [broker is not None, embedded, stdin].count(True), embedded=embedded)
        require_kind(journal, "a journal")
        named = _rooms(rooms or [DEMO_ROOM])
        address = _broker_of(broker, ca, password_file, port if embedded else None)
        shown = PageWanted(page, page_people, ca, password_file).checked(address)
        wanted = run_rooms.RunOptions(
            rooms=tuple(named.values()),
            journal=journal,
            version=roomcue_version(),
            broker=address,
            own_broker=port if embedded else None,
            keep=keep,
            metrics=metrics,
            plain=log == "plain",
            unproven=unproven_rooms(named, insists=unproven, plain=log == "plain"),
            begun=partial(_say_first_words, port, named) if embedded else None,
        )
        with _passing_trouble_reported(), page_beside(shown, [*named], address):
            run_rooms.run(wanted)
    raise typer.Exit(OK)


def _broker_of(
    url: str | None, authority: Path | None, password_file: Path | None, own: int | None
) -> Broker | None:
    """Give the broker that is named, or our `own` by its port; None: there is none."""
    if url is not None:
        return address_of(url, authority, password_file)
    return None if own is None else Broker(LOOPBACK, own)


def _say_first_words(port: int, rooms: dict[Path, Room]) -> None:
    """Say what the embedded broker is good for, and what to try first."""
    first = next(iter(rooms.values()))
    typer.echo(f"{EMBEDDED_LIMITS}\n{_first_word(port, first)}", err=True)


@contextmanager
def _passing_trouble_reported() -> Iterator[None]:
    """End with status 1 where trying again helps: the disk is full, the journal held or lost."""
    try:
        yield
    except (DiskFullError, HeldError, NotKeptError) as error:
        print_error(str(error))
        raise typer.Exit(PROBLEMS) from error


def _check_choices(log: str, ways: int, *, embedded: bool) -> None:
    """Raise `UnusableError` unless there is one source of events and the log is of a known kind.

    An `embedded` broker must be installed.
    """
    if ways != 1:
        raise UnusableError("give one of --broker URL, --embedded and --stdin")
    if log not in ("plain", "json"):
        raise UnusableError(f"--log is plain or json, not {log}")
    if embedded:
        require_broker()


@live_commands.command("tell")
def tell(
    room: Annotated[str, typer.Argument(help="The room's name: hayloft.")],
    topic: Annotated[str, typer.Argument(help="What is told: source, playback, told/guests.")],
    payload: Annotated[str, typer.Argument(help='JSON, such as {"source": "disc"}.')],
    broker: Annotated[
        str, typer.Option(help="mqtt://[user@]host[:port], or mqtts:// with TLS.")
    ] = f"mqtt://localhost:{DEFAULT_PORT}",
    ca: Authority = None,
    password_file: PasswordFile = None,
    wait: Annotated[
        float, typer.Option(min=0, max=60, help="For how many seconds to print what the room says.")
    ] = 1.0,
) -> None:
    """Tell a running room one thing, as a hub or a person would, and print what it answers.

    A person's word (answer, override, told, mark) gets a reply, which ends the waiting. Status 1:
    the room refused it.
    """
    from adapters.live.tell_client import tell_broker  # noqa: PLC0415 - the same

    with errors_reported():
        if not re.fullmatch(NAME_PATTERN, room):
            raise _no_name(room)
        status = OK
        address = address_of(broker, ca, password_file)
        for heard in tell_broker(address, room, topic, payload, wait):
            typer.echo(heard.words)
            status = PROBLEMS if heard.refused else status
    raise typer.Exit(status)


@live_commands.command()
def topics(
    room: Annotated[
        list[Path] | None, typer.Argument(help="Describe these rooms' topics; else any room's.")
    ] = None,
) -> None:
    """Print what goes over the broker as an AsyncAPI 3.0 document."""
    from adapters.contract.asyncapi import document  # noqa: PLC0415 - it plays nights; `run` starts without

    with errors_reported():
        described = document(tuple(_rooms(room or []).values()), roomcue_version())
        typer.echo(json.dumps(described, indent=2, ensure_ascii=False))
    raise typer.Exit(OK)


@live_commands.command()
def export(
    journal: Annotated[Path, typer.Option(help="The journal, in use or not.")] = JOURNAL,
    room: Annotated[
        str | None, typer.Option(help="Which room, if the journal holds several.")
    ] = None,
    begins: Annotated[
        str | None, typer.Option("--from", help="RFC 3339, or a date: from its noon on.")
    ] = None,
    ends: Annotated[
        str | None, typer.Option("--to", help="RFC 3339, or a date: up to its noon.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write it here; .gz packs it.")] = None,
    without_titles: Annotated[
        bool, typer.Option("--without-titles", help="Number titles in place of their names.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over a file.")] = False,
) -> None:
    """Export a night from a journal, for `replay` and `why`."""
    from adapters.cli.night_export import export_night  # noqa: PLC0415 - the same

    with errors_reported():
        require_kind(journal, "a journal")
        night = export_night(journal, room, begins, ends, without_titles=without_titles)
        if out is None:
            for line in night.lines:
                typer.echo(line)
        else:
            write_lines(out, night.lines, replace=force)
        for words in night.words:
            typer.echo(words, err=True)
    raise typer.Exit(OK)


def _rooms(paths: list[Path]) -> dict[Path, Room]:
    """Load rooms; raises `UnusableError` if two have the same name."""
    rooms: dict[Path, Room] = {}
    names: set[str] = set()
    for path in paths:
        room = read_room_file(path)
        if room.name in names:
            raise UnusableError(
                f"{path}: another file is of room '{room.name}' too: name each room once"
            )
        names.add(room.name)
        rooms[path] = room
    return rooms


def address_of(url: str, authority: Path | None, password_file: Path | None) -> Broker:
    """Read the address of a broker; raises `UnusableError`."""
    hidden = re.sub(r"//.*@", "//...@", url)
    wrong = f"'{hidden}' is no broker: write mqtt://host or mqtts://user@host:8883"
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
        (host or "").encode("idna")
    except ValueError as error:
        raise UnusableError(wrong) from error
    if parts.scheme not in ("mqtt", "mqtts") or not host or parts.path.strip("/") or parts.query:
        raise UnusableError(wrong)
    if parts.password is not None:
        raise UnusableError(
            f"a password in the address is seen by everybody on this machine: put it into "
            f"{PASSWORD}, or into a file and name that with --password-file"
        )
    user = None if parts.username is None else unquote(parts.username)
    if user is None and password_file is not None:
        raise UnusableError(f"a password goes with a user: write mqtt://user@{host}")
    secure = parts.scheme == "mqtts"
    if authority is not None and not secure:
        raise UnusableError("--ca goes with mqtts://")
    return Broker(
        host,
        port or (TLS_PORT if secure else DEFAULT_PORT),
        user,
        _password(password_file),
        _tls(authority) if secure else None,
    )


def _no_name(room: str) -> UnusableError:
    """Say that this is no room's name, and whether it is the path of a file."""
    instead = "write one"
    with suppress(OSError):  # what is too long for a path is none
        instead = "name the room, not its file" if Path(room).exists() else instead
    return UnusableError(f"'{room[:40]}' is no room's name: {instead}, such as hayloft")


def _password(path: Path | None) -> str | None:
    if path is None:
        return os.environ.get(PASSWORD)
    require_kind(path, "a file with a password alone")
    try:
        return path.read_text("utf-8").rstrip("\r\n")
    except OSError as error:
        raise UnusableError(f"{path}: no password can be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise UnusableError(f"{path}: no password can be read: it is no UTF-8") from error


def _tls(authority: Path | None) -> ssl.SSLContext:
    require_kind(authority, "a PEM file")
    try:
        return ssl.create_default_context(cafile=None if authority is None else str(authority))
    except OSError as error:
        words = f"{authority}: no certificates can be read: {error.strerror or error}"
        raise UnusableError(words) from error


def _first_word(port: int, room: Room) -> str:
    """Say which commands to try first in another terminal."""
    command = ".venv/bin/roomcue" if Path(".venv/bin/roomcue").exists() else "roomcue"
    there = "" if port == DEFAULT_PORT else f" --broker mqtt://localhost:{port}"
    source = json.dumps({"source": next(iter(room.sources))})
    lines = [
        f"MQTT 5 on port {port}, MQTT 3.1.1 on port {port + 1}. In another terminal, for a start:",
        f"  {command} tell {room.name} projector '{json.dumps({'state': 'lit'})}'{there}",
        f"  {command} tell {room.name} source '{source}'{there}",
    ]
    return "\n".join(lines)
