"""The sentences of the papers that families read, in the room's language."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

if TYPE_CHECKING:
    from engine.catalogue import Catalogue, Parameters

PaperCode = Literal[
    "fills",
    "sides_dark",
    "ends_dark",
    "frame_dark",
    "lens_moves",
    "panels_fitted",
    "picture_fits",
    "lens_travels",
    "lens_never",
    "light_with_lens",
    "games_alone",
    "pause_waits",
    "say_no",
    "keep_it",
    "give_back",
    "panels_asked",
    "panels_refused",
    "care_ladder",
    "care_trades",
    "stretch_plain",
    "stretch_stretched",
    "stretch_cropped",
    "stretch_whole",
    "in_this_room",
    "quote_fixed",
    "quote_presets",
    "quote_panels",
    "quote_light_is",
    "quote_detail_is",
    "quote_light",
    "quote_time",
    "quote_walk",
    "quote_wear",
]
"""The sentences of the client's page and of the offer."""
HeadingCode = Literal[
    "title",
    "kinds",
    "kind_square",
    "kind_television",
    "kind_film",
    "kind_scope",
    "kind_series",
    "kind_widest",
    "by_itself",
    "no",
    "panels",
    "care",
    "stretch",
    "quote",
    "quote_nothing",
    "quote_own",
    "quote_narrower",
    "quote_wider",
    "film",
    "width",
    "light",
    "pixels",
    "lens",
    "travel",
]
"""What stands above the parts of these papers, and in their tables."""


def on_paper(catalogue: Catalogue, code: PaperCode, **parameters: str | int) -> str:
    """Say a sentence of a paper."""
    return catalogue.say("paper", code, cast("Parameters", parameters))


def heading(catalogue: Catalogue, code: HeadingCode, **parameters: str) -> str:
    """Give a heading of a paper."""
    return catalogue.say("heading", code, cast("Parameters", parameters))
