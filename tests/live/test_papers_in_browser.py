"""The papers in a real browser: how many pages they print on, and that no words collide."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Final

from playwright.sync_api import Page, sync_playwright

from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run

CHROMIUM: Final = "/usr/bin/chromium"
PAGES = {"client": 1, "quote": 1, "site": 4, "as-built": 3}
"""How many pages the papers of the shipped room are, of A4 and of Letter."""
PAPERS = ("A4", "Letter")
"""ISO 216, and what stands in its place in North America (ANSI A, 8.5 x 11 in)."""


def test_the_papers_print_on_as_many_pages_as_they_should_and_no_words_collide(
    tmp_path: Path,
) -> None:
    """In a real browser: the pages of each PDF are counted, and every line of text is measured."""
    run("papers", DEMO_ROOM, "--out", tmp_path)
    with sync_playwright() as browsers:
        browser = browsers.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        for name, pages in PAGES.items():
            page.goto((tmp_path / f"{name}.html").as_uri())
            for paper in PAPERS:
                assert pages_of(printed(page, paper)) == pages, (name, paper)
            assert colliding(page) == [], name
        browser.close()


def test_every_sheet_of_a_plan_prints_whole_on_one_page_of_either_paper(tmp_path: Path) -> None:
    """Every word of the sheet stands on the page; a panel's columns were cut off at its right."""
    run("plan", DEMO_ROOM, "--pictures", tmp_path)
    sheets = sorted(tmp_path.glob("*.svg"))
    assert len(sheets) == 4
    with sync_playwright() as browsers:
        browser = browsers.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        for sheet in sheets:
            page.goto(sheet.as_uri())
            words = page.evaluate("[...document.querySelectorAll('text')].map(t => t.textContent)")
            for paper in PAPERS:
                pdf = tmp_path / "sheet.pdf"
                pdf.write_bytes(printed(page, paper))
                assert pages_of(pdf.read_bytes()) == 1, (sheet.name, paper)
                assert words_within(pdf) == len(" ".join(words).split()), (sheet.name, paper)
        browser.close()


def printed(page: Page, paper: str) -> bytes:
    return page.pdf(format=paper, prefer_css_page_size=True, print_background=True)


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def words_within(pdf: Path) -> int:
    """How many words stand on the page, each of them whole."""
    told = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout
    (size,) = re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', told)
    wide, high = map(float, size)
    boxes = re.findall(r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)"', told)
    places = [[float(edge) for edge in box] for box in boxes]
    return sum(min(x, y) >= 0 and far <= wide and low <= high for x, y, far, low in places)


def colliding(page: Page) -> list[list[str]]:
    """Ask the browser which words stand on others, in drawings and beside them."""
    found: list[list[str]] = page.evaluate("""() => {
        const words = [...document.querySelectorAll('text, td, th, li, p, h1, h2, h3, figcaption')]
            .filter(one => one.textContent.trim() && !one.querySelector('td, li, p, text'));
        const boxes = words.map(one => {
            const range = document.createRange();
            range.selectNodeContents(one);
            return [one, range.getBoundingClientRect()];
        });
        const meet = (a, b) => a.left < b.right - 1 && b.left < a.right - 1
            && a.top < b.bottom - 1 && b.top < a.bottom - 1;
        const pairs = [];
        boxes.forEach(([one, a], i) => boxes.slice(i + 1).forEach(([other, b]) => {
            if (!one.contains(other) && !other.contains(one) && meet(a, b))
                pairs.push([one.textContent, other.textContent]);
        }));
        return pairs;
    }""")
    return found
