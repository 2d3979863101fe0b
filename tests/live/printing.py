"""Print a page in a browser on either of the papers that there are, and read what stands on it."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Final

from playwright.sync_api import Page

PAPERS: Final = {"A4": (595, 842), "Letter": (612, 792)}
"""The width and height, in whole points, of ISO 216 A4 (210 x 297 mm) and of what stands in its
place in North America (ANSI A, 8.5 x 11 in)."""


def printed(page: Page, paper: str) -> bytes:
    """Print a page on a paper, if its own rules do not ask for another one."""
    return page.pdf(format=paper, prefer_css_page_size=True, print_background=True)


def pages_of(pdf: bytes) -> int:
    """Count the pages of a PDF."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def boxes_of(pdf: Path) -> str:
    """Write the size of each page and the place of each word on it."""
    return subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout


def outside(pdf: Path) -> tuple[set[tuple[int, int]], list[str]]:
    """Give the sizes of pages in whole points, and the words that do not stand on them whole."""
    sizes, beyond = set(), []
    for told in boxes_of(pdf).split("<page ")[1:]:
        (size,) = re.findall(r'^width="([\d.]+)" height="([\d.]+)"', told)
        wide, high = map(float, size)
        sizes.add((int(wide), int(high)))
        for x, y, far, low, word in re.findall(
            r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">(.+?)<', told
        ):
            if min(float(x), float(y)) < 0 or float(far) > wide or float(low) > high:
                beyond.append(word)
    return sizes, beyond
