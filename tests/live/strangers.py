"""Clients that are not ours: Debian's mosquitto_pub and mosquitto_sub, and npm's `mqtt`."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import threading
from abc import ABC, abstractmethod
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
    correlation: str | None

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


class Ears(ABC):
    """A client in a process of its own, whose messages can be waited for."""

    def __init__(self, command: list[str]) -> None:
        self._command = command
        self.messages: list[Message] = []
        self._news = threading.Condition()
        self._listening = False

    @abstractmethod
    def _take(self, line: str) -> None:
        """Enter one line that the client printed."""

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(
            self._command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()
        with self._news:
            assert self._news.wait_for(lambda: self._listening, PATIENCE)
        return self

    def stand_still(self) -> None:
        """Take nothing any more, with the connection open."""
        self._process.send_signal(signal.SIGSTOP)

    def kill(self) -> None:
        """Cut it off without a goodbye, so that the broker publishes its last will."""
        self._process.kill()
        self._process.wait(PATIENCE)

    def __exit__(self, *_: object) -> None:
        # Asked to end, mosquitto_sub says goodbye inside its signal handler, and if that meets a
        # lock which the client itself holds, it waits for ever: nothing here needs the goodbye.
        self.kill()
        self._thread.join()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            pipe.close()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            with self._news:
                self._take(line)
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

    def questions(self) -> set[str]:
        """Give when the hub was asked how everything is: what was only sent again counts once."""
        return {one.data["at"] for one in self.of("ask") if one.data["kind"] == "question"}

    def of(self, subtopic: str) -> list[Message]:
        """Give what came on one topic."""
        with self._news:
            return [one for one in self.messages if one.subtopic == subtopic]


class Listener(Ears):
    """mosquitto_sub."""

    def __init__(self, port: int, topic: str, *options: str) -> None:
        command = ["stdbuf", "-oL", "mosquitto_sub", "-V", "mqttv5", "-p", str(port), "-q", "1"]
        super().__init__([*command, "-t", topic, "-F", "%j", "-d", *options])

    def _take(self, line: str) -> None:
        if line.startswith("{"):
            self.messages.append(_message(json.loads(line)))
        elif line.startswith("Subscribed"):
            self._listening = True


class Phone(Ears):
    """npm's client over TLS: says and hears as one person, with a response topic of its own."""

    def __init__(self, port: int, authority: Path, user: str, replies: str, *topics: str) -> None:
        """`replies` is the response topic; `topics` is what it listens to beside it."""
        program = [NODE, str(FOREIGN / "person.mjs"), str(port), str(authority)]
        super().__init__([*program, user, f"{user}'s", replies, *topics])
        self._said = self._acknowledged = 0

    def say(self, topic: str, payload: str, correlation: str) -> None:
        """Publish at QoS 1, and wait until the broker has it."""
        assert self._process.stdin is not None
        self._said += 1
        line = json.dumps({"topic": topic, "payload": payload, "correlation": correlation})
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()
        with self._news:
            assert self._news.wait_for(lambda: self._acknowledged == self._said, PATIENCE)

    def _take(self, line: str) -> None:
        data = json.loads(line) if line.startswith("{") else {}
        if "topic" in data:
            self.messages.append(_message(data))
        self._listening = self._listening or "subscribed" in data
        self._acknowledged = data.get("acknowledged", self._acknowledged)


def _message(data: dict[str, Any]) -> Message:
    """Read a message as a client printed it, its properties under the names of mosquitto_sub."""
    told = data.get("properties", {})
    expiry, correlation = told.get("message-expiry-interval"), told.get("correlation-data")
    return Message(data["topic"], data["payload"], bool(data["retain"]), expiry, correlation)


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

    def publish(self, topic: str, payload: str, *, retain: bool = False) -> None:
        """Hand one message over; it is sent as soon as the broker is there."""
        assert self._process.stdin is not None
        line = json.dumps({"topic": topic, "payload": payload, "retain": retain})
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
