"""Runs the settle filter on a labelled set of readings and scores it.

A set's score is the share of its tenths of a second in which the settled aspect is within 2 % of
the truth, leaving out one second after a change to a taller picture and five after one to a wider.

Run it as a script: python -m tests.engine.settle_score FOLDER...
"""

from __future__ import annotations

import gzip
import json
import sys
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from engine.settle import UNSETTLED, BarReading, DwellTimes, Settling, elapse, take_bars
from simulator.readings.labelled import LabelledSet, Segment, Timed


class Change(NamedTuple):
    """From `at` (ms) on the filter says this."""

    at: int
    aspect: int | None
    subtitles: bool


class Score(NamedTuple):
    """What a set says of the filter."""

    right: int
    counted: int
    false: tuple[Change, ...]
    lags: dict[str, int | None]
    """Milliseconds from a segment's beginning to the first right aspect; None: never right."""
    changes: tuple[Change, ...]

    @property
    def share(self) -> float:
        """The share of the counted tenths of a second that are right, percent."""
        return 100 * self.right / self.counted if self.counted else 100.0


def load(folder: Path) -> LabelledSet:
    """Read a folder with `readings.jsonl.gz` and `truth.json`; time that goes back is held."""
    readings: list[Timed] = []
    newest = 0
    with gzip.open(folder / "readings.jsonl.gz", "rt", encoding="utf-8") as lines:
        for line in lines:
            entry = json.loads(line)
            newest = max(newest, round(entry["t"] * 1000))
            bars = entry["bars"]
            readings.append((newest, BarReading(**bars, columns=1920, rows=1080) if bars else None))
    segments = [
        Segment(
            each["name"],
            round(each["from"] * 1000),
            round(each["to"] * 1000),
            None if each["aspect"] is None else round(each["aspect"] * 10_000),
            each.get("unknowable", False),
        )
        for each in json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    ]
    return LabelledSet(readings, segments)


def run(readings: Iterable[Timed], dwell: DwellTimes, end: int | None = None) -> list[Change]:
    """Feed the filter as a room does; give every change of what it says."""
    settling, changes = UNSETTLED, [Change(0, None, subtitles=False)]

    def note(at: int, new: Settling) -> Settling:
        if (new.aspect, new.subtitles) != changes[-1][1:]:
            changes.append(Change(at, new.aspect, new.subtitles))
        return new

    for now, reading in readings:
        while settling.deadline is not None and settling.deadline <= now:
            settling = note(settling.deadline, elapse(settling, settling.deadline))
        settling = note(now, take_bars(dwell, settling, reading, now))
    while settling.deadline is not None and end is not None and settling.deadline < end:
        settling = note(settling.deadline, elapse(settling, settling.deadline))
    return changes


def within(aspect: int | None, truth: int, percent: int = 2) -> bool:
    """Whether a settled aspect is that close to the truth."""
    return aspect is not None and abs(aspect - truth) * 100 <= percent * truth


def score(labelled: LabelledSet, dwell: DwellTimes | None = None) -> Score:
    """Score the filter on a set."""
    segments = labelled.segments
    changes = run(labelled.readings, dwell or DwellTimes(), segments[-1].end)
    right = counted = 0
    for begin, segment in zip(_counted_from(segments), segments, strict=True):
        if segment.aspect is None or segment.unknowable:
            continue
        for tenth in range(-(-begin // 100), -(-segment.end // 100)):
            counted += 1
            right += within(_at(changes, tenth * 100), segment.aspect)
    return Score(
        right,
        counted,
        tuple(_false(changes, segments)),
        {each.name: _lag(changes, each) for each in segments if each.aspect is not None},
        tuple(changes),
    )


def knowable(labelled: LabelledSet, lag: int) -> Score:
    """Score an oracle that is told the truth, but not before it can be seen.

    It is right from `lag` ms after the first reading that shows the shape of a segment whole. What
    is right more often than that has guessed from a picture that is partly dark.
    """
    segments = labelled.segments
    right = counted = 0
    known: int | None = None
    for begin, segment in zip(_counted_from(segments), segments, strict=True):
        truth = segment.aspect
        if truth is None or segment.unknowable:
            continue
        from_then = segment.begin
        if known is None or not within(known, truth):
            from_then = _first_shown(labelled.readings, segment, truth) + lag
        known = truth
        for tenth in range(-(-begin // 100), -(-segment.end // 100)):
            counted += 1
            right += tenth * 100 >= from_then
    return Score(right, counted, (), {}, ())


def _first_shown(readings: Sequence[Timed], segment: Segment, truth: int) -> int:
    """Say when a segment's shape is first read whole, ms; its end: never."""
    for now, bars in readings:
        if segment.begin <= now < segment.end and bars is not None:
            columns, rows = (
                bars.columns - bars.left - bars.right,
                bars.rows - bars.top - bars.bottom,
            )
            if within(columns * 10_000 // rows, truth):
                return now
    return segment.end


def _counted_from(segments: Sequence[Segment]) -> list[int]:
    """Where the score begins to count in each segment: 1 s after taller, 5 s after wider."""
    begins, known = [], None
    for segment in segments:
        grace = 0
        if segment.aspect is not None:
            if known is None or segment.aspect < known:
                grace = 1_000
            elif not within(known, segment.aspect):
                grace = 5_000
            known = segment.aspect
        begins.append(segment.begin + grace)
    return begins


def _at(changes: Sequence[Change], when: int) -> int | None:
    aspect = None
    for change in changes:
        if change.at > when:
            break
        aspect = change.aspect
    return aspect


def _false(changes: Sequence[Change], segments: Sequence[Segment]) -> Iterable[Change]:
    """Settles on a ratio that is not there, or not any more."""
    for before, change in pairwise(changes):
        if change.aspect is None or change.aspect == before.aspect:
            continue
        there = [s.aspect for s in segments if s.begin <= change.at < s.end and s.aspect]
        if not any(within(change.aspect, truth) for truth in there):
            yield change


def _lag(changes: Sequence[Change], segment: Segment) -> int | None:
    truth = segment.aspect
    if truth is None:
        return None
    if within(_at(changes, segment.begin), truth):
        return 0
    after = (c.at for c in changes if segment.begin <= c.at < segment.end)
    return next((at - segment.begin for at in after if within(_at(changes, at), truth)), None)


def report(name: str, result: Score) -> str:
    """A score in words: the share, every change, every segment's lag."""
    lines = [f"{name}: {result.share:.2f} % of {result.counted} tenths, {len(result.false)} false"]
    for at, aspect, subtitles in result.changes:
        lines.append(f"  {at / 1000:9.3f} s  {aspect}{'  subtitles' if subtitles else ''}")
    for segment, lag in result.lags.items():
        lines.append(f"  {segment:26} {'never' if lag is None else f'{lag} ms'}")
    return "\n".join(lines)


if __name__ == "__main__":
    for folder in sys.argv[1:]:
        sys.stdout.write(report(folder, score(load(Path(folder)))) + "\n")
