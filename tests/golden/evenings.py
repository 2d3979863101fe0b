"""The scripts of the golden nights: what happens apart from what the hub does in answer.

All of it is invented. A line is seconds after the night's begin, and an event.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from engine.events import (
    Answer,
    FindLens,
    Forget,
    LensReport,
    Mark,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    moment_of,
)
from simulator.nights.invention import NightPlan
from simulator.nights.stand_in_hub import Hub, Person
from simulator.shipped import CELLAR, DEMO_ROOM, LONGROOM
from tests.golden.beginnings import black, idents
from tests.golden.films_with_lines import lines_and_heads, subtitles
from tests.golden.home_made import own_lens, upright
from tests.golden.scenes import (
    HALF_PAST_SEVEN,
    NEXT_EVENING,
    Script,
    disc_begins,
    disc_plays,
    episode_begins,
    episodes,
    shape,
    streamer_begins,
    streamer_ends,
    streamer_plays,
    switched_off,
    switched_on,
    window,
)
from tests.golden.troubled import (
    LosesRecalls,
    RefusesRecalls,
    RefusesStretches,
    astray,
    buffering,
    bumped_lens,
    false_word,
    nobody_there,
    refused_picture,
    refused_recall,
    silent_lens,
)

BEGINS = 1_795_375_800_000
"""2026-11-22T19:30:00Z, in the winter of an invented year in the hayloft."""
PANELS_OFF = 5
"""The number under which the evening of two phones is asked to take the panels off."""


class Evening(NamedTuple):
    """One golden night: its script, how the person at home answers, and its room."""

    script: Callable[[], Script]
    person: Person = Person()
    room_file: str = DEMO_ROOM.read_text("utf-8")
    hub: type[Hub] = Hub


def pause() -> Script:
    """A 1.78 film on the tall preset, side panels fitted; paused four minutes, played on."""
    yield from switched_on("tall", "sides")
    yield from disc_begins(45, 1.778)
    yield 1_500, Playback(state="paused", source="disc")
    yield 1_501, window(0, 300, 0, 0)
    yield 1_504, shape(1.778)
    yield 1_740, Playback(state="playing", source="disc")
    yield 4_800, Playback(state="stopped", source="disc")
    yield from switched_off(4_900)


def changing() -> Script:
    """A film that changes shape: 2.39, a few seconds of 1.90, back, later 1.78 for long."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.39)
    yield 1_200, shape(1.90)
    yield 1_207, shape(2.39)
    yield 2_400, shape(1.778)
    yield 3_300, shape(2.39)
    yield 4_000, shape(1.90)
    yield 4_020, shape(2.39)
    yield 5_400, Playback(state="stopped", source="disc")
    yield from switched_off(5_500)


def cartoon() -> Script:
    """A 4:3 cartoon in the long room, watched by a child alone who answers no prompt."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 1.333)
    yield 1_500, Playback(state="stopped", source="disc")
    yield from switched_off(1_600)


def binge() -> Script:
    """Episodes in a row, a hand on the first; a window, a quick next one, a preview in a menu."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield 90, Title(begun=True, name="first episode")
    yield 90.5, Playback(state="playing", source="streamer")
    yield 92, shape(2.0)
    look = OverrideLook(picture="cropped")
    yield 400, Override(taken=True, until="session", look=look, source="streamer")
    yield 2_700, window(140, 1_204, 1_820, 388)
    yield from streamer_ends(2_730)
    yield 2_731, shape(1.778)
    yield 2_735, Title(begun=True, name="second episode")
    yield 2_735.5, Playback(state="playing", source="streamer")
    yield 2_737, shape(2.0)
    yield 5_300, window(140, 1_204, 1_820, 388)
    yield from streamer_ends(5_330)
    yield 5_331, shape(1.778)
    yield 5_400, Playback(state="playing", source="streamer")
    yield 5_402, shape(2.2)
    yield 5_430, Override(taken=False)
    yield 5_500, Playback(state="stopped", source="streamer")
    yield from switched_off(5_600)


def bad_start() -> Script:
    """Panels from yesterday, a hasty hub, an old "playing" again, the owner's own remote."""
    yield 0, TimeOfDay(minute=HALF_PAST_SEVEN)
    yield 0, LensReport(moving=False, preset="tall")
    yield 0, PanelReport(panels="sides")
    yield 1, ProjectorReport(state="warming")
    yield 4, SourceChosen(source="streamer")
    yield 6, SourceChosen(source="disc")
    yield 7, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
    yield 8, Playback(state="playing", source="disc", at=at(8))
    yield 10, shape(2.39)
    yield 20, Playback(state="playing", source="disc")
    yield 38, ProjectorReport(state="lit")
    yield 1_800, Playback(state="stopped", source="disc", at=at(1_800))
    yield 1_830, Playback(state="playing", source="disc", at=at(8))
    yield 1_900, Playback(state="playing", source="disc", at=at(1_900))
    yield 2_600, LensReport(moving=True, preset="tall")
    yield 2_615, LensReport(moving=False, preset="tall")
    yield 2_900, PanelReport(panels="sides")
    yield 3_000, LensReport(moving=True, preset="broad")
    yield 3_014, LensReport(moving=False, preset="broad")
    yield 4_200, Playback(state="stopped", source="disc", at=at(4_200))
    yield from switched_off(4_300)


def evening() -> Script:
    """What a good evening looks like: an episode, a documentary with panels, a scope film."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield 70, Playback(state="playing", source="streamer")
    yield 95, Title(begun=True, name="an episode")
    yield 97, shape(2.2)
    yield from streamer_ends(1_600)
    yield 1_601, shape(1.778)
    yield from disc_begins(1_700, 1.778)
    yield 2_900, Playback(state="paused", source="disc")
    yield 3_020, Playback(state="playing", source="disc")
    yield 4_500, Playback(state="stopped", source="disc")
    yield 4_540, TimeOfDay(minute=HALF_PAST_SEVEN + 75)
    yield 4_560, Playback(state="playing", source="disc")
    yield 4_563, shape(2.39)
    for line in range(40):
        yield 4_900 + line * 9, shape(2.39, bottom=150)
        yield 4_903 + line * 9, shape(2.39)
    yield 6_240, LensReport(moving=True, preset="tall")
    yield 6_255, LensReport(moving=False, preset="tall")
    yield 6_300, Mark(words="who moved the lens?")
    yield 8_000, Playback(state="stopped", source="disc")
    yield from switched_off(8_100)


def ident() -> Script:
    """A declared scope film behind an ident of 28 s at 1.78; yesterday's lens and panels."""
    yield from switched_on("tall", "sides")
    yield 45, SourceChosen(source="disc")
    yield 46, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
    yield 46.5, shape(1.778)
    yield 75, Title(begun=True, declared=2.39, name="a film")
    yield 75.5, Playback(state="playing", source="disc")
    yield 76, shape(1.778)
    yield 104, shape(2.39)
    yield 3_000, Playback(state="stopped", source="disc")
    yield from switched_off(3_100)


def trailers() -> Script:
    """Trailers of two shapes, then a named film; later a menu that "plays" before another."""
    yield from switched_on("broad", "open")
    yield from disc_plays(45)
    for t, ratio in ((77, 1.85), (197, 2.39), (307, 1.85)):
        yield t, shape(ratio)
    yield 400, Title(begun=True, name="a film")
    yield 402, shape(2.39)
    yield 3_000, Playback(state="stopped", source="disc")
    yield 3_001, shape(1.778)
    yield 3_030, Playback(state="playing", source="disc")
    yield 3_210, Title(begun=True, name="another film")
    yield 3_212, shape(2.39)
    yield 5_400, Playback(state="stopped", source="disc")
    yield from switched_off(5_500)


def early_pause() -> Script:
    """A 1.85 film, paused after 18 s for three minutes; then a scope film, for ten."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 1.85)
    yield 93, Playback(state="paused", source="disc")
    yield 273, Playback(state="playing", source="disc")
    yield 2_400, Playback(state="stopped", source="disc")
    yield 2_700, Playback(state="playing", source="disc")
    yield 2_704, shape(2.39)
    yield 2_718, Playback(state="paused", source="disc")
    yield 3_318, Playback(state="playing", source="disc")
    yield 4_800, Playback(state="stopped", source="disc")
    yield from switched_off(4_900)


def autoplay() -> Script:
    """Four episodes of 2.00 behind idents of 1.78, eight seconds from one to the next."""
    yield from episodes(2.0)


def known_series() -> Script:
    """The same with episodes of 2.39: from the second one on it is known how they go."""
    yield from episodes(2.39)


def put_back() -> Script:
    """Three episodes of 1.78; the owner's remote puts the zoom back to where it was."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    for number, name in enumerate(("first", "second", "third")):
        begins = 90 + number * 1_500
        yield from episode_begins(begins, name)
        if number == 0:
            yield begins + 180, LensReport(moving=True, preset="broad")
            yield begins + 195, LensReport(moving=False, preset="broad")
        yield begins + 1_400, Title(begun=False)
        yield begins + 1_400, Playback(state="stopped", source="streamer")
    yield from switched_off(4_700)


def half_time() -> Script:
    """A match; a quarter of an hour of the console at half-time; later a slip of 5 s to it."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield from streamer_plays(90, Title(begun=True, name="a match"), 1.778)
    yield 2_790, SourceChosen(source="console")
    yield 2_791, Playback(state="playing", source="console")
    yield 3_690, SourceChosen(source="streamer")
    yield 3_690.5, Playback(state="playing", source="streamer")
    yield 3_691, shape(1.778)
    yield 4_500, SourceChosen(source="console")
    yield 4_505, SourceChosen(source="streamer")
    yield 4_505.5, Playback(state="playing", source="streamer")
    yield 4_506, shape(1.778)
    yield from streamer_ends(6_400)
    yield from switched_off(6_500)


def second_evening() -> Script:
    """A series of 2.20 that a family wants as it was made; the next evening, until it does not."""
    for t, name in ((0, "first"), (NEXT_EVENING, "second")):
        yield from switched_on("broad", "open", t)
        yield from streamer_begins(t + 45)
        yield from episode_begins(t + 90, name)
        yield t + (98 if t == 0 else 121), shape(2.20)  # The second ident is a long one.
        if t == 0:
            look = OverrideLook(picture="plain")
            yield 300, Override(taken=True, until="title", look=look, source="streamer")
        else:
            yield t + 900, Forget(name="a series", who="Ana")
        yield t + 1_592, Title(begun=False)
        yield t + 1_592, Playback(state="stopped", source="streamer")
        yield from switched_off(t + 1_700)


def power_cut() -> Script:
    """Power fails in mid-film, then the lens knows no place; it is found before the next film."""
    yield from switched_on("broad", "open")
    yield from disc_begins(45, 2.39)
    yield 1_801, ProjectorReport(state="off")
    yield 1_805, ProjectorReport(state="warming")
    yield 1_806, LensReport(moving=False, preset=None)
    yield 1_842, ProjectorReport(state="lit")
    yield 1_845, SourceChosen(source="disc")
    yield 1_846, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
    yield 1_846.5, Playback(state="stopped", source="disc")
    yield 1_847, shape(1.778)
    yield 1_900, Playback(state="playing", source="disc")
    yield 1_902, shape(2.39)
    yield 4_000, Playback(state="stopped", source="disc")
    yield 4_001, shape(1.778)
    yield 4_060, FindLens()
    yield 4_200, Playback(state="playing", source="disc")
    yield 4_202, shape(2.39)
    yield 6_000, Playback(state="stopped", source="disc")
    yield from switched_off(6_100)


def two_phones() -> Script:
    """A film that wants its panels off: one goes to the screen, the other says no meanwhile."""
    yield from switched_on("broad", "sides")
    yield from disc_begins(45, 2.39)
    yield 200, Answer(prompt=PANELS_OFF, answer="ready", who="first")
    yield 200, Answer(prompt=PANELS_OFF, answer="no", who="second")
    yield 215, Answer(prompt=PANELS_OFF, answer="no", who="second")
    yield 230, Answer(prompt=PANELS_OFF, answer="no")
    yield 260, Answer(prompt=PANELS_OFF, answer="done", who="first")
    yield 2_400, Playback(state="stopped", source="disc")
    yield from switched_off(2_500)


def slideshow() -> Script:
    """Photographs of four shapes, eight seconds each; later a film, and both are told."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield 60, ToldFact(fact="watching", value="slides")
    yield 70, Title(begun=True, name="photographs")
    yield 70.5, Playback(state="playing", source="streamer")
    shapes = (shape(1.333), shape(1.5), window(0, 0, 1_110, 1_110), shape(1.778))
    for number in range(120):
        yield 71 + number * 8, shapes[number % len(shapes)]
    yield from streamer_ends(1_100)
    yield 1_101, shape(1.778)
    yield 1_130, ToldFact(fact="watching", value="film")
    yield from streamer_plays(1_200, Title(begun=True, name="a film"), 2.39)
    yield from streamer_ends(4_000)
    yield from switched_off(4_100)


def guests() -> Script:
    """A flat film with guests; once they have gone, somebody is asked for the next one's panels."""
    yield from switched_on("broad", "open")
    yield 40, ToldFact(fact="guests", value=True)
    yield from disc_begins(45, 1.85)
    yield 3_000, Playback(state="paused", source="disc")
    yield 3_300, Playback(state="playing", source="disc")
    yield 5_400, Playback(state="stopped", source="disc")
    yield 5_600, ToldFact(fact="guests", value=False)
    yield 5_700, Playback(state="playing", source="disc")
    yield 5_702, shape(1.85)
    yield 8_000, Playback(state="stopped", source="disc")
    yield from switched_off(8_100)


def match() -> Script:
    """A match in company, with a scope spot before it and old pictures of 4:3 at half-time."""
    yield from switched_on("broad", "open")
    yield from streamer_begins(45)
    yield 80, ToldFact(fact="watching", value="match")
    yield from streamer_plays(90, Title(begun=True, name="a match"), 2.39)
    yield 121, shape(1.778)
    yield 3_000, shape(1.333)
    yield 3_120, shape(1.778)
    yield from streamer_ends(6_400)
    yield 6_450, ToldFact(fact="watching", value="film")
    yield from switched_off(6_500)


def at(t: float) -> datetime:
    """Say a moment of a golden night as events carry it."""
    return moment_of(BEGINS) + timedelta(seconds=t)


def in_portuguese(room_file: str) -> str:
    """Give a shipped room's file as a family in Lisbon would have it: in their language."""
    return room_file.replace("\n\nscreen:", "\nlanguage: pt\n\nscreen:", 1)


EVENINGS = {
    "pause": Evening(pause),
    "changing": Evening(changing),
    "subtitles": Evening(subtitles),
    "lines-and-heads": Evening(lines_and_heads, room_file=LONGROOM.read_text("utf-8")),
    "cartoon": Evening(cartoon, room_file=LONGROOM.read_text("utf-8")),
    "binge": Evening(binge),
    "bad-start": Evening(bad_start, Person(ready=20_000, answer=70_000)),
    "evening": Evening(evening),
    "ident": Evening(ident),
    "trailers": Evening(trailers),
    "idents": Evening(idents),
    "black": Evening(black),
    "early-pause": Evening(early_pause),
    "autoplay": Evening(autoplay),
    "autoplay-longroom": Evening(autoplay, room_file=LONGROOM.read_text("utf-8")),
    "known-series": Evening(known_series),
    "known-series-longroom": Evening(known_series, room_file=LONGROOM.read_text("utf-8")),
    "slideshow": Evening(slideshow),
    "guests": Evening(guests),
    "match": Evening(match),
    "put-back": Evening(put_back),
    "half-time": Evening(half_time, Person(answer=20_000, says_no=True)),
    "second-evening": Evening(second_evening),
    "power-cut": Evening(power_cut),
    "two-phones": Evening(two_phones, Person(answer=None)),
    "evening-in-portuguese": Evening(
        evening, room_file=in_portuguese(DEMO_ROOM.read_text("utf-8"))
    ),
    "refused-recall": Evening(refused_recall, Person(answer=None), hub=RefusesRecalls),
    "nobody-there": Evening(nobody_there, Person(answer=None)),
    "bumped-lens": Evening(bumped_lens),
    "false-word": Evening(false_word),
    "upright": Evening(upright),
    "own-lens": Evening(own_lens),
    "refused-picture": Evening(refused_picture, hub=RefusesStretches),
    "astray": Evening(astray, Person(answer=None), hub=LosesRecalls),
    "buffering": Evening(buffering),
    "silent-lens": Evening(silent_lens, Person(answer=None), hub=LosesRecalls),
}
ENGLISH = [name for name in EVENINGS if name != "evening-in-portuguese"]
"""The nights that are recorded in English."""


class Made(NamedTuple):
    """A night out of a seed, with its decisions among its events."""

    room: Path
    seed: int
    plan: NightPlan = NightPlan(titles=5, minutes=30)


MADE = {
    "cellar": Made(CELLAR, 119),
    "longroom": Made(LONGROOM, 113),
}
