"""A log that nobody reads freezes no room: what does not fit is dropped, and counted on `alive`."""

from __future__ import annotations

import re
import signal
import subprocess
from pathlib import Path

from adapters.cli.exit_status import OK
from simulator.shipped import CELLAR
from tests.house.tree import TOP
from tests.live.broker import PATIENCE, Mosquitto
from tests.live.process import ROOMCUE
from tests.live.strangers import Listener, Message

MARKS = 3_000
AT_ONCE = 200
"""A broker queues no more than a thousand for a room."""
LONG = "w" * 200
"""Each mark is a line of more than 500 bytes: together more than the pipe and its queue hold."""


def test_a_log_that_nobody_reads_freezes_no_room(tmp_path: Path) -> None:
    """It goes on answering, says how much is missing, and ends when it is told to."""
    with Mosquitto(tmp_path / "broker") as broker:
        command = [*ROOMCUE, "run", str(CELLAR), "--journal", str(tmp_path / "journal")]
        command += ["--broker", f"mqtt://127.0.0.1:{broker.port}", "--unproven", "--log", "json"]
        with (
            Listener(broker.port, "roomcue/cellar/out/#") as listener,
            subprocess.Popen(command, stderr=subprocess.PIPE, cwd=TOP) as room,
        ):
            listener.wait_for(lambda one: one.subtopic == "alive", "it is there")
            topic = ["-t", "roomcue/cellar/in/mark", "-q", "1", "-p", str(broker.port)]
            for last in range(AT_ONCE, MARKS + 1, AT_ONCE):
                marks = [f'{{"words":"{LONG} {last - number}."}}' for number in range(AT_ONCE)]
                subprocess.run(
                    ["mosquitto_pub", "-V", "mqttv5", "-l", *topic],
                    input="\n".join(reversed(marks)).encode(),
                    timeout=PATIENCE,
                    check=True,
                )
                listener.wait_for(lambda one: f" {last}." in one.payload, "all of them are heard")  # noqa: B023 - at once
            listener.wait_for(lambda one: dropped(one) > 0, "how many lines are missing")
            room.send_signal(signal.SIGTERM)
            assert room.wait(PATIENCE) == OK


def dropped(one: Message) -> float:
    """Give how many lines of the log are missing, as `alive` says."""
    found = re.search(r"^roomcue_log_lines_dropped_total\S* (\S+)$", metrics(one), re.MULTILINE)
    return float(found[1]) if found else 0.0


def metrics(one: Message) -> str:
    return str(one.data.get("metrics", "")) if one.subtopic == "alive" else ""
