"""Scripts of nights in which something goes wrong, each of another kind, with its root."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from engine.events import (
    BlackSeen,
    Helper,
    Mark,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    Undo,
)
from simulator.nights.stand_in_hub import Person
from simulator.shipped import DEMO_ROOM, LONGROOM
from tests.golden.evenings import Evening, at
from tests.golden.scenes import (
    HALF_PAST_SEVEN,
    disc_begins,
    disc_plays,
    shape,
    switched_off,
    switched_on,
)
from tests.simulator.troubled_hubs import (
    ComesToRestElsewhere,
    HasNoLamps,
    OnlySays,
    RefusesPictures,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.nights.remedies import TroubleCode
    from tests.golden.scenes import Script

WORN = DEMO_ROOM.read_text("utf-8") + "\nwear: {travels: 2}\n"


def _disc(ratio: float) -> Script:
    yield from switched_on("broad", "open")
    yield from disc_begins(45, ratio)


def _over(t: float = 5_400) -> Script:
    yield t, Playback(state="stopped", source="disc")
    yield from switched_off(t + 100)


def projector_off() -> Script:
    """The projector goes off half an hour into a film, which plays on to its end."""
    yield from _disc(2.39)
    yield 2_000, ProjectorReport(state="cooling")
    yield 2_090, ProjectorReport(state="off")
    yield 2_200, Mark(words="it went dark")
    yield 5_400, Playback(state="stopped", source="disc")


def old_news() -> Script:
    """A hub tells again and again that the film stopped, as it was ten minutes before."""
    yield from _disc(1.778)
    yield 300, Playback(state="playing", source="disc", at=at(300))
    for minute in range(20, 60, 5):
        yield 60 * minute, Playback(state="stopped", source="disc", at=at(200))
    yield from _over()


def clock_behind() -> Script:
    """The hub's clock is set back by an hour, so that nothing it says of playback is taken."""
    yield from _disc(1.778)
    yield 300, Playback(state="playing", source="disc", at=at(300))
    yield 1_000, Playback(state="paused", source="disc", at=at(1_000 - 3_600))
    yield 1_200, Playback(state="playing", source="disc", at=at(1_200 - 3_600))
    yield 1_300, Playback(state="paused", source="disc", at=at(1_300 - 3_600))
    yield from switched_off(5_600)


def room_clock_back() -> Script:
    """The room's own clock goes back by an hour in mid-film."""
    yield from _disc(1.778)
    yield 600, TimeOfDay(minute=HALF_PAST_SEVEN + 10)
    yield 1_200, TimeOfDay(minute=HALF_PAST_SEVEN + 20 - 60)
    yield from _over()


def fitted_wrongly() -> Script:
    """Somebody says that the side panels are fitted, and they are reported as open."""
    yield from _disc(1.778)
    yield 400, PanelReport(panels="open")
    yield 900, Mark(words="grey sides")
    yield from _over()


def changed_unasked() -> Script:
    """In mid-film the side panels are reported as fitted, and nobody had been asked."""
    yield from _disc(2.39)
    yield 1_000, PanelReport(panels="sides")
    yield from _over()


def never_done() -> Script:
    """A film of 1.78, whose panels somebody went to fit."""
    yield from _disc(1.778)
    yield from _over()


def left_cropped() -> Script:
    """Tom crops a film for the session; the next film is cropped too, and nobody wanted that."""
    yield from _disc(2.39)
    crop = OverrideLook(picture="cropped")
    yield 300, Override(taken=True, until="session", look=crop, source="disc", who="tom")
    yield 2_000, Playback(state="stopped", source="disc")
    yield 2_100, Playback(state="playing", source="disc")
    yield 2_102, shape(1.778)
    yield 3_000, Mark(words="heads are cut off")
    yield from _over()


def restarted_at_the_screen() -> Script:
    """roomcue restarts while somebody is at the screen with the panels."""
    yield from _disc(1.778)
    yield 210, shape(1.778)
    yield 240, shape(1.778)
    yield 250, Resumed(minute=HALF_PAST_SEVEN + 4)
    yield from _over()


def two_detectors() -> Script:
    """Two detectors contradict each other all through a film."""
    yield from _disc(1.778)
    for t in range(200, 1_400, 10):
        yield t, RatioSeen(ratio=2.39)
        yield t + 5, shape(1.778)
    yield from _over()


def silent_detector() -> Script:
    """A detector that repeats itself every ten seconds falls silent in mid-film."""
    yield from switched_on("broad", "open")
    yield from disc_plays(45)
    for t in range(78, 1_200, 10):
        yield t, shape(2.39)
    yield from _over()


def next_film_unread() -> Script:
    """Nothing is read of the second film, so that the shape of the first one holds."""
    yield from _disc(2.39)
    yield 2_000, Playback(state="stopped", source="disc")
    yield 2_001, Title(begun=False)
    yield 2_100, Playback(state="playing", source="disc")
    yield 3_000, Mark(words="black all round")
    yield from _over()


def nothing_read() -> Script:
    """No reading comes all night."""
    yield from switched_on("broad", "open")
    yield 45, SourceChosen(source="disc")
    yield 75, Playback(state="playing", source="disc")
    yield from _over()


def only_black() -> Script:
    """The detector reads nothing but black."""
    yield from switched_on("broad", "open")
    yield 45, SourceChosen(source="disc")
    yield 75, Playback(state="playing", source="disc")
    yield 80, BlackSeen()
    yield from _over()


def film(ratio: float) -> Callable[[], Script]:
    """Play a film of this shape and nothing else."""

    def script() -> Script:
        yield from _disc(ratio)
        yield from _over()

    return script


def service_left() -> Script:
    """A technician begins service and never says that it is over."""
    yield from switched_on("broad", "open")
    yield 40, Service(begun=True)
    yield from disc_begins(45, 1.778)
    yield 900, Mark(words="nothing happens")
    yield from _over()


def misnamed() -> Script:
    """The hub names a source that the room file does not know."""
    yield from switched_on("broad", "open")
    yield 45, SourceChosen(source="dvd")
    yield 75, Playback(state="playing", source="dvd")
    yield 900, Mark(words="nothing happens")
    yield from switched_off(5_400)


def said_twice() -> Script:
    """The hub tells once more, with the ids of before."""
    yield from switched_on("broad", "open")
    for second in (45, 600):
        yield second, SourceChosen(source="disc", id="hub-1")
        yield second + 5, Playback(state="playing", source="disc", id="hub-2")
        yield second + 6, RatioSeen(ratio=2.39)
    yield 5_300, Playback(state="stopped")
    yield from switched_off(5_400)


def no_source() -> Script:
    """Something plays, and nobody says what."""
    yield from switched_on("broad", "open")
    yield 60, Playback(state="playing")
    yield from switched_off(5_400)


def no_playback() -> Script:
    """A source is chosen, and nobody ever says that it plays."""
    yield from switched_on("broad", "open")
    yield 45, SourceChosen(source="disc")
    yield 47, shape(2.39)
    yield 3_000, Mark(words="the lamps stay on")
    yield from switched_off(5_400)


def signal_lost() -> Script:
    """The signal is lost in mid-film and never found again."""
    yield from _disc(2.39)
    yield 1_000, Signal(locked=False)
    yield 1_200, Mark(words="no picture")
    yield from _over()


def lens_unheard() -> Script:
    """Nobody ever says where the lens stands."""
    yield 0, TimeOfDay(minute=HALF_PAST_SEVEN)
    yield 0, PanelReport(panels="open")
    yield 38, ProjectorReport(state="lit")
    yield from disc_begins(45, 1.778)
    yield from _over()


def slides_left() -> Script:
    """Ann has said that slides are watched; a film follows, and the lamps stay at half."""
    yield from switched_on("broad", "open")
    yield 40, ToldFact(fact="watching", value="slides", who="ann")
    yield from disc_begins(45, 1.778)
    yield 900, Mark(words="the lamps are too bright")
    yield from _over()


def nobody_free() -> Script:
    """Tom has said that nobody is free for panels."""
    yield from switched_on("broad", "open")
    yield 40, Helper(free=False, who="tom")
    yield from disc_begins(45, 1.778)
    yield 900, Mark(words="grey sides")
    yield from _over()


def undone() -> Script:
    """Tom takes back what the room has done, and somebody wonders why the picture is small."""
    yield from _disc(1.778)
    yield 400, Undo(who="tom")
    yield 900, Mark(words="small")
    yield from _over()


def by_the_rules() -> Script:
    """All is as the rules want it, and somebody does not like it."""
    yield from _disc(2.39)
    yield 900, Mark(words="crooked")
    yield from _over()


def travels() -> Script:
    """Two films of two shapes in turn, so that the lens travels again and again."""
    yield from switched_on("broad", "open")
    yield 45, SourceChosen(source="disc")
    for number in range(4):
        ratio, begins = (1.778, 2.39)[number % 2], 100 + number * 800
        yield begins, Title(begun=True, name=f"film {number}", declared=ratio)
        yield begins + 0.5, Playback(state="playing", source="disc")
        yield begins + 600, Title(begun=False)
        yield begins + 600, Playback(state="stopped", source="disc")
    yield 3_200, Mark(words="light on the wall")
    yield from switched_off(3_400)


def unsteady_detector() -> Script:
    """A detector whose edges tremble by a row falls silent in mid-film."""
    yield from switched_on("broad", "open")
    yield from disc_plays(45)
    for number, t in enumerate(range(78, 1_200, 10)):
        yield t, shape(2.39, bottom=number % 2)
    yield from _over()


def declared_wrongly() -> Script:
    """The player declares 2.39 for a film of 1.78, and the night ends before the film does."""
    yield from switched_on("broad", "open")
    for t, event in disc_begins(45, 1.778):
        if isinstance(event, Playback):
            yield t, Title(begun=True, name="a film", declared=2.39)
        yield t, event
    yield 3_000, Mark(words="too small")
    yield 3_100, ProjectorReport(state="lit")


def loose_cable() -> Script:
    """The signal drops out for some seconds again and again."""
    yield from _disc(2.39)
    for t in range(1_000, 3_000, 400):
        yield t, Signal(locked=False)
        yield t + 4, Signal(locked=True)
    yield from _over()


def lamps_set() -> Script:
    """Ann sets the lamps for the session and forgets them."""
    yield from _disc(2.39)
    look = OverrideLook(cues={"lamps": "full"})
    yield 300, Override(taken=True, until="session", look=look, source="disc", who="ann")
    yield 2_000, Mark(words="too bright")
    yield from _over()


class WrongNight(NamedTuple):
    """A night, what is at its root, and a part of the first sentence that says so."""

    evening: Evening
    code: TroubleCode
    says: str


WRONG_NIGHTS = {
    "projector off": WrongNight(Evening(projector_off), "projector_dark", "projector went off"),
    "old news": WrongNight(Evening(old_news), "old_news", "Old news was sent: 8 playback reports"),
    "hub's clock": WrongNight(Evening(clock_behind), "sender_clock_behind", "60 min behind"),
    "room's clock": WrongNight(Evening(room_clock_back), "clock_set", "set back by 60 min"),
    "fitted wrongly": WrongNight(
        Evening(fitted_wrongly),
        "panels_otherwise",
        "Panels 'sides' were said to be done, and reported as 'open'",
    ),
    "changed unasked": WrongNight(
        Evening(changed_unasked), "panels_unasked", "reported as 'sides' although nobody"
    ),
    "never done": WrongNight(
        Evening(never_done, hub=OnlySays), "prompt_never_done", "never said that it was done"
    ),
    "left cropped": WrongNight(
        Evening(left_cropped), "override_left", "Tom had chosen 'cropped', and nobody gave"
    ),
    "restarted": WrongNight(
        Evening(restarted_at_the_screen, hub=OnlySays),
        "restarted",
        "while somebody was fitting panels 'sides'",
    ),
    "two detectors": WrongNight(
        Evening(two_detectors), "readings_disagree", "2.39 (ratio) and 1.78 (bars)"
    ),
    "silent detector": WrongNight(
        Evening(silent_detector), "readings_stopped", "Readings of the picture's shape stopped for"
    ),
    "trembling detector": WrongNight(
        Evening(unsteady_detector), "readings_stopped", "stopped for 70 min"
    ),
    "declared wrongly": WrongNight(
        Evening(declared_wrongly), "reporter_contradicts", "The player says 2.39, and for"
    ),
    "loose cable": WrongNight(Evening(loose_cable), "signal_lost", "was lost 5 times"),
    "lamps set": WrongNight(Evening(lamps_set), "chosen_by_person", "ann had set lamps to full"),
    "unread film": WrongNight(
        Evening(next_film_unread), "shape_not_told", "since before this title began, so 2.39"
    ),
    "nothing read": WrongNight(Evening(nothing_read), "shape_not_told", "for no reading came"),
    "only black": WrongNight(Evening(only_black), "shape_not_told", "nothing but black was read"),
    "lens elsewhere": WrongNight(
        Evening(film(1.778), hub=ComesToRestElsewhere), "lens_elsewhere", "it stood at 'broad'"
    ),
    "pictures refused": WrongNight(
        Evening(film(2.39), hub=RefusesPictures), "picture_refused", "ordered and refused"
    ),
    "no lamps": WrongNight(
        Evening(film(2.39), hub=HasNoLamps), "cue_unanswered", "'lamps' was ordered and never"
    ),
    "service left": WrongNight(Evening(service_left), "service_left", "stood in service"),
    "misnamed": WrongNight(Evening(misnamed), "name_not_known", "this room has no source 'dvd'"),
    "said twice": WrongNight(
        Evening(said_twice), "heard_before", "with the same id (source, playback)"
    ),
    "no source": WrongNight(Evening(no_source), "source_not_told", "nobody said which source"),
    "no playback": WrongNight(
        Evening(no_playback), "playback_not_told", "Nobody said whether disc plays"
    ),
    "signal lost": WrongNight(Evening(signal_lost), "signal_lost", "signal was lost for"),
    "lens unheard": WrongNight(
        Evening(lens_unheard), "lens_not_known", "Nobody knows where the lens stands"
    ),
    "slides left": WrongNight(Evening(slides_left), "fact_told", "ann had said 'watching: slides'"),
    "nobody free": WrongNight(Evening(nobody_free), "nobody_free", "tom had said that nobody"),
    "undone": WrongNight(Evening(undone), "chosen_by_person", "tom had taken back"),
    "by the rules": WrongNight(
        Evening(by_the_rules), "as_ruled", "Nothing had failed: the picture was plain 2.39"
    ),
    "many travels": WrongNight(
        Evening(travels, room_file=WORN), "lens_due", "the lens has travelled to 'broad' 2 times"
    ),
    "nobody answers": WrongNight(
        Evening(film(1.778), Person(answer=None), LONGROOM.read_text("utf-8")),
        "prompt_unanswered",
        "Nobody answered the request for panels 'sides'",
    ),
}
"""One night a kind of trouble; none of them is among the nights that come along."""
