"""roomcue itself, as its users start it: a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Self

from tests.house.tree import TOP
from tests.live.broker import PATIENCE, until

ROOMCUE = (sys.executable, "-m", "adapters.cli")
LONGEST_WAIT = 20
"""Seconds; `tell` listens for up to three times as many."""


class Roomcue:
    """`roomcue run` with rooms, a journal and a broker."""

    insists: tuple[str, ...] = ("--unproven",)
    """It starts at once, for most stories are not about what is proven."""

    def __init__(
        self,
        rooms: Sequence[Path],
        journal: Path,
        *options: str,
        port: int | None = None,
        program: Sequence[str] = ROOMCUE,
        env: dict[str, str] | None = None,
    ) -> None:
        broker = () if port is None else ("--broker", f"mqtt://127.0.0.1:{port}")
        named = [str(room) for room in rooms]
        self.program = tuple(program)
        more = (*broker, *options, *self.insists)
        self._arguments = ["run", *named, "--journal", str(journal), *more]
        self._env = {**os.environ, "PYTHONFAULTHANDLER": "1", **(env or {})}
        self.log = journal.with_suffix(".log")
        self.log.touch()
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """See that it has ended."""
        if self.process is not None:
            self.process.kill()
            self.process.wait(PATIENCE)

    def start(self, *, ready: bool = True) -> Self:
        """Start it; `ready` waits until every room has its broker."""
        begins = self.log.stat().st_size
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*self.program, *self._arguments], stdout=log, stderr=log, cwd=TOP, env=self._env
            )
        if ready:
            until(lambda: self._ready(begins), f"roomcue is ready:\n{self.said()}")
        return self

    def _ready(self, begins: int) -> bool:
        assert self.process is not None
        assert self.process.poll() is None, self.said()
        return b"broker is there" in self.log.read_bytes()[begins:]

    def lives(self) -> bool:
        """Tell whether it has not ended."""
        assert self.process is not None
        return self.process.poll() is None

    def starved(self) -> float:
        """Give the seconds for which it could have run and got no processor; 0 where unknown."""
        assert self.process is not None
        try:
            waited = Path(f"/proc/{self.process.pid}/schedstat").read_text().split()[1]
        except (OSError, IndexError):
            return 0.0
        return int(waited) / 1e9

    def where_it_stands(self) -> str:
        """End it, and give its log with what each of its threads was at."""
        assert self.process is not None
        self.process.send_signal(signal.SIGABRT)
        self.ended()
        return self.said()

    def said(self) -> str:
        """Give its log."""
        return self.log.read_text("utf-8")

    def ended(self, patience: float = PATIENCE) -> int:
        """Wait for its end; gives the status."""
        assert self.process is not None
        return self.process.wait(patience)

    def stop(self) -> int:
        """Stop it as a service manager does."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        return self.ended()

    def kill(self) -> None:
        """End it as a power cut does."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.ended()


def prints(words: str, *arguments: str | Path) -> bool:
    """Tell whether one command prints some words, and end it as soon as it has."""
    with subprocess.Popen(
        [*ROOMCUE, *map(str, arguments)], stdout=subprocess.PIPE, text=True, cwd=TOP
    ) as process:
        assert process.stdout is not None
        printed = any(words in line for line in process.stdout)
        process.terminate()
    return printed


def tell(words: str, *arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Tell a room something that may be told again, listening longer until certain words come."""
    wait = 1
    while True:
        told = roomcue("tell", *arguments, "--wait", str(wait))
        if words in told.stdout + told.stderr or wait > LONGEST_WAIT:
            return told
        wait *= 3


def roomcue(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run one command to its end."""
    return subprocess.run(
        [*ROOMCUE, *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
        cwd=TOP,
    )
