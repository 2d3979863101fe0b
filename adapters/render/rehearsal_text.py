"""A rehearsal as it comes: what the hub says, and what the room says to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Final, NamedTuple
from zoneinfo import ZoneInfo

from rich.text import Text

from adapters.render.columns import plural
from adapters.render.night_text import clock, event_words
from adapters.render.styled import EMPTY_LINE, Block, Indented
from adapters.safe_text import escaped
from engine.events import Event, Outcome

if TYPE_CHECKING:
    from engine.room import Room

HOW_TO_SPEAK: Final = "Say something yourself at any time, in a few words: "


class RehearsalHead(NamedTuple):
    """What is said before a rehearsal begins."""

    room: str
    evening: str
    """What is played: 'an invented evening (seed 1)'."""
    people: str
    begins: str
    """The staged time of day at which it begins; empty: the room has a time of its own."""
    speed: float
    broker: str
    longest_gap: int = 0
    """Nothing of the evening is waited for longer than this (ms); 0: for as long as it takes."""
    example: str = ""
    """What a person may say in between."""


def rehearsal_heading(head: RehearsalHead) -> Iterator[Block]:
    """Say what is rehearsed, how fast and with whom."""
    title = f"{head.room} rehearses {head.evening}; its people are {head.people}."
    yield Text(escaped(title), "bold")
    if head.begins:
        yield Text(
            f"It begins at {head.begins} and runs {head.speed:g} times as fast as life; the room's "
            f"own pace does likewise.\nIts broker is {head.broker} while it lasts."
        )
    else:
        yield Text(
            f"The room runs already, at {head.broker}, and keeps its own time: longer gaps of the "
            f"evening are shortened to {head.longest_gap // 1_000} s. No other hub must answer it."
        )
    yield Text(escaped(HOW_TO_SPEAK + head.example))
    yield EMPTY_LINE


class HubSide:
    """What the hub says, an event a line.

    Leaves out signals, black frames, orders that are done, and a source or a reading that is as
    before.
    """

    def __init__(self, room: Room) -> None:
        self._zone = ZoneInfo(room.time_zone)
        self._latest: dict[str, Event] = {}

    def blocks(self, now: int, event: Event, *, by_hand: bool) -> Iterator[Block]:
        """Show an event at its time (ms UTC); `by_hand`: whoever rehearses has said it."""
        tells = by_hand or self._tells(event)
        if event.kind in ONLY_NEWS:
            self._latest[event.kind] = event
        if tells:
            line = Text(f"{clock(now, self._zone)}  ")
            line.append(escaped(event_words(event)), "" if by_hand else "dim")
            yield line.append("  (you)" if by_hand else "", "dim")

    def _tells(self, event: Event) -> bool:
        if isinstance(event, Outcome):
            return event.outcome != "done"
        if event.kind in ONLY_NEWS:
            return self._latest.get(event.kind) != event
        return event.kind not in {"signal", "black"}


ONLY_NEWS: Final = frozenset({"source", "bars", "ratio", "format"})
"""Events that are not worth a line if they are as before."""


def room_says_blocks(said: Mapping[str, object]) -> Iterator[Block]:
    """Show what a room says that is no decision: a refusal, a question, a word on itself."""
    words = said.get("words") or ""
    if said.get("kind") == "refused":
        topic = f" ({said['topic']})" if "topic" in said else ""
        yield Indented(Text(escaped(f"refused{topic}: {said.get('details') or words}"), "red"))
    elif said.get("kind") == "question":
        yield Indented(Text("the hub is asked how everything is", "yellow"))
    else:
        yield Indented(Text(escaped(f"{said.get('kind')}: {words}"), "yellow"))


def waiting_block() -> Indented:
    """Show that somebody has let the evening wait."""
    return Indented(Text("the evening waits, the room does not; 'go on' plays on", "yellow"))


def not_said_block(error: str) -> Indented:
    """Show that what was said by hand cannot be said."""
    return Indented(Text(escaped(f"not said: {error}"), "red"))


def rehearsal_totals(made: int, refused: int) -> Iterator[Block]:
    """Sum a rehearsal up."""
    yield EMPTY_LINE
    yield Text(
        f"The evening is over: {plural(made, 'decision')}, {plural(refused, 'event')} refused."
    )
