"""What each event changes, and which events are refused: one handler for each kind.

An event states how something is, so hearing it twice changes nothing. A handler refuses before it
changes anything: names that the room does not know, and answers to what is no longer open.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final, cast

from engine.answers import answered, helper_heard
from engine.aspect import WIDE_FRAME, ratio_of, ratio_of_size
from engine.events import (
    Answer,
    BarsSeen,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    FormatCode,
    Helper,
    LensReport,
    Mark,
    Outcome,
    Override,
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
    Undo,
    milliseconds,
)
from engine.lens import UNSEEN, lens_reported, recall_ended
from engine.lens_search import find_lens
from engine.outcomes import order_unsent, outcome_heard
from engine.override_requests import override_heard
from engine.panel_reports import panels_reported
from engine.prompts import close_prompt
from engine.readings import (
    LEAST_SQUARE_ROWS,
    forget_readings,
    heeds_readings,
    park_or_wake,
    see_afresh,
    take_reading,
)
from engine.refusal import Refused, require_known
from engine.remembered import forget_titles
from engine.state import DAY, DatedAhead, night_at
from engine.titles import (
    SETTLING_IN,
    SWITCHED_OFF,
    allow_retries,
    begin_title,
    end_session,
    end_title,
    leave_title,
    let_session_run,
    play_on,
    start_first_minutes,
    withdraw_orders,
)
from engine.undo import undone

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.room import Told
    from engine.state import Core, Tally
    from engine.transaction import Transaction

IDS_KEPT: Final = 200
MINUTE: Final = 60_000
QUARTER: Final = 15 * MINUTE
FURTHEST_WEST: Final = -10 * 60 * MINUTE
"""The furthest that a clock may be behind UTC (ms). Its face shows no date: eleven hours behind and
thirteen ahead look alike. So clocks count as ten hours behind to fourteen ahead, for no zone whose
clocks change lies outside that (IANA time zone database)."""


def apply_event(tx: Transaction, event: Event) -> None:
    """Enter one event into the transaction; raises `Refused` if it cannot be taken."""
    if event.id is not None or event.at is not None:
        _admit(tx, event)
    grant_recalls_of_new_night(tx)
    tx.who = getattr(event, "who", None)
    _HANDLERS[type(event)](tx, event)


def _admit(tx: Transaction, event: Event) -> None:
    """Refuse an id that was heard before, and a report older than the newest on its subject."""
    tally = tx.tally
    if event.id is not None:
        if event.id in tally.seen:
            raise Refused("repeated", f"event '{event.id}' was heard before and is done with")
        if not isinstance(event, Reading):  # hearing these again is harmless
            tally = tally._replace(seen=(*tally.seen, event.id)[-IDS_KEPT:])
    if event.at is not None and not isinstance(event, Answer | Outcome | Mark | Resumed):
        subject = subject_of(event)
        dated = milliseconds(event.at)
        tally, when = _dated(tally, subject, dated, tx.now)
        newest = newest_known(tally, event, dated)
        if newest is not None and when < newest:
            raise Refused(
                "stale",
                f"this {event.kind} report is {_age(newest - when)} older than what is known: "
                "tell how it is now, and leave 'at' out where a clock may be slow",
            )
        tx.true_since, tx.true_by_hub = when, when == dated
        tally = tally.with_heard(subject, when, ours=when != dated)
    tx.tally = tally


def newest_known(tally: Tally, event: Event, dated: int) -> int | None:
    """Say since when the newest is so that an event `dated` so must not be older than (ms UTC)."""
    newest = tally.heard_of(subject_of(event))
    if isinstance(event, Playback | Title | Override | Reading):
        source_since = _source_since(tally, dated)
        newest = max((one for one in (newest, source_since) if one is not None), default=None)
    return newest


def _source_since(tally: Tally, dated: int) -> int | None:
    """Say since when the source is known (ms UTC), if a report `dated` so is older; else None.

    Where the hub dated its source ahead of the room's clock, the two dates of the hub are compared.
    When the source was heard says nothing then: a source may be heard of late.
    """
    since = tally.heard_of("source")
    ahead = (one.dated for one in tally.ahead if (one.subject, one.heard) == ("source", since))
    by_hub = next(ahead, since)
    return None if by_hub is None or by_hub <= dated else since


def _age(ms: int) -> str:
    """Say how long it is, in a unit of which there are at least two."""
    for unit, name in ((86_400_000, "days"), (3_600_000, "h"), (60_000, "min")):
        if ms >= 2 * unit:
            return f"{ms // unit} {name}"
    return f"{ms / 1_000:g} s"


def _dated(tally: Tally, subject: str, dated: int, now: int) -> tuple[Tally, int]:
    """Say since when a report is so, by the room's clock (ms UTC), and remember what that takes.

    A clock that runs ahead must not make all later reports look old, so what lies ahead counts as
    now. Told again it counts as of then, or it would seem newer than what others have said since.
    """
    for one in tally.ahead:
        if (one.subject, one.dated) == (subject, dated):
            return tally, one.heard
    if dated <= now:
        return tally, dated
    others = (one for one in tally.ahead if one.subject != subject)
    ahead = sorted((*others, DatedAhead(subject, dated, now)))
    return tally._replace(ahead=tuple(ahead)), now


def _source(tx: Transaction, event: SourceChosen) -> None:
    core = tx.core
    require_known(event.source, tx.room.sources, "source")
    tx.note_told("source", event.source)
    if event.source == core.source:
        return
    if core.source is None:
        _first_source(tx, event.source)
        return
    leave_title(tx, event.source)
    core.source, core.playback, core.pause_over = event.source, "unknown", False
    allow_retries(tx)
    core.frame = _frame(core)
    forget_readings(tx)
    park_or_wake(tx)
    tx.set_timers(pause=None)
    let_session_run(tx)


def _first_source(tx: Transaction, name: str) -> None:
    """Learn the name of the source that all reports so far were about."""
    core = tx.core
    core.source = name
    source = tx.room.sources[name]
    if not heeds_readings(tx.room, name):
        core.frame = _frame(core)
        forget_readings(tx)
    if not source.declares:
        core.declared = None
        if core.interrupted is not None:
            core.interrupted = core.interrupted._replace(declared=None)
    _title_of_play(tx)
    start_first_minutes(tx)
    let_session_run(tx)


def _playback(tx: Transaction, event: Playback) -> None:
    core = tx.core
    if event.source is not None:
        require_known(event.source, tx.room.sources, "source")
        if event.source != core.source:
            shown = f"'{core.source}'" if core.source else "no source"
            raise Refused("not_shown", f"'{event.source}' plays, but {shown} is shown")
    tx.note_told("playback", event.state, core.source)
    if event.state == core.playback:
        return
    core.playback = event.state
    tx.set_timers(pause=None)
    if event.state == "paused":
        tx.set_timers(pause=tx.now + tx.room.pace.pause, session=None)
    elif event.state == "playing":
        tx.set_timers(session=None)
        _title_of_play(tx)
        if core.title and not core.shapes:
            tx.set_timers(shape=tx.now + tx.room.pace.settle.wider + SETTLING_IN)
    else:
        if event.state == "stopped":
            end_title(tx)
            core.interrupted = None
        let_session_run(tx)
    core.pause_over = False
    park_or_wake(tx)


def _title_of_play(tx: Transaction) -> None:
    """Begin a title where something plays and none is on."""
    core, source = tx.core, tx.source
    if core.playback != "playing" or core.title or source is None:
        return
    if core.interrupted is not None:
        play_on(tx, core.interrupted)
    elif not source.says_titles:
        begin_title(tx, None, None)


def _title(tx: Transaction, event: Title) -> None:
    core, source = tx.core, tx.source
    tx.note_told("title", event.begun, event.name if event.begun else None)
    declared = None
    if event.declared is not None and (source is None or source.declares):
        declared = ratio_of(event.declared)
    if not event.begun:
        end_title(tx)
        core.interrupted = None
    elif core.title and event.name in (None, core.title_name):
        if declared not in (None, core.declared):
            _drop_wish_in_pause(core)
            core.declared = declared
    else:
        _drop_wish_in_pause(core)
        _title_begins(tx, declared, event)


def _drop_wish_in_pause(core: Core) -> None:
    """Let lens and panels stand as they are in a pause: they were wanted for another shape."""
    if core.playback == "paused":
        core.wanted = core.wanted._replace(preset=core.preset, panels=core.arrangement)


def _title_begins(tx: Transaction, declared: int | None, event: Title) -> None:
    """Begin a title, or go on with the one of that name that was left."""
    kept = tx.core.interrupted
    if kept is not None and event.name is not None and kept.name == event.name:
        play_on(tx, kept._replace(declared=declared or kept.declared))
    else:
        begin_title(tx, declared, event.name, event.series)


def _signal(tx: Transaction, event: Signal) -> None:
    core = tx.core
    core.locked = event.locked
    if event.locked:
        core.range = event.range or core.range
        raster = (event.columns or core.columns, event.rows or core.rows)
        three_d = core.three_d if event.three_d is None else event.three_d
        turned = core.three_d is not None and three_d != core.three_d
        changed = turned or raster != (core.columns, core.rows)
        (core.columns, core.rows), core.three_d = raster, three_d
        if changed:
            core.frame = _frame(core)
            if core.shapes and not turned:
                # A stream that buffers: the title's shape holds until it is refuted.
                see_afresh(tx)
            else:
                forget_readings(tx)
    more = (core.columns, core.rows, core.range, bool(core.three_d)) if core.locked else ()
    tx.note_told("signal", core.locked, *more)
    park_or_wake(tx)


def _frame(core: Core) -> int:
    """Say the coded frame's ratio as the raster tells it: below 720 rows it does not."""
    if core.columns is None or core.rows is None or core.rows < LEAST_SQUARE_ROWS:
        return WIDE_FRAME
    return ratio_of_size(core.columns, core.rows)


def _told(tx: Transaction, event: ToldFact) -> None:
    core = tx.core
    require_known(event.fact, tx.room.told, "told fact")
    told, fact = dict(core.told), tx.room.told[event.fact]
    value = fact.value_told(event.value)
    if value is None:
        told.pop(event.fact, None)
    else:
        _check_told(fact, value)
        told[event.fact] = value
    tx.note_told(subject_of(event), value)
    core.told = tuple(sorted(told.items()))
    if event.who is not None and event.at is None:
        # A hub that tells everything once more must not take a person's word back.
        tx.tally = tx.tally.with_heard(subject_of(event), tx.now, ours=True)


def subject_of(event: Event) -> str:
    """Say what a report is about: of one subject a later report makes an earlier one old."""
    return f"{event.kind} {event.fact}" if isinstance(event, ToldFact) else event.kind


def _check_told(fact: Told, value: object) -> None:
    """Refuse a value that the fact never has."""
    if fact.may_be(value):
        return
    if fact.values:
        allowed = ", ".join(json.dumps(good) for good in fact.values)
        words = f"'{fact.name}' is never {json.dumps(value)}: say one of {allowed}, or null"
        raise Refused("out_of_range", words)
    whole = f"a whole number from {fact.least} to {fact.most}"
    raise Refused("out_of_range", f"'{fact.name}' is {whole}, not {json.dumps(value)}")


def _projector(tx: Transaction, event: ProjectorReport) -> None:
    core = tx.core
    tx.note_told("projector", event.state)
    if event.state == core.projector:
        return
    core.projector = event.state
    allow_retries(tx)
    if event.state == "lit":
        tx.set_timers(unseen=tx.now + UNSEEN)
        _title_of_play(tx)
        start_first_minutes(tx)
    if event.state in SWITCHED_OFF:
        withdraw_orders(tx, "no_light")
        end_session(tx)
    if event.state != "lit":
        core.shown = None


def _service(tx: Transaction, event: Service) -> None:
    core = tx.core
    tx.note_told("service", event.begun)
    if event.begun == core.service:
        return
    core.service = event.begun
    allow_retries(tx)
    core.shown = None  # Whoever was at work may have set the picture otherwise.
    if event.begun:
        withdraw_orders(tx, "technician")
        close_prompt(tx, "withdrawn", "technician")
        tx.fire("panels", "withdraw")


def _time(tx: Transaction, event: TimeOfDay) -> None:
    _read_clock(tx, event.minute)


def _read_clock(tx: Transaction, minute: int) -> None:
    tx.core.minute = minute
    # Clocks are whole quarters of an hour from UTC: the seconds that are not told do not matter.
    apart = (minute * MINUTE - tx.now % DAY + QUARTER // 2) // QUARTER * QUARTER
    # A face shows no date: a day more or less is the same face, and would turn a night at midnight.
    tx.core.apart = (apart - FURTHEST_WEST) % DAY + FURTHEST_WEST
    grant_recalls_of_new_night(tx)


def grant_recalls_of_new_night(tx: Transaction) -> None:
    """Grant a new night's recalls where a noon has passed since the last grant.

    Both moments are read off the clock as it is set now, so that moving it brings none by itself.
    """
    core = tx.core
    if core.night is None:
        core.night = tx.now
    if night_at(core, tx.now) > night_at(core, core.night):
        core.left_night, core.night = tx.room.pace.per_night, tx.now
        tx.tally = tx.tally._replace(tonight=0)


def _mark(tx: Transaction, event: Mark) -> None:
    tx.note("marked", "engine: mark", event.words)


def _resumed(tx: Transaction, event: Resumed) -> None:
    core = tx.core
    if event.minute is not None:
        _read_clock(tx, event.minute)
    for what in event.unsent:
        order_unsent(tx, what)
    if event.stalled:
        return
    tx.set_timers(unseen=tx.now + UNSEEN)
    ends = core.timers.travel
    if core.lens == "travelling":
        unreached = core.unreached
        recall_ended(tx, "no answer")
        core.unreached = unreached  # it may well arrive unheard
        tx.set_timers(travel=ends)  # until then the lens may still be on its way
    if core.picture is not None:
        core.picture = core.shown = None
        tx.set_timers(picture=None)


_HANDLERS: Final[dict[type[Event], Callable[[Transaction, Event], None]]] = cast(
    "dict[type[Event], Callable[[Transaction, Event], None]]",
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
        Override: override_heard,
        Undo: undone,
        FindLens: find_lens,
        Forget: forget_titles,
        Helper: helper_heard,
        ToldFact: _told,
        Outcome: outcome_heard,
        ProjectorReport: _projector,
        Service: _service,
        TimeOfDay: _time,
        Mark: _mark,
        Resumed: _resumed,
    },
)
