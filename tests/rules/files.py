"""The room files that lie beside these tests, and ways to spoil them."""

import re
from collections import Counter
from pathlib import Path

from hypothesis import strategies as st

from rules.room.load import Loaded, read_room

ROOMS = Path(__file__).parent / "rooms"
GOOD = ("attic.yaml", "hayloft.yaml", "ranked.yaml")
BAD = ("crowded.yaml", "torn.yaml", "hostile.yaml")

_MARK = re.compile(r"# ! ([\w-]+)")
_PIECES = (
    *"'\"[]{}:,-#>|&*!%@`\n \t()=<?~.0a\\",
    "\ufeff",
    "\x00",
    "é",
    ": ",
    "- ",
    "<<: ",
    "---\n",
)


def room_text(name: str) -> str:
    return (ROOMS / name).read_text(encoding="utf-8")


def marked(text: str) -> Counter[tuple[int, str]]:
    """The line and code of every mistake, as the file's own comments tell them."""
    lines = enumerate(text.split("\n"), start=1)
    return Counter((number, code) for number, line in lines for code in _MARK.findall(line))


def found(loaded: Loaded) -> Counter[tuple[int, str]]:
    return Counter((one.line, one.code) for one in loaded.findings)


def said(text: str) -> list[str]:
    """What is found in a text, as people read it, without the file's name."""
    return [str(one).removeprefix("room.yaml:") for one in read_room(text, "room.yaml").findings]


@st.composite
def spoiled(draw: st.DrawFn) -> str:
    """A room file after a few slips of hand: characters, lines taken, doubled, swapped, moved."""
    text = room_text(draw(st.sampled_from([*GOOD, *BAD])))
    for _ in range(draw(st.integers(1, 6))):
        lines = text.split("\n")
        at, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        place = draw(st.integers(0, len(text)))
        piece = draw(st.sampled_from(_PIECES))
        match draw(st.integers(0, 5)):
            case 0:
                text = text[:place] + piece + text[place:]
                continue
            case 1:
                text = text[:place] + text[place + draw(st.integers(1, 9)) :]
                continue
            case 2:
                del lines[at]
            case 3:
                lines[at], lines[other] = lines[other], lines[at]
            case 4:
                lines.insert(other, lines[at])
            case _:
                lines[at] = draw(st.sampled_from(["", " ", "   ", "\t"])) + lines[at].lstrip(" ")
        text = "\n".join(lines)
    return text
