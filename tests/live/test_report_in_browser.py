"""The night's report in a real browser: from a file, offline, by script and without, on paper."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from adapters.cli.night_records import report_input
from adapters.render.night_report import night_report
from simulator.shipped import NIGHTS
from tests.house.tree import TOP
from tests.live.printing import PAPERS, outside, printed

AXE: Final = TOP / "tests/live/foreign/node_modules/axe-core/axe.min.js"
CHROMIUM: Final = "/usr/bin/chromium"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("report") / "night.html"
    told = report_input(NIGHTS / "refused-recall.jsonl", None, None, "0", skip=False)
    out.write_text(night_report(told), "utf-8")
    return out


def _fail_on_error(said: ConsoleMessage) -> None:
    if said.type == "error":
        pytest.fail(said.text)


def opened(browser: Browser, report: Path, *, script: bool = True) -> Page:
    """Open the report from its file, offline; whatever goes wrong in it fails the test."""
    context = browser.new_context(offline=True, java_script_enabled=script)
    page = context.new_page()
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.on("console", _fail_on_error)
    page.goto(report.as_uri())
    return page


def test_a_mark_that_is_clicked_opens_its_decision(browser: Browser, report: Path) -> None:
    page = opened(browser, report)
    assert page.evaluate("document.documentElement.dataset.ready") == "1"
    recall = page.locator("#lanes a[aria-label*='recall: lens to preset']")
    recall.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelectorAll('details[open]').length === 1")
    said = page.locator("details[open]").inner_text()
    assert "flat with panels" in said
    assert "▸ flat with panels" in said
    assert "lens at broad" in said or "on its way to tall" in said


def test_closer_shows_a_part_of_the_night_and_whole_night_all_of_it(
    browser: Browser, report: Path
) -> None:
    page = opened(browser, report)
    wide = "document.querySelector('#lanes .span rect').getBBox().width"
    axis = "document.querySelectorAll('#lanes .axis text').length"
    before = page.evaluate(wide), page.evaluate(axis)
    page.click("button[data-do=in]")
    page.wait_for_function(f"{wide} !== {before[0]}")
    assert page.evaluate(axis) >= 3
    page.click("button[data-do=whole]")
    page.wait_for_function(f"Math.abs({wide} - {before[0]}) < 0.1")
    assert page.evaluate(axis) == before[1]


def test_without_script_the_list_the_lanes_and_the_sums_are_there(
    browser: Browser, report: Path
) -> None:
    page = opened(browser, report, script=False)
    assert "Somebody said" in page.inner_text("h1")
    assert "its recall was refused" in page.inner_text("ol.troubles")
    assert "Time in each look" in page.inner_text("table >> nth=0")
    assert page.locator("#lanes .span").count() > 5
    assert not page.locator(".zoom").is_visible()


def test_no_words_of_the_lanes_stand_on_each_other(browser: Browser, report: Path) -> None:
    """As the browser lays them out, words of marks apart, which stand where things happened."""
    page = opened(browser, report)
    boxes = page.evaluate(
        "[...document.querySelectorAll('#lanes text')]"
        ".filter((one) => !one.closest('.mark') && one.checkVisibility())"
        ".map((one) => [one.textContent, ...Object.values(one.getBBox().toJSON?.() || "
        "((b) => ({x: b.x, y: b.y, r: b.x + b.width, l: b.y + b.height}))(one.getBBox()))])"
    )
    told = [(words, numbers[:2], numbers[2:4]) for words, *numbers in boxes]
    for at, (words, (left, top), (right, low)) in enumerate(told):
        for other, (left2, top2), (right2, low2) in told[at + 1 :]:
            apart = right <= left2 or right2 <= left or low <= top2 or low2 <= top
            assert apart, (words, other)


def test_axe_finds_nothing_serious(browser: Browser, report: Path) -> None:
    """The page's own policy would stop a foreign script, so it is judged without it."""
    context = browser.new_context(offline=True, bypass_csp=True)
    page = context.new_page()
    page.goto(report.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.add_script_tag(content=AXE.read_text("utf-8"))
    found = page.evaluate("axe.run().then((said) => JSON.stringify(said.violations))")
    serious = [one for one in json.loads(found) if one["impact"] in {"serious", "critical"}]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in serious] == []


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_on_a_few_pages_of_either_paper_that_hold_the_list(
    browser: Browser, report: Path, tmp_path: Path, paper: str
) -> None:
    pdf = tmp_path / "night.pdf"
    pdf.write_bytes(printed(opened(browser, report), paper))
    sizes, beyond = outside(pdf)
    assert sizes == {PAPERS[paper]}
    assert beyond == []
    read = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True
    )
    pages = read.stdout.split("\f")
    assert 2 <= len([one for one in pages if one.strip()]) <= 5
    assert "its recall was refused" in pages[0]
    assert "Closer" not in read.stdout
    assert "Time in each look" in read.stdout
