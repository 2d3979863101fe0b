"""Every command that is given another kind of file says in one sentence which, and what to give."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from adapters.cli.command_group import app
from adapters.cli.live_commands import address_of
from adapters.live.journal import Journal
from simulator.shipped import DEMO_NIGHT, DEMO_ROOM

ROOM, NIGHT = str(DEMO_ROOM), str(DEMO_NIGHT)
READ = ("--preset", "tall", "--edges", "1 0 1 0 mm", "--error", "0.5 mm")
BROKER = ("--broker", "mqtt://nobody@localhost:1")
FILE = "FILE"
COMMANDS: dict[str, tuple[str, ...]] = {
    "replay": ("replay", FILE),
    "replay --room": ("replay", NIGHT, "--room", FILE),
    "replay --decisions": ("replay", NIGHT, "--verify", "--decisions", FILE),
    "replay --decisions, skipping": (
        *("replay", NIGHT, "--verify", "--decisions", FILE, "--skip-bad-lines"),
    ),
    "why": ("why", FILE, "--at", "21:00"),
    "why --room": ("why", NIGHT, "--at", "21:00", "--room", FILE),
    "report": ("report", FILE, "--out", "never.html"),
    "report --room": ("report", NIGHT, "--room", FILE, "--out", "never.html"),
    "settle": ("settle", FILE),
    "settle, skipping": ("settle", FILE, "--skip-bad-lines"),
    "invent": ("invent", FILE),
    "check": ("check", FILE),
    "plan": ("plan", FILE),
    "testcard": ("testcard", FILE, "--out", "never.png"),
    "papers": ("papers", FILE, "--out", "never"),
    "papers --book": ("papers", ROOM, "--out", "never", "--book", FILE),
    "run": ("run", FILE, "--stdin"),
    "run --journal": ("run", ROOM, "--stdin", "--journal", FILE),
    "run --password-file": ("run", ROOM, *BROKER, "--password-file", FILE),
    "run --ca": ("run", ROOM, "--broker", "mqtts://localhost:1", "--ca", FILE),
    "run --page-people": (
        *("run", ROOM, "--embedded", "--port", "18831"),
        *("--page", "127.0.0.1:18832", "--page-people", FILE),
    ),
    "topics": ("topics", FILE),
    "export": ("export", "--journal", FILE, "--out", "never.jsonl"),
    "remembered": ("remembered", "--journal", FILE),
    "page": ("page", FILE),
    "page --people": ("page", ROOM, "--people", FILE),
    "invite": ("invite", "--people", FILE),
    "invite somebody": ("invite", "Bo", "--people", FILE),
    "rehearse": ("rehearse", FILE),
    "rehearse an evening": ("rehearse", ROOM, FILE),
    "align": ("align", FILE, *READ),
    "align --book": ("align", ROOM, *READ, "--book", FILE),
    "wear": ("wear", FILE),
    "wear --book": ("wear", ROOM, "--night", NIGHT, "--book", FILE),
    "wear --journal": ("wear", ROOM, "--journal", FILE),
    "wear --night": ("wear", ROOM, "--night", FILE),
    "visit": ("visit", FILE),
    "visit --book": ("visit", ROOM, "--book", FILE),
}
ROOMS_OF = ("replay --room", "why --room", "report --room")
NIGHTS = ("replay", "why", "report", "wear --night")
BOOKS = ("papers --book", "align --book", "wear --book", "visit --book")
JOURNALS = ("run --journal", "export", "remembered", "wear --journal")
PEOPLE = ("run --page-people", "page --people", "invite", "invite somebody")
DECISIONS = ("replay --decisions", "replay --decisions, skipping")
READINGS = ("settle", "settle, skipping")
MEANT: dict[str, tuple[str, str]] = {
    **dict.fromkeys(COMMANDS, ("a room file", "'roomcue new' writes one")),
    **dict.fromkeys(NIGHTS, ("a night", "'roomcue export' and 'invent' write nights")),
    **dict.fromkeys(BOOKS, ("a book of measurements", "'roomcue align' writes one")),
    **dict.fromkeys(JOURNALS, ("a journal", "'roomcue run' writes one")),
    **dict.fromkeys(PEOPLE, ("a list of people", "'roomcue invite' writes one")),
    **dict.fromkeys(DECISIONS, ("a file of decisions", 'a line is {"t": 12.5, "decision": {...}}')),
    **dict.fromkeys(READINGS, ("a file of readings", 'a line is {"t": 12.5, "bars": ')),
    "rehearse an evening": (
        "a night or a script of an evening",
        "'roomcue export' and 'invent' write nights",
    ),
    "run --password-file": (
        "a file with a password alone",
        "write the password into a file of its own",
    ),
    "run --ca": ("a PEM file", "whoever signed the broker's certificate gives one"),
}
"""What each command means where it is given `FILE`, and where that comes from."""
KINDS: dict[str, str] = {
    "room": "a room file",
    "night": "a night",
    "packed": "a night",
    "book": "a book of measurements",
    "journal": "a journal",
    "people": "a list of people",
    "decisions": "a file of decisions",
    "readings": "a file of readings",
    "script": "a script of an evening",
    "topics": "an AsyncAPI document",
    "schema": "a JSON Schema",
    "report": "an HTML page",
    "drawing": "a drawing",
    "card": "a PNG picture",
    "states": "a diagram of states",
    "ca": "a PEM file",
}
"""What each file is called."""
MIXED_UP = [
    (command, given)
    for command, (meant, _) in MEANT.items()
    for given, called in KINDS.items()
    if called not in meant.split(" or ")
]


READING = b'{"t": %d.5, "bars": {"top": %d, "bottom": 138, "left": 0, "right": 0}}\n'


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """One file of each kind, written by roomcue itself where it writes such files."""
    folder = tmp_path_factory.mktemp("kinds")
    Journal(folder / "journal").close()
    assert run("invite", "Ana", "--people", folder / "people").exit_code == 0
    assert run("testcard", DEMO_ROOM, "--out", folder / "card.png").exit_code == 0
    assert run("plan", DEMO_ROOM, "--pictures", folder / "drawings").exit_code == 0
    assert run("report", DEMO_NIGHT, "--out", folder / "report.html").exit_code == 0
    for _ in range(2):
        assert run("align", DEMO_ROOM, *READ, "--book", folder / "book").exit_code == 0
    (drawing, *_) = sorted((folder / "drawings").iterdir())
    return {
        "room": DEMO_ROOM.read_bytes(),
        "night": DEMO_NIGHT.read_bytes(),
        "packed": gzip.compress(DEMO_NIGHT.read_bytes()),
        "book": (folder / "book").read_bytes(),
        "journal": (folder / "journal").read_bytes(),
        "people": (folder / "people").read_bytes(),
        "decisions": (DEMO_NIGHT.parent / "evening.decisions.jsonl").read_bytes(),
        "readings": READING % (1, 138) + READING % (2, 132),
        "script": b"# An evening.\n\n20:30 source disc\n",
        "topics": run("topics").stdout.encode(),
        "schema": run("schema").stdout.encode(),
        "report": (folder / "report.html").read_bytes(),
        "drawing": drawing.read_bytes(),
        "card": (folder / "card.png").read_bytes(),
        "states": run("states").stdout.encode(),
        "ca": b"-----BEGIN CERTIFICATE-----\nMIIB\n-----END CERTIFICATE-----\n",
    }


@pytest.mark.parametrize(("command", "given"), MIXED_UP)
def test_what_is_given_is_named_and_what_is_meant(
    command: str,
    given: str,
    files: dict[str, bytes],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    meant, instead = MEANT[command]
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "given"
    file.write_bytes(files[given])
    done = run(*(file if word == FILE else word for word in COMMANDS[command]))
    assert done.exit_code == 2, done.output
    (said,) = done.output.splitlines()
    what = "a journal or another database" if given == "journal" else KINDS[given]
    assert f"this is {what}, and {meant} is meant here" in said
    assert instead in said
    assert file.read_bytes() == files[given]
    assert [one.name for one in tmp_path.iterdir()] == ["given"]


@pytest.mark.parametrize(
    "password",
    [
        *("room:under-the-roof", "room: attic", "12:30 x", "# 7:15 am", "{", "-----BEGIN me"),
        *(
            '{"people": 5}',
            '{"t": 1, "bars": 2}',
            "stateDiagram",
            "<svg",
            "<!doctype html",
            "SQLite",
        ),
    ],
)
@pytest.mark.parametrize("end", ["", "\n", "\r\n"])
def test_a_password_may_be_anything(password: str, end: str, tmp_path: Path) -> None:
    """It is a line: nobody may say that it looks like something else."""
    file = tmp_path / "password"
    file.write_text(password + end, newline="")
    address = address_of("mqtt://roomcue@localhost", None, file)
    assert address.password == password
