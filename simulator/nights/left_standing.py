"""What somebody left standing: service that was never over, a choice that nobody gave back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from engine.decisions import Note
from engine.events import FindLens, Override, Undo
from engine.room import Show
from simulator.nights.chains import (
    ChainLink,
    Trouble,
    duration_words,
    notes_of,
    playing_with,
    trouble,
    value_at,
)
from simulator.nights.night_record import LaneSpan, NightRecord

VERY_LONG: Final = 600_000
"""How long (ms) something plays in service before the service is told of."""
MINUTE: Final = 60_000
_CHOSEN: Final = {
    "undo": "{who} had taken back what moved last",
    "find_lens": "{who} had the lens brought back",
    "lens_moved": "somebody had moved the lens by hand",
    "last_time": "the room had remembered what was chosen for this title the last time",
}
"""How a person came to have the room, other than by a wish for a look."""


_UNTIL: Final = {
    "until title": "until the title's end",
    "until session": "until the session's end",
    "until time": "up to a time that they named",
    "until arrival": "until the lens has arrived",
}
"""How long a person keeps the room, by what stands in the lane."""


def left_standing(record: NightRecord) -> Iterator[Trouble]:
    """Find both."""
    yield from _service(record)
    yield from _overrides(record)


def _service(record: NightRecord) -> Iterator[Trouble]:
    """Find service that went on while people watched."""
    for span in record.lanes["service"]:
        played = [one for one in playing_with(record, "service") if span.start <= one.start]
        within = [one for one in played if one.end <= span.end and one.value]
        long = sum(one.end - one.start for one in within)
        if not span.value or long < VERY_LONG:
            continue
        over = span.end < record.ends
        words = f"The room stood in service for {duration_words(span.end - span.start)}, while "
        words += f"something played for {duration_words(long)}: roomcue ordered nothing."
        causes = (
            ChainLink(span.start, "a technician's service began"),
            ChainLink(within[0].start, "something plays; no orders during service"),
            ChainLink(span.end, "service over" if over else "service was never said to be over"),
        )
        yield trouble(within[0].start, span.end, "service_left", words, causes)


def _overrides(record: NightRecord) -> Iterator[Trouble]:
    """Find what a person chose and nobody gave back, where a later title was to be otherwise."""
    for span in record.lanes["override"]:
        if not span.value or _given_back(record, span.end):
            continue
        chosen, choice = person_choice(record, span)
        later = [one for one in record.lanes["title"] if one.value and one.start > span.start]
        for title in later:
            at = _otherwise(record, title, span)
            if at is None:
                continue
            row = value_at(record, "row", at)
            words = (
                f"{chosen[0].upper()}{chosen[1:]}, and nobody gave the room back: a later title "
            )
            words += f"was shown so too, where rule '{row}' wants {rule_words(record, row)}."
            over = "the rules had the room again" if span.end < record.ends else "still so"
            causes = (
                ChainLink(span.start, choice),
                ChainLink(title.start, "another title began"),
                ChainLink(at, f"rule '{row}' would have shown {rule_words(record, row)}"),
                ChainLink(span.end, over),
            )
            yield trouble(at, span.end, "override_left", words, causes)
            break


def person_choice(record: NightRecord, span: LaneSpan) -> tuple[str, str]:
    """Say what somebody took the room over with: as a sentence's beginning, and as a cause."""
    taken = [
        step
        for step in record.steps
        if isinstance(step.entry.event, Override | Undo | FindLens) and step.refused is None
    ]
    by_word = [step for step in taken if step.entry.now == span.start]
    event = by_word[-1].entry.event if by_word else None
    who = getattr(event, "who", None) or "somebody"
    if isinstance(event, Override):
        look = event.look
        parts = [look.picture, look.preset, look.panels] if look is not None else []
        asked = ", ".join(f"'{part}'" for part in parts if part) or "everything as it stood"
        return f"{who} had chosen {asked}", f"{who} took over ({asked}), {_UNTIL[span.value]}"
    notes = [one for one in notes_of(record, {"override_begun"}) if one.at == span.start]
    how = notes[-1].parameters.get("why") if notes else None
    said = _CHOSEN.get(str(how), "somebody had taken the room over").format(who=who)
    return said, f"{said}, {_UNTIL[span.value]}"


def rule_words(record: NightRecord, row: str) -> str:
    """Say what the row of this name shows."""
    show = show_of(record, row)
    parts = [
        show.picture and f"picture '{show.picture}'",
        show.preset and f"lens at '{show.preset}'",
    ]
    return ", ".join(part for part in parts if part) or "what stands"


def show_of(record: NightRecord, row: str) -> Show:
    """Give what the row of this name shows, or else the row `otherwise`."""
    rules = record.room.rules
    number = next((at for at, one in enumerate(rules.rows) if one.label == row), None)
    return rules.show(number)


def _given_back(record: NightRecord, at: int) -> bool:
    ended: list[Note] = [one for one in notes_of(record, {"override_ended"}) if one.at == at]
    return any(one.parameters.get("why") in {"given_back", "found"} for one in ended)


def _otherwise(record: NightRecord, title: LaneSpan, override: LaneSpan) -> int | None:
    """Say since when a title stood otherwise than its rule wants, for a minute or longer."""
    for row in record.lanes["row"]:
        start = max(row.start, title.start, override.start)
        end = min(row.end, title.end, override.end)
        if end - start < MINUTE or value_at(record, "playback", start) != "playing":
            continue
        show, picture = show_of(record, row.value), value_at(record, "picture", end - 1)
        shown = picture.split()[0] if picture else ""
        preset = value_at(record, "preset", end - 1)
        if (show.picture and shown and show.picture != shown) or (
            show.preset and preset and show.preset != preset
        ):
            return start
    return None
