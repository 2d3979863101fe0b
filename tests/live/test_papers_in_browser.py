"""The papers in a real browser: how many pages they print on, and that no words collide."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from playwright.sync_api import Page, sync_playwright

from simulator.shipped import DEMO_ROOM
from tests.adapters.commands import run

CHROMIUM: Final = "/usr/bin/chromium"
PAGES = {"client": 1, "quote": 1, "site": 4, "as-built": 3}
"""How many pages of A4 the papers of the shipped room are."""


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
            printed = page.pdf(prefer_css_page_size=True, print_background=True)
            assert len(re.findall(rb"/Type\s*/Page\b", printed)) == pages, name
            assert colliding(page) == [], name
        browser.close()


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
