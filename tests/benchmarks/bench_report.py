"""The night's report: how long it takes beside a replay, how large it is, how soon it is there.

Four hours at 24 readings a second. Run it as a script: python -m tests.benchmarks.bench_report
"""

from __future__ import annotations

import gc
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import sync_playwright

from adapters.cli.night_files import open_night, play
from adapters.cli.night_records import report_input
from adapters.render.night_report import night_report
from rules.room.load import load
from simulator.nights.invention import NightPlan, invented_night
from simulator.shipped import DEMO_ROOM

PLAN = NightPlan(titles=3, minutes=80, readings=24)
MOST_MEGABYTES = 3.0
MOST_SECONDS = 3.0
READY = "document.documentElement.dataset.ready === '1'"


def replayed(night: Path) -> float:
    """Replay the night and throw away what happens; gives the processor's seconds."""
    gc.collect()
    begun = time.process_time()
    with open_night(night, None) as opened:
        for _ in play(opened, None, skip=False).happenings:
            pass
    return time.process_time() - begun


def reported(night: Path) -> tuple[float, str]:
    """Make the report; gives the processor's seconds, and the page."""
    gc.collect()
    begun = time.process_time()
    page = night_report(report_input(night, None, None, "0", skip=False))
    return time.process_time() - begun, page


def seconds_to_ready(page: Path) -> float:
    """Open the page in a browser; gives the seconds until its lanes can be zoomed."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox"]
        )
        tab = browser.new_page()
        begun = time.perf_counter()
        tab.goto(page.as_uri())
        tab.wait_for_function(READY)
        taken = time.perf_counter() - begun
        browser.close()
    return taken


def main() -> None:
    """Measure all of it, and fail where a limit is passed."""
    room = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
    with TemporaryDirectory() as folder:
        night, out = Path(folder, "night.jsonl"), Path(folder, "night.html")
        night.write_bytes(b"\n".join(invented_night(room, 1, PLAN, "0")))
        replay, (report, page) = replayed(night), reported(night)
        out.write_text(page, "utf-8")
        size, ready = out.stat().st_size / 1e6, seconds_to_ready(out)
    print(f"replay {replay:.2f} s, report {report:.2f} s: {report / replay:.2f} times a replay")
    print(f"{size:.2f} MB of {MOST_MEGABYTES}; ready in a browser after {ready:.2f} s")
    if size > MOST_MEGABYTES or ready > MOST_SECONDS:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
