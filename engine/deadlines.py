"""What happens when something falls due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine import settle
from engine.lens import travel_time_over
from engine.outcomes import cue_ended, picture_ended
from engine.prompts import close_prompt, prompt
from engine.readings import attend
from engine.state import Timers
from engine.titles import end_session, give_back, interrupt_title, let_session_run, shape_seen

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.transaction import Turn


def fire_due(turn: Turn) -> None:
    """Fire all that is due at `turn.now`: the readings' filter first, then the timers in order."""
    deadline = turn.settling.deadline
    if deadline is not None and deadline <= turn.now:
        turn.settling = settle.due(turn.room.pace.settle, turn.settling, turn.now)
        see_shape(turn, turn.settling)
    for name in Timers._fields:
        due = getattr(turn.core.timers, name)
        if due is not None and due <= turn.now:
            turn.set(**{name: None})
            _DUE[name](turn)


def see_shape(turn: Turn, settling: settle.Settling, before: int | None = None) -> None:
    """Enter what the readings have settled on into the title that plays."""
    core = turn.core
    if not core.title or core.playback != "playing":
        return
    core.subtitles = core.subtitles or settling.subtitles
    if settling.aspect is not None and settling.aspect != before:
        turn.set(shape=None)
        shape_seen(core, settling.aspect)


def _picture(turn: Turn) -> None:
    picture_ended(turn, "no answer")


def _cue(turn: Turn) -> None:
    for cue in turn.core.open_cues:
        if cue.ends <= turn.now:
            cue_ended(turn, cue, "no answer")


def _remind(turn: Turn) -> None:
    asked = turn.core.asked
    if asked is not None and asked.at_screen:
        prompt(turn, "light comes back")
    elif turn.fire("panels", "remind"):
        prompt(turn, "reminded")


def _give_up(turn: Turn) -> None:
    close_prompt(turn, "expired", "Nobody has answered in time.")
    turn.fire("panels", "refuse")
    let_session_run(turn)


def _pause(turn: Turn) -> None:
    turn.core.pause_over = True
    interrupt_title(turn)
    attend(turn)
    turn.set(session=turn.now + turn.room.pace.session)


def _nothing(_turn: Turn) -> None:
    """Do no more than run out: the facts look at whether it runs."""


def _shape(turn: Turn) -> None:
    if turn.settling.aspect is not None:
        see_shape(turn, turn.settling)


def _linger(turn: Turn) -> None:
    turn.core.ripe = True


def _hand(turn: Turn) -> None:
    give_back(turn, "The hand was to end at this time.")


def _echo(turn: Turn) -> None:
    turn.core.echo = None


_DUE: Final[dict[str, Callable[[Turn], None]]] = {
    "travel": travel_time_over,
    "picture": _picture,
    "cue": _cue,
    "remind": _remind,
    "give_up": _give_up,
    "pause": _pause,
    "opening": _nothing,
    "shape": _shape,
    "linger": _linger,
    "hand": _hand,
    "session": end_session,
    "echo": _echo,
    "flash": _nothing,
}
