"""Let only rooms go live that `check` accepts, unless somebody insists.

What was proven before is remembered. What was not is proven in a process of its own, so that a room
that starts never loads a proof.
"""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

import typer

from adapters.cli.exit_status import OK, PROBLEMS, UNUSABLE, print_error, print_findings
from adapters.cli.remembered_checks import recall_all
from adapters.live.child_commands import CheckResult, checked
from adapters.live.log import TolerantStream, decision_log
from engine.room import Room

INSIST: Final = "--unproven"
WAITS: Final = (
    "It goes live once it is proven. That is done once for each room file, and may take minutes; "
    f"{INSIST} starts it at once."
)


def unproven_rooms(rooms: Mapping[Path, Room], *, insists: bool, plain: bool) -> frozenset[str]:
    """Give the names of the rooms that run although nobody has proven them.

    Unless somebody `insists`, a room that is not proven yet is proven first, and one that `check`
    rejects ends the command. `plain`: the log is for people.
    """
    unproven: set[str] = set()
    rejected = False
    remembered = recall_all([room.text for room in rooms.values()])
    for (path, room), known in zip(rooms.items(), remembered, strict=True):
        if known is not None:
            found = CheckResult(not any(one.fatal for one in known.findings), known.findings, "")
        elif insists:
            unproven.add(room.name)
            continue
        else:
            found = _proven_now(room, plain=plain)
        if not found.accepted and insists:
            unproven.add(room.name)
        elif not found.accepted:
            _say_why_not(path, room, found)
            rejected = True
    if rejected:
        raise typer.Exit(UNUSABLE)
    return frozenset(unproven)


def _proven_now(room: Room, *, plain: bool) -> CheckResult:
    """Prove a room in a process of its own; a person sees how far it is."""
    try:
        return asyncio.run(_until_stopped(room, plain=plain))
    except asyncio.CancelledError:
        raise typer.Exit(OK) from None


async def _until_stopped(room: Room, *, plain: bool) -> CheckResult:
    """Check a room file; a signal to stop ends the check as well."""
    log = decision_log(TolerantStream(sys.stderr.buffer), room.name, plain=plain)
    task = asyncio.current_task()
    if task is not None:
        with suppress(NotImplementedError):  # such a system ends us without asking
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, task.cancel)
    log.info("waits", words=WAITS)
    return await checked(room.text, shown=plain)


def _say_why_not(path: Path, room: Room, found: CheckResult) -> None:
    """Say why a room is not started, and what to do; ends the command where nobody knows."""
    if not found.findings:
        print_error(
            f"{path}: {room.name} is not started, for its check did not come to an end; "
            f"try again, or start it unproven with {INSIST}"
        )
        raise typer.Exit(PROBLEMS)
    print_findings(one._replace(file=str(path)) for one in found.findings if one.fatal)
    print_error(
        f"{path}: {room.name} is not started, for check rejects it; 'roomcue check {path}' says "
        f"more, and {INSIST} starts it all the same"
    )
