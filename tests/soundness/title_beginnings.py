"""Seeded beginnings of titles, and whether each look stands as soon as a room promises.

A promise with `within` speaks of a title that begins where lens and panels are known to stand, told
by a hub that obeys at once, in a shape that somebody has standardised, with people who do what they
are asked within two seconds, say no, or are away. Whatever else a hub may say first is drawn
freely. What is wanted is asked of the engine; whether it stands, and whether something excuses that
it does not, is judged here, from the file's own text.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from random import Random
from typing import Any, Final

from engine import RoomEngine
from engine.events import (
    BarsSeen,
    Event,
    Helper,
    LensReport,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    event_json,
)
from engine.state import Core
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from tests.soundness.independent_judge import IndependentJudge, Seen, milliseconds
from tests.soundness.random_cells import is_truth, told_range, told_words
from tests.soundness.random_evenings import START
from tests.soundness.random_rooms import RandomRoom

ROWS: Final = 2_160
COLUMNS: Final = 3_840
FILMS: Final = ("4/3", "1.66", "16/9", "1.85", "2.20", "2.39", "2.76")
"""Ratios of films that are standards or common practice."""
PEOPLE: Final = (
    Person(ready=1_000, answer=2_000),
    Person(ready=500, answer=1_500),
    Person(answer=1_000, says_no=True),
    Person(answer=None),
)


def late_looks(made: RandomRoom, proven: frozenset[str], evenings: range) -> Iterator[str]:
    """Yield each promise with `within` that is called proven, and an evening that is late."""
    for timely in made.file["promises"]:
        if "within" in timely and timely["name"] in proven:
            lived = (_late(made, timely, seed) for seed in evenings)
            first = next((one for one in lived if one), None)
            if first is not None:
                yield f"room {made.seed}: '{timely['name']}' is late on\n{first}\nin:\n{made.text}"


def _late(made: RandomRoom, timely: dict[str, Any], seed: int) -> str:
    """Live one beginning; give what came, where the look does not stand in time and may not."""
    rng = Random(seed)
    engine, judge = RoomEngine(made.room), IndependentJudge(made.file)
    ends = START + milliseconds(timely["within"])
    hub = Hub(made.room, rng.choice(PEOPLE), flickers=rng.random() < 0.7)
    script = [TimedEvent(START, one) for one in (*_before(rng, made), *_begins(rng, made))]
    came = []
    before = engine.state
    for step in play_script(engine, hub, script, ends):
        if step.refused is not None and step.now == START:
            return ""  # Nobody begins a title like this here.
        heard = step.event if step.refused is None else None
        judge.see(Seen(step.now, heard, before, step.decisions, engine.state))
        before = engine.state
        if heard is not None:
            came.append(f"{(step.now - START) / 1_000:>9.3f}  {event_json(heard).decode()}")
    core = engine.state.core
    if stands(core) or excused(judge, timely, engine, ends):
        return ""
    return "\n".join([*came, f"wanted {core.wanted}, {core.lens} {core.preset} {core.holds}"])


def stands(core: Core) -> bool:
    """Tell whether lens, panels and picture are where they are wanted, and nothing is under way."""
    want = core.wanted
    lens = want.preset is None or (core.lens == "resting" and core.preset == want.preset)
    panels = want.panels is None or core.arrangement == want.panels
    picture = core.shown is not None and core.picture is None and not core.failed
    return lens and panels and picture and "flash" not in core.holds


def excused(judge: IndependentJudge, timely: dict[str, Any], engine: RoomEngine, now: int) -> bool:
    """Tell whether a promise says that the look need not stand then."""
    if "unless" not in timely:
        return False
    facts = judge.facts(engine.state, now)
    return all(test(facts[fact]) for fact, test in judge.tests_of(timely["unless"]))


def _before(rng: Random, made: RandomRoom) -> Iterator[Event]:
    """Say how things stand before the title begins."""
    room, file = made.room, made.file
    yield LensReport(moving=False, preset=rng.choice([*room.presets]))
    if len(room.panels) > 1 and rng.random() < 0.8:
        yield PanelReport(panels=rng.choice([*room.panels]))
    if rng.random() < 0.15:
        yield Helper(free=False)
    for name, words in told_words(file).items():
        if rng.random() < 0.7:
            yield ToldFact(fact=name, value=_told(rng, file, name, words))
    if rng.random() < 0.7:
        yield TimeOfDay(minute=rng.randrange(1_440))
    yield Signal(
        locked=True,
        columns=COLUMNS,
        rows=ROWS,
        range=rng.choice((None, "standard", "high")),
        three_d=rng.choice((None, True, False)),
    )
    yield ProjectorReport(state="lit")


def _told(rng: Random, file: dict[str, Any], name: str, words: tuple[str, ...]) -> bool | int | str:
    if is_truth(file, name):
        return rng.random() < 0.5
    return rng.choice(words) if words else rng.randint(*told_range(file, name))


def _begins(rng: Random, made: RandomRoom) -> Iterator[Event]:
    """Begin a title, in a shape that is read, told, both or not known."""
    source = rng.choice([*made.room.sources.values()])
    film = Fraction(rng.choice(FILMS))
    told = source.declares and rng.random() < 0.6
    yield SourceChosen(source=source.name)
    yield Playback(state="playing")
    if told or source.says_titles or rng.random() < 0.5:
        yield Title(begun=True, declared=float(film) if told else None)
    if not source.leave_alone and source.shape is None and rng.random() < 0.8:
        yield bars_of(film)


def bars_of(film: Fraction) -> BarsSeen:
    """Give what a detector sees of a film of this ratio, in a raster of 16:9."""
    across, down = min(COLUMNS, int(ROWS * film)), min(ROWS, int(COLUMNS / film))
    side, top = (COLUMNS - across) // 2, (ROWS - down) // 2
    return BarsSeen(top=top, bottom=top, left=side, right=side, columns=COLUMNS, rows=ROWS)
