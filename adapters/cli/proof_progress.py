"""Show how far a proof is: a bar on a terminal, else a line of text now and then."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, Task
from rich.text import Text

from adapters.cli.console import console
from adapters.render.proof_text import progress_words

SECONDS_BETWEEN_LINES: Final = 10.0
"""How often a line says how far the proof is, where there is no terminal."""


class ProofProgress:
    """How far a proof is."""

    def __init__(self, err: Console) -> None:
        self.err = err
        """Where everything is said while the proof runs."""
        self._begun = self._explores_since = time.monotonic()
        self._done = self._known = 0

    def report(self, done: int, known: int) -> None:
        """Note that `done` of the `known` states are done."""
        if not self._known:
            self._explores_since = time.monotonic()
        self._done, self._known = done, known

    @property
    def share(self) -> tuple[int, int | None]:
        """How many states are done, and of how many; None: nobody knows yet."""
        return self._done, self._known or None

    def words(self) -> str:
        """Say how far it is, and how long it may still take."""
        now = time.monotonic()
        explored = now - self._explores_since
        return progress_words(self._done, self._known, now - self._begun, explored)


@contextmanager
def progress_shown() -> Iterator[ProofProgress]:
    """Show on standard error how far a proof is, until it ends."""
    progress = ProofProgress(console(stderr=True))
    showing = _bar(progress) if progress.err.is_terminal else _lines(progress)
    with showing:
        yield progress


class _Words(ProgressColumn):
    def __init__(self, progress: ProofProgress) -> None:
        super().__init__()
        self._progress = progress

    def render(self, task: Task) -> Text:
        """Say it anew whenever the bar is drawn."""
        task.completed, task.total = self._progress.share
        return Text(self._progress.words())


@contextmanager
def _bar(progress: ProofProgress) -> Iterator[None]:
    columns = (_Words(progress), BarColumn())
    with Progress(*columns, console=progress.err, transient=True) as bar:
        bar.add_task("proving", total=None)
        yield


@contextmanager
def _lines(progress: ProofProgress) -> Iterator[None]:
    ended = threading.Event()

    def say() -> None:
        while not ended.wait(SECONDS_BETWEEN_LINES):
            progress.err.print(progress.words(), soft_wrap=True)

    thread = threading.Thread(target=say, daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
