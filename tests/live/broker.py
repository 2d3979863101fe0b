"""A real mosquitto on a free port, which can be stopped, killed and started again."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple, Self

PATIENCE = 300.0
"""Seconds to wait for what must come: a last resort, so long that a busy machine never meets it."""
PROGRAM = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
SMALL = ("allow_anonymous true", "set_tcp_nodelay true")


def free_port() -> int:
    """Give a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until(true: object, words: str, patience: float = PATIENCE) -> None:
    """Wait until a callable gives something true; AssertionError after a while."""
    ends = time.monotonic() + patience
    while not (callable(true) and true()):
        assert time.monotonic() < ends, f"this did not come about: {words}"
        time.sleep(0.005)


class Port(NamedTuple):
    """Where a broker listens on this machine, whatever its make."""

    port: int


class Mosquitto:
    """A broker in a folder of its own."""

    def __init__(
        self,
        folder: Path,
        lines: Iterable[str] = SMALL,
        *,
        keeps: bool = False,
        traces: bool = True,
    ) -> None:
        """`lines` are the configuration but for port and user; `keeps`: over its own restarts.

        `traces`: it logs every packet, which no broker of an evening does: its log waits for the
        same disk as the journal.
        """
        self.folder, self.port = folder, free_port()
        self._options = ("-v",) if traces else ()
        folder.mkdir(parents=True, exist_ok=True)
        self.log = folder / "log"
        keeping = ("persistence true", f"persistence_location {folder}/", "autosave_interval 1")
        text = [f"listener {self.port} 127.0.0.1", *lines]
        if os.geteuid() == 0:
            text.append("user root")
        if keeps:
            text += [*keeping, "autosave_on_changes true"]
        (folder / "conf").write_text("\n".join([*text, ""]))
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        """Start it and wait until it takes connections."""
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [PROGRAM, *self._options, "-c", self.folder / "conf"], stdout=log, stderr=log
            )
        until(self._answers, f"mosquitto listens; it says:\n{self.log.read_text()[-2_000:]}")

    def stop(self) -> None:
        """Stop it as its service manager would."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it without a word."""
        self._end(signal.SIGKILL)

    def pause(self) -> None:
        """Let it stand still, with its connections open."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """Let it go on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def processor_seconds(self) -> float:
        """Give the processor time that it has used; Linux counts it in nanoseconds."""
        assert self._process is not None
        return int(Path(f"/proc/{self._process.pid}/schedstat").read_text().split()[0]) / 1e9

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(PATIENCE)
            self._process = None

    def client_id(self, room: str) -> str:
        """Give the client id under which a room came last, as the log shows it."""
        return str(re.findall(rf"as (roomcue-{room}-[0-9a-f]+) ", self.log.read_text())[-1])

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self.log.read_text()[-2_000:]
        try:
            socket.create_connection(("127.0.0.1", self.port), 1).close()
        except OSError:
            return False
        return True
