"""Clients that are not ours: Debian's mosquitto_pub and mosquitto_sub, and npm's `mqtt`."""

from __future__ import annotations

import json
import shutil
import subprocess
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NamedTuple, Self

from tests.live.broker import PATIENCE

FOREIGN = Path(__file__).with_name("foreign")
NODE = shutil.which("node") or "node"


class Message(NamedTuple):
    """A message as a stranger heard it."""

    topic: str
    payload: str
    retained: bool
    expiry: int | None

    @property
    def data(self) -> Any:  # noqa: ANN401 - JSON
        """Its payload, read."""
        return json.loads(self.payload)

    @property
    def subtopic(self) -> str:
        """The topic's last part."""
        return self.topic.rsplit("/", 1)[1]


def publish(port: int, topic: str, payload: str, *options: str) -> None:
    """Publish one message with mosquitto_pub at QoS 1."""
    command = ["mosquitto_pub", "-V", "mqttv5", "-p", str(port), "-q", "1", "-t", topic]
    subprocess.run([*command, "-m", payload, *options], check=True, timeout=PATIENCE)


class Listener:
    """mosquitto_sub, whose messages can be waited for."""

    def __init__(self, port: int, topic: str, *options: str) -> None:
        command = [
            "stdbuf",
            "-oL",
            "mosquitto_sub",
            "-V",
            "mqttv5",
            "-p",
            str(port),
            "-q",
            "1",
            "-t",
            topic,
        ]
        self._command = [*command, "-F", "%j", "-d", *options]
        self.messages: list[Message] = []
        self._news = threading.Condition()
        self._listening = False

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(
            self._command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()
        with self._news:
            assert self._news.wait_for(lambda: self._listening, PATIENCE)
        return self

    def kill(self) -> None:
        """Cut it off without a goodbye, so that the broker publishes its last will."""
        self._process.kill()
        self._process.wait(PATIENCE)

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(PATIENCE)
        self._thread.join()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            with self._news:
                if line.startswith("{"):
                    self.messages.append(_message(line))
                elif line.startswith("Subscribed"):
                    self._listening = True
                self._news.notify_all()

    def wait_for(
        self, fits: Callable[[Message], object], words: str, patience: float = PATIENCE
    ) -> Message:
        """Give the first message that fits; AssertionError if none comes."""
        with self._news:
            found = self._news.wait_for(
                lambda: [one for one in self.messages if fits(one)], patience
            )
        assert found, f"not heard: {words}; heard: {self.messages[-20:]}"
        return found[0]

    def moments(self, subtopic: str) -> set[str]:
        """Give when what came on one topic was said: what was only sent again counts once."""
        return {one.data["at"] for one in self.of(subtopic)}

    def of(self, subtopic: str) -> list[Message]:
        """Give what came on one topic."""
        with self._news:
            return [one for one in self.messages if one.subtopic == subtopic]


def _message(line: str) -> Message:
    data = json.loads(line)
    expiry = data.get("properties", {}).get("message-expiry-interval")
    return Message(data["topic"], data["payload"], bool(data["retain"]), expiry)


class Hub:
    """npm's client: publishes at QoS 1 in order, connects again by itself."""

    def __init__(self, port: int) -> None:
        self._command = [NODE, str(FOREIGN / "evening.mjs"), str(port)]

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()

    def publish(self, topic: str, payload: str) -> None:
        """Hand one message over; it is sent as soon as the broker is there."""
        assert self._process.stdin is not None
        line = json.dumps({"topic": topic, "payload": payload})
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def done(self) -> list[dict[str, Any]]:
        """End, and give the acknowledgements."""
        out, _ = self._process.communicate(timeout=3 * PATIENCE)
        return [json.loads(line) for line in out.splitlines()]


def publish_all(port: int, messages: Iterable[tuple[str, str]]) -> None:
    """Publish messages through npm's client and wait for every acknowledgement."""
    with Hub(port) as hub:
        count = 0
        for topic, payload in messages:
            hub.publish(topic, payload)
            count += 1
        assert len(hub.done()) == count
