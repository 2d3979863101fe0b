"""A finished check is remembered, and nothing else is ever taken for it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from adapters.cli import remembered_checks
from adapters.cli.memory_folder import FOLDER_VARIABLE, OFF, hash_of_source
from adapters.cli.remembered_checks import recall, recall_all, remember
from adapters.render.proof_report import BreakingEvening, EveningEvent, ProofReport, ReportedFault
from engine.events import BarsSeen, Event, Override, OverrideLook, Signal, Title, ToldFact
from rules.text.findings import Finding, Severity
from tests.adapters.vouching import PROVEN

TEXT = "room: den\n"
EVENTS: tuple[Event, ...] = (
    Title(begun=True, declared=2.39, id="hub-1"),
    BarsSeen(top=138, bottom=0, left=0, right=0, columns=1920, rows=1080),
    Signal(locked=True, columns=3840, rows=2160, range="high"),
    ToldFact(fact="guests", value=True),
    Override(taken=True, until="title", look=OverrideLook(preset="tall")),
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the memory a folder of its own, which is not there yet."""
    named = tmp_path / "some" / "proofs"
    monkeypatch.setenv(FOLDER_VARIABLE, str(named))
    return named


def broken() -> tuple[Finding, ProofReport]:
    """Find two promises broken: one by an evening, one by a way through the states."""
    happened = tuple(EveningEvent(1_000 * at, event) for at, event in enumerate(EVENTS))
    evening = BreakingEvening(happened, 9_000, fewest=True)
    fault = ReportedFault("promise-broken", True, "mine", 3, "it breaks", "Mend it.", evening, ())
    other = replace(fault, promise="yours", evening=None, path=("the lens arrives",))
    finding = Finding(Severity.ERROR, "promise-broken", "den.yaml", 3, 1, "it breaks", "Mend it.")
    return finding, replace(PROVEN, faults=(fault, other))


def test_what_was_found_comes_back_whole_under_the_files_new_name() -> None:
    finding, proof = broken()
    assert recall(TEXT) is None
    remember(TEXT, (finding,), proof)
    known = recall(TEXT)
    assert known is not None
    assert known.proof == proof
    assert known.findings_in("attic.yaml") == (finding._replace(file="attic.yaml"),)


def test_another_text_and_another_version_are_other_checks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    remember(TEXT, (), PROVEN)
    assert recall(TEXT + "\n") is None
    monkeypatch.setattr(remembered_checks, "roomcue_version", lambda: "99.0.0")
    assert recall(TEXT) is None


def test_code_that_has_changed_never_finds_an_old_proof(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a proof rests on is hashed, file by file."""
    module = tmp_path / "changing" / "room" / "lens.py"
    module.parent.mkdir(parents=True)
    (tmp_path / "changing" / "__init__.py").touch()
    module.write_text("TRAVEL = 18\n")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(remembered_checks, "CODE", ("changing",))
    remember(TEXT, (), PROVEN)
    assert recall(TEXT) is not None
    module.write_text("TRAVEL = 19\n")
    assert recall(TEXT) is None
    before = hash_of_source(("changing",))
    module.rename(module.with_name("zoom.py"))
    assert hash_of_source(("changing",)) != before
    before = hash_of_source(("changing",))
    module.with_name("en.ftl").write_text("note-lens = The lens.", "utf-8")
    assert hash_of_source(("changing",)) != before


def test_the_code_of_engine_rules_and_proof_counts() -> None:
    hashes = {hash_of_source((one,)) for one in remembered_checks.CODE}
    assert {"engine", "rules", "simulator"} < {*remembered_checks.CODE}
    assert len(hashes) == len(remembered_checks.CODE)
    assert hash_of_source(()) not in hashes


def test_the_code_is_looked_at_once_for_all_rooms_of_a_start(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A thousand rooms would otherwise spend most of their start on reading it."""
    remember(TEXT, (), PROVEN)
    looks: list[object] = []

    def counted(packages: tuple[str, ...]) -> str:
        looks.append(packages)
        return hash_of_source(packages)

    monkeypatch.setattr(remembered_checks, "hash_of_source", counted)
    known = recall_all([TEXT, "room: attic\n", TEXT])
    assert [one is not None for one in known] == [True, False, True]
    assert len(looks) == 1


@pytest.mark.parametrize("rubbish", [b"", b"{", b"[]", b'{"key": "0"}', b"\xff" * 40, b"null"])
def test_a_file_that_is_not_ours_counts_as_none_and_is_written_over(
    folder: Path, rubbish: bytes
) -> None:
    remember(TEXT, (), PROVEN)
    (page,) = folder.iterdir()
    page.write_bytes(rubbish)
    assert recall(TEXT) is None
    remember(TEXT, (), PROVEN)
    assert recall(TEXT) is not None
    assert [*folder.iterdir()] == [page]


def test_the_proof_of_another_file_under_this_ones_name_counts_as_none(folder: Path) -> None:
    remember(TEXT, (), PROVEN)
    (mine,) = folder.iterdir()
    remember("room: attic\n", (), PROVEN)
    (other,) = set(folder.iterdir()) - {mine}
    mine.write_bytes(other.read_bytes())
    assert recall(TEXT) is None


def test_without_a_place_to_write_nothing_is_remembered_and_nothing_fails(folder: Path) -> None:
    folder.parent.mkdir()
    folder.write_text("a file, where a folder is asked for")
    remember(TEXT, (), PROVEN)
    assert recall(TEXT) is None
    assert folder.read_text() == "a file, where a folder is asked for"


def test_the_memory_can_be_switched_off(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, OFF)
    remember(TEXT, (), PROVEN)
    assert recall(TEXT) is None
    assert not folder.exists()
    assert not Path(OFF).exists()


def test_unless_a_folder_is_named_it_lies_with_the_users_other_caches(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(FOLDER_VARIABLE)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for caches, place in ((None, "home/.cache/roomcue"), (tmp_path / "caches", "caches/roomcue")):
        if caches is not None:
            monkeypatch.setenv("XDG_CACHE_HOME", str(caches))
        else:
            monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
        remember(TEXT, (), PROVEN)
        assert len([*(tmp_path / place).iterdir()]) == 1


@pytest.mark.parametrize("unfinished", [{"complete": False}, {"complete": False, "stopped": True}])
def test_a_proof_that_is_not_finished_is_not_remembered(unfinished: dict[str, bool]) -> None:
    remember(TEXT, (), replace(PROVEN, **unfinished))  # type: ignore[arg-type]
    assert recall(TEXT) is None


def test_the_oldest_checks_are_forgotten(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembered_checks, "MOST_REMEMBERED", 3)
    for number in range(5):
        remember(f"room: den{number}\n", (), PROVEN)
    assert len([*folder.iterdir()]) == 3
    assert recall("room: den4\n") is not None
