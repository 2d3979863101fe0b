"""Rooms by hand, each with a promise that a plain evening breaks, for one reason each.

Every reason is a kind of value or of memory that a proof may easily leave out.
"""

from __future__ import annotations

from typing import Any, Final

from rules import load_room
from tests.soundness.random_cells import SHAPES
from tests.soundness.random_rooms import BECAUSE, RandomRoom, Section, written

_PACE: Final = {
    "settle": {"taller": "500 ms", "wider": "4 s"},
    "recalls": {"first_minutes": "90 s", "per_title": "1", "per_night": "3"},
    "linger": "2 s",
    "pause": "1 min",
    "prompts": {"remind": "5 s", "give_up": "30 s"},
    "session": "3 h",
    "order": "5 s",
}
_GENTLE: Final = {
    "stretch": {"fill": "100 %", "edge_circle": "1.30", "middle_circle": "1.03", "rows_lost": "3 %"}
}


def _row(case: Section, show: Section) -> Section:
    return {"case": case, "show": show, "because": BECAUSE}


_MENUS: Final = _row({"playback": "stopped, unknown"}, {"picture": "whole", "lift": "0 %"})
_OTHERWISE: Final = {"picture": "plain", "lift": "0 %"}


def _file(rows: list[Section], never: Section, **sections: Any) -> Section:  # noqa: ANN401
    rules = {"policy": "first", "otherwise": {**_OTHERWISE, "because": BECAUSE}, "rows": rows}
    return {
        "room": "known",
        "time_zone": "Europe/Lisbon",
        "screen": {"width": "3.4 m", "aspect": "2.40", "border": "180 mm", "overfill": "2.5 %"},
        "projector": {"raster": "4096 x 2160", "lens": {"travel": "2 s", "reports": "yes"}},
        "orders": {"answered": "no"},
        "pictures": {"gentle": _GENTLE, "cropped": {"crop": {"rows_lost": "8 %"}}},
        "sources": {"disc": {"declares": "yes"}},
        "shapes": SHAPES,
        "pace": _PACE,
        "rules": rules,
        "promises": [{"name": "mine", "never": never, "because": BECAUSE}],
        **sections,
    }


_NEARLY: Final = _row(
    {"playback": "playing", "aspect": "nearly"}, {"picture": "gentle", "lift": "0 %"}
)
_BROAD: Final = {"preset": "broad"}
_PANELS: Final = {"open": {}, "sides": {"opening": "1.78"}}
_PLAIN: Final = {"picture": "plain"}
_ASKING: Final = _row({"playback": "playing", "helper": "free"}, {"panels": "sides", **_PLAIN})
_LIFTED: Final = _row(
    {"playback": "playing", "aspect": "scope"}, {"picture": "plain", "lift": "5 %"}
)

BASE: Final = _file([_MENUS, _LIFTED, _NEARLY], {"picture": "gentle", "lift": "> 0 %"})
"""A room with a menu, a lifted and a stretched picture, and nothing that moves."""

FILES: Final[dict[str, Section]] = {
    "a lift that stands on under a person's picture": BASE,
    "a told number between two steps of its cells": _file(
        [_MENUS, _row({"noise": "> 2.5"}, {"picture": "cropped", "lift": "0 %"})],
        {"picture": "cropped", "noise": "(2.5..3.5)", "override": "rules", "playback": "playing"},
        told={"noise": {"values": "0 to 12", "at_first": "0"}},
    ),
    "a ratio between two hundredths": _file(
        [_MENUS, _NEARLY],
        {"playback": "playing", "aspect": "2.12", "picture": "gentle", "override": "rules"},
        pictures={"gentle": {"stretch": {**_GENTLE["stretch"], "edge_circle": "1.206"}}},
    ),
    "a pause before a source is known": _file([_MENUS], {"playback": "paused", "source": "null"}),
    "a declared ratio before a source is known": _file(
        [_MENUS], {"declared": "scope", "source": "null"}
    ),
    "a coded frame of an unusual shape": _file(
        [_MENUS],
        {"aspect": "nearly", "source": "console"},
        sources={"console": {"leave_alone": "yes"}},
    ),
    "more broken promises than anybody counts": _file(
        [_MENUS, _NEARLY],
        {"picture": "gentle"},
        promises=[
            *(
                {"name": f"mine {at}", "never": {"time": f"{at}:00"}, "because": BECAUSE}
                for at in range(24)
            ),
            {"name": "mine", "never": {"picture": "gentle"}, "because": BECAUSE},
        ],
    ),
    "a cue that a person has set and given back": _file(
        [_MENUS, _row({"playback": "playing"}, {"picture": "plain", "cues": {"lamps": "full"}})],
        {"playback": "stopped", "cue lamps": "low", "override": "rules"},
        cues={"lamps": "low or full"},
    ),
    "a menu whose row leaves the picture to a person, at another shape than the usual": _file(
        [_row({"playback": "unknown"}, {"lift": "0 %"}), _MENUS],
        {"playback": "unknown", "picture": "cropped", "override": "rules"},
        pictures={"cropped": {"crop": {"rows_lost": "8 %"}}},
        screen={"width": "3.4 m", "aspect": "1.78", "border": "180 mm", "overfill": "0 %"},
    ),
    "somebody who stays asked, for a row that leaves panels out": _file(
        [_ASKING, _row({"helper": "asked"}, {"picture": "whole"}), _MENUS],
        {"helper": "asked", "picture": "whole", "playback": "playing", "override": "rules"},
        panels=_PANELS,
    ),
    "somebody who stays asked once the first minutes are over": _file(
        [
            _row({"playback": "playing", "first_minutes": "yes"}, {"panels": "sides", **_PLAIN}),
            _row({"playback": "playing"}, {"picture": "whole"}),
        ],
        {"helper": "asked", "playback": "playing", "picture": "whole", "override": "rules"},
        panels=_PANELS,
    ),
    "a title that is gone on with before its pause is": _file(
        [_MENUS], {"playback": "stopped", "tallest": "not(null)"}
    ),
    "a picture that is ordered for a travel, and stands before it": _file(
        [
            _row({"playback": "playing", "aspect": "nearly"}, {"picture": "gentle", **_BROAD}),
            _row({"playback": "playing"}, {"picture": "plain", "preset": "tall"}),
        ],
        {"picture": "gentle", "preset": "tall", "travelling": "no", "override": "rules"},
        presets={"broad": {"fits": "2.40"}, "tall": {"fits": "1.78"}},
        orders={"answered": "yes"},
    ),
    "a lens that is heard of before anything else": _file(
        [_MENUS],
        {"source": "null", "travelling": "yes"},
        presets={"broad": {"fits": "2.40"}, "tall": {"fits": "1.78"}},
    ),
}


def known_room(name: str) -> RandomRoom:
    """Load one of these rooms."""
    text = written(FILES[name])
    return RandomRoom(0, text, FILES[name], load_room(text, name))
