"""Commands for the room's page: serve it, and invite people to it."""

from __future__ import annotations

import re
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from urllib.parse import urlsplit

import typer

from adapters.cli.exit_status import OK, PROBLEMS, errors_reported, read_room_file
from adapters.cli.files import require_kind
from adapters.cli.live_commands import Authority, PasswordFile, address_of
from adapters.cli.page_process import DEFAULT_PAGE, page_address, require_page
from adapters.live.embedded_broker import DEFAULT_PORT
from engine.errors import UnusableError

if TYPE_CHECKING:
    from adapters.page.invitations import Invitations
    from adapters.page.visitors import Door

PEOPLE: Final = Path("roomcue.people")
HEADER_PATTERN: Final = r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}"
HOST_PATTERN: Final = r"[A-Za-z0-9]([A-Za-z0-9.-]{0,250}[A-Za-z0-9])?"

page_commands = typer.Typer(rich_markup_mode=None)

PeopleFile = Annotated[Path, typer.Option("--people", help="The file of invited people.")]
PeopleAlone = Annotated[
    Path | None,
    typer.Option(
        "--people",
        help=f"The invited people; {PEOPLE} if it is left out, which this machine does not ask.",
    ),
]


@page_commands.command()
def page(
    rooms: Annotated[list[Path], typer.Argument(help="The room files of the rooms to show.")],
    broker: Annotated[
        str, typer.Option(help="mqtt://[user@]host[:port], or mqtts:// with TLS.")
    ] = f"mqtt://localhost:{DEFAULT_PORT}",
    listen: Annotated[
        str, typer.Option(help="Where the page is opened: a port, or an address and a port.")
    ] = DEFAULT_PAGE,
    people: PeopleAlone = None,
    host: Annotated[
        list[str] | None, typer.Option(help="A name by which the page is opened: hall.lan.")
    ] = None,
    proxy: Annotated[
        list[str] | None, typer.Option(help="The address of a proxy that says who comes.")
    ] = None,
    proxy_says: Annotated[
        str | None, typer.Option(help="The header in which that proxy says who comes.")
    ] = None,
    ca: Authority = None,
    password_file: PasswordFile = None,
) -> None:
    """Serve the page of rooms that run, for the phones of whoever is in them.

    On this machine's own address everybody may come in; on another one by a link of `invite`, or
    through a proxy that says who they are.
    """
    with errors_reported():
        require_page()
        from adapters.page.page_server import PageOptions, is_loopback, serve_page  # noqa: PLC0415 - no other command waits for the server

        hosts = frozenset(map(_host, host or ()))
        known = PageOptions(
            [read_room_file(one) for one in rooms],
            address_of(broker, ca, password_file),
            (address := page_address(listen)),
            _door(people, proxy_says, proxy or [], loopback=is_loopback(address[0])),
            hosts,
        )
        serve_page(known, lambda words: typer.echo(f"page: {words}", err=True))
    raise typer.Exit(OK)


@page_commands.command()
def invite(
    who: Annotated[str | None, typer.Argument(help="The person's name; none: list them.")] = None,
    people: PeopleFile = PEOPLE,
    page_at: Annotated[
        str, typer.Option("--page", help="The page's address, as phones open it.")
    ] = f"http://{DEFAULT_PAGE}",
    remove: Annotated[bool, typer.Option("--remove", help="Let them in no longer.")] = False,
) -> None:
    """Invite a person to the page on a network: print a link and its QR code, good for one phone.

    Status 1: nobody of that name was there to be removed.
    """
    from adapters.page.invitations import Invitations  # noqa: PLC0415 - the same

    with errors_reported():
        require_kind(people, "a list of people")
        known = Invitations(people)
        if who is None and remove:
            raise UnusableError("say whom to remove: roomcue invite NAME --remove")
        if who is None:
            if not known.names():
                words = f"{people}: nobody is invited yet; 'roomcue invite NAME' does it"
                typer.echo(words, err=True)
            for name in known.names():
                typer.echo(name)
            raise typer.Exit(OK)
        if remove:
            there = known.remove(who)
            typer.echo(f"{who} is let in no longer." if there else f"{who} was not invited.")
            raise typer.Exit(OK if there else PROBLEMS)
        _print_link(known, _name(who), page_at)
    raise typer.Exit(OK)


def _print_link(known: Invitations, who: str, page_at: str) -> None:
    require_page("segno")
    import segno  # noqa: PLC0415 - the same

    if not re.fullmatch(r"https?://[^/\s?#@]+/?", page_at) or not _has_port(page_at):
        raise UnusableError(f"'{page_at}' is no page: write http://192.0.2.7:8480")
    link = f"{page_at.rstrip('/')}/enter/{known.invite(who)}"
    typer.echo(f"{link}\nfor {who}, for one phone, within a day.")
    segno.make(link, micro=False).terminal(compact=True)


def _has_port(page_at: str) -> bool:
    """Tell whether an address names a port that there can be, or none, which is its usual one."""
    try:
        return urlsplit(page_at).port != 0
    except ValueError:
        return False


def _name(who: str) -> str:
    from adapters.page.visitors import good_name  # noqa: PLC0415 - the same

    name = good_name(who)
    if name is None or name != who:
        raise UnusableError(f"'{who[:40]}' is no name: write up to 40 letters")
    return name


def _host(name: str) -> str:
    if not re.fullmatch(HOST_PATTERN, name):
        raise UnusableError(f"'{name[:40]}' is no host's name: write one such as hall.lan")
    return name.lower()


def _proxy(text: str) -> str:
    """Read the address of a proxy, as connections from there are named."""
    from adapters.page.guard import address_of  # noqa: PLC0415 - no other command waits for it

    try:
        return address_of(str(ip_address(text)))
    except ValueError as error:
        raise UnusableError(
            f"'{text[:40]}' is no proxy's address: write it in figures, such as 192.0.2.2"
        ) from error


def _header(name: str) -> str:
    if not re.fullmatch(HEADER_PATTERN, name):
        raise UnusableError(f"'{name[:40]}' is no header's name: write one such as X-Name")
    return name


def _door(people: Path | None, header: str | None, proxies: list[str], *, loopback: bool) -> Door:
    """Decide how people are known; raises `UnusableError` where everybody could come in.

    A file of people that is named counts on this machine as well.
    """
    from adapters.page.invitations import Invitations  # noqa: PLC0415 - the same
    from adapters.page.visitors import Door  # noqa: PLC0415 - the same

    if (header is None) is not (not proxies):
        raise UnusableError("--proxy and --proxy-says go together: whom to believe, and where")
    if header is not None:
        door = Door(proxy_header=_header(header), proxies=frozenset(map(_proxy, proxies)))
        if people is not None:
            raise UnusableError("--people and --proxy do not go together: the proxy says who comes")
        return door
    if loopback and people is None:
        return Door()
    require_kind(people or PEOPLE, "a list of people")
    known = Invitations(people or PEOPLE)
    if not known.names():
        where = f"with the file {people}" if loopback else "on a network"
        raise UnusableError(
            f"{where} the page is for invited people alone, and nobody is invited: say 'roomcue "
            f"invite NAME --people {known.path}' first, or name a --proxy that says who comes"
        )
    return Door(invitations=known)
