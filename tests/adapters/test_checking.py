"""What takes long is done in a process of its own, and not for ever."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from adapters.live import child_commands as checking
from adapters.live.child_commands import WearUnknownError, due_presets, faults_of
from simulator.shipped import CELLAR, DEMO_ROOM
from tests.adapters.vouching import vouch_for
from tests.house.tree import TOP
from tests.live.broker import until

TEXT = CELLAR.read_text("utf-8")


async def test_a_file_without_a_fault_has_none_and_another_says_where() -> None:
    assert await faults_of(TEXT) == ()
    (fault,) = await faults_of(TEXT.replace("time_zone:", "time_zoen:", 1))
    assert "Did you mean time_zone?" in fault


async def test_a_file_that_was_proven_before_is_not_proven_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The memory vouches for a file in which a proof would find a fault: it is believed."""
    stretched = TEXT.replace("picture: whole, lift: 0 %", "lift: 0 %", 1)
    assert "menus plain does not hold" in (await faults_of(stretched))[0]
    for name, folder in vouch_for(stretched, tmp_path / "proofs").items():
        monkeypatch.setenv(name, folder)
    assert await faults_of(stretched) == ()


async def test_a_command_that_does_not_end_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checking, "COMMAND_TIMEOUT", 0.01)
    (fault,) = await faults_of(TEXT)
    assert "has not ended" in fault
    with pytest.raises(WearUnknownError, match="it took more than"):
        await due_presets(TEXT, tmp_path / "journal", tmp_path / "book")


async def test_where_nobody_can_say_whether_a_lens_is_due_the_reason_is_told(
    tmp_path: Path,
) -> None:
    with pytest.raises(WearUnknownError, match="there is no such journal"):
        await due_presets(TEXT, tmp_path / "journal", tmp_path / "book")


@pytest.mark.parametrize("named", ["here", "link", "link/../here/adapters/.."])
async def test_nothing_in_the_working_directory_is_run_by_a_check(
    named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files there may have the names of modules, whatever the folder's own name on the path is."""
    for name, folder in vouch_for(TEXT, tmp_path / "proofs").items():
        monkeypatch.setenv(name, folder)
    for name in ("yaml.py", "typing.py", "adapters/__init__.py", "rules/__init__.py"):
        planted = tmp_path / "here" / name
        planted.parent.mkdir(parents=True, exist_ok=True)
        planted.write_text("raise SystemExit('run by the check')\n")
    (tmp_path / "link").symlink_to(tmp_path / "here")
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.syspath_prepend(tmp_path / named)
    assert await faults_of(TEXT) == ()


async def test_a_file_is_checked_though_the_working_directory_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, folder in vouch_for(TEXT, tmp_path / "proofs").items():
        monkeypatch.setenv(name, folder)
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    assert await faults_of(TEXT) == ()


CHECKING = """
import asyncio, sys
from adapters.live.child_commands import checked
asyncio.run(checked(sys.stdin.read()))
"""


def working(group: int) -> set[int]:
    """Give the processes of a group that have not ended."""
    found = set()
    for process in Path("/proc").glob("[0-9]*"):
        try:
            state, _, its_group = (process / "stat").read_text().rsplit(")", 1)[1].split()[:3]
        except OSError:
            continue  # it has ended meanwhile
        if int(its_group) == group and state not in "ZX":
            found.add(int(process.name))
    return found


def child_of(parent: int) -> int | None:
    """Give the process that another has started, once it leads a group of its own."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            _, its_parent, its_group = (process / "stat").read_text().rsplit(")", 1)[1].split()[:3]
        except OSError:
            continue
        if int(its_parent) == parent and its_group == process.name:
            return int(process.name)
    return None


@pytest.mark.skipif(
    sys.platform != "linux", reason="only Linux lists in /proc which processes a process has begun"
)
def test_a_check_ends_with_roomcue_even_where_that_is_killed(tmp_path: Path) -> None:
    """The proof of a large room file would fill both processors for minutes, for nobody."""
    folders = {"XDG_CACHE_HOME": str(tmp_path), "PYTHONPATH": str(TOP)}
    with subprocess.Popen(
        [sys.executable, "-c", CHECKING],
        stdin=subprocess.PIPE,
        env=os.environ | folders,
        cwd=tmp_path,
    ) as roomcue:
        assert roomcue.stdin is not None
        roomcue.stdin.write(DEMO_ROOM.read_bytes())
        roomcue.stdin.close()
        until(lambda: child_of(roomcue.pid), "the check has begun")
        group = child_of(roomcue.pid)
        assert group is not None
        until(lambda: len(working(group)) > 1 or os.cpu_count() == 1, "it proves")
        roomcue.send_signal(signal.SIGKILL)
        until(lambda: not working(group), "it has ended, with all its processes")
