"""What went wrong between people, hub and roomcue: requests, gaps, contradictions, panels."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, cast

from engine.decisions import Note, Prompt, PromptOver, RecallOrder
from engine.events import Answer, PanelReport
from engine.facts import facts_of, facts_of_title
from engine.holds import HOLDS, NOTED, HoldCode
from engine.table import choose
from simulator.nights.chains import (
    CLOSE,
    ChainLink,
    Trouble,
    decisions_of,
    duration_words,
    last_before,
    notes_of,
    span_at,
    title_end,
    trouble,
    value_at,
    wish_at,
    wish_causes,
)
from simulator.nights.night_record import Gap, NightRecord
from simulator.nights.remedies import TroubleCode

A_SECOND: Final = 1_000
JUST: Final = 60_000
"""How soon (ms) after the end of a request a report still answers it."""


def prompt_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find prompts that ran out, or were still open at the end."""
    asked = {one.id: one for one in reversed(decisions_of(record, Prompt)) if one.stage == "asked"}
    overs = {one.prompt: one for one in decisions_of(record, PromptOver)}
    for number, prompt in sorted(asked.items()):
        over = overs.get(number)
        if over is None or over.how == "expired":
            yield _without_end(record, prompt, over)


def _without_end(record: NightRecord, prompt: Prompt, over: PromptOver | None) -> Trouble:
    """Tell of a prompt that ran out, or was still open at the end: `over` is None."""
    at, panels = record.ends if over is None else over.at, prompt.panels
    ready = _answers(record, prompt.id, "ready")
    causes = [*wish_causes(wish_at(record, "panels", prompt.at))]
    causes.append(ChainLink(prompt.at, f"asked for panels {panels} (prompt #{prompt.id})"))
    causes += [
        ChainLink(one.at, "reminded")
        for one in decisions_of(record, Prompt)
        if one.id == prompt.id and one.stage == "reminded"
    ]
    causes += [ChainLink(when, f"ready{f' ({who})' if who else ''}") for when, who in ready]
    if over is None:
        words = f"The request for panels '{panels}' was still open when the night ended."
        causes.append(ChainLink(at, "still unanswered at the end"))
    elif ready:
        words = f"Somebody went to fit panels '{panels}' and never said that it was done: "
        words += "how the panels stand is not known."
        causes.append(ChainLink(at, "the time was over; the light came back"))
    else:
        waits = [one for one in notes_of(record, {"panels"}) if causes[0].at <= one.at <= at]
        words = f"Nobody answered the request for panels '{panels}': {_stayed(record, at, waits)}."
        causes += [ChainLink(one.at, HOLDS["panels"]) for one in waits]
        causes.sort(key=lambda one: one.at)
        causes.append(ChainLink(at, "nobody had answered; the request ran out"))
    code: TroubleCode = "prompt_never_done" if ready else "prompt_unanswered"
    return trouble(at, title_end(record, at), code, words, causes)


def _stayed(record: NightRecord, at: int, waits: list[Note]) -> str:
    """Say how panels stayed that nobody changed, and the lens if it waited for them."""
    stands, lens = span_at(record, "panels", at - 1), value_at(record, "preset", at)
    stay = "how they stand is not known"
    if stands is not None and stands.known:
        stay = f"they stayed '{stands.value}'"
    return stay + (f", and the lens waited at '{lens}'" if waits and lens else "")


def _answers(record: NightRecord, number: int, word: str) -> list[tuple[int, str | None]]:
    return [
        (step.entry.now, step.entry.event.who)
        for step in record.steps
        if isinstance(step.entry.event, Answer)
        and step.refused is None
        and step.entry.event.prompt == number
        and step.entry.event.answer == word
    ]


def gap_troubles(record: NightRecord) -> Iterator[Trouble]:
    """Find whiles in which roomcue was not there; a hub may send nothing for long before."""
    for gap in record.gaps:
        gone = gap.end - gap.start
        long = f"up to {duration_words(gone)}" if gone >= A_SECOND else "less than a second"
        what = "stood still" if gap.event.stalled else "was not there"
        words = f"roomcue {what} for {long}"
        causes = [
            ChainLink(gap.start, "the last that was heard"),
            ChainLink(gap.end, "roomcue went on"),
        ]
        if gap.event.unsent:
            unsent = ", ".join(gap.event.unsent)
            words += f", and what it ordered never left: {unsent}"
            causes.insert(1, ChainLink(gap.end, f"orders that never left: {unsent}"))
            causes = [*_never_sent(record, gap), *causes]
        held = [one for one in notes_of(record, NOTED) if 0 <= one.at - gap.end <= CLOSE]
        causes += [ChainLink(one.at, HOLDS[cast("HoldCode", one.code)]) for one in held]
        asked = span_at(record, "prompt", gap.end - 1)
        if asked is not None and asked.value:
            panels, where = asked.value.split(": ")
            words += f", while somebody was {'asked for' if where == 'waiting' else 'fitting'} "
            words += f"panels '{panels}'"
        lost = span_at(record, "preset", gap.end)
        until = title_end(record, gap.end) if held else gap.end
        if held and lost is not None and lost.value:
            words += f"; for the rest of the title the lens stayed at '{lost.value}'"
        if lost is not None and not lost.value:
            words += "; where the lens stood was not known"
            until = lost.end
            known = "the lens was known again"
            known = (
                known if until < record.ends else "where the lens stands was not known at the end"
            )
            causes.append(ChainLink(until, known))
        code: TroubleCode = "stood_still" if gap.event.stalled else "restarted"
        yield trouble(gap.end, until, code, words + ".", causes)


def _never_sent(record: NightRecord, gap: Gap) -> list[ChainLink]:
    """Tell of the recall that never left, and of who wanted it."""
    order = last_before(record, RecallOrder, gap.end)
    if order is None or "recall" not in gap.event.unsent:
        return []
    ordered = ChainLink(order.at, f"recall #{order.id} to {order.preset}")
    return [*wish_causes(wish_at(record, "preset", order.at)), ordered]


def contradictions(record: NightRecord) -> Iterator[Trouble]:
    """Find who contradicted whom: readings, a lens moved by hand, panels that stand otherwise."""
    for note in notes_of(record, {"contradicts"}):
        who, said, stood = (note.parameters[name] for name in ("reporter", "said", "stood"))
        words = f"The {who} said {said} for a whole title that was shown as {stood}"
        words += f"{_lens_went_by(record, note, f'the {who}')}."
        begun = span_at(record, "playback", note.at - 1)
        first = note.at if begun is None else begun.start
        ended = f"the title ended; the {who} had contradicted the others throughout"
        causes = (
            ChainLink(first, f"the title began; the {who} said {said}, others {stood}"),
            ChainLink(note.at, ended),
        )
        code: TroubleCode = "reporter_contradicts"
        yield trouble(first, note.at, code, words, causes, about=f"the {who}")
    for note in notes_of(record, {"override_begun"}):
        if note.parameters.get("why") == "lens_moved":
            yield _moved_by_hand(record, note)
    otherwise = list(_panels_otherwise(record))
    told = {one.at for one in otherwise}
    yield from otherwise
    yield from (one for one in _panels_unasked(record) if one.at not in told)


def _lens_went_by(record: NightRecord, note: Note, who: str) -> str:
    """Say where the lens stood for a title's own shape, if the one that was seen asks elsewhere."""
    state = next((one.before for one in record.moments if one.at >= note.at), None)
    if state is None:
        return ""
    room, core, settling = record.room, state.core, state.settling
    facts = facts_of(room, core, settling)
    own = facts_of_title(room, core, settling, facts)
    if own is None or own["aspect"] == facts["aspect"]:
        return ""
    show, stands = choose(room.rules.table, facts).output, core.preset
    if show is None or not show.preset or not stands or stands == show.preset:
        return ""
    if core.wanted.preset != stands:
        return ""
    return f"; the lens went by what {who} said and stood at '{stands}', not at '{show.preset}'"


def _moved_by_hand(record: NightRecord, note: Note) -> Trouble:
    before = [one for one in record.lanes["preset"] if one.end <= note.at and one.known]
    was = f"'{before[-1].value}'" if before and before[-1].value else "where it was"
    after = next((one for one in record.lanes["preset"] if one.end > note.at), None)
    now = after.value if after is not None else ""
    now = f"'{now}'" if now in record.room.presets else "no preset"
    wishes = [one for one in record.wishes if one.part == "preset" and one.start < note.at]
    given_back = [one.at for one in notes_of(record, {"override_ended"}) if one.at > note.at]
    until = given_back[0] if given_back else record.ends
    words = f"The lens was moved from {was} to {now} and no rule had ordered that: "
    words += "it was left so."
    ends = "the rules had the room again" if given_back else "still left so at the end"
    causes = (
        *wish_causes(wishes[-1] if wishes else None),
        ChainLink(note.at, f"the lens was moved by hand, from {was} to {now}"),
        ChainLink(note.at, "the rules left the room to whoever moved it"),
        ChainLink(until, ends),
    )
    preset = was if was.startswith("'") else "a preset"
    return trouble(note.at, until, "lens_moved_by_hand", words, causes, about=preset)


def panels_lost(record: NightRecord) -> Iterator[Trouble]:
    """Find panels that were known and then reported as not known."""
    reported = _panel_reports(record)
    for before, span in pairwise(record.lanes["panels"]):
        if span.known or span.start not in reported:
            continue
        words = f"Panels were '{before.value}', then reported as not known: the picture was kept "
        words += "inside every opening that they may leave."
        last = "known again" if span.end < record.ends else "still not known at the end"
        causes = (
            ChainLink(before.start, f"panels {before.value}"),
            ChainLink(span.start, "panels reported as not known"),
            ChainLink(span.end, f"how the panels stand: {last}"),
        )
        yield trouble(span.start, span.end, "panels_not_known", words, causes)


def _panel_reports(record: NightRecord) -> set[int]:
    """Give the moments at which it was reported how panels stand."""
    return {step.entry.now for step in record.steps if isinstance(step.entry.event, PanelReport)}


def _panels_unasked(record: NightRecord) -> Iterator[Trouble]:
    """Find panels that were changed although nobody was asked and the rules want them as before."""
    reported, overs = _panel_reports(record), decisions_of(record, PromptOver)
    for before, span in pairwise(record.lanes["panels"]):
        wish, asked = wish_at(record, "panels", span.start), value_at(record, "prompt", span.start)
        answered = any(0 <= span.start - one.at < JUST for one in overs)
        if span.start not in reported or not (before.known and span.known) or asked or answered:
            continue
        if wish is None or wish.end <= before.start or wish.value != before.value:
            continue
        words = f"Panels were '{before.value}', as the rules want, and reported as '{span.value}' "
        words += "although nobody had been asked to change them."
        causes = (
            *wish_causes(wish),
            ChainLink(before.start, f"panels {before.value}"),
            ChainLink(span.start, f"panels reported as {span.value}"),
            ChainLink(span.end, f"panels {span.value} up to then"),
        )
        yield trouble(span.start, span.end, "panels_unasked", words, sorted(causes))


def _panels_otherwise(record: NightRecord) -> Iterator[Trouble]:
    """Find reports that panels stand otherwise than somebody has answered."""
    said: ChainLink | None = None
    stands = ""
    for step in record.steps:
        event, at = step.entry.event, step.entry.now
        if isinstance(event, Answer) and event.answer == "done" and step.refused is None:
            prompts = [one for one in decisions_of(record, Prompt) if one.id == event.prompt]
            stands = prompts[-1].panels if prompts else ""
            said = ChainLink(at, f"somebody answered that panels {stands} are done")
        elif isinstance(event, PanelReport) and said is not None and event.panels != stands:
            words = f"Panels '{stands}' were said to be done, and reported as "
            words += f"'{event.panels}' afterwards." if event.panels else "not known afterwards."
            reported = ChainLink(at, f"reported: {event.panels or 'not known'}")
            if not any(one.at > said.at for one in decisions_of(record, Prompt) if one.at <= at):
                until = title_end(record, at)
                links = (said, reported)
                yield trouble(at, until, "panels_otherwise", words, links, about=f"'{stands}'")
            said = None
