"""The papers in a real browser: how many pages they print on, and that no words collide."""

from __future__ import annotations

import re
from collections import Counter
from html import unescape
from pathlib import Path
from typing import Final

from playwright.sync_api import Page, sync_playwright

from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run
from tests.adapters.months import book, months
from tests.adapters.wear_commands import HAYLOFT
from tests.live.printing import PAPERS, boxes_of, pages_of, printed

CHROMIUM: Final = "/usr/bin/chromium"
PAGES = {"client": 1, "quote": 1, "site": 4, "as-built": 3}
"""How many pages the papers of the shipped room are, of A4 and of Letter."""


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


def test_every_sheet_of_plan_and_wear_prints_whole_on_one_page_of_either_paper(
    tmp_path: Path,
) -> None:
    """Every word stands on the page: a sheet's right half was cut off, and a chart's last edge."""
    run("plan", DEMO_ROOM, "--pictures", tmp_path)
    nights = months(HAYLOFT, tmp_path / "nights", 21)
    book(tmp_path / "book", {0: 0, 7: 20, 14: 40, 20: 60}, 0.02, "tall")
    named = [part for night in nights for part in ("--night", night)]
    run("wear", DEMO_ROOM, *named, "--book", tmp_path / "book", "--charts", tmp_path)
    sheets = sorted(tmp_path.glob("*.svg"))
    assert len(sheets) == 6
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
                written = Counter("".join("".join(words).split()))
                assert not written - letters_within(pdf), (sheet.name, paper)
        browser.close()


def letters_within(pdf: Path) -> Counter[str]:
    """The letters of all words that stand on the page whole; a word with a halo counts twice."""
    told = boxes_of(pdf)
    (size,) = re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', told)
    wide, high = map(float, size)
    found: Counter[str] = Counter()
    for *box, word in re.findall(
        r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">(.+?)<', told
    ):
        x, y, far, low = map(float, box)
        if min(x, y) >= 0 and far <= wide and low <= high:
            found.update(unescape(word))
    return found


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
