"""A room file that comes as a message is checked first, and taken whole or not at all."""

from __future__ import annotations

import urllib.request
from contextlib import ExitStack
from pathlib import Path

from simulator.shipped import CELLAR
from tests.live.broker import Mosquitto, until
from tests.live.page_house import PageProcess
from tests.live.process import Roomcue
from tests.live.strangers import Listener, publish, publish_all

IN = "roomcue/cellar/in"
TEXT = CELLAR.read_text("utf-8")


def test_a_good_file_is_taken_and_a_bad_one_is_told_its_faults(tmp_path: Path) -> None:
    """Meanwhile the room stays awake, its page follows, and both outlive a kill."""
    better = tmp_path / "better.yaml"
    lisbon = TEXT.replace("room: cellar", "room: cellar\nlanguage: pt")
    better.write_text(f"{lisbon}\n# A later edition.\n")
    bad = tmp_path / "bad.yaml"
    bad.write_text(TEXT.replace("picture: whole", "picture: hole"))
    assert "hole" in bad.read_text()
    named = tmp_path / "cellar.yaml"
    named.write_text(TEXT)
    with Mosquitto(tmp_path / "b", keeps=True) as broker, ExitStack() as follows:
        room = Roomcue([named], tmp_path / "journal", port=broker.port)
        with room, Listener(broker.port, "roomcue/cellar/out/reason") as listener:
            _publish_file(broker.port, bad)
            refused = listener.wait_for(lambda one: one.data["kind"] == "refused", "its faults")
            assert refused.data["code"] == "bad_room"
            assert "hole is no picture" in refused.data["details"]
            page = follows.enter_context(PageProcess(named, broker.port))
            until(lambda: '<html lang="en">' in _opened(page), "the page shows the old one")
            _publish_file(broker.port, better)
            publish_all(broker.port, [(f"{IN}/projector", '{"state":"lit"}')])
            until(lambda: "room file is taken" in room.said(), "the better one is taken")
            until(lambda: '<html lang="pt">' in _opened(page), "the page follows")
            follows.close()
            room.kill()
            room.start()
            assert "came as a message is in force" in room.said()
            publish(broker.port, f"{IN}/mark", '{"words":"still here"}')
            listener.wait_for(lambda one: "still here" in one.payload, "the room lives on")
            room.kill()
            named.write_text(TEXT + "\n# Written over by hand.\n")
            assert "takes the place of the one that came." not in room.said()
            room.start()
            assert "takes the place of the one that came." in room.said()
    assert "Traceback" not in room.said()


def _opened(page: PageProcess) -> str:
    with urllib.request.urlopen(f"http://127.0.0.1:{page.port}/cellar") as answer:
        return str(answer.read().decode())


def _publish_file(port: int, path: Path) -> None:
    publish(port, f"{IN}/room", path.read_text())
