"""What each event changes, and which events are refused.

Events state how things are: hearing one twice changes nothing. Names that the room does not
know, and words about something that is over, are refused before anything is changed.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final, cast

from engine.aspect import WIDE_FRAME, ratio
from engine.events import (
    Answer,
    BarsSeen,
    BlackSeen,
    Event,
    FormatCode,
    Hand,
    LensReport,
    Mark,
    Outcome,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Reading,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    milliseconds,
)
from engine.lens import lens_reported, recall_ended
from engine.outcomes import outcome_heard
from engine.people import answered, hand_heard, panels_reported
from engine.prompts import close_prompt
from engine.readings import LEAST_SQUARE_ROWS, attend, forget, listens, take_reading
from engine.state import DAY, night_at
from engine.titles import (
    SETTLING_IN,
    begin_title,
    end_session,
    end_title,
    forgive,
    let_session_run,
    start_opening,
    withdraw_orders,
)
from engine.transaction import Refused, known

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.room import Told
    from engine.state import Core
    from engine.transaction import Turn

IDS_KEPT: Final = 200
MINUTE: Final = 60_000
QUARTER: Final = 15 * MINUTE


def hear(turn: Turn, event: Event) -> None:
    """Take one event; raises `Refused` if it cannot be taken."""
    if event.id is not None or event.at is not None:
        _admit(turn, event)
    turn_night(turn)
    _HANDLERS[type(event)](turn, event)


def _admit(turn: Turn, event: Event) -> None:
    """Refuse what was heard before, and what is older than something newer."""
    tally = turn.tally
    if event.id is not None:
        if event.id in tally.seen:
            raise Refused("repeated", f"event '{event.id}' was heard before and is done with")
        if not isinstance(event, Reading):  # hearing these again is harmless
            tally = tally._replace(seen=(*tally.seen, event.id)[-IDS_KEPT:])
    if event.at is not None and not isinstance(event, Answer | Outcome | Mark):
        # A clock that runs ahead must not make all later reports look old.
        when = min(milliseconds(event.at), turn.now)
        subject = event.kind + (f" {event.fact}" if isinstance(event, ToldFact) else "")
        heard = dict(tally.heard)
        about_source = isinstance(event, Playback | Title | Hand | Reading)
        newest = max(heard.get(subject, when), heard.get("source", when) if about_source else when)
        if when < newest:
            late = (newest - when) / 1_000
            raise Refused(
                "stale", f"this {event.kind} report is {late:g} s older than what is known"
            )
        heard[subject] = when
        tally = tally._replace(heard=tuple(sorted(heard.items())))
    turn.tally = tally


def _source(turn: Turn, event: SourceChosen) -> None:
    core = turn.core
    known(event.source, turn.room.sources, "source")
    if event.source == core.source:
        return
    if core.source is None:
        _first_source(turn, event.source)
        return
    end_title(turn)
    core.source, core.playback, core.pause_over = event.source, "unknown", False
    core.interrupted = None
    forgive(core)
    core.frame = _frame(core)
    forget(turn)
    attend(turn)
    turn.set(pause=None)
    let_session_run(turn)


def _first_source(turn: Turn, name: str) -> None:
    """Learn which source it is that was heard of so far."""
    core = turn.core
    core.source = name
    source = turn.room.sources[name]
    if not listens(turn.room, name):
        core.frame = _frame(core)
        forget(turn)
    if not source.declares:
        core.declared = None
    _title_of_play(turn)
    start_opening(turn)
    let_session_run(turn)


def _playback(turn: Turn, event: Playback) -> None:
    core = turn.core
    if event.source is not None:
        known(event.source, turn.room.sources, "source")
        if event.source != core.source:
            shown = f"'{core.source}'" if core.source else "no source"
            raise Refused("not_shown", f"'{event.source}' plays, but {shown} is shown")
    if event.state == core.playback:
        return
    core.playback = event.state
    turn.set(pause=None)
    if event.state == "paused":
        turn.set(pause=turn.now + turn.room.pace.pause, session=None)
    elif event.state == "playing":
        turn.set(session=None)
        _title_of_play(turn)
        if core.title and not core.shapes:
            turn.set(shape=turn.now + turn.room.pace.settle.wider + SETTLING_IN)
    else:
        if event.state == "stopped":
            end_title(turn)
            core.interrupted = None
        let_session_run(turn)
    core.pause_over = False
    attend(turn)


def _title_of_play(turn: Turn) -> None:
    """Begin a title where something plays and none is on."""
    core, source = turn.core, turn.source
    if core.playback != "playing" or core.title or source is None:
        return
    if core.interrupted is not None:
        begin_title(turn, core.interrupted.declared, core.interrupted.name)
    elif not source.says_titles:
        begin_title(turn, None, None)


def _title(turn: Turn, event: Title) -> None:
    core, source = turn.core, turn.source
    declared = event.declared if source is None or source.declares else None
    if not event.begun:
        end_title(turn)
        core.interrupted = None
    elif core.title and (event.name is None or core.title_name in (None, event.name)):
        core.title_name = event.name or core.title_name
        core.declared = declared or core.declared
    else:
        begin_title(turn, declared, event.name)


def _signal(turn: Turn, event: Signal) -> None:
    core = turn.core
    core.locked = event.locked
    if event.locked:
        core.range = event.range or core.range
        raster = (event.columns or core.columns, event.rows or core.rows)
        stereo = core.stereo if event.stereo is None else event.stereo
        turned = core.stereo is not None and stereo != core.stereo
        changed = turned or raster != (core.columns, core.rows)
        (core.columns, core.rows), core.stereo = raster, stereo
        if changed:
            core.frame = _frame(core)
            forget(turn)
    attend(turn)


def _frame(core: Core) -> int:
    """Say the coded frame's ratio as the raster tells it: below 720 rows it does not."""
    if core.columns is None or core.rows is None or core.rows < LEAST_SQUARE_ROWS:
        return WIDE_FRAME
    return ratio(core.columns, core.rows)


def _told(turn: Turn, event: ToldFact) -> None:
    core = turn.core
    known(event.fact, turn.room.told, "told fact")
    told, fact = dict(core.told), turn.room.told[event.fact]
    value = fact.default if event.value is None else event.value
    if value is None:
        told.pop(event.fact, None)
    else:
        _check_told(fact, value)
        told[event.fact] = value
    core.told = tuple(sorted(told.items()))


def _check_told(fact: Told, value: object) -> None:
    """Refuse a value that the fact never has; True equals 1 in Python but is no number here."""
    if fact.values:
        if any(type(value) is type(good) and value == good for good in fact.values):
            return
        allowed = ", ".join(json.dumps(good) for good in fact.values)
        words = f"'{fact.name}' is never {json.dumps(value)}: say one of {allowed}, or null"
        raise Refused("out_of_range", words)
    if type(value) is not int or not (fact.least or 0) <= value <= (fact.most or 0):
        whole = f"a whole number from {fact.least} to {fact.most}"
        raise Refused("out_of_range", f"'{fact.name}' is {whole}, not {json.dumps(value)}")


def _projector(turn: Turn, event: ProjectorReport) -> None:
    core = turn.core
    if event.state == core.projector:
        return
    gone = event.state in ("off", "cooling")
    core.projector = event.state
    forgive(core)
    if event.state == "lit":
        _title_of_play(turn)
        start_opening(turn)
    if gone:
        withdraw_orders(turn, "The projector gives no light any more.")
        end_session(turn)
    if event.state != "lit":
        core.shown = None


def _service(turn: Turn, event: Service) -> None:
    core = turn.core
    if event.begun == core.service:
        return
    core.service = event.begun
    forgive(core)
    core.shown = None  # Whoever was at work may have set the picture otherwise.
    if event.begun:
        withdraw_orders(turn, "A technician is at work.")
        close_prompt(turn, "withdrawn", "A technician is at work.")
        turn.fire("panels", "withdraw")


def _time(turn: Turn, event: TimeOfDay) -> None:
    _read_clock(turn, event.minute)


def _read_clock(turn: Turn, minute: int) -> None:
    turn.core.minute = minute
    # Clocks are whole quarters of an hour from UTC: the seconds that are not told do not matter.
    apart = minute * MINUTE - turn.now % DAY + QUARTER // 2
    turn.core.apart = apart // QUARTER * QUARTER
    turn_night(turn)


def turn_night(turn: Turn) -> None:
    """Grant a new night's recalls where a noon has passed since the last grant.

    Both moments are read off the clock as it is set now, so that moving it brings none by itself.
    """
    core = turn.core
    if core.night is None:
        core.night = turn.now
    if night_at(core, turn.now) > night_at(core, core.night):
        core.left_night, core.night = turn.room.pace.per_night, turn.now
        turn.tally = turn.tally._replace(tonight=0)


def _mark(turn: Turn, event: Mark) -> None:
    turn.note("marked", event.words or "Somebody said: that was wrong.", "engine: mark")


def _resumed(turn: Turn, event: Resumed) -> None:
    core = turn.core
    if event.minute is not None:
        _read_clock(turn, event.minute)
    ends = core.timers.travel
    if core.lens == "travelling":
        unreached = core.unreached
        recall_ended(turn, "no answer")
        core.unreached = unreached  # it may well arrive unheard
        turn.set(travel=ends)  # until then the lens may still be on its way
    if core.picture is not None:
        core.picture = core.shown = None
        turn.set(picture=None)


_HANDLERS: Final[dict[type[Event], Callable[[Turn, Event], None]]] = cast(
    "dict[type[Event], Callable[[Turn, Event], None]]",
    {
        SourceChosen: _source,
        Playback: _playback,
        Title: _title,
        Signal: _signal,
        BarsSeen: take_reading,
        BlackSeen: take_reading,
        RatioSeen: take_reading,
        FormatCode: take_reading,
        LensReport: lens_reported,
        PanelReport: panels_reported,
        Answer: answered,
        Hand: hand_heard,
        ToldFact: _told,
        Outcome: outcome_heard,
        ProjectorReport: _projector,
        Service: _service,
        TimeOfDay: _time,
        Mark: _mark,
        Resumed: _resumed,
    },
)
