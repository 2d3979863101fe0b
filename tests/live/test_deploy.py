"""What is shipped for every evening works as it is: the broker, its rights, the service."""

from __future__ import annotations

import json
import os
import shlex
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator, Sequence
from configparser import RawConfigParser
from contextlib import ExitStack
from pathlib import Path

import pytest

from adapters.cli.exit_status import UNUSABLE
from adapters.cli.live_commands import PASSWORD
from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    MOST_ROOM_FILE_BYTES,
    ROOM_FILE_TOPIC,
    STATE_TOPIC,
    TOLD_TOPIC,
)
from adapters.live.publish_properties import SESSION_EXPIRY
from simulator.shipped import DEMO_ROOM
from tests.adapters.vouching import vouch_for
from tests.live.broker import PATIENCE, until
from tests.live.shipped_house import (
    CONFIGURATION,
    SHIPPED,
    House,
    publish_as_shipped,
    shipped_house,
)
from tests.live.strangers import Listener, Message

UNIT = (SHIPPED / "roomcue.service").read_text("utf-8")
REFUSED = 135
"""Not authorized: MQTT 5.0, 3.2.2.2 and 3.4.2.1 (memory)."""

TOPICS_IN = {*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC, STATE_TOPIC} - {TOLD_TOPIC}
IN = {f"in/{kind}" for kind in TOPICS_IN} | {"in/told/guests"}
OUT = {f"out/{subtopic}" for subtopic in ("order", "ask", "reply", "standing", "reason", "alive")}
NOBODY = {"in", "in/time", "in/resumed", "in/told", "in/told/guests/more", "in/override/more"}
"""What roomcue takes from nobody."""
WISHES = {"in/answer", "in/override", "in/undo", "in/find_lens", "in/forget", "in/helper"}
HUB = IN - WISHES - {"in/room", "in/service"}
MAY_SAY = {
    "roomcue": OUT,
    "hub": HUB,
    "person": {*WISHES, "in/mark", "in/state", "in/told/guests"},
    "integrator": HUB | {"in/room", "in/service"},
    "viewer": set[str](),
}
MAY_HEAR = {
    "roomcue": IN | {"out/alive", "out/standing"},
    "hub": OUT,
    "person": {"out/ask", "out/reply", "out/reason", "out/standing", "out/alive"},
    "integrator": OUT,
    "viewer": {"out/standing", "out/alive"},
}


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Start the broker as the shipped files have it."""
    with shipped_house(tmp_path_factory.mktemp("house")) as house:
        yield house


# ---------------------------------------------------------------------------------- the rights


def test_every_topic_is_somebodys_to_say_and_somebodys_to_hear() -> None:
    assert set.union(*MAY_SAY.values()) == IN | OUT
    assert set.union(*MAY_HEAR.values()) == IN | OUT


@pytest.mark.parametrize("user", MAY_SAY)
def test_a_user_says_what_is_granted_and_nothing_else(house: House, user: str) -> None:
    """MQTT 5.0, 3.4.2.1: who may not is told by reason 0x87, and nobody else hears of it."""
    room = f"roomcue/said-by-{user}"
    with (
        house.listens("roomcue", f"{room}/in/#") as ins,
        house.listens("integrator", f"{room}/out/#") as outs,
    ):
        topics = sorted(IN | OUT | NOBODY)
        against = {subtopic: house.say(user, f"{room}/{subtopic}") for subtopic in topics}
        house.say("hub", f"{room}/in/mark", "last")
        house.say("roomcue", f"{room}/out/ask", "last")
        heard = [_until_last(one) for one in (ins, outs)]
    granted = {subtopic for subtopic, words in against.items() if not words}
    assert granted == MAY_SAY[user]
    assert set.union(*heard) == MAY_SAY[user]
    refused = {words.strip() for words in against.values() if words}
    assert refused == {"Warning: Publish 1 failed: Not authorized."}


def _until_last(listener: Listener) -> set[str]:
    """Give the topics, within their room, on which something came before the word `last`."""
    last = listener.wait_for(lambda one: one.payload == "last", "the last")
    before = listener.messages[: listener.messages.index(last)]
    return {_within(one) for one in before}


def _within(message: Message) -> str:
    return message.topic.split("/", 2)[2]


@pytest.mark.parametrize("asked", ["#", "roomcue/heard/#", "$share/group/roomcue/heard/#"])
def test_a_user_hears_what_is_granted_however_much_is_asked_for(house: House, asked: str) -> None:
    with ExitStack() as stack:
        listeners = {
            user: stack.enter_context(house.listens(user, asked.replace("group", user)))
            for user in MAY_HEAR
        }
        for subtopic in sorted(IN | OUT):
            speaker = next(user for user, granted in MAY_SAY.items() if subtopic in granted)
            assert not house.say(speaker, f"roomcue/heard/{subtopic}")
        house.say("hub", "roomcue/heard/in/mark", "last")
        house.say("roomcue", "roomcue/heard/out/standing", "last")
        heard = {user: _until_last(listener) for user, listener in listeners.items()}
    assert heard == MAY_HEAR


def test_a_message_without_acknowledgement_is_no_way_round_the_rights(house: House) -> None:
    with house.listens("hub", "roomcue/quiet/out/order") as listener:
        house.say("hub", "roomcue/quiet/out/order", "{}", "-q", "0")
        house.say("viewer", "roomcue/quiet/out/order", "{}", "-q", "0", "-r")
        house.say("roomcue", "roomcue/quiet/out/order", "last")
        assert _until_last(listener) == set()


def test_a_last_will_is_no_way_round_the_rights(house: House) -> None:
    """MQTT 5.0, 3.1.2.5: a will is published when its client is cut off."""
    with house.listens("hub", "roomcue/will/out/#") as listener:
        for user, subtopic in (("viewer", "out/order"), ("roomcue", "out/alive")):
            will = ("--will-topic", f"roomcue/will/{subtopic}", "--will-payload", "{}")
            with house.listens(user, "roomcue/will/out/alive", *will) as dying:
                dying.kill()
        listener.wait_for(lambda one: one.subtopic == "alive", "the will that is granted")
        assert [one.subtopic for one in listener.messages] == ["alive"]


def test_whoever_comes_in_under_roomcues_name_hears_nothing_that_waits_for_it(
    house: House,
) -> None:
    session = ("-c", "-i", "roomcue-taken", "-x", "60")
    with house.listens("roomcue", "roomcue/taken/in/#", *session):
        pass
    house.say("hub", "roomcue/taken/in/source")
    with house.listens("viewer", "roomcue/taken/out/alive", *session) as thief:
        house.say("hub", "roomcue/taken/in/source")
        house.say("roomcue", "roomcue/taken/out/alive", "last")
        assert _until_last(thief) == set()


# ---------------------------------------------------------------------------------- the broker


@pytest.mark.parametrize(
    ("user", "password"),
    [("hub", "person's"), ("nobody", "nobody's"), (None, None)],
    ids=["wrong password", "unknown user", "no user"],
)
def test_nobody_comes_in_without_a_name_and_its_password(
    house: House, user: str | None, password: str | None
) -> None:
    said = publish_as_shipped(
        house.broker.port, "roomcue/x/in/source", "{}", *house.known(user, password)
    )
    assert said.returncode == REFUSED
    assert "Not authorized" in said.stderr


def test_nothing_is_spoken_in_the_clear(house: House) -> None:
    said = publish_as_shipped(
        house.broker.port, "roomcue/x/in/source", "{}", "-u", "hub", "-P", "hub's"
    )
    assert said.returncode != 0
    assert "connection was lost" in said.stderr


def test_a_broker_that_goes_by_another_name_is_not_trusted(house: House) -> None:
    """The certificate is for `localhost`; 127.0.0.1 is not written in it."""
    said = publish_as_shipped(
        house.broker.port, "roomcue/x/in/source", "{}", *house.known("hub"), "-h", "127.0.0.1"
    )
    assert said.returncode != 0
    assert "certificate" in said.stderr.lower() or "tls error" in said.stderr.lower()


def test_the_certificates_satisfy_a_client_that_is_strict(house: House) -> None:
    """As RFC 5280 has it; newer Pythons than 3.12 always ask for that."""
    context = ssl.create_default_context(cafile=house.authority)
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    with (
        socket.create_connection(("127.0.0.1", house.broker.port)) as plain,
        context.wrap_socket(plain, server_hostname="localhost") as spoken,
    ):
        assert spoken.version() in {"TLSv1.2", "TLSv1.3"}


def test_the_longest_room_file_goes_through_and_a_longer_one_is_told_so(house: House) -> None:
    """Far beyond, an older client, which no broker can tell its limit, is cut off."""
    topic = "roomcue/long/in/room"
    with house.listens("roomcue", topic) as listener:
        longer = house.say("integrator", topic, "#" * (MOST_ROOM_FILE_BYTES + 1))
        assert "Packet too large" in longer
        older = (*house.known("integrator"), "-V", "mqttv311")
        far_longer = publish_as_shipped(
            house.broker.port, topic, "#" * 2 * MOST_ROOM_FILE_BYTES, *older
        )
        assert far_longer.returncode != 0
        assert not house.say("integrator", topic, "#" * MOST_ROOM_FILE_BYTES)
        listener.wait_for(bool, "the one that is not too long")
        assert [len(one.payload) for one in listener.messages] == [MOST_ROOM_FILE_BYTES]


def test_what_waits_for_a_client_outlives_a_broker_that_is_killed(house: House) -> None:
    session = ("-c", "-i", "kept", "-x", "600")
    with house.listens("hub", "roomcue/kept/out/ask", *session):
        pass
    house.say("roomcue", "roomcue/kept/out/ask", "kept for later")
    house.say("roomcue", "roomcue/kept/out/standing", "as it stands", "-r")
    saved = house.broker.folder / "mosquitto.db"
    for words in (b"kept for later", b"as it stands"):
        until(
            lambda words=words: saved.exists() and words in saved.read_bytes(), "the broker saves"
        )
    house.broker.kill()
    house.broker.start()
    with house.listens("hub", "roomcue/kept/out/ask", *session) as back:
        back.wait_for(lambda one: one.payload == "kept for later", "what waited")
    with house.listens("viewer", "roomcue/kept/out/standing") as late:
        assert late.wait_for(lambda one: one.retained, "what stands").payload == "as it stands"


def test_the_broker_forgets_nobody_sooner_than_roomcue_asks() -> None:
    days = _option("persistent_client_expiration")
    assert days.endswith("d")
    assert int(days[:-1]) * 86_400 > SESSION_EXPIRY


def test_a_room_file_that_roomcue_takes_is_not_too_long_for_the_broker() -> None:
    assert int(_option("message_size_limit")) == MOST_ROOM_FILE_BYTES
    assert int(_option("max_packet_size")) > MOST_ROOM_FILE_BYTES


def _option(name: str) -> str:
    (line,) = [line for line in CONFIGURATION.splitlines() if line.startswith(f"{name} ")]
    return line.removeprefix(f"{name} ")


# --------------------------------------------------------------------------------- the service


def _service() -> RawConfigParser:
    unit = RawConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign] # systemd's names have case
    unit.read_string(UNIT)
    return unit


SERVICE = _service()["Service"]


def _verified(folder: Path, text: str) -> list[str]:
    """Let systemd read a unit; gives what it says of it."""
    unit = folder / "roomcue.service"
    unit.write_text(text.replace("/opt/roomcue/bin/roomcue", sys.executable))
    verify = ["systemd-analyze", "verify", "--man=no", str(unit)]
    said = subprocess.run(verify, capture_output=True, text=True, timeout=PATIENCE, check=False)
    return [line for line in said.stderr.splitlines() if "roomcue.service" in line]


def test_systemd_has_nothing_against_the_unit(tmp_path: Path) -> None:
    assert _verified(tmp_path, UNIT) == []


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("RestartSec=", "RestSec="), ("ProtectSystem=strict", "ProtectSystem=much")],
)
def test_systemd_would_have_said_so(tmp_path: Path, right: str, wrong: str) -> None:
    assert right in UNIT
    assert len(_verified(tmp_path, UNIT.replace(right, wrong))) == 1


def test_the_service_is_shut_in_by_systemds_own_measure(tmp_path: Path) -> None:
    """Exposure from 0 to 10, given in tenths; below 2 is far inside what systemd calls OK."""
    unit = tmp_path / "roomcue.service"
    unit.write_text(UNIT)
    measure = ["systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold=20"]
    said = subprocess.run(
        [*measure, str(unit)], capture_output=True, text=True, timeout=PATIENCE, check=False
    )
    assert said.returncode == 0, said.stdout[-200:]
    assert "Overall exposure level" in said.stdout


def test_the_journal_lies_in_the_services_own_folder() -> None:
    command = _command()
    journal = Path(command[command.index("--journal") + 1])
    assert journal.parent == Path("/var/lib") / SERVICE["StateDirectory"]


def test_what_is_of_no_use_again_is_not_tried_again() -> None:
    assert SERVICE["Restart"] == "on-failure"
    assert int(SERVICE["RestartPreventExitStatus"]) == UNUSABLE


def _command() -> list[str]:
    return shlex.split(SERVICE["ExecStart"].replace("\\\n", " "))


class Served:
    """The command of the unit, in a folder in place of the system's."""

    def __init__(self, house: House, folder: Path, password: str) -> None:
        places = {
            "/opt/roomcue/bin/roomcue": str(Path(sys.executable).with_name("roomcue")),
            "/etc/roomcue/hayloft.yaml": str(DEMO_ROOM),
            "/etc/roomcue/authority.crt": str(house.authority),
            "/var/lib/roomcue": str(folder),
            "localhost:8883": f"localhost:{house.broker.port}",
        }
        command = " \n".join(_command())
        for shipped, here in places.items():
            assert shipped in command
            command = command.replace(shipped, here)
        self.command: Sequence[str] = command.split(" \n")
        proven = vouch_for(DEMO_ROOM.read_text("utf-8"), folder / "proofs")
        self.env = {**os.environ, **proven, PASSWORD: password}

    def __enter__(self) -> subprocess.Popen[str]:
        self._process = subprocess.Popen(
            self.command, env=self.env, stderr=subprocess.PIPE, text=True
        )
        return self._process

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()


def test_the_services_command_keeps_a_room_at_the_shipped_broker(
    house: House, tmp_path: Path
) -> None:
    """From its first word to a clean end, as systemd would start and stop it."""
    with (
        house.listens("viewer", "roomcue/hayloft/out/alive") as alive,
        house.listens("hub", "roomcue/hayloft/out/order") as orders,
        Served(house, tmp_path, "roomcue's") as process,
    ):
        alive.wait_for(lambda one: one.data["alive"], "it is there")
        for subtopic, payload in (("projector", {"state": "lit"}), ("source", {"source": "disc"})):
            house.say("hub", f"roomcue/hayloft/in/{subtopic}", json.dumps(payload))
        orders.wait_for(lambda one: one.data["kind"] == "picture", "an order")
        process.send_signal(signal.Signals[SERVICE["KillSignal"]])
        alive.wait_for(lambda one: not one.data["alive"], "it has gone")
        _, log = process.communicate(timeout=PATIENCE)
        assert process.returncode == 0
    lines = [json.loads(line) for line in log.splitlines()]
    assert {"picture", "broker is there"} <= {line["event"] for line in lines}
    assert {line["room"] for line in lines} == {"hayloft"}
    assert "roomcue's" not in log


def test_a_password_that_the_broker_refuses_ends_the_service_for_good(
    house: House, tmp_path: Path
) -> None:
    with Served(house, tmp_path, "hub's") as process:
        _, log = process.communicate(timeout=PATIENCE)
        assert process.returncode == UNUSABLE
    assert "Not authorized" in " ".join(log.split())
    assert "hub's" not in log
    assert "Traceback" not in log
