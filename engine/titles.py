"""Where titles and sessions begin and end, and which shapes a title has had for how long.

The shape that has stood longest while a title played is its own. Idents and trailers have other
shapes, and a film may change its shape for a while: what is slow or costs somebody a walk waits
until another shape has stood longer than all before it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine import settle
from engine.aspect import same_shape
from engine.cues import drop_cue_overrides, end_cues_of_title
from engine.decisions import Withdrawn
from engine.facts import first_minutes_run, pausing
from engine.overrides import give_back, menu_is_over
from engine.prompts import close_prompt
from engine.remembered import choice_that_stands, choose_again, recall_title, remember_shape
from engine.reporters import name_who_contradicts
from engine.title_records import DETOUR, IN_A_LOOP, NO_CHOICE, Detour, InterruptedTitle, StoodShape

if TYPE_CHECKING:
    from engine.decisions import ReasonCode
    from engine.events import ProjectorState
    from engine.state import Core
    from engine.transaction import Transaction

SWITCHED_OFF: Final[frozenset[ProjectorState]] = frozenset({"off", "cooling"})
SHAPES_KEPT: Final = 4
LINES_APART: Final = 4_000
"""How much later (ms) a line begins if it counts as another line than the last one."""
LINES_STAND: Final = 20_000
"""No overlay stands for this long: it is a ticker, or lines without a gap between them, ms."""
LINES_TOGETHER: Final = 60_000
"""Lines further apart than this are overlays that have nothing to do with each other, ms."""
EDGE: Final = 100
"""Nobody writes into this part of the rows at the raster's edge: lines keep away from it by several
times as much (SMPTE ST 2046-1, from memory). The last lines of a tape are lit there."""
MOST_TURNS: Final = 6
"""How many changes of shape in its first minutes make a title count as photographs."""
CALM: Final = 60_000
"""How long no photograph stands (ms): a shape that does follows idents or adverts."""
HALF: Final = 45 * 60_000
"""No half of a film that has an intermission plays for less, ms (common practice, from memory)."""
INTERMISSION: Final = 15 * 60_000
"""No card of one stands for longer, ms (the same)."""
SETTLING_IN: Final = 2_000
"""How much longer than the wider dwell a shape carried into a title stands to be its own (ms)."""


def begin_title(
    tx: Transaction,
    declared: int | None,
    name: str | None,
    series: str | None = None,
    played_on: InterruptedTitle | None = None,
) -> None:
    """Begin a title: its first minutes run, its recalls are granted, its shapes are to be seen."""
    end_title(tx)
    core, pace = tx.core, tx.room.pace
    if core.unheeded is not None:
        # Where code and detector agreed before the title, that was not on its picture.
        core.unheeded = core.unheeded._replace(agreed=False)
    core.title, core.declared, core.title_name, core.series = True, declared, name, series
    core.left_title = pace.per_title
    if core.refused_until == "title" and (played_on is None or not played_on.refused):
        tx.fire("panels", "free")  # That `no` was for the title before.
    core.interrupted = None
    core.ripe = False  # A wish that the last title held is not this one's.
    if core.override == "person":
        menu_is_over(core)
    allow_retries(tx)
    tx.settling = settle.new_title(tx.settling)
    tx.set_timers(
        first_minutes=tx.now + pace.first_minutes if pace.first_minutes else None,
        shape=tx.now + pace.settle.wider + SETTLING_IN,
        linger=None,
        linger_people=tx.now + pace.linger_people if pace.linger_people else None,
    )
    if name is not None or series is not None:
        recall_title(tx, pace.first_minutes, played_on=played_on is not None)
        let_session_run(tx)  # What was chosen last may last now.


def play_on(tx: Transaction, title: InterruptedTitle) -> None:
    """Go on with a title that was interrupted: its lens may have moved, so its recalls are new."""
    begin_title(tx, title.declared, title.name, title.series, title)
    core = tx.core
    core.shapes, core.varies, core.tallest = title.shapes, title.varies, title.tallest
    core.stood, core.longest, core.subtitles = title.stood, title.longest, title.subtitles
    if title.refused:
        _refuse_again(tx)
    if title.choice != NO_CHOICE:
        choose_again(tx, title.choice)
        let_session_run(tx)


def _refuse_again(tx: Transaction) -> None:
    """Renew the `no` to this title's panels, unless somebody is at the screen and so is free."""
    core = tx.core
    if core.asked is not None and core.asked.at_screen:
        return
    close_prompt(tx, "withdrawn", "answered_no")
    if tx.fire("panels", "refuse"):
        core.refused_until = "title"
    let_session_run(tx)


def leave_title(tx: Transaction, source: str) -> None:
    """End the title because another source is shown; it is kept for as long as a pause may last."""
    core = tx.core
    interrupt_title(tx)
    left = core.interrupted
    kept = [one for one in core.left if one.source != core.source and _is_kept(one, tx.now)]
    if left is not None:
        kept.append(left._replace(source=core.source, until=tx.now + tx.room.pace.pause))
    core.interrupted = next((one for one in kept if one.source == source), None)
    core.left = tuple(one for one in kept if one.source != source)


def _is_kept(title: InterruptedTitle, now: int) -> bool:
    return title.until is not None and title.until > now


def start_first_minutes(tx: Transaction) -> None:
    """Start a title's first minutes again: only now can it be shown as it should be.

    Where the pace gives them no time at all, they never run, not even for the moment itself.
    """
    length = tx.room.pace.first_minutes
    if tx.core.title:
        tx.set_timers(first_minutes=tx.now + length if length else None)


def end_title(tx: Transaction) -> None:
    """End the title, if one is on, and the override that was to last for it."""
    core = tx.core
    if not core.title:
        return
    _count_in_vain(core)
    if core.longest is not None:
        stood = _time_of(_stood_up_to(core, tx.now), core.longest)
        name_who_contradicts(tx, core.longest, stood)
        if (core.series or core.title_name) is not None:
            remember_shape(tx, stood)
    core.title, core.declared, core.title_name, core.series = False, None, None, None
    core.shapes, core.varies, core.tallest, core.subtitles = (), False, None, False
    core.seen_in, core.detour, core.turns = None, None, 0
    core.line = None
    core.stood, core.stands, core.longest, core.remembered = (), None, None, None
    core.left_title, core.back_to, core.first_left = tx.room.pace.per_title, None, 0
    core.undo = None
    tx.set_timers(first_minutes=None, shape=None, longest=None, lines=None)
    if core.cue_overrides:
        end_cues_of_title(tx)
    if core.override_until == "title":
        give_back(tx, "title")


def _count_in_vain(core: Core) -> None:
    """Count a title that was over in its first minutes though the lens was sent for it."""
    if not first_minutes_run(core):
        core.sent_in_vain = 0
    elif core.back_to is not None:
        core.sent_in_vain = min(core.sent_in_vain + 1, IN_A_LOOP)


def interrupt_title(tx: Transaction) -> None:
    """End the title, but keep what is known of it where it may yet be played on."""
    core = tx.core
    if core.title and core.playback in {"playing", "paused"}:
        core.interrupted = InterruptedTitle(
            name=core.title_name,
            declared=core.declared,
            series=core.series,
            shapes=core.shapes,
            stood=_stood_up_to(core, tx.now),
            longest=core.longest,
            varies=core.varies,
            tallest=core.tallest,
            subtitles=core.subtitles,
            refused=core.panels == "refused" and core.refused_until == "title",
            choice=choice_that_stands(core),
        )
    end_title(tx)


def end_session(tx: Transaction) -> None:
    """End the evening's session: titles, overrides and refusals do not outlast it.

    Whoever is at the screen is not left standing in the light: the session waits for the prompt.
    """
    core = tx.core
    at_screen = core.asked is not None and core.asked.at_screen
    if at_screen and core.projector not in SWITCHED_OFF:
        tx.set_timers(session=core.timers.give_up)
        return
    interrupt_title(tx)
    core.left = tuple(_without_wishes(one) for one in core.left)
    if core.interrupted is not None:
        core.interrupted = _without_wishes(core.interrupted)
    give_back(tx, "session")
    drop_cue_overrides(tx, lambda _: True)
    core.put_back, core.sent_in_vain = (), 0
    close_prompt(tx, "withdrawn", "session_over")
    tx.fire("panels", "start_afresh")
    tx.set_timers(session=None)


def _without_wishes(title: InterruptedTitle) -> InterruptedTitle:
    """Give a title that was left without what a person wanted of it."""
    return title._replace(refused=False, choice=NO_CHOICE)


def let_session_run(tx: Transaction) -> None:
    """Start the session's timer if nobody watches anything, or will again after a pause."""
    core = tx.core
    if core.timers.session is None and core.playback != "playing" and not pausing(core):
        tx.set_timers(session=tx.now + tx.room.pace.session)


def withdraw(tx: Transaction, order: int, code: ReasonCode) -> None:
    """Take back an order that is still open."""
    grounds = tx.own_grounds("engine: orders", code)
    tx.decisions.append(Withdrawn(**tx.head(grounds), order=order))


def withdraw_orders(tx: Transaction, code: ReasonCode) -> None:
    """Take back every open order but a recall under way, which cannot be stopped."""
    core = tx.core
    if core.picture is not None:
        withdraw(tx, core.picture, code)
        core.picture = core.shown = None
    for cue in core.open_cues:
        withdraw(tx, cue.id, code)
    # What has begun goes on to its end, so nobody knows how these are set.
    open_names = {cue.cue for cue in core.open_cues}
    core.cues = tuple(cue for cue in core.cues if cue[0] not in open_names)
    core.open_cues = ()
    tx.set_timers(picture=None, cue=None)


def allow_retries(tx: Transaction) -> None:
    """Let what has failed be ordered once more: something has changed since."""
    core = tx.core
    if core.failed:
        core.failed, core.shown = False, None
    core.tries, core.unreached, core.missed = 0, None, None
    tx.set_timers(retry=None)


def note_settled_shape(
    tx: Transaction, settling: settle.Settling, before: int | None = None
) -> None:
    """Enter what the readings have settled on into the title that plays."""
    core = tx.core
    if not core.title or core.playback != "playing":
        return
    _note_lines(tx)
    if settling.aspect is not None and settling.aspect != before:
        if settling.raster is not None:
            _see_raster(tx, settling.raster[:2])
        _remember_shape(tx, settling.aspect)
    elif not core.shapes and core.timers.shape is None and settling.reading is not None:
        # Nothing has been black any more from here on, so a shape carried into the title may count.
        tx.set_timers(shape=tx.now + tx.room.pace.settle.wider + SETTLING_IN)


def _see_raster(tx: Transaction, raster: tuple[int, int]) -> None:
    """Drop from the title what another raster has shown, where that raster is soon left again.

    A stream that buffers shows a screen of its own, or a still; no film changes its raster so.
    """
    core, detour = tx.core, tx.core.detour
    if detour is not None and tx.now > detour.until:
        core.detour = detour = None
    if detour is not None and raster == detour.raster:
        core.shapes, core.varies, core.tallest = detour.shapes, detour.varies, detour.tallest
        core.detour = None
    elif detour is None and core.shapes and core.seen_in is not None and core.seen_in != raster:
        ends = tx.now + DETOUR
        core.detour = Detour(core.seen_in, core.shapes, core.varies, core.tallest, ends)
    core.seen_in = raster


def _note_lines(tx: Transaction) -> None:
    """Count a line in the bottom bar: a second one, seen apart from the first, means subtitles.

    A single overlay (a volume, a name, a clock) is no reason to move the picture for a whole title.
    What still stands long after an overlay would be gone counts as a second line.
    """
    core = tx.core
    gone = tx.now + tx.room.pace.lines
    if tx.settling.subtitles and _reaches_the_edge(tx.settling.reading):
        tx.settling = settle.line_noted(tx.settling, None)
    if tx.settling.subtitles:
        since = None if core.line is None else tx.now - core.line
        again = since is not None and LINES_APART <= since <= LINES_TOGETHER
        core.subtitles = core.subtitles or again
        if since is None or since >= LINES_APART:
            core.line = tx.now
        # What stands for ever is counted no more: a room with nothing new comes to rest.
        again_at = None if core.subtitles else tx.now + LINES_STAND
        tx.settling = settle.line_noted(tx.settling, again_at)
        tx.set_timers(lines=gone)
    elif core.subtitles and core.timers.lines is None:  # It fell due while the title was paused.
        tx.set_timers(lines=gone)


def _reaches_the_edge(reading: settle.BarReading | int | None) -> bool:
    """Tell whether what stands in the bottom bar goes down to the raster's edge: no line does."""
    return isinstance(reading, settle.BarReading) and reading.bottom * EDGE <= reading.rows


def lines_are_gone(tx: Transaction) -> None:
    """Let subtitles be over; in a pause nobody could have read any, and nothing moves."""
    core = tx.core
    if core.playback == "playing":
        core.subtitles, core.line = False, None


def shape_has_stood(tx: Transaction) -> None:
    """Enter a shape that has stood for a while, though no reading tells that it does."""
    core, settling = tx.core, tx.settling
    if core.turns == MOST_TURNS:
        core.turns, core.varies = 0, False  # It has stood for `CALM`.
    if settling.aspect is not None and settling.reading is not None and core.doubt is None:
        note_settled_shape(tx, settling)


def _remember_shape(tx: Transaction, aspect: int) -> None:
    """Enter a settled shape of the title; coming back to an earlier one means that it varies.

    Idents are no film: in the first minutes only the shape that stands counts, unless it changes
    as often as photographs do. Nor is the card of an intermission, but there is one at most.
    """
    core = tx.core
    if first_minutes_run(core):
        _count_turn(core, aspect)
        core.shapes, core.tallest = (aspect,), aspect
        return
    core.tallest = aspect if core.tallest is None else min(core.tallest, aspect)
    if core.shapes and same_shape(core.shapes[-1], aspect):
        return
    others = tuple(shape for shape in core.shapes if not same_shape(shape, aspect))
    if len(others) < len(core.shapes):
        if not core.varies and _was_intermission(core, aspect, tx.now):
            core.tallest = min(aspect, core.shapes[0])
        else:
            core.varies, core.turns = True, 0  # That holds, however calm it is from now on.
    core.shapes = (*others, aspect)[-SHAPES_KEPT:]


def _was_intermission(core: Core, aspect: int, now: int) -> bool:
    """Tell whether the only other shape so far stood for minutes between the halves of a film."""
    stood = _stood_up_to(core, now)
    return (
        len(core.shapes) == 2  # noqa: PLR2004 - the film's and the card's
        and _time_of(stood, aspect) >= HALF
        and _time_of(stood, core.shapes[-1]) <= INTERMISSION
    )


def _count_turn(core: Core, aspect: int) -> None:
    """Count a change of shape in the first minutes; what another raster shows is none."""
    if not core.shapes or core.detour is not None or same_shape(core.shapes[-1], aspect):
        return
    core.turns = min(core.turns + 1, MOST_TURNS)
    core.varies = core.varies or core.turns == MOST_TURNS


# ------------------------------------------------------------------- the title's own shape


def follow_title(tx: Transaction) -> None:
    """Note whether the settled shape is doubtful, and count the title's playing time.

    Call it whenever time has passed. A title card, a dark shot, a burst of misreadings is doubt and
    no shape: what is settled stays.
    """
    core, left = tx.core, tx.settling.left
    if left is None:
        core.doubt = None
    elif core.doubt is None and tx.now - left >= settle.DOUBT:
        core.doubt = left
    running = core.timers.first_minutes
    held = core.playback == "paused" or core.doubt is not None
    if running is not None and held:
        core.first_left = running - tx.now
        tx.set_timers(first_minutes=None)
    elif core.first_left > 0 and not held:
        tx.set_timers(first_minutes=tx.now + core.first_left)
        core.first_left = 0
    _follow_shapes(tx)


def _follow_shapes(tx: Transaction) -> None:
    """Count for how long the title's shapes have stood."""
    core, before = tx.core, tx.core.stands
    seen = core.title and core.playback == "playing" and core.doubt is None
    stands = core.shapes[-1] if seen and core.shapes else None
    if stands == (None if before is None else before.aspect):
        return
    core.stood = _stood_up_to(core, tx.now)
    core.stands = None if stands is None else StoodShape(stands, tx.now)
    if core.longest is None and stands is not None:
        core.longest = stands
        if core.declared is None and core.remembered is None:
            start_first_minutes(tx)  # Nothing could be done while nothing was known.
    tx.set_timers(longest=_overtakes(core, tx.now))
    if core.turns == MOST_TURNS:
        tx.set_timers(shape=None if stands is None else tx.now + CALM)


def longest_is_over(tx: Transaction) -> None:
    """Let the shape that stands now be the title's own: none has stood longer."""
    core = tx.core
    if core.stands is not None:
        core.longest, core.remembered = core.stands.aspect, None


def _overtakes(core: Core, now: int) -> int | None:
    """Say when the shape that stands will have stood longest, if it does not change again."""
    if core.stands is None or core.longest is None:
        return None
    if same_shape(core.longest, core.stands.aspect):
        return None
    return now + _time_of(core.stood, core.longest) - _time_of(core.stood, core.stands.aspect)


def _stood_up_to(core: Core, now: int) -> tuple[StoodShape, ...]:
    """Say for how long each shape has stood, the present one included."""
    if core.stands is None:
        return core.stood
    return _with_time(core.stood, core.stands.aspect, now - core.stands.ms)


def _time_of(stood: tuple[StoodShape, ...], aspect: int) -> int:
    return sum(one.ms for one in stood if same_shape(one.aspect, aspect))


def _with_time(stood: tuple[StoodShape, ...], aspect: int, ms: int) -> tuple[StoodShape, ...]:
    """Add time to a shape; of too many shapes those that have stood shortest are forgotten."""
    others = [one for one in stood if not same_shape(one.aspect, aspect)]
    summed = [*others, StoodShape(aspect, _time_of(stood, aspect) + ms)]
    return tuple(sorted(summed, key=lambda one: -one.ms)[:SHAPES_KEPT])
