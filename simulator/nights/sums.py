"""Sums of one night: time in each look, light, pixels, travels, prompts."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import NamedTuple

from engine.decisions import Prompt, PromptOver
from engine.planning.light import brightness
from engine.room import DARK
from simulator.nights.chains import all_decisions, decisions_of, span_at, stands_at
from simulator.nights.night_record import NightRecord


class LookSum(NamedTuple):
    """How long one look stood, ms."""

    picture: str
    preset: str
    panels: str
    ms: int


class TravelSum(NamedTuple):
    """Travels of this night to one preset; "" is a place that is none."""

    preset: str
    ordered: int
    by_hand: int
    unconfirmed: int
    """How many of the ordered ones nobody has reported."""


class PromptSum(NamedTuple):
    """What people were asked for this night."""

    asked: int
    done: int
    declined: int
    expired: int
    waited: int
    """How long prompts were open, together, ms."""


class NightSums(NamedTuple):
    """A night in figures."""

    played: int
    """How long something played or was paused, ms."""
    looks: tuple[LookSum, ...]
    """While something played or was paused, the longest first."""
    light: float | None
    """White on the screen, cd/m2, on average over that time; None: not known."""
    pixels: int | None
    """Pixels of the raster that were picture, on average over that time; None: none was."""
    travels: tuple[TravelSum, ...]
    prompts: PromptSum
    decisions: int
    refused: int


def sums_of(record: NightRecord) -> NightSums:
    """Sum a night up, and nothing that was before it."""
    looks, light, pixels, lit, seen = Counter[tuple[str, str, str]](), 0.0, 0, 0, 0
    played = 0
    for start, end in _pieces(record):
        if stands_at(record, "playback", start) not in {"playing", "paused"}:
            continue
        played += end - start
        look = _look(record, start)
        if look is None:
            continue
        looks[look] += end - start
        size = stands_at(record, "region", start)
        seen += end - start
        pixels += int(size or 0) * (end - start)
        shone = brightness(record.room, look[1]) if look[1] in record.room.presets else None
        if shone is not None:
            light += shone.luminance * (end - start)
            lit += end - start
    return NightSums(
        played,
        tuple(LookSum(*look, ms) for look, ms in looks.most_common()),
        light / lit if lit else None,
        round(pixels / seen) if seen else None,
        tuple(_travels(record)),
        _prompts(record),
        sum(1 for _ in all_decisions(record)),
        sum(1 for step in record.steps if step.refused is not None),
    )


def _pieces(record: NightRecord) -> list[tuple[int, int]]:
    """Cut the night wherever something that is summed changes."""
    lanes = ("playback", "picture", "preset", "panels", "region")
    cuts = sorted({record.begins, *(span.end for lane in lanes for span in record.lanes[lane])})
    return list(pairwise(cuts))


def _look(record: NightRecord, at: int) -> tuple[str, str, str] | None:
    """Name picture, preset and panels that stood; None: no picture did."""
    picture = span_at(record, "picture", at)
    if picture is None or not picture.value or picture.failed or picture.value == DARK:
        return None
    preset, panels = span_at(record, "preset", at), span_at(record, "panels", at)
    lens = "not known" if preset is None or not preset.value or not preset.known else preset.value
    if preset is not None and not preset.known:
        lens = "travelling"
    return picture.value.split()[0], lens, "not known" if panels is None else panels.value


def _travels(record: NightRecord) -> list[TravelSum]:
    before = {one.preset: one for one in record.first.tally.travels}
    found = []
    for one in record.last.tally.travels:
        was = before.get(one.preset)
        more = TravelSum(
            one.preset,
            one.ordered - (0 if was is None else was.ordered),
            one.by_hand - (0 if was is None else was.by_hand),
            one.unconfirmed - (0 if was is None else was.unconfirmed),
        )
        if more.ordered or more.by_hand:
            found.append(more)
    return found


def _prompts(record: NightRecord) -> PromptSum:
    asked = [one for one in decisions_of(record, Prompt) if one.stage == "asked"]
    how = Counter(one.how for one in decisions_of(record, PromptOver))
    waited = sum(
        span.end - span.start for span in record.lanes["prompt"] if span.value.endswith("waiting")
    )
    return PromptSum(len(asked), how["done"], how["declined"], how["expired"], waited)
