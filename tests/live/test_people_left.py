"""The journal is lost, or an older one is put back, while somebody is at the screen."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.live.broker import Mosquitto, until
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish, publish_all
from tests.live.test_two_people import GARRET

IN = "roomcue/garret/in"
FILM = [
    (f"{IN}/projector", '{"state":"lit"}'),
    (f"{IN}/panels", '{"panels":"open"}'),
    (f"{IN}/source", '{"source":"player"}'),
    (f"{IN}/playback", '{"state":"playing"}'),
    (f"{IN}/title", '{"begun":true,"name":"a film","declared":1.85}'),
]


class Garret:
    """A room at a broker, with its journals, and what it says from some moment on."""

    def __init__(self, folder: Path, broker: Mosquitto, ears: Listener) -> None:
        self._port, self._ears, self._from = broker.port, ears, 0
        self.journals = folder / "journals"
        self.journals.mkdir()
        file = folder / "garret.yaml"
        file.write_text(GARRET)
        self.room = Roomcue([file], self.journals / "journal", port=broker.port)

    def told(self, *messages: tuple[str, str]) -> None:
        """Publish as the hub or somebody's phone does."""
        publish_all(self._port, list(messages))

    def retain(self, messages: list[tuple[str, str]]) -> None:
        """Publish messages that the broker keeps."""
        for topic, payload in messages:
            publish(self._port, topic, payload, "-r")

    def say(self, topic: str, **what: object) -> None:
        """Publish one message."""
        self.told((f"{IN}/{topic}", json.dumps(what)))

    def from_now(self) -> None:
        """Let nothing count that was said before."""
        self._from = len(self._ears.messages)

    def said(self, subtopic: str) -> list[dict[str, Any]]:
        """Give what was said on a topic."""
        return [one.data for one in self._ears.messages[self._from :] if one.subtopic == subtopic]

    def order(self, picture: str) -> dict[str, Any]:
        """Wait for an order of a picture."""
        until(lambda: any(one.get("picture") == picture for one in self.said("order")), picture)
        return next(one for one in self.said("order") if one.get("picture") == picture)

    def prompt(self, stage: str) -> dict[str, Any]:
        """Wait until it stands so that a prompt has come to a stage, and give the prompt."""
        until(lambda: self._prompts(stage), stage)
        return self._prompts(stage)[-1]

    def _prompts(self, stage: str) -> list[dict[str, Any]]:
        open_ones = [one["prompt"] for one in self.said("standing") if one["prompt"]]
        return [one for one in open_ones if one["stage"] == stage]

    def go_dark(self) -> None:
        """Carry out the order to be dark."""
        self.say("outcome", order=self.order("dark")["id"], outcome="done")


@pytest.fixture
def garret(tmp_path: Path) -> Iterator[Garret]:
    """A film has begun, and the room has said so."""
    with (
        Mosquitto(tmp_path / "broker", keeps=True) as broker,
        Listener(broker.port, "roomcue/garret/out/#") as ears,
    ):
        one = Garret(tmp_path, broker, ears)
        with one.room:
            one.told(*FILM)
            one.order("plain")
            yield one


@pytest.mark.parametrize("left", ["nothing", "an older copy", "nothing, and much is retained"])
def test_nobody_is_lit_though_the_journal_does_not_know_of_them(garret: Garret, left: str) -> None:
    """What the broker has kept of how the room stood is enough; they end it as they would have."""
    assert garret.room.stop() == 0
    shutil.copytree(garret.journals, backup := garret.journals.with_name("backup"))
    garret.room.start()
    first = garret.prompt("asked")
    garret.say("answer", prompt=first["id"], answer="ready", who="Ana")
    garret.go_dark()
    assert garret.prompt("at the screen")["who"] == "Ana"

    assert garret.room.stop() == 0
    for path in garret.journals.iterdir():
        if path.suffix != ".log":
            path.unlink()
    if left == "an older copy":
        shutil.copytree(backup, garret.journals, dirs_exist_ok=True)
    if left.endswith("retained"):
        garret.retain(
            [*FILM, *[(f"{IN}/told/x{number}", '{"value":true}') for number in range(25)]]
        )
    garret.from_now()
    garret.room.start()
    until(lambda: "does not know of anybody at work" in garret.room.said(), "it waits for them")
    again = garret.prompt("at the screen")
    assert (again["at_screen"], again["who"], again["panels"]) == (True, "Ana", "hung")
    assert again["id"] != first["id"]
    garret.told(*FILM)
    garret.go_dark()
    garret.say("mark", words="all of that was heard")
    until(lambda: any(one.get("code") == "marked" for one in garret.said("reason")), "the mark")
    assert {one.get("picture") for one in garret.said("order")} <= {None, "dark"}
    garret.say("answer", prompt=again["id"], answer="done", who="Ana")
    assert garret.order("plain")["id"] > again["id"]
    until(lambda: garret.said("standing")[-1]["panels"] == "hung", "the panels stand")
    assert garret.room.stop() == 0
    assert "Traceback" not in garret.room.said()
