"""Two nights, or one night under two room files, side by side: what differed and what it cost."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from simulator.nights.chains import ChainLink, duration_words, stands_at
from simulator.nights.night_record import NightRecord
from simulator.nights.sums import NightSums

WORTH_TELLING: Final = 60_000
"""How much longer or shorter (ms) a look stands if the difference is told."""
FEW: Final = 12
"""How many of the first differences are told at most."""


def compared(one: NightSums, other: NightSums) -> Iterator[str]:
    """Say in sentences what the other night has in place of the one."""
    yield from _counts("The lens travelled", _travels(one), _travels(other), "time")
    yield from _counts("People were asked", one.prompts.asked, other.prompts.asked, "time")
    if abs(one.prompts.waited - other.prompts.waited) >= WORTH_TELLING:
        yield (
            f"Requests stood open for {duration_words(other.prompts.waited)} "
            f"instead of {duration_words(one.prompts.waited)}."
        )
    before = {(look.picture, look.preset, look.panels): look.ms for look in one.looks}
    after = {(look.picture, look.preset, look.panels): look.ms for look in other.looks}
    for look in sorted({*before, *after}, key=lambda each: -abs(_change(before, after, each))):
        if abs(_change(before, after, look)) >= WORTH_TELLING:
            picture, preset, panels = look
            yield (
                f"{picture} at {preset}, panels {panels}: {duration_words(after.get(look, 0))} "
                f"instead of {duration_words(before.get(look, 0))}."
            )
    yield from _shares("White on the screen was", one.light, other.light, "cd/m2")
    yield from _shares("The picture had", one.pixels, other.pixels, "pixels")


def first_differences(one: NightRecord, other: NightRecord) -> tuple[ChainLink, ...]:
    """Say when two plays of one night stood otherwise, lane by lane, the first moments of it."""
    found: list[ChainLink] = []
    for lane in ("picture", "preset", "panels", "prompt"):
        for start, was, now in _otherwise(one, other, lane):
            found.append(ChainLink(start, f"{lane} {now or 'none'} instead of {was or 'none'}"))
    return tuple(sorted(found)[:FEW])


def _otherwise(one: NightRecord, other: NightRecord, lane: str) -> Iterator[tuple[int, str, str]]:
    """Give the moments from which a lane has other values for a minute or longer."""
    cuts = {span.start for record in (one, other) for span in record.lanes[lane]}
    ordered, told = sorted(cuts), ("", "")
    for number, start in enumerate(ordered):
        end = ordered[number + 1] if number + 1 < len(ordered) else one.ends
        was, now = stands_at(one, lane, start), stands_at(other, lane, start)
        if was == now:
            told = ("", "")
        elif (was, now) != told and end - start >= WORTH_TELLING:
            told = (was, now)
            yield start, was, now


def _change(
    before: dict[tuple[str, str, str], int],
    after: dict[tuple[str, str, str], int],
    look: tuple[str, str, str],
) -> int:
    return after.get(look, 0) - before.get(look, 0)


def _travels(sums: NightSums) -> int:
    return sum(one.ordered + one.by_hand for one in sums.travels)


def _counts(what: str, was: int, now: int, unit: str) -> Iterator[str]:
    if was != now:
        yield f"{what} {now} {unit}{'' if now == 1 else 's'} instead of {was}."


def _shares(what: str, was: float | None, now: float | None, unit: str) -> Iterator[str]:
    if was and now and round(was) != round(now):
        share = (now - was) / was
        way = "more" if share > 0 else "less"
        yield f"{what} {now:,.0f} {unit} on average instead of {was:,.0f}: {abs(share):.0%} {way}."
