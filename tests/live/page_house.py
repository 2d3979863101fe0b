"""A house with a page: a real broker, the room, a hub that does as it is told, and phones.

The hub carries out every order at once; the evening is told by the test. Phones are windows of
Debian's chromium, in the size of a phone.
"""

from __future__ import annotations

import json
import re
import signal
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Self

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from playwright.sync_api import Browser, Page, ViewportSize, expect, sync_playwright

from tests.brisk_hayloft import brisk_hayloft
from tests.house.tree import TOP
from tests.live.broker import PATIENCE, Mosquitto, free_port, until
from tests.live.process import ROOMCUE, Roomcue

PHONE: ViewportSize = {"width": 390, "height": 844}
SMALL: ViewportSize = {"width": 360, "height": 640}
DESK: ViewportSize = {"width": 1280, "height": 800}
CHROMIUM = "/usr/bin/chromium"
ROOM = "hayloft"
ORDERS = f"roomcue/{ROOM}/out/order"
expect.set_options(timeout=PATIENCE * 1_000)


def quick_room() -> str:
    """Give the shipped room at a quick pace, and with prompts that last."""
    text = brisk_hayloft()
    for old, new in (
        (r"linger: \d+ s", "linger: 60 ms"),
        (r"wait: \d+ s", "wait: 60 ms"),
        (r"taller: 500 ms, wider: 4 s", "taller: 40 ms, wider: 80 ms, odd: 80 ms"),
        (r"pause: 20 min", "pause: 20 min\n  order: 10 min"),
    ):
        text = re.sub(old, new, text)
    return text


class QuickHub:
    """Tells the evening, and does what it is ordered."""

    def __init__(self, port: int, *, obeys: bool = True) -> None:
        self.obeys = obeys
        self.orders: list[dict[str, Any]] = []
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_message = self._ordered
        self._client.on_connect = lambda client, *_: client.subscribe(
            f"roomcue/{ROOM}/out/order", 1
        )
        self._client.reconnect_delay_set(1, 1)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def __enter__(self) -> Self:
        until(self._client.is_connected, "the hub is connected")
        self.say("projector", state="lit")
        self.say("lens", moving=False, preset="broad")
        self.say("panels", panels="open")
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def say(self, kind: str, **what: object) -> None:
        """Tell the room something."""
        self._client.publish(f"roomcue/{ROOM}/in/{kind}", json.dumps(what), 1)

    def film(self, name: str, ratio: float, source: str = "disc") -> None:
        """Let a film begin."""
        self.say("source", source=source)
        self.say("playback", state="playing")
        self.say("title", begun=True, name=name, declared=ratio)
        self.say("ratio", ratio=ratio)

    def _ordered(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        order = json.loads(message.payload)
        self.orders.append(order)
        if not self.obeys:
            return
        if order["kind"] == "recall":
            self.say("lens", moving=True, preset=order["preset"])
            self.say("lens", moving=False, preset=order["preset"])
        elif order["kind"] != "withdrawn":
            self.say("outcome", order=order["id"], outcome="done")


class PageProcess:
    """`roomcue page` in a process of its own."""

    def __init__(self, room: Path, broker: int, *options: str) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self._log = room.with_name("page.log")
        given = ("--broker", f"mqtt://127.0.0.1:{broker}", "--listen", str(self.port))
        self._command = [*ROOMCUE, "page", str(room), *given, *options]
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        """Start it, and wait until it has the broker."""
        before = self.said().count("the broker is there")
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stdout=log, stderr=log, cwd=TOP)
        until(lambda: self.said().count("the broker is there") > before, "the page is served")

    def said(self) -> str:
        """Give its log."""
        return self._log.read_text("utf-8") if self._log.exists() else ""

    @property
    def pid(self) -> int:
        """The number of its process."""
        assert self._process is not None
        return self._process.pid

    def stop(self) -> int:
        """Stop it as a service manager does; gives the status."""
        assert self._process is not None
        self._process.send_signal(signal.SIGTERM)
        return self._process.wait(PATIENCE)


class PageHouse:
    """The house, with everything in it."""

    def __init__(
        self, folder: Path, stack: ExitStack, *, text: str = "", beside: PageHouse | None = None
    ) -> None:
        self.file = folder / "room.yaml"
        self.file.write_text(text or quick_room())
        self.broker = stack.enter_context(Mosquitto(folder / "broker", keeps=True))
        self.room = stack.enter_context(Roomcue([self.file], folder / "j", port=self.broker.port))
        self.hub = stack.enter_context(QuickHub(self.broker.port))
        self.page = stack.enter_context(PageProcess(self.file, self.broker.port))
        self.browser: Browser = beside.browser if beside else stack.enter_context(browser())

    def phone(
        self, name: str | None = None, *, script: bool = True, size: ViewportSize = PHONE
    ) -> Page:
        """Open the page on a phone of its own, with its person's name."""
        context = self.browser.new_context(
            viewport=size, java_script_enabled=script, color_scheme="dark"
        )
        found = context.new_page()
        found.set_default_timeout(PATIENCE * 1_000)
        found.goto(f"{self.page.address}/{ROOM}")
        if name is not None:
            found.click("summary")
            found.fill("#name", name)
            found.press("#name", "Enter")
            found.wait_for_selector(f"header summary:has-text('{name}')")
        return found


@contextmanager
def browser() -> Iterator[Browser]:
    """Start the browser."""
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield found
        finally:
            found.close()


@contextmanager
def page_house(
    folder: Path, *, text: str = "", beside: PageHouse | None = None
) -> Iterator[PageHouse]:
    """Start everything, and end it; a house beside another has the same browser."""
    with ExitStack() as stack:
        yield PageHouse(folder, stack, text=text, beside=beside)
