"""Ctrl-C ends every command quietly, whatever it meets on its way."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from simulator.shipped import DEMO_ROOM
from tests.live.broker import PATIENCE

BEGUN = (
    "import os, signal\n"
    "from unittest import mock\n"
    "from adapters.cli import command_group, main\n"
    "def interrupted():\n"
    "    os.kill(os.getpid(), signal.SIGINT)\n"
    "    for _ in range(1_000_000): pass\n"
)
ENDED = "with mock.patch.object(command_group, 'app', app):\n    main.main()\n"
"""A command in place of ours, which interrupts itself."""


def ended(app: str) -> tuple[int, bytes, bytes]:
    """Give the status of a command, and what it has printed."""
    command = [sys.executable, "-c", BEGUN + app + ENDED]
    done = subprocess.run(command, capture_output=True, check=False, timeout=PATIENCE)
    return done.returncode, done.stdout, done.stderr


def test_an_interrupt_leaves_no_mess(tmp_path: Path) -> None:
    night = tmp_path / "long.jsonl"
    command = [sys.executable, "-m", "adapters.cli", "invent", str(DEMO_ROOM), "--minutes", "300"]
    with subprocess.Popen(
        [*command, "--readings", "60", "--titles", "20", "--out", str(night)],
        stderr=subprocess.PIPE,
    ) as process:
        part = night.with_name("long.jsonl.part")
        while not part.exists() and process.poll() is None:
            time.sleep(0.005)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate()
    assert process.returncode == 130
    assert b"Traceback" not in errors
    assert not night.exists()
    assert not part.exists()


def test_an_interrupt_that_a_library_turns_into_an_error_is_still_an_interrupt() -> None:
    turned = (
        "def app():\n"
        "    try: interrupted()\n"
        "    except KeyboardInterrupt as error:\n"
        "        raise ValueError('cannot be built: KeyboardInterrupt') from error\n"
    )
    assert ended(turned) == (130, b"", b"")


@pytest.mark.parametrize("lost", ["pass", "gone_on()"])
def test_an_interrupt_that_a_library_loses_comes_once_more(lost: str) -> None:
    loses = (
        "def gone_on():\n"
        "    try: raise ValueError\n"
        "    except ValueError: pass\n"
        "def app():\n"
        "    try: interrupted()\n"
        f"    except KeyboardInterrupt: {lost}\n"
        "    while True: pass\n"
    )
    assert ended(loses) == (130, b"", b"")


@pytest.mark.parametrize("turned", ["pass", "raise ValueError"])
def test_no_interrupt_comes_once_more_while_one_is_heard(turned: str) -> None:
    """What it passes on its way is tidied up to the end."""
    tidies = (
        "def app():\n"
        "    try:\n"
        "        try: interrupted()\n"
        f"        finally: {turned}\n"
        "    finally:\n"
        "        os.kill(os.getpid(), signal.SIGALRM)\n"
        "        for _ in range(1_000_000): pass\n"
        "        print('tidied')\n"
    )
    assert ended(tidies) == (130, b"tidied\n", b"")


def test_an_interrupt_while_modules_are_still_loading_leaves_no_mess() -> None:
    begun = (
        "import os, signal, sys\n"
        "from importlib.abc import MetaPathFinder\n"
        "class Interrupts(MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'typer': os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Interrupts())\n"
        "from adapters.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", begun], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (130, b"")
