"""Run roomcue's own slow commands in child processes, so that no room has to wait for them.

`roomcue check` proves a room file before it goes live. `roomcue wear` says which presets of a lens
are due for a look.
"""

from __future__ import annotations

import asyncio
import json
import os
import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple

import adapters
from rules.text.findings import Finding, Severity

COMMAND_TIMEOUT: Final = 900.0
"""Seconds that a command may take; proving the largest room file takes a fraction of them."""
MOST_FINDINGS_TOLD: Final = 5
"""How many findings of a check are told; the rest are only counted."""


class CheckResult(NamedTuple):
    """What `roomcue check` said of a room file."""

    accepted: bool
    findings: tuple[Finding, ...]
    """Empty where the check did not come to its end."""
    words: str
    """What it said besides, such as why it did not come to its end."""


async def checked(text: str, *, shown: bool = False, seconds: float | None = None) -> CheckResult:
    """Check a room file; `shown`: its progress goes to our own standard error.

    Raises TimeoutError after so many seconds; None: it may take as long as it takes.
    """
    status, out, err = await _run(text, "check", "--json", "-", shown=shown, seconds=seconds)
    said = err.decode(errors="replace").strip() or "the check ended without a word"
    try:
        found = [Finding(**one) for one in json.loads(out)["findings"]]
    except (ValueError, KeyError, TypeError):
        return CheckResult(accepted=False, findings=(), words=said)
    findings = tuple(one._replace(severity=Severity(one.severity)) for one in found)
    return CheckResult(status == 0, findings, said)


async def faults_of(text: str) -> tuple[str, ...]:
    """Check a room file, and give one sentence for each fault; no sentence if it is good."""
    try:
        result = await checked(text, seconds=COMMAND_TIMEOUT)
    except TimeoutError:
        return (f"the check has not ended within {COMMAND_TIMEOUT / 60:.0f} minutes",)
    if result.accepted:
        return ()
    wrong = [_sentence(one) for one in result.findings if one.fatal] or [result.words]
    more = len(wrong) - MOST_FINDINGS_TOLD
    return (*wrong[:MOST_FINDINGS_TOLD], *((f"and {more} more",) if more > 0 else ()))


class DuePreset(NamedTuple):
    """A preset that somebody should look at, and why."""

    preset: str
    words: str


class WearUnknownError(Exception):
    """It cannot be known whether a lens is due, and why not."""


async def due_presets(text: str, journal: Path, book: Path) -> tuple[DuePreset, ...]:
    """Say which presets of a room are due for a look; raises `WearUnknownError`.

    `journal` holds the room's travels, and `book` its measurements.
    """
    command = ("wear", "-", "--json", "--journal", str(journal), "--book", str(book))
    try:
        status, out, err = await _run(text, *command, seconds=COMMAND_TIMEOUT)
    except TimeoutError as error:
        raise WearUnknownError(f"it took more than {COMMAND_TIMEOUT / 60:.0f} minutes") from error
    try:
        presets = json.loads(out)["presets"]
        due = [one for one in presets if one["due"] == 0]
        return tuple(DuePreset(one["preset"], " ".join(one["words"])) for one in due)
    except (ValueError, KeyError, TypeError) as error:
        last = err.decode(errors="replace").strip().splitlines()[-1:]
        raise WearUnknownError(last[0] if last else f"status {status} without a word") from error


async def _run(
    text: str, *command: str, shown: bool = False, seconds: float | None = None
) -> tuple[int, bytes, bytes]:
    """Run a roomcue command with a room file on its standard input; raises TimeoutError.

    Give its exit status, its standard output and its standard error; `shown`: the latter is ours.
    """
    watched, ours = os.pipe()
    try:
        process = await asyncio.create_subprocess_exec(
            *isolated_program(watched),
            *command,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=None if shown else asyncio.subprocess.PIPE,
            process_group=0,
            pass_fds=(watched,),
        )
        os.close(watched)
        watched = -1
        return await _answer_of(process, text, seconds)
    finally:
        for end in (watched, ours):
            if end >= 0:
                os.close(end)


async def _answer_of(
    process: asyncio.subprocess.Process, text: str, seconds: float | None
) -> tuple[int, bytes, bytes]:
    try:
        async with asyncio.timeout(seconds):
            out, err = await process.communicate(text.encode())
    except (TimeoutError, asyncio.CancelledError):
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)  # a proof has processes of its own
        await process.wait()
        raise
    return process.returncode or 0, out, err or b""


def isolated_program(watched: int) -> tuple[str, ...]:
    """Give the command line of roomcue as it runs here, without its command.

    `watched` is a pipe's end, with whose other end it ends.

    It finds the modules that this process has found, those of PYTHONPATH too, and nothing else: no
    file of the working directory is taken for a module, by whatever name that is on the path.
    """
    ours = Path(adapters.__file__).parent.parent
    found = [one for one in map(Path, filter(None, sys.path)) if not _is_working_directory(one)]
    if ours not in found:
        found.insert(0, ours)  # roomcue's own folder counts, even as the working directory
    start = (
        f"import sys; sys.path[:] = {[str(one) for one in found]}; "
        f"from adapters.live.orphans import end_with_parent; end_with_parent({watched}); "
        "from adapters.cli.main import main; main()"
    )
    return sys.executable, "-I", "-c", start


def _is_working_directory(folder: Path) -> bool:
    try:
        return folder.samefile(os.curdir)
    except OSError:  # one of them is not there, so nothing of the one is found in the other
        return False


def _sentence(one: Finding) -> str:
    return f"{one.line}:{one.column}: {one.message}. {one.suggestion}"
