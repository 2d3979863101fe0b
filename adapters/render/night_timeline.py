"""A recorded night as lines: filtered, with the facts that changed, and summed up at its end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple
from zoneinfo import ZoneInfo

from rich.text import Text

from adapters.render.columns import plural
from adapters.render.night_text import Timeline, clock, fact_value
from adapters.render.styled import EMPTY_LINE, Block
from adapters.render.trouble_text import faults_of, trouble_blocks
from engine.aspect import ratio_text
from engine.decisions import Decision, Note, RecallOrder
from engine.events import FindLens, LensReport
from engine.facts import facts_of, readable_facts

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.state import State
    from simulator.nights.chains import Trouble
    from simulator.nights.night_record import NightRecord
    from simulator.nights.replay import ReplayStep
    from simulator.nights.sums import NightSums

Only = Literal["faults", "marks", "travels"]
NOTHING_FOUND: Final = (
    "Nothing of what was asked for happened in this night, or in this part of it."
)
SEEN: Final = ("aspect", "tallest", "varies", "subtitles", "doubtful", "first_minutes", "helper")
"""Facts that change by themselves, without an event of the night that says so."""
OF_LENS: Final = frozenset(
    {"recall_refused", "lens_lost", "lens_elsewhere", "travel_repeated", "many_travels"}
)


class NightFilter(NamedTuple):
    """Which part of a night is shown; by default all of it."""

    start: int | None = None
    end: int | None = None
    rule: str | None = None
    only: Only | None = None

    def keeps(self, at: int) -> bool:
        """Tell whether a moment (ms UTC) is among those asked for."""
        return (self.start is None or self.start <= at) and (self.end is None or at <= self.end)

    def shows(self, decision: Decision) -> bool:
        """Tell whether a decision is among those asked for."""
        if self.rule is not None and decision.rule != self.rule:
            return False
        travels = isinstance(decision, RecallOrder) or (
            isinstance(decision, Note) and decision.code in OF_LENS
        )
        return self.only != "travels" or travels

    def filtered(self, step: ReplayStep) -> ReplayStep | None:
        """Give of a step what is asked for; None: nothing."""
        if not self.keeps(step.entry.now):
            return None
        if self.rule is None and self.only is None:
            return step
        kept = tuple(one for one in step.decisions if self.shows(one))
        due = sum(1 for one in step.decisions[: step.due] if self.shows(one))
        moves = self.only == "travels" and isinstance(step.entry.event, LensReport | FindLens)
        if not kept and not moves:
            return None
        return step._replace(decisions=kept, due=due, refused=None, broken=())


def timeline_blocks(
    record: NightRecord, troubles: Sequence[Trouble], wanted: NightFilter
) -> Iterator[Block]:
    """Show what happened, event by event; with `only` faults or marks, those alone."""
    zone = ZoneInfo(record.room.time_zone)
    if wanted.only in {"faults", "marks"}:
        found = troubles_of_kind(troubles, wanted)
        if not found and wanted != NightFilter(only="faults"):
            yield Text(NOTHING_FOUND)
            return
        yield from trouble_blocks(found, zone)
        return
    nothing = wanted != NightFilter()
    timeline = Timeline(record.room, dict(_changes(record)))
    for step in record.steps:
        shown = wanted.filtered(step)
        if shown is not None:
            nothing = False
            yield from timeline.blocks(shown)
    if nothing:
        yield Text(NOTHING_FOUND)


def troubles_of_kind(troubles: Sequence[Trouble], wanted: NightFilter) -> list[Trouble]:
    """Give the faults, or the marks alone, of the part of the night that is asked for."""
    marks = wanted.only == "marks"
    found = [one for one in troubles if one.kind == "marked"] if marks else faults_of(troubles)
    return [one for one in found if wanted.keeps(one.at)]


def _changes(record: NightRecord) -> Iterator[tuple[int, str]]:
    """Say before which decision (by `id()`) facts had changed of themselves, and how."""
    before = _facts(record, record.first)
    for moment in record.moments:
        facts = _facts(record, moment.state)
        changed = [
            f"{name} {fact_value(before[name])} -> {fact_value(facts[name])}"
            for name in SEEN
            if before[name] != facts[name]
        ]
        if facts["aspect"] != before["aspect"]:
            changed += _read(record, moment.at, fact_value(facts["aspect"]))
        if changed:
            yield id(moment.decisions[0]), ", ".join(changed)
        before = facts


def _facts(record: NightRecord, state: State) -> dict[str, object]:
    told = readable_facts(facts_of(record.room, state.core, state.settling))
    return {name: told.get(name, False) for name in SEEN}  # `doubtful` is told where it is so


def _read(record: NightRecord, at: int, settled: str) -> list[str]:
    """Say since when a shape has been read, if that is what has settled."""
    past = [one for one in record.readings if one.at <= at]
    if not past or past[-1].ratio is None or ratio_text(past[-1].ratio) != settled:
        return []
    since = clock(past[-1].at, ZoneInfo(record.room.time_zone))
    return [f"read as {ratio_text(past[-1].ratio)} since {since}"]


def totals_blocks(sums: NightSums, troubles: Sequence[Trouble], zone: ZoneInfo) -> Iterator[Block]:
    """Sum a night up, and nothing before it: decisions, travels, requests, what went wrong."""
    yield EMPTY_LINE
    yield Text(f"{plural(sums.decisions, 'decision')}, {plural(sums.refused, 'event')} refused.")
    for one in sums.travels:
        yield Text(
            f"Lens to {one.preset or 'no preset'}: {one.ordered} ordered "
            f"({one.unconfirmed} not confirmed), {one.by_hand} by hand."
        )
    asked = sums.prompts
    if asked.asked:
        yield Text(
            f"{plural(asked.asked, 'request')} to people: {asked.done} done, "
            f"{asked.declined} declined, {asked.expired} ran out."
        )
    yield EMPTY_LINE
    yield from trouble_blocks(troubles, zone)
