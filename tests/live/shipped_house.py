"""The broker that is shipped, as somebody has it who did what its files say."""

from __future__ import annotations

import shlex
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from tests.house.tree import TOP
from tests.live.broker import PATIENCE, Mosquitto
from tests.live.strangers import Listener

SHIPPED = TOP / "adapters" / "live" / "deploy"
CONFIGURATION = (SHIPPED / "mosquitto.conf").read_text("utf-8")


class House(NamedTuple):
    """The shipped broker as somebody who did what its files say has it."""

    broker: Mosquitto
    authority: Path

    def known(self, user: str | None, password: str | None = None) -> list[str]:
        """Give the options with which a client comes in."""
        options = ["--cafile", str(self.authority)]
        if user is not None:
            options += ["-u", user, "-P", password or f"{user}'s"]
        return options

    def roomcue(self, folder: Path) -> list[str]:
        """Give the options with which roomcue comes in; its password lies in a folder."""
        secret = folder / "password"
        secret.write_text("roomcue's")
        secret.chmod(0o600)
        broker = f"mqtts://roomcue@localhost:{self.broker.port}"
        return ["--broker", broker, "--ca", str(self.authority), "--password-file", str(secret)]

    def say(self, user: str, topic: str, payload: str = "{}", *options: str) -> str:
        """Publish as a user; gives what the broker had against it."""
        said = publish_as_shipped(self.broker.port, topic, payload, *self.known(user), *options)
        assert said.returncode == 0, said.stderr
        return said.stderr

    def listens(self, user: str, topic: str, *options: str) -> Listener:
        """Listen as a user."""
        return Listener(self.broker.port, topic, *self.known(user), *options)


def publish_as_shipped(
    port: int, topic: str, payload: str, *options: str
) -> subprocess.CompletedProcess[str]:
    command = ["mosquitto_pub", "-V", "mqttv5", "-p", str(port), "-q", "1", "-t", topic, "-s"]
    return subprocess.run(
        [*command, *options],
        input=payload,
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
    )


@contextmanager
def shipped_house(folder: Path) -> Iterator[House]:
    """Do what mosquitto.conf says, in a folder in place of the system's, and start the broker."""
    for command in commands_shown(CONFIGURATION):
        user = command[-1] if command[0] == "mosquitto_passwd" else ""
        subprocess.run(
            command, cwd=folder, check=True, input=f"{user}'s\n" * 2, capture_output=True, text=True
        )
    shutil.copy(SHIPPED / "rights.acl", folder)
    text = CONFIGURATION.replace("/etc/mosquitto/roomcue/", f"{folder}/")
    text = text.replace("/var/lib/mosquitto/", f"{folder}/")
    lines = text.splitlines()
    lines.remove("listener 8883")  # the tests' broker has a port of its own
    with Mosquitto(folder, lines) as broker:
        yield House(broker, folder / "authority.crt")


def commands_shown(text: str) -> Iterator[list[str]]:
    """Give the commands that a configuration's comments show behind a `$`."""
    shown = (line.removeprefix("#   $ ") for line in text.splitlines() if line.startswith("#   $"))
    for command in "\n".join(shown).replace("\\\n", " ").splitlines():
        yield shlex.split(command)
