"""What the settings of pace cost and spare, over evenings out of seeds, in the hayloft.

Each evening has four titles behind idents and trailers of other shapes; some declare their shape,
some are paused. Counted are travels, how many of them led away from what the film needed, prompts
that no film needed, and the minutes of a film with the lens elsewhere than it belongs. The first
line is the pace of a room file that says nothing.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.decisions import Prompt, RecallOrder
from engine.events import (
    Event,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    Title,
)
from engine.room import Pace, Room
from rules.room.load import load
from simulator.nights.invention import bars_seen
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.shipped import DEMO_ROOM

EVENINGS: Final = 300
TITLES: Final = 4
BEGINS: Final = 1_795_375_800_000
MINUTE: Final = 60_000
FILMS: Final = (17_778, 17_778, 18_500, 18_500, 20_000, 22_000, 23_900, 23_900, 23_900)
IDENTS: Final = (17_778, 17_778, 18_500, 23_900)


class Film(NamedTuple):
    """One film of an evening: when it is on (ms UTC), and its shape."""

    begins: int
    ends: int
    aspect: int


class Counted(NamedTuple):
    """What one evening, or several, came to."""

    travels: int = 0
    wrong_travels: int = 0
    prompts: int = 0
    prompts_in_vain: int = 0
    wrong: int = 0
    """How long a film was on with the lens elsewhere, ms."""

    def plus(self, other: Counted) -> Counted:
        """Add another evening."""
        return Counted(*map(sum, zip(self, other, strict=True)))


def needed(aspect: int) -> tuple[str | None, str | None]:
    """Say which preset and panels the hayloft's rows want for a film; None: any."""
    if aspect >= 21_000:
        return "broad", "open"
    return ("tall", "sides") if aspect < 19_500 else (None, None)


def evening(rng: random.Random) -> tuple[list[TimedEvent], list[Film]]:
    """Invent an evening."""
    script: list[TimedEvent] = []
    films: list[Film] = []
    now = BEGINS

    def say(event: Event) -> None:
        script.append(TimedEvent(now, event))

    say(ProjectorReport(state="lit"))
    say(LensReport(moving=False, preset="broad"))
    say(PanelReport(panels="open"))
    say(SourceChosen(source="disc"))
    say(Signal(locked=True, columns=3_840, rows=2_160))
    for number in range(TITLES):
        say(bars_seen(17_778))
        now += rng.randrange(1, 4) * MINUTE
        aspect = rng.choice(FILMS)
        declared = aspect / 10_000 if rng.random() < 0.3 else None
        say(Title(begun=True, name=f"film {number}", declared=declared))
        say(Playback(state="playing"))
        for _ in range(rng.randrange(4)):
            now += 500
            say(bars_seen(rng.choice(IDENTS)))
            now += rng.randrange(6, 40) * 1_000
        begins = now
        say(bars_seen(aspect))
        if rng.random() < 0.3:
            now += rng.randrange(10, 90) * 1_000
            say(Playback(state="paused"))
            now += rng.randrange(1, 6) * MINUTE
            say(Playback(state="playing"))
        now += rng.randrange(25, 50) * MINUTE
        if rng.random() < 0.2:  # a part of it in another shape
            say(bars_seen(rng.choice(IDENTS)))
            now += rng.randrange(1, 6) * MINUTE
            say(bars_seen(aspect))
        now += rng.randrange(20, 40) * MINUTE
        films.append(Film(begins, now, aspect))
        say(Playback(state="stopped"))
    return script, films


def counted(room: Room, seed: int) -> Counted:
    """Play one evening with a helpful person, and count."""
    script, films = evening(random.Random(seed))
    engine = RoomEngine(room)
    stands: list[tuple[int, str | None]] = [(BEGINS, "broad")]
    recalls: list[tuple[int, str]] = []
    prompts: list[tuple[int, str]] = []
    for played in play_script(engine, Hub(room, Person()), iter(script)):
        made = played.decisions
        recalls += [(one.at, one.preset) for one in made if isinstance(one, RecallOrder)]
        prompts += [
            (one.at, one.panels) for one in made if isinstance(one, Prompt) and one.stage == "asked"
        ]
        if engine.state.core.preset != stands[-1][1]:
            stands.append((played.now, engine.state.core.preset))
    return Counted(
        len(recalls),
        sum(needed(_film_at(films, at).aspect)[0] not in {None, preset} for at, preset in recalls),
        len(prompts),
        sum(needed(_film_at(films, at).aspect)[1] not in {None, panels} for at, panels in prompts),
        sum(_elsewhere(film, stands) for film in films),
    )


def _film_at(films: list[Film], moment: int) -> Film:
    """Find the film that is on at a moment, or whose idents are."""
    return next((one for one in films if moment < one.ends), films[-1])


def _elsewhere(film: Film, stands: list[tuple[int, str | None]]) -> int:
    """Say for how long the lens stood elsewhere than a film needed (ms)."""
    preset, _ = needed(film.aspect)
    if preset is None:
        return 0
    spans = pairwise((*stands, (film.ends, None)))
    return sum(
        max(0, min(until, film.ends) - max(since, film.begins))
        for (since, stood), (until, _) in spans
        if stood != preset
    )


def settings(default: Pace) -> Iterator[tuple[str, Pace]]:
    """Vary one setting at a time around the defaults."""
    yield "defaults", default
    yield (
        "as before",
        default._replace(linger=12_000, linger_people=12_000, first_minutes=90_000, per_title=1),
    )
    for seconds in (0, 12, 30, 60):
        yield f"linger {seconds} s", default._replace(linger=seconds * 1_000)
    for seconds in (0, 30, 90):
        yield f"wait {seconds} s", default._replace(linger_people=seconds * 1_000)
    for seconds in (90, 150, 480):
        words = f"first_minutes {seconds} s"
        yield words, default._replace(first_minutes=seconds * 1_000)
    for count in (1, 3):
        yield f"per_title {count}", default._replace(per_title=count)


def main() -> None:
    """Print the table, for each evening on average."""
    room = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
    minimal = load(MINIMAL, "minimal.yaml")
    print("| pace | travels | to the wrong preset | prompts | in vain | minutes elsewhere |")
    print("|---|---|---|---|---|---|")
    for words, pace in settings(minimal.pace):
        total = Counted()
        for seed in range(EVENINGS):
            total = total.plus(counted(replace(room, pace=pace), seed))
        figures = [f"{one / EVENINGS:.2f}" for one in total[:4]]
        minutes = f"{total.wrong / EVENINGS / MINUTE:.1f}"
        print(f"| {words} | {' | '.join(figures)} | {minutes} |", flush=True)


MINIMAL: Final = """
room: minimal
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40}
projector: {raster: 4096 x 2160}
sources: {disc: {}}
"""


if __name__ == "__main__":
    main()
