"""Seeded room files: one seed is one room, small enough to be proven in seconds, of any feature.

The rooms are no integrator's. Their rules contradict one another, and many promises are broken.
Some of the promises are made from the rows themselves, so that a good share of them can be proven.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from random import Random
from typing import Any, Final, NamedTuple

from engine.room import BUILT_IN_PROMISES, Room
from rules import BadRoom, load_room
from tests.soundness.random_cells import RULE_FACTS, SHAPES, STANDING, random_cell, told_words
from tests.soundness.rarer_sections import add_language, add_rarer, add_spoken_and_timely
from tests.soundness.screen_plane import CORNERS, ScreenPlane, ratio_of_text

Section = dict[str, Any]
BECAUSE: Final = "It is so."


class RandomRoom(NamedTuple):
    """A room that a seed has made."""

    seed: int
    text: str
    """The room file."""
    file: Section
    """The same as plain text values by section, as a second reader of the file sees it."""
    room: Room


def random_room(seed: int) -> RandomRoom:
    """Make the room of a seed: the first of the files it leads to that loads."""
    rng = Random(seed)
    while True:
        file = _random_file(rng)
        _say_more(Random(f"more of {seed}"), file)
        add_rarer(Random(f"rarer of {seed}"), file)
        add_spoken_and_timely(Random(f"spoken of {seed}"), file)
        add_language(Random(f"language of {seed}"), file)
        text = written(file)
        try:
            return RandomRoom(seed, text, file, load_room(text, f"seed {seed}"))
        except BadRoom:
            continue


def written(file: Mapping[str, Any]) -> str:
    """Write a file's sections as YAML."""
    lines: list[str] = []
    for name, section in file.items():
        if isinstance(section, list):
            lines += [f"{name}:", *(f"  - {_flow(item)}" for item in section)]
        elif name == "rules":
            rest = {key: value for key, value in section.items() if key != "rows"}
            lines += [f"{name}:", *(f"  {key}: {_flow(value)}" for key, value in rest.items())]
            lines += ["  rows:", *(f"    - {_flow(row)}" for row in section["rows"])]
        else:
            lines.append(f"{name}: {_flow(section)}")
    return "\n".join(lines) + "\n"


def _flow(value: object) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_flow(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    text = str(value)
    return text if re.fullmatch(r"\w[\w.% ]*", text) else f'"{text}"'


# -------------------------------------------------------------------------------- sections


def _random_file(rng: Random) -> Section:
    """Make a whole file; the more equipment it has, the fewer facts it tells apart."""
    kind = rng.choice(("still", "still", "still", "still", "lens", "lens", "panels", "both"))
    file: Section = {
        "room": "made",
        "time_zone": "Europe/Lisbon",
        "screen": {
            "width": rng.choice(["3.4 m", "2.5 m"]),
            "aspect": rng.choice(["2.40", "2.40", "2.35", "1.78"]),
            "border": rng.choice(["180 mm", "60 mm"]),
            "overfill": rng.choice(["2.5 %", "0 %"]),
        },
        "projector": {
            "raster": rng.choice(["4096 x 2160", "3840 x 2160", "1920 x 1080"]),
            "lens": {"travel": rng.choice(["18 s", "2 s"]), "reports": _yes_or_no(rng)},
        },
        "orders": {"answered": _yes_or_no(rng)},
    }
    if kind in {"lens", "both"} or rng.random() < 0.3:
        file["presets"] = _presets(rng, file, 1 if kind in {"still", "panels"} else 2)
    file["pictures"] = _pictures(rng)
    if kind in {"panels", "both"}:
        file["panels"] = _panels(rng, 1 if kind == "both" else rng.choice([1, 1, 2]))
    file["sources"] = _sources(rng)
    if rng.random() < (0.6 if kind == "still" else 0.35):
        file["told"] = _told(rng)
    if rng.random() < 0.2:
        file["cues"] = {"lamps": "low or full"}
    file["shapes"] = SHAPES
    file["pace"] = _pace(rng)
    facts = _chosen_facts(rng, file, {"still": 6, "lens": 5, "panels": 5, "both": 3}[kind])
    file["rules"] = _rules(rng, file, facts)
    file["promises"] = [*_promises(rng, file, facts)]
    if rng.random() < 0.15:
        file["waived"] = [{"promise": rng.choice([*BUILT_IN_PROMISES]), "because": BECAUSE}]
    return file


def _say_more(rng: Random, file: Section) -> None:
    """Add what is drawn apart, so that the rest of a seed's room stays as it is.

    Who has the first word, bar data of all four sides, cues that wait, and a row for doubtful
    shapes with a promise of what is shown then.
    """
    for source in file["sources"].values():
        if rng.random() < 0.4:
            source["first_word"] = rng.choice(["detector", "code", "player", "player"])
        if rng.random() < 0.3:
            source["bar_pairs"] = "both"
    rows = file["rules"]["rows"]
    for row in rows:
        if "cues" in row["show"] and rng.random() < 0.4:
            row["show"]["after"] = rng.choice(["20 s", "2 s"])
    if rng.random() < 0.25:
        doubtful, picture = _yes_or_no(rng), rng.choice(["whole", *file["pictures"]])
        case = {"playback": "playing", "doubtful": doubtful}
        rows.insert(rng.randint(0, len(rows)), _row_of(case, {"picture": picture}))
        shown = rng.choice([picture, f"not({picture}, dark)"])
        never = {"doubtful": rng.choice(["yes", "no"]), "picture": shown, "override": "rules"}
        file["promises"].append({"name": "doubt", "never": never, "because": BECAUSE})


def _row_of(case: Section, show: Section) -> Section:
    return {"case": case, "show": show, "because": BECAUSE}


def _yes_or_no(rng: Random) -> str:
    return rng.choice(["yes", "no"])


def _presets(rng: Random, file: Section, number: int) -> Section:
    number += number > 1 and rng.random() < 0.1
    names = rng.sample(["broad", "tall", "middle"], number)
    presets: Section = {}
    for name in names:
        fits = {"broad": "2.40", "tall": "1.78", "middle": "2.10"}[name]
        presets[name] = {"fits": fits}
        if rng.random() < 0.15:
            presets[name]["measured"] = _measured(rng, file, fits)
    return presets


def _measured(rng: Random, file: Section, fits: str) -> Section:
    """Read the screen's corners a few pixels off from where they should be."""
    corners = ScreenPlane(file).nominal_corners(ratio_of_text(fits))
    found = {}
    for name, (x, y) in zip(CORNERS, corners, strict=True):
        found[name] = f"{float(x) + rng.uniform(-9, 9):.1f} x {float(y) + rng.uniform(-9, 9):.1f}"
    return found


def _pictures(rng: Random) -> Section:
    edge = rng.choice(["1.05", "1.15", "1.30", "1.60"])
    stretch = {
        "fill": rng.choice(["100 %", "100 %", "60 %", "20 %"]),
        "edge_circle": edge,
        "middle_circle": rng.choice(["1.00", "1.03", "1.05"]),
        "even_middle": rng.choice(["0 %", "30 %", "60 %"]),
        "rows_lost": rng.choice(["0 %", "3 %", "12 %"]),
    }
    crop = {"rows_lost": rng.choice(["1 %", "8 %", "25 %"])}
    below = rng.choice(["3 %", "11 %", "35 %"])
    every = {
        "gentle": {"stretch": stretch},
        "cropped": {"crop": crop},
        "lines": {"room_below": below},
    }
    return {name: every[name] for name in rng.sample([*every], rng.choice([1, 1, 2]))}


def _panels(rng: Random, number: int) -> Section:
    openings = {"sides": "1.78", "narrow": rng.choice(["1.33", "2.1 m"]), "letter": "2.76"}
    chosen = rng.sample([*openings], number)
    made: Section = {"open": {}} if rng.random() < 0.7 else {}
    return {**made, **{name: {"opening": openings[name]} for name in chosen}}


def _sources(rng: Random) -> Section:
    sources: Section = {}
    for name in ("disc", "streamer", "console")[: rng.choice([1, 1, 2, 2, 3])]:
        one: Section = {}
        if rng.random() < 0.5:
            one["declares"] = "yes"
        if rng.random() < 0.3:
            one["titles"] = "yes"
        if rng.random() < 0.12:
            one["shape"] = rng.choice(["1.78", "2.39", "2.06"])
        if rng.random() < 0.3:
            one["menu_shape"] = rng.choice(["1.78", "2.20"])
        if rng.random() < (0.6 if name == "console" else 0.1):
            one["leave_alone"] = "yes"
        sources[name] = one
    return sources


def _told(rng: Random) -> Section:
    every: Section = {
        "guests": rng.choice(["yes or no", {"values": "yes or no", "at_first": "no"}]),
        "scene": rng.choice(
            ["calm or bright or dim", {"values": "calm or bright", "at_first": "calm"}]
        ),
        "noise": rng.choice(["0 to 12", "-3 to 4", {"values": "0 to 5", "at_first": "2"}]),
    }
    return {name: every[name] for name in rng.sample([*every], rng.choice([1, 1, 2]))}


def _pace(rng: Random) -> Section:
    return {
        "settle": {"taller": rng.choice(["500 ms", "0 s"]), "wider": rng.choice(["4 s", "1 s"])},
        "recalls": {
            "first_minutes": rng.choice(["90 s", "20 s", "0 s"]),
            "per_title": rng.choice(["0", "1", "1", "2"]),
            "per_night": rng.choice(["0", "1", "3", "12"]),
        },
        "linger": rng.choice(["0 s", "2 s", "12 s"]),
        "pause": rng.choice(["20 min", "1 min", "5 s"]),
        "prompts": _prompts(rng),
        "session": rng.choice(["3 h", "2 min"]),
        "order": rng.choice(["5 s", "500 ms"]),
    }


def _prompts(rng: Random) -> Section:
    """Draw an end, and a reminder that comes before it."""
    remind, give_up = rng.choice(["2 min", "5 s"]), rng.choice(["10 min", "30 s"])
    return {"remind": remind if give_up == "10 min" else "5 s", "give_up": give_up}


# -------------------------------------------------------------------------- rules, promises


def _chosen_facts(rng: Random, file: Section, number: int) -> list[str]:
    """Choose the facts that this room's rules and promises look at."""
    usual = ["playback", "aspect", "playback", "aspect", "source"]
    every = [*usual, *RULE_FACTS, *told_words(file), *told_words(file)]
    if len(file.get("presets", ())) < 2:
        every = [fact for fact in every if fact != "preset"]
    if "panels" not in file:
        every = [fact for fact in every if fact not in {"panels", "helper"}]
    return [*dict.fromkeys(rng.sample(every, min(number, len(every))))]


def _rules(rng: Random, file: Section, facts: list[str]) -> Section:
    policy = rng.choice(["first", "first", "first", "any", "unique", "priority"])
    rules: Section = {"policy": policy}
    if policy == "priority":
        names = ["plain", "whole", *file["pictures"]]
        rules["order"] = {"picture": rng.sample(names, len(names))}
    shares = (1.0, 1.0, 0.2) if rng.random() < 0.4 else (0.75, 0.5, 0.6)
    rules["rows"] = [_row(rng, file, facts, shares) for _ in range(rng.randint(1, 4))]
    if rng.random() < 0.7:
        menus = {"playback": rng.choice(["stopped, unknown", "not(playing, paused)", "stopped"])}
        show = {"picture": rng.choice(["plain", "whole"]), **_part(rng, "lift", ["0 %"], shares[1])}
        rules["rows"].insert(0, {"case": menus, "show": show, "because": BECAUSE})
    if policy != "priority" or rng.random() < 0.5:
        show = {"picture": rng.choice(["plain", "whole"]), **_part(rng, "lift", ["0 %"], shares[1])}
        rules["otherwise"] = {**show, "because": BECAUSE}
    return rules


def _part(rng: Random, name: str, values: list[str], share: float) -> Section:
    return {name: rng.choice(values)} if values and rng.random() < share else {}


def _row(
    rng: Random, file: Section, facts: list[str], shares: tuple[float, float, float]
) -> Section:
    """Write a row; `shares` say how often it gives a picture, a lift, and each of the others."""
    of_picture, of_lift, of_others = shares
    case = _case(rng, file, facts, rng.choice([1, 1, 2, 2, 3]))
    presets = [*file.get("presets", {})]
    panels = ["open", *file["panels"]] if "panels" in file else []
    show = {
        **_part(
            rng, "picture", ["plain", "whole", *file["pictures"], *file["pictures"]], of_picture
        ),
        **_part(rng, "lift", ["0 %", "0 %", "3 %", "5 %"], of_lift),
        **_part(rng, "preset", presets, of_others),
        **_part(rng, "panels", panels, of_others),
    }
    if "cues" in file and rng.random() < 0.6:
        show["cues"] = {"lamps": rng.choice(["low", "full"])}
    return {"case": case, "show": show or {"lift": "0 %"}, "because": BECAUSE}


def _case(rng: Random, file: Section, facts: list[str], number: int) -> Section:
    some = rng.sample(facts, min(number, len(facts)))
    return {fact: random_cell(rng, file, fact) for fact in some}


def _promises(rng: Random, file: Section, facts: list[str]) -> Iterator[Section]:
    number = rng.randint(1, 5) if rng.random() < 0.96 else 25
    for at in range(number):
        makers = (_from_row, _from_row, _about_a_picture, _about_a_picture)
        some = rng.random() < 0.75
        never = rng.choice(makers)(rng, file) if some else _anyhow(rng, file, facts)
        yield {"name": f"mine {at}", "never": never, "because": BECAUSE}


def _about_a_picture(rng: Random, file: Section) -> Section:
    """Promise that a picture, or what only some rows show, stands in no other case than theirs."""
    rows = file["rules"]["rows"]
    row = rng.choice(rows)
    part = rng.choice([part for part in row["show"] if part != "cues"] or ["picture"])
    shown = row["show"].get(part, rng.choice([*file["pictures"]]))
    never = {part: shown}
    others = [*(fact for fact in row["case"] if fact != part), "lift"]
    fact = rng.choice(others)
    if fact == "lift":
        never["lift"] = f"!= {row['show'].get('lift', '0 %')}"
    else:
        never[fact] = denied(row["case"][fact])
    if rng.random() < 0.4:
        never["override"] = "rules"
    if rng.random() < 0.4 and "playback" not in never:
        never["playback"] = "not(paused)"
    return never


def denied(cell: str) -> str:
    """Write the opposite of a test, as far as values are known."""
    swapped = {"yes": "no", "no": "yes", "null": "not(null)", "not(null)": "null"}
    if cell in swapped:
        return swapped[cell]
    inner = re.fullmatch(r"not\(([^()]*)\)", cell)
    return inner[1] if inner else f"not({cell})"


def _from_row(rng: Random, file: Section) -> Section:
    """Promise what a row seems to see to: in its case no other picture, lift or preset."""
    rows = file["rules"]["rows"]
    row = rng.choice([rows[0], *rows])
    case, show = dict(row["case"]), row["show"]
    never: Section = {**case}
    picture = show.get("picture")
    if picture is not None and rng.random() < 0.7:
        also = ["dark"] if picture in file["pictures"] else ["dark", "plain", "whole"]
        also += ["plain"] if rng.random() < 0.7 and "plain" not in also else []
        never["picture"] = f"not({', '.join(dict.fromkeys([picture, *also]))})"
    elif "cues" in show and rng.random() < 0.7:
        never["cue lamps"] = f"not({show['cues']['lamps']})"
    elif "lift" in show:
        never["lift"] = f"!= {show['lift']}"
    else:
        never[rng.choice(["travelling", "lift"])] = "yes"
        if "lift" in never:
            never["lift"] = "> 0 %"
    never["override"] = "rules"
    if "playback" not in never and rng.random() < 0.8:
        never["playback"] = rng.choice(["playing", "stopped", "not(paused)"])
    return never


def _anyhow(rng: Random, file: Section, facts: list[str]) -> Section:
    """Promise anything at all about facts and how things stand."""
    never = _case(rng, file, facts, rng.choice([0, 1, 1, 2]))
    also = [*STANDING, "picture"]
    also += ["helper", "panels"] if "panels" in file else []
    also += ["preset", "travelling"] if len(file.get("presets", ())) > 1 else []
    also += ["cue lamps", "cue lamps"] if "cues" in file else []
    for fact in rng.sample(also, rng.choice([1, 1, 2])):
        never[fact] = random_cell(rng, file, fact)
    if rng.random() < 0.5:
        never["override"] = "rules"
    return never
