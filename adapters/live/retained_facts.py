"""Facts that a hub has retained: they come in any order, and nobody knows how old they are.

A source that is reported, a projector or a playback may undo what was heard before it: a title, or
what plays. Live that is right, for it has happened. Of retained facts nobody knows which came
first, so whatever could have been undone is entered once more.

Panels that are said to stand otherwise than is known may have been moved since by somebody who has
said so here. Then nobody knows how they stand, unless the fact has a date.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from adapters.live.messages import InboundMessage
from engine.events import (
    Event,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    Title,
)
from engine.prompts import PANELS
from engine.state import State

Undoable = Signal | Playback | Title
UNDOES: Final[dict[type[Event], tuple[type[Undoable], ...]]] = {
    ProjectorReport: (Playback, Title),
    SourceChosen: (Signal, Playback, Title),
    Playback: (Title,),
}
"""Which facts may undo others that came before them."""


class RetainedFacts:
    """What one connection has brought of facts that others may undo."""

    def __init__(self) -> None:
        self._kept: dict[type[Event], Undoable] = {}

    def clear(self) -> None:
        """Forget all of it: another connection brings its own."""
        self._kept.clear()

    @staticmethod
    def believed(event: Event, message: InboundMessage, state: State) -> Event:
        """Give a fact as far as it can be believed: what may be older than what is known is not."""
        if not message.retained or not isinstance(event, PanelReport) or event.at is not None:
            return event
        stands = state.core.arrangement
        known = stands is not None or PANELS in dict(state.tally.heard)
        return replace(event, panels=None) if known and event.panels != stands else event

    def that_follow(self, event: Event, *, retained: bool, taken: bool) -> Iterator[Event]:
        """Yield what is to be entered once more after a fact.

        A live fact is newer than what was retained of its kind. A live playback of a source that is
        not shown yet counts once that source is. What was not taken has undone nothing, so nothing
        follows from it.
        """
        if isinstance(event, Undoable):
            self._keep(event, retained=retained)
        if not taken:
            return
        if isinstance(event, SourceChosen) and not retained:
            kept = self._kept.pop(Playback, None)
            if isinstance(kept, Playback) and kept.source == event.source:
                yield kept
        for kind in UNDOES.get(type(event), ()) if retained else ():
            if kind in self._kept:
                yield self._kept[kind]

    def _keep(self, event: Undoable, *, retained: bool) -> None:
        """Keep a fact without its id, by which it would count but once."""
        names_source = isinstance(event, Playback) and event.source is not None
        if retained or names_source:
            self._kept[type(event)] = replace(event, id=None)
        else:
            self._kept.pop(type(event), None)
