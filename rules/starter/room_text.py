"""Write a new room's file: wishes in, commented YAML out, without a fault for `roomcue check`.

Its rules have exactly one row for every case. They move only what was wished for: with one preset
and no panels, they change nothing but the picture.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from engine.aspect import ratio_text
from rules.room.names import OPEN_PANELS
from rules.starter.ratio_bands import RatioBand
from rules.starter.request import DEFAULT_ZONE, StarterPlan, Wishes, ratio_name, read_wishes
from rules.words.fluent_catalogue import DEFAULT_LANGUAGE, languages

_HEAD: Final = """\
# yaml-language-server: $schema=room.schema.json
# By that file an editor completes and checks this one: roomcue schema > room.schema.json
# After every change: `roomcue check` it; with --show-defaults that prints what is not said here.
room: {name}
time_zone: {time_zone}{zone_note}
language: {language}  # in which people are spoken to: {languages}

# The white area of the screen, the black border round it, and how far a picture may pass the edge.
screen: {{width: {width}, aspect: {aspect}, border: 60 mm, overfill: 2 %}}

# The projector's pixels. With its light and its place `roomcue plan` tells brightness and reach.
projector:
  raster: {columns} x {rows}
  # light: {{lumens: 2200}}
  # throw: {{distance: 5.2 m, ratio: 1.35 to 2.70}}"""
_LENS: Final = (
    "  lens: {travel: 20 s, reports: no}  # the longest travel; whether it says where it stands"
)
_ORDERS: Final = """
# Whether the hub says what became of an order; if it does not, sent counts as done.
orders: {answered: no}
"""
_FIXED: Final = (
    "# The zoom stays where it is: a plain picture of this ratio just fills the screen there."
)
_PRESETS: Final = (
    "# Stored places of the zoom, and the ratio whose plain picture just fills the screen there."
)
_PICTURES: Final = """
# Pictures beside `plain` and `whole`. People may choose the first; no rule shows it yet. The second
# keeps room for lines below films up to 2.40; 2.76 needs 20 %.
pictures:
  gentle: {stretch: {fill: 100 %, edge_circle: 1.30, middle_circle: 1.03, rows_lost: 3 %}}
  lines: {room_below: 11 %}
"""
_PANELS: Final = """\
# Masking panels, and the ratio that they leave free. People are asked to fit them: say how as the
# family would, {opening: 1.78, words: Please fit the two side panels.}"""
_SOURCES: Final = """
# What sends pictures. Say what is so: {declares: yes}, {titles: yes}, {menu_shape: 1.78},
# {shape: 1.78} for one that never changes, {leave_alone: yes} for games and sport.
sources:"""
_PACE: Final = """
# How long things must last before they count, and how often the lens or people may be called on.
pace:
  settle: {taller: 500 ms, wider: 4 s}
  pause: 20 min"""
_RECALLS: Final = "  recalls: {first_minutes: 4 min, per_title: 2, per_night: 12}"
_PROMPTS: Final = "  prompts: {remind: 2 min, give_up: 15 min}"
_RULES: Final = """
# Which look for which case. No two rows take the same case, and together they take every one.
# What a row does not show stays as it stands.
rules:
  policy: unique
  rows:
    - name: menus
      case: {playback: "stopped, unknown"}
      show: {picture: whole}
      because: Menus carry text and circles to the frame's edge.
    - name: changing
      case: {playback: "playing, paused", varies: yes}
      show: {picture: whole}
      because: A title that changes its shape is shown whole, so that nothing moves any more.
    - name: subtitles
      case: {playback: "playing, paused", varies: no, subtitles: yes}
      show: {picture: lines}
      because: Lines stand in the bar below the picture, and need a little room there."""
_PROMISES: Final = """
# What must never be, whatever the rules become: a check of the rows above.
promises:
  - name: menus keep their circles
    never: {playback: "stopped, unknown", override: rules, picture: gentle}
    because: Menus are never stretched.
  - name: nothing jumps
    never: {playback: playing, varies: yes, override: rules, picture: "not(whole, dark)"}
    because: A title that changes its shape keeps one picture until its end.
  - name: lines stay on the screen
    never: {playback: playing, subtitles: yes, override: rules, picture: "not(whole, lines, dark)"}
    because: Whoever needs the lines needs them all."""

_LABELS: Final = """
# What people call these names, on the page and on paper: write the family's own words.
labels:"""
_LEFT_ALONE: Final = frozenset(
    ("console", "consoles", "game", "games", "gaming", "match", "matches", "sport", "sports")
)
"""Words in a source's name that say what it shows: nothing may move in a game or a match."""
_HAS_UNIT: Final = re.compile(r"[a-z]", re.IGNORECASE)

_FILM: Final = 'playback: "playing, paused", varies: no, subtitles: no'


def starter(wishes: Wishes) -> str:
    """Write a new room's file; raises BadRoom with a finding for each impossible wish."""
    return "\n".join(_lines(read_wishes(wishes))) + "\n"


def _lines(plan: StarterPlan) -> Iterator[str]:
    columns, rows = plan.raster
    note = (
        "  # write the room's own, such as Europe/Lisbon" if plan.time_zone == DEFAULT_ZONE else ""
    )
    yield _HEAD.format(
        name=plan.name,
        time_zone=plan.time_zone,
        zone_note=note,
        language=DEFAULT_LANGUAGE,
        languages=" or ".join(languages()),
        width=plan.width,
        aspect=ratio_name(plan.aspect),
        columns=columns,
        rows=rows,
    )
    zooms = len(plan.presets) > 1
    if zooms:
        yield _LENS
    yield _ORDERS
    yield _PRESETS if zooms else _FIXED
    yield "presets:"
    yield from (f"  {name}: {{fits: {ratio_name(ratio)}}}" for name, ratio in plan.presets.items())
    yield _PICTURES.rstrip("\n")
    yield from _panels(plan)
    yield _SOURCES
    yield from (f"  {name}: {{{_source(name)}}}" for name in plan.sources)
    yield _PACE
    if zooms:
        yield _RECALLS
    if plan.panels:
        yield _PROMPTS
    yield _RULES
    yield from _rows(plan)
    yield _PROMISES
    labels = {**_zoom_labels(plan), **_panel_labels(plan)}
    if labels:
        yield _LABELS
        yield from (f"  {name}: {words}" for name, words in labels.items())


def _zoom_labels(plan: StarterPlan) -> dict[str, str]:
    """Name the zoom's places as a family may: by what they are for, and never by a ratio."""
    names = [*plan.presets]
    if len(names) == 1:
        return {}
    middle = [
        "Zoom in between" if at == 1 else f"Zoom in between {at}" for at in range(1, len(names) - 1)
    ]
    return dict(zip(names, ["Zoom for wide films", *middle, "Zoom for tall pictures"], strict=True))


def _source(name: str) -> str:
    """Say of a source that is named for games or sport that it is to be left alone."""
    games = not _LEFT_ALONE.isdisjoint(name.split("_"))
    return "shape: 1.78, leave_alone: yes" if games else ""


def _panels(plan: StarterPlan) -> Iterator[str]:
    if not plan.panels:
        return
    yield ""
    yield _PANELS
    yield f"panels:\n  {OPEN_PANELS}: {{}}"
    for name, ratio in plan.panels.items():
        words = _panel_words(plan, name, ratio)
        typed = plan.typed[name]
        opening = typed if _HAS_UNIT.search(typed) else ratio_name(ratio)
        yield f"  {name}: {{opening: {opening}, moved: by hand{words}}}"


def _panel_labels(plan: StarterPlan) -> dict[str, str]:
    found = {}
    for name, ratio in plan.panels.items():
        which, number = _told_apart(plan, name, ratio)
        found[name] = f"{which.capitalize()}{f' {number}' if number else ''}"
    return found


def _panel_words(plan: StarterPlan, name: str, ratio: int) -> str:
    """Tell panels apart for whoever fits them, where several stand on the same sides."""
    which, number = _told_apart(plan, name, ratio)
    return f", words: Please fit the {which} marked {number}." if number else ""


def _told_apart(plan: StarterPlan, name: str, ratio: int) -> tuple[str, int]:
    """Say where panels stand, and which of several there they are; 0: there are no others."""
    at_the_sides = ratio < plan.aspect
    alike = [one for one, other in plan.panels.items() if (other < plan.aspect) is at_the_sides]
    which = "side panels" if at_the_sides else "panels above and below"
    return which, alike.index(name) + 1 if len(alike) > 1 else 0


def _rows(plan: StarterPlan) -> Iterator[str]:
    """Write a row for each band of ratios; with one band, a single row that tests no ratio."""
    if len(plan.shapes) == 1:
        yield from _row(
            "films", "", "", "Nothing can be moved, and the picture stays as it was made."
        )
        return
    unknown = "Nothing moves before the picture's shape is known."
    yield from _row("not known", ", aspect: null", "", unknown)
    for shape in plan.shapes:
        show = f", preset: {shape.preset}" if shape.preset else ""
        show += f", panels: {shape.panels}" if shape.panels else ""
        test, name = _test(shape)
        yield from _row(name, f', aspect: "{test}"', show, _because(shape))


def _row(name: str, test: str, show: str, because: str) -> Iterator[str]:
    yield f"    - name: {name}"
    yield f"      case: {{{_FILM}{test}}}"
    yield f"      show: {{picture: plain{show}}}"
    yield f"      because: {because}"


def _test(shape: RatioBand) -> tuple[str, str]:
    """Give the test for a band of ratios, and the name of its row."""
    first, after = ratio_text(shape.first), ratio_text(shape.after)
    if shape.first is None:
        return f"< {after}", f"below {after}"
    if shape.after is None:
        return f">= {first}", f"from {first}"
    return f"[{first}..{after})", f"from {first} to {after}"


def _because(shape: RatioBand) -> str:
    reasons = []
    if shape.preset:
        reasons.append("the longest zoom that shows this shape at its full size")
    if shape.panels:
        cover = "keep black what it leaves free"
        reasons.append(f"panels {'would stand in it' if shape.panels == OPEN_PANELS else cover}")
    sentence = "; ".join(reasons)
    return f"{sentence[:1].upper()}{sentence[1:]}."
