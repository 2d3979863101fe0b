"""What room files seldom say: added to a random file, from random numbers of its own.

A seed's other sections stay as they are. Nothing here is needed for a room to be proven; each of it
is a value of the room schema, or two of them together, that a proof may overlook.
"""

from __future__ import annotations

from random import Random
from typing import Any, Final

from tests.soundness.random_cells import RULE_FACTS, random_cell, told_words

BECAUSE: Final = "It is so."
CURTAIN: Final = ("shut", "half", "drawn")


def add_rarer(rng: Random, file: dict[str, Any]) -> None:
    """Add cues of three words, rows by name, the default's other parts, and odd paces."""
    _add_pace(rng, file)
    if rng.random() < 0.3:
        _add_curtain(rng, file)
    if "otherwise" in file["rules"] and rng.random() < 0.3:
        _add_to_default(rng, file)
    elif rng.random() < 0.2:
        file["rules"].pop("otherwise", None)
        file["rules"]["gaps_accepted"] = {"because": BECAUSE}
    if file["rules"]["policy"] == "priority":
        _add_orders(rng, file)
    for number, row in enumerate(file["rules"]["rows"]):
        if rng.random() < 0.2:
            row["name"] = f"row of {number}"


def _add_pace(rng: Random, file: dict[str, Any]) -> None:
    """Draw the shape that nobody standardised, lines that end, and how long a prompt waits."""
    if rng.random() < 0.4:
        file["pace"]["settle"]["odd"] = rng.choice(["0 s", "500 ms", "12 s"])
    if rng.random() < 0.4:
        file["pace"]["lines"] = rng.choice(["20 s", "2 min"])
    if rng.random() < 0.4:
        file["pace"]["prompts"]["wait"] = rng.choice(["0 s", "2 s", "2 min"])


def _add_curtain(rng: Random, file: dict[str, Any]) -> None:
    """Add a cue of three words beside whatever cues there are, and promises of it."""
    file["cues"] = {**file.get("cues", {}), "curtain": " or ".join(CURTAIN)}
    rows = [one for one in file["rules"]["rows"] if rng.random() < 0.5]
    for row in rows:
        show = row["show"]
        show["cues"] = {**show.get("cues", {}), "curtain": rng.choice(CURTAIN)}
    case = dict(rng.choice(file["rules"]["rows"])["case"])
    word, other = rng.sample(CURTAIN, 2)
    tests = [word, f"not({word})", f"{word}, {other}", "null", f"null, {word}"]
    never = {**case, "cue curtain": rng.choice(tests)}
    if rng.random() < 0.6:
        never["override"] = rng.choice(["rules", "person"])
    if rng.random() < 0.5:
        never.setdefault("playback", rng.choice(["playing", "stopped", "unknown"]))
    file["promises"].append({"name": "curtain", "never": never, "because": BECAUSE})


def _add_to_default(rng: Random, file: dict[str, Any]) -> None:
    """Let the default want what rows want: equipment, a named picture, or cues that may wait."""
    show = file["rules"]["otherwise"]
    if "presets" in file and rng.random() < 0.5:
        show["preset"] = rng.choice([*file["presets"]])
    if "panels" in file and rng.random() < 0.5:
        show["panels"] = rng.choice(["open", *file["panels"]])
    if rng.random() < 0.4:
        show["picture"] = rng.choice([*file["pictures"]])
    if rng.random() < 0.2:
        del show["picture"]
        show.setdefault("lift", "0 %")
    if "cues" in file and rng.random() < 0.6:
        cue = rng.choice([*file["cues"]])
        show["cues"] = {cue: rng.choice(file["cues"][cue].split(" or "))}
        if rng.random() < 0.5:
            show["after"] = rng.choice(["20 s", "2 s"])


def _add_orders(rng: Random, file: dict[str, Any]) -> None:
    """Let a table by priority rank presets and panels too, before or after the pictures."""
    order = file["rules"]["order"]
    if "presets" in file and rng.random() < 0.7:
        order["preset"] = rng.sample([*file["presets"]], len(file["presets"]))
    if "panels" in file and rng.random() < 0.7:
        names = [*dict.fromkeys(("open", *file["panels"]))]
        order["panels"] = rng.sample(names, len(names))
    if rng.random() < 0.5:
        file["rules"]["order"] = dict(reversed(order.items()))


def add_spoken_and_timely(rng: Random, file: dict[str, Any]) -> None:
    """Add what people call names, and promises of how soon a title's look stands."""
    if rng.random() < 0.4:
        _add_labels(rng, file)
    if rng.random() < 0.4:
        _add_timely(rng, file)


def _add_labels(rng: Random, file: dict[str, Any]) -> None:
    """Name sources, pictures, presets, panels and cues in one language or in two."""
    named = ("sources", "pictures", "presets", "panels", "cues", "told")
    names = [name for section in named for name in file.get(section, ())]
    some = rng.sample(names, rng.randint(1, len(names)))
    one = {name: f"The {name}" for name in some}
    both = {name: {"en": f"The {name}", "pt": f"O {name}"} for name in some}
    file["labels"] = rng.choice([one, both])


def add_language(rng: Random, file: dict[str, Any]) -> None:
    """Let people read another language, and say in the room's own words what is to be done."""
    if rng.random() < 0.3:
        file["language"] = rng.choice(["en", "pt"])
    for name, panels in file.get("panels", {}).items():
        if rng.random() < 0.3:
            words = f"Please see to {name}."
            panels["words"] = rng.choice(
                [words, {"en": words, "pt": f"Por favor, trate de {name}."}]
            )
    for row in file["rules"]["rows"]:
        if rng.random() < 0.2:
            row["because"] = {"en": BECAUSE, "pt": "É assim."}


def _add_timely(rng: Random, file: dict[str, Any]) -> None:
    """Add one or two promises with `within`, from too short for any travel to long enough."""
    for number in range(rng.choice([1, 1, 2])):
        within = rng.choice(["2 s", "8 s", "20 s", "40 s", "60 s", "3 min"])
        timely: dict[str, Any] = {"name": f"soon {number}", "within": within, "because": BECAUSE}
        if rng.random() < 0.6:
            timely["unless"] = _excuse(rng, file)
        file["promises"].append(timely)


def _excuse(rng: Random, file: dict[str, Any]) -> dict[str, str]:
    """Excuse what a row speaks of, a helper who is not there, a cue, or any other fact."""
    if "panels" in file and rng.random() < 0.5:
        return {"helper": rng.choice(["asked, refused", "refused", "not(free)"])}
    if rng.random() < 0.4:
        return dict(rng.choice(file["rules"]["rows"])["case"])
    if "cues" in file and rng.random() < 0.4:
        cue = f"cue {rng.choice([*file['cues']])}"
        return {cue: random_cell(rng, file, cue)}
    fact = rng.choice([*RULE_FACTS, *told_words(file), "picture", "lift"])
    needs = {"preset": "presets", "panels": "panels", "helper": "panels"}
    if fact in needs and needs[fact] not in file:
        fact = "source"
    return {fact: random_cell(rng, file, fact)}
