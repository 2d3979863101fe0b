"""The report of a night as one page: the sentence, the list, lanes, decisions, the sums."""

from __future__ import annotations

import json
from base64 import b64encode
from hashlib import sha256
from typing import TYPE_CHECKING, Final, NamedTuple
from zoneinfo import ZoneInfo

from markupsafe import Markup

from adapters.render.night_lanes import MOST_BINS, SIGN_WORDS, Bin, night_lanes, thinned
from adapters.render.night_picture import seen_picture, seen_words
from adapters.render.night_text import clock, date, decision_reason, decision_words, fact_words
from adapters.render.palette import ON_PAPER
from adapters.render.templating import bundled_text, fill_template
from adapters.render.trouble_text import (
    SIGNS,
    count_words,
    first_remedy,
    headline,
    remedies_of,
    said_of,
)
from adapters.render.why_text import show_words
from engine.decisions import Prompt, RecallOrder
from engine.events import moment_of
from engine.facts import facts_of, facts_of_title
from engine.table import explain
from rules.room.names import OPEN_PANELS
from simulator.nights.chains import duration_words
from simulator.nights.marks import worst_first

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.decisions import Decision
    from engine.room import Room
    from simulator.nights.chains import ChainLink, Trouble
    from simulator.nights.night_record import EngineMoment, NightRecord
    from simulator.nights.sums import NightSums

MOST_EXPLAINED: Final = 300
"""How many steps are explained with table and picture; more would make the page too large."""
MOST_LISTED: Final = 1_000
"""How many steps (the first), spans of a lane (the longest) and troubles (the worst) are shown."""
HOUR: Final = 3_600_000
A_SECOND: Final = 1_000


class Comparison(NamedTuple):
    """Another room file or another night beside this one."""

    title: str
    sentences: tuple[str, ...]
    moments: tuple[ChainLink, ...]
    left_out: tuple[str, ...]
    """What of the night could not be taken over: reports of what other rules never ordered."""


class ReportInput(NamedTuple):
    """All that a report tells."""

    record: NightRecord
    troubles: tuple[Trouble, ...]
    sums: NightSums
    remarks: tuple[str, ...]
    """What a reader must know first: other rules, another room's night, skipped lines."""
    comparison: Comparison | None
    version: str


def night_report(told: ReportInput) -> str:
    """Write the page. It fetches nothing, and no text of a night becomes markup or script in it."""
    told = _shortened(told)
    record = told.record
    zone = ZoneInfo(record.room.time_zone)
    numbers = {
        id(decision): number
        for number, moment in enumerate(record.moments, 1)
        for decision in moment.decisions
    }
    script = bundled_text("vendor/d3-zoom/d3-zoom.js") + bundled_text("templates/report.js")
    digest = b64encode(sha256(script.encode()).digest()).decode()
    bins = thinned(record.readings, record.begins, record.ends, MOST_BINS)
    values: dict[str, object] = {
        "room": record.room.name,
        "day": date(record.begins, zone),
        "zone": record.room.time_zone,
        "from_": clock(record.begins, zone),
        "to": clock(record.ends, zone),
        "headline": headline(told.troubles, zone),
        "to_do": first_remedy(told.troubles),
        "names": _names(record.room),
        "count": count_words(told.troubles),
        "remarks": told.remarks,
        "troubles": _troubles(told.troubles, zone),
        "lanes": Markup(night_lanes(record, bins, told.troubles, numbers)),  # noqa: S704 - svg escapes
        "signs": SIGN_WORDS,
        "moments": list(_moments(record, zone)),
        "sums": _sums(told.sums, record),
        "comparison": told.comparison and _comparison(told.comparison, zone),
        "data": _zoom_data(record, bins, zone),
        "style": Markup(bundled_text("templates/report.css")),  # noqa: S704 - ours
        "palette": ON_PAPER,
        "script": Markup(script),  # noqa: S704 - ours and the library's
        "digest": digest,
        "version": told.version,
    }
    return fill_template("report.html.j2", values)


def _shortened(told: ReportInput) -> ReportInput:
    """Leave out what would make the page of an endless night too large, and say so."""
    record = told.record
    lanes = {
        lane: tuple(sorted(sorted(spans, key=lambda one: one.start - one.end)[:MOST_LISTED]))
        for lane, spans in record.lanes.items()
    }
    left = len(record.moments) - MOST_LISTED
    troubles = told.troubles
    if len(troubles) > MOST_LISTED // 4:
        troubles = tuple(sorted(worst_first(troubles)[: MOST_LISTED // 4]))
    remarks = list(told.remarks)
    if len(troubles) < len(told.troubles):
        remarks.append(f"{len(told.troubles)} things went wrong; the worst are listed.")
    if left > 0:
        remarks.append(f"The first {MOST_LISTED:,} decided steps are shown, {left:,} more are not.")
    record = record._replace(lanes=lanes, moments=record.moments[:MOST_LISTED])
    return told._replace(record=record, troubles=troubles, remarks=tuple(remarks))


def _troubles(troubles: Sequence[Trouble], zone: ZoneInfo) -> list[dict[str, object]]:
    return [
        {
            "at": clock(one.at, zone),
            "until": clock(one.until, zone) if one.until > one.at else "",
            "kind": one.kind,
            "code": one.code,
            "sign": SIGNS[one.kind],
            "words": said_of(one),
            "to_do": remedy,
            "causes": [(clock(cause.at, zone), cause.words) for cause in one.causes],
        }
        for one, remedy in zip(troubles, remedies_of(troubles), strict=True)
    ]


def _names(room: Room) -> str:
    """Say what the names in the sentences are, for whoever does not know the room."""
    presets = " or ".join(f"'{name}'" for name in room.presets)
    lens = f"the lens stands at {presets}" if len(room.presets) > 1 else "the lens stays as it is"
    names = [name for name in room.panels if name != OPEN_PANELS]
    panels = f", masking panels are '{OPEN_PANELS}' (none fitted) or " if names else ""
    panels += " or ".join(f"'{name}'" for name in names)
    return f"In this room {lens}{panels}. A figure such as 2.39 is a picture's width to its height."


def _moments(record: NightRecord, zone: ZoneInfo) -> Iterator[dict[str, object]]:
    """Explain each step in which something was decided."""
    for number, moment in enumerate(record.moments, 1):
        explained = number <= MOST_EXPLAINED
        yield {
            "number": number,
            "at": clock(moment.at, zone),
            "decisions": [_decision(record.room, one) for one in moment.decisions],
            "table": _table(record.room, moment) if explained else None,
            "picture": Markup(seen_picture(record.room, moment.state.core))  # noqa: S704
            if explained
            else None,
            "seen": seen_words(record.room, moment.state.core),
        }


def _decision(room: Room, one: Decision) -> dict[str, object]:
    kind, asked = decision_words(one)
    return {
        "kind": kind,
        "asked": asked,
        "number": getattr(one, "id", None),
        "rule": one.rule,
        "reason": decision_reason(one),
        "facts": fact_words(room, one.rule, one.facts),
    }


def _table(room: Room, moment: EngineMoment) -> dict[str, object]:
    """Mark the rule table as it stood: which cells matched, which failed, which row won.

    Preset and panels are looked up with the title's own shape, so a step that moves them is
    explained by that.
    """
    core = moment.state.core
    facts = facts_of(room, core, moment.state.settling)
    if any(isinstance(one, RecallOrder | Prompt) for one in moment.decisions):
        facts = facts_of_title(room, core, moment.state.settling, facts) or facts
    trace, columns = explain(room.rules.table, facts), room.rules.table.columns
    used = [
        at for at in range(len(columns)) if any(row.cells[at].test != "-" for row in trace.rows)
    ]
    rows = [
        {
            "won": trace.choice.row == index,
            "label": row.label,
            "cells": [(row.cells[at].test.replace('"', ""), row.cells[at].matched) for at in used],
            "shows": show_words(room, index),
        }
        for index, row in enumerate(trace.rows)
    ]
    if room.rules.table.default is not None:
        empty = [("-", True) for _ in used]
        won = trace.choice.row is None
        rows.append(
            {"won": won, "label": "otherwise", "cells": empty, "shows": show_words(room, None)}
        )
    return {"columns": [columns[at].name for at in used], "rows": rows}


def _sums(sums: NightSums, record: NightRecord) -> dict[str, object]:
    whole = max(1, sums.played)
    return {
        "looks": [
            (one.picture, one.preset, one.panels, duration_words(one.ms), f"{one.ms / whole:.0%}")
            for one in sums.looks
            if one.ms >= A_SECOND
        ],
        "played": duration_words(sums.played),
        "light": "not known" if sums.light is None else f"{sums.light:.0f} cd/m2 white",
        "pixels": "no picture"
        if sums.pixels is None
        else f"{sums.pixels:,} of {record.room.projector.columns * record.room.projector.rows:,}",
        "travels": [
            (one.preset or "no preset", one.ordered, one.by_hand, one.unconfirmed)
            for one in sums.travels
        ],
        "prompts": sums.prompts,
        "waited": duration_words(sums.prompts.waited),
        "decisions": sums.decisions,
        "refused": sums.refused,
    }


def _comparison(one: Comparison, zone: ZoneInfo) -> dict[str, object]:
    return {
        "title": one.title,
        "sentences": one.sentences,
        "moments": [(clock(cause.at, zone), cause.words) for cause in one.moments],
        "left_out": one.left_out,
    }


def _zoom_data(record: NightRecord, bins: Sequence[Bin | None], zone: ZoneInfo) -> str:
    """Write what a script needs to zoom: the readings in bins, and the room's clock."""
    offsets, at = list[tuple[int, int]](), record.begins
    while at <= record.ends:
        offset = moment_of(at).astimezone(zone).utcoffset()
        shift = 0 if offset is None else int(offset.total_seconds() * 1_000)
        if not offsets or offsets[-1][1] != shift:
            offsets.append((at - record.begins, shift))
        at += HOUR // 4
    data = {
        "begins": record.begins,
        "offsets": offsets,
        "low": [0 if one is None else one.low // 10 for one in bins],
        "high": [0 if one is None else one.high // 10 for one in bins],
    }
    # No text of the night is in it, and nothing that could end a script element.
    return json.dumps(data, separators=(",", ":"))
