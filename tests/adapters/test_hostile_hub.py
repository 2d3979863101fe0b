"""What a broken or hostile hub, disk or clock may do to a room, on a staged clock."""

from __future__ import annotations

import json
import os
import resource
import signal
import sqlite3
from functools import partial
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.messages import EVENTS_FROM_OUTSIDE, InboundMessage
from engine.events import Answer, Mark, Playback, ProjectorReport, SourceChosen, ToldFact
from engine.snapshot import encode
from tests.adapters.hayloft import AT_BROAD, HAYLOFT
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS

FILM = (ProjectorReport(state="lit"), SourceChosen(source="disc"), Playback(state="playing"))
MEGABYTE = 1_000_000
SOURCE = '{"source": "disc"}'


@pytest.mark.parametrize("kind", sorted(EVENTS_FROM_OUTSIDE))
def test_a_payload_of_a_megabyte_is_refused_whatever_it_says(kind: str, tmp_path: Path) -> None:
    """It is told in a short sentence, and no byte of it reaches the journal."""
    topic = f"{kind}/guests" if kind == "told" else kind
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        before = encode(stage.durable.engine.state)
        for payload in (b"x" * MEGABYTE, b'{"a":' + b"[" * MEGABYTE, b" " * MEGABYTE + b"{}"):
            answer = stage.durable.take([InboundMessage(topic, payload)])
            ((refused, *_),) = answer.refusals
            assert refused.code == "too_long"
            assert len(refused.words) < 200
        assert encode(stage.durable.engine.state) == before
        assert stage.path.stat().st_size < MEGABYTE


@pytest.mark.parametrize(
    "payload",
    [
        SOURCE.encode("utf-16"),
        SOURCE.encode("utf-16-le"),
        SOURCE.encode("utf-32"),
        '{"source": "d\xefsc"}'.encode("latin-1"),
        b'{"source": "disc\x00"}',
        b"\x1f\x8b\x08\x00" + SOURCE.encode(),
        b"disc",
        b'"disc"',
        b"source=disc",
        b"<source>disc</source>",
    ],
)
def test_a_payload_in_another_encoding_is_refused_with_a_sentence(
    payload: bytes, tmp_path: Path
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        answer = stage.durable.take([InboundMessage("source", payload)])
        ((refused, *_),) = answer.refusals
        assert refused.code == "malformed"
        assert refused.words.isprintable()
        assert stage.durable.engine.state.core.source is None


@pytest.mark.parametrize(
    ("first", "then", "taken"),
    [
        ("20:00:00+01:00", "19:00:01Z", True),
        ("20:00:00+01:00", "18:59:59Z", False),
        ("20:00:00+05:45", "15:15:00+01:00", True),
        ("20:00:00-09:30", "2026-11-21T05:29:59.999Z", False),
        ("19:00:00Z", "19:00:00.000001+00:00", True),
        ("19:00:00z", "19:00:00+00:00", True),
        ("23:59:59-00:00", "2026-11-21T00:00:00Z", True),
    ],
)
def test_moments_in_other_zones_are_compared_as_moments(
    *, first: str, then: str, taken: bool, tmp_path: Path
) -> None:
    """An equal moment is taken; an earlier one is not, whatever its digits say."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS + 86_400_000) as stage:
        for state, at in (("lit", first), ("off", then)):
            day = "" if "T" in at else "2026-11-20T"
            body = json.dumps({"state": state, "at": f"{day}{at}"}).encode()
            stage.note(stage.durable.take([InboundMessage("projector", body)]))
        assert stage.refusals == ([] if taken else ["stale"])
        assert stage.durable.engine.state.core.projector == ("off" if taken else "lit")


@pytest.mark.parametrize("at", ["20:00", "2026-11-20T20:00:00", "2026-13-40T00:00:00Z", "now", 0])
def test_a_moment_that_nobody_can_place_is_refused(at: object, tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        body = json.dumps({"state": "lit", "at": at}).encode()
        stage.note(stage.durable.take([InboundMessage("projector", body)]))
        assert stage.refusals == ["malformed"]


def test_one_id_for_two_things_counts_for_the_first(tmp_path: Path) -> None:
    """In one batch, over a restart, whoever sends it; what was refused has used none up."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(SourceChosen(source="nonesuch", id="1"))
        stage.hear(SourceChosen(source="disc", id="1"), Playback(state="playing", id="1"))
        stage.restart()
        stage.hear(ToldFact(fact="guests", value=True, id="1"))
        assert stage.refusals == ["unknown_name", "repeated", "repeated"]
        core = stage.durable.engine.state.core
        assert (core.source, core.playback) == ("disc", "unknown")


# --------------------------------------------------------------------------------- the disk


def test_a_disk_that_is_full_in_the_middle_of_a_commit_keeps_all_of_a_step_or_nothing(
    tmp_path: Path,
) -> None:
    """Wherever the write breaks off: at each length of the file the same word is taken later."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*FILM, AT_BROAD)
        failed = 0
        for number, room_left in enumerate(range(0, 6_000, 250)):
            stage.clock.time += 1_000
            word = Mark(words=f"word {number} " + "x" * 300, id=f"w{number}")
            log = path.with_name("journal-wal").stat().st_size
            before = stage.durable.engine.state
            resource.setrlimit(resource.RLIMIT_FSIZE, (log + room_left, hard))
            try:
                stage.hear(word)
            except JournalError:
                failed += 1
                assert stage.durable.engine.state is before
            finally:
                resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
            if stage.durable.engine.state is before:
                stage.hear(word)
        assert failed > 3
        assert stage.refusals == []
        stage.restart()
        lines = stage.lines()
        assert sum(b'"kind":"mark"' in line for line in lines) == number + 1
        assert differences(HAYLOFT, lines) == []


def killed_at(statement: int, path: Path) -> bool:
    """Open a journal in a child that dies before its n-th statement; False: it came to its end."""
    child = os.fork()
    if child == 0:
        left = statement

        class Dying(sqlite3.Connection):
            def execute(self, sql: str, *given: object) -> sqlite3.Cursor:
                nonlocal left
                left -= 1
                if left == 0:
                    os.kill(os.getpid(), signal.SIGKILL)
                return super().execute(sql, *given)  # type: ignore[arg-type]

        with patch.object(sqlite3, "connect", partial(sqlite3.connect, factory=Dying)):
            Journal(path)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def test_a_journal_that_was_being_brought_up_to_date_as_roomcue_was_killed_is_whole(
    tmp_path: Path,
) -> None:
    """Before each single statement of it; the next start goes on where that one was cut short."""
    old = tmp_path / "old"
    with staged(HAYLOFT, old, BEGINS) as stage:
        stage.hear(*FILM, AT_BROAD)
        stage.durable.record.flush()
        lines = stage.lines()
    with sqlite3.connect(old) as base:  # as a roomcue before packs and epochs left it
        base.execute("DROP TABLE packs")
        for column in ("client", "epoch", "boot", "ahead", "doubt", "begun"):
            base.execute(f"ALTER TABLE rooms DROP COLUMN {column}")
        for column in ("waiting", "receipts"):
            base.execute(f"ALTER TABLE lines DROP COLUMN {column}")
        base.execute("PRAGMA user_version = 4")
    base.close()
    bytes_of_old, statement = old.read_bytes(), 1
    while True:
        path = tmp_path / f"journal{statement}"
        path.write_bytes(bytes_of_old)
        if not killed_at(statement, path):
            break
        with staged(HAYLOFT, path, BEGINS + 60_000) as stage:
            assert stage.lines()[1:] == lines[1:]
            assert stage.durable.engine.state.core.source == "disc"
        statement += 1
    assert statement > 12


# -------------------------------------------------------------------------------- the clock


def at_the_screen(stage: Stage) -> int:
    """Somebody fits panels, in the dark; gives how long they have yet, in ms."""
    stage.hear(*FILM, AT_BROAD)
    told = [
        InboundMessage("panels", b'{"panels":"open"}'),
        InboundMessage("title", b'{"begun":true,"declared":1.78}'),
        InboundMessage("ratio", b'{"ratio":1.78}'),
    ]
    stage.note(stage.durable.take(told))
    stage.pass_to(BEGINS + 180_000)
    asked = stage.durable.engine.state.core.asked
    assert asked is not None
    stage.hear(Answer(prompt=asked.id, answer="ready", who="Ana"))
    ends = stage.durable.engine.state.core.timers.give_up
    assert ends is not None
    return ends - stage.clock.time


@pytest.mark.parametrize("hours", [-3, -26, 3])
def test_a_clock_that_leaps_during_a_prompt_gives_nobody_less_time_or_more(
    hours: int, tmp_path: Path
) -> None:
    """Whoever is at the screen is not lit early, nor left in the dark for hours."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        left = at_the_screen(stage)
        stage.clock.set(hours * 3_600_000)
        stage.note(stage.durable.pass_time())
        begun = stage.clock.time
        core = stage.durable.engine.state.core
        assert core.asked is not None
        assert core.timers.give_up == begun + left
        stage.pass_to(begun + left - 1)
        assert stage.durable.engine.state.core.asked is not None
        stage.all_taken()
        stage.pass_to(begun + left)
        assert stage.durable.engine.state.core.asked is None
