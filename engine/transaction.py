"""A transaction: the working space of one step, with a copy of the core and the decisions so far.

Functions that work in it call it `tx`. Whatever raises leaves the State that it began with as it
was, because only the copy has changed.
"""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.catalogue import NOTHING_MORE
from engine.decisions import Note
from engine.facts import facts_of, readable_facts
from engine.holds import HOLDS
from engine.state import IDS_OF_EPOCH, THE_LOOK, TOLD_WORD, State, Timers, Travels
from engine.transition_table import fire

if TYPE_CHECKING:
    from engine.catalogue import Group, Parameters
    from engine.decisions import Decision, DecisionHead, FactValue, NoteCode, ReasonCode
    from engine.facts import Facts
    from engine.holds import HoldCode
    from engine.room import Room, Show, Source
    from engine.state import Tally
    from engine.transition_table import MachineName, Trigger


HEARD_KEPT: Final = 32
"""How many words are kept of each subject; of more, those that were told last."""


class Grounds(NamedTuple):
    """What a decision rests on."""

    rule: str
    """The row, or the engine's own principle."""
    code: ReasonCode
    reason: str
    """The same for people, in the room's language; a row's own words."""


class Transaction:
    """One step under way; `new_state` ends it."""

    __slots__ = (
        *("_readable", "core", "decisions", "facts", "now", "room", "settling", "true_by_hub"),
        *("cues_now", "row_now", "tally", "title_facts", "true_since", "who"),
    )

    def __init__(self, room: Room, state: State, now: int, *, own: bool = False) -> None:
        """Begin a step; with `own` the State's core is nobody else's, and no copy is needed."""
        self.room = room
        self.core = state.core if own else state.core.copy()
        self.settling = state.settling
        self.tally = state.tally
        self.now = now
        self.who: str | None = None
        """Who says what is being entered, if they have said so."""
        self.true_since = now
        """Since when what is being entered is so, as far as anybody knows (ms UTC)."""
        self.true_by_hub = False
        """Whether a hub has dated it so; else that moment is by the room's clock."""
        self.decisions: list[Decision] = []
        self.facts: Facts = {}
        self.title_facts: Facts = {}
        """The facts with the title's own shape in place of the present one."""
        self.row_now = self.core.row
        """The row that wins now; in a pause the core keeps the row before, whose look stands."""
        self.cues_now: tuple[tuple[str, str], ...] = ()
        """The cues that this row asks for."""
        self._readable: dict[bool, tuple[Facts, dict[str, FactValue]]] = {}
        """Facts as decisions carry them, with those that they were made of; True: of the title."""

    @property
    def source(self) -> Source | None:
        """The source that is shown, where it is known."""
        return self.room.sources[self.core.source] if self.core.source is not None else None

    def decision_facts(self, *, of_title: bool = False) -> dict[str, FactValue]:
        """Give the facts as decisions carry them; `of_title`, if preset or panels follow them."""
        if not self.facts:
            self.facts = self.title_facts = facts_of(self.room, self.core, self.settling)
        of_title = of_title and self.title_facts != self.facts
        facts = self.title_facts if of_title else self.facts
        made_of, readable = self._readable.get(of_title, (None, {}))
        if made_of is not facts:
            readable = readable_facts(facts)
            self._readable[of_title] = facts, readable
        return readable

    def fire(self, machine: MachineName, trigger: Trigger) -> bool:
        """Fire one trigger of the table; False, and nothing changed, where no row allows it."""
        return fire(self.core, self.room, machine, trigger)

    def set_timers(self, **timers: int | None) -> None:
        """Start, move or (None) stop timers."""
        running = self.core.timers
        for name, due in timers.items():
            if getattr(running, name) != due:
                self.core.timers = Timers(*map(timers.get, Timers._fields, running))
                return

    def next_number(self) -> int:
        """Take the next number for an order or a prompt."""
        serial = self.tally.serial + 1
        self.tally = self.tally._replace(serial=serial)
        return serial

    def is_of_another_journal(self, number: int) -> bool:
        """Tell whether the number of an order or a prompt has another journal's epoch."""
        return number // IDS_OF_EPOCH != self.tally.serial // IDS_OF_EPOCH

    def may_be_undone(self, before: Show) -> None:
        """Remember what stood before something that moves now, and whose doing it is."""
        self.core.undo = before
        by = self.core.override
        who = self.tally.taken_by if by == "person" else None
        self.tally = self.tally._replace(moved=self.now, moved_by=by, moved_who=who)

    def say(self, group: Group, code: str, parameters: Parameters = NOTHING_MORE) -> str:
        """Give a sentence for people, in the room's language."""
        return self.room.catalogue.say(group, code, parameters)

    def grounds(self, number: int | None, own: str | None = THE_LOOK) -> Grounds:
        """Say why something is wanted: by a row, with its number in the core, or by a person.

        `own` names what is wanted: the look, or a cue that a person has set; None is a cue that the
        rules set. A person may have said so now, or the last time that the title was on.
        """
        by_person = self.core.override == "person" if own == THE_LOOK else own is not None
        if by_person:
            last = own in self.tally.chosen_last
            return self.own_grounds("engine: override", "chosen_last" if last else "person_asked")
        rules = self.room.rules
        row = rules.otherwise if number is None or number < 0 else rules.rows[number]
        return Grounds(row.label, "row", row.because)

    def own_grounds(self, rule: str, code: ReasonCode) -> Grounds:
        """Give a reason of the engine's own."""
        return Grounds(rule, code, self.say("reason", code))

    def head(self, grounds: Grounds, *, of_title: bool = False) -> DecisionHead:
        """Give what a decision made now begins with; `of_title`, if preset or panels follow it."""
        return {
            "at": self.now,
            "rule": grounds.rule,
            "code": grounds.code,
            "reason": grounds.reason,
            "facts": self.decision_facts(of_title=of_title),
        }

    def note(
        self, code: NoteCode | HoldCode, rule: str, own_words: str | None = None, **about: str | int
    ) -> None:
        """Write something down that moves nothing; `own_words` are somebody's, in place of ours."""
        group: Group = "hold" if code in HOLDS else "note"
        self.decisions.append(
            Note(
                at=self.now,
                rule=rule,
                code=code,
                reason=own_words or self.say(group, code, about),
                facts=self.decision_facts(),
                parameters=about,
            )
        )

    def note_told(self, subject: str, *what: str | bool | int | None) -> None:
        """Remember what was told of a subject, and since when it is so, among the latest of it."""
        before = len(self.tally.heard)
        word, ours = TOLD_WORD.format(subject, what), not self.true_by_hub
        self.tally = self.tally.with_heard(word, self.true_since, ours=ours)
        if len(self.tally.heard) > max(before, HEARD_KEPT):
            self.tally = _without_old_words(self.tally, subject)

    def count_travel(
        self, preset: str | None, *, ordered: int = 0, by_hand: int = 0, unconfirmed: int = 0
    ) -> None:
        """Enter a travel into the tally; None is a place that is no preset."""
        name = preset or ""
        kept = {travels.preset: travels for travels in self.tally.travels}
        old = kept.get(name, Travels(name, 0, 0, 0))
        kept[name] = Travels(
            name, old.ordered + ordered, old.by_hand + by_hand, old.unconfirmed + unconfirmed
        )
        travels = tuple(kept[key] for key in sorted(kept))
        tonight = self.tally.tonight + ordered + by_hand
        self.tally = self.tally._replace(travels=travels, tonight=tonight)
        if ordered + by_hand > 0:
            self._look_at_lens(name, kept[name].ordered + kept[name].by_hand, tonight)

    def _look_at_lens(self, preset: str, travels: int, tonight: int) -> None:
        """Note that somebody should look at the lens, as often as the room file says."""
        wear = self.room.wear
        if wear.travels is not None and preset and travels % wear.travels == 0:
            self.note("look_at_lens", "engine: wear", preset=preset, travels=travels)
        if wear.a_night is not None and tonight == wear.a_night + 1:
            self.note("many_travels", "engine: wear", travels=tonight)

    def new_state(self) -> State:
        """End the transaction: give the State that it has come to."""
        timers: Timers = self.core.timers
        return State(self.core, self.settling, self.tally, timers.next())


def _without_old_words(tally: Tally, subject: str) -> Tally:
    """Keep but `HEARD_KEPT` words of a subject, those that were told last."""
    heard, span = tally.heard, tally.words_of(subject)
    words = sorted(heard[span], key=attrgetter("when"))[-HEARD_KEPT:]
    return tally._replace(heard=(*heard[: span.start], *sorted(words), *heard[span.stop :]))
