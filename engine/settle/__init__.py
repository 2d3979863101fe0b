"""Debounce raw readings of a picture's shape into one settled aspect, without knowing the future.

A reading says how many lines and columns at the edges of a raster are black. It is wrong in two
ways. Darkness makes a bar look larger, each bar independently of the others. Lettering (a channel's
mark, a sign, a subtitle) makes a bar look smaller. The filter draws these conclusions:

- Two bars of an axis that are equally large are hardly ever darkness. Equal bars on both axes are
  *proof* of a shape. Equal bars on one axis, with light up to the edge of the raster on the other,
  are proof at half weight.
- Lettering comes and goes, and only by accident does it leave bars of a standard size. So a taller
  standard shape is believed at once, a shape that nobody standardised only after it has held for a
  while.
- Unequal bars are believed late. They show a bar that lettering eats into, if the larger of the
  two is the bar of a standard shape and the other one stands still as well. They show a dark
  picture, if the smaller one is the bar of a standard shape and stands still in a moving scene,
  and if light has been seen where the settled shape has bars.
- Everything else is darkness and says nothing. Darkness that the new shape would explain still
  counts towards the time that a wider shape must hold, because a shape may change in the dark, but
  it proves nothing.

A shape that may replace the settled one is a *rival*. One rival is weighed at a time, and the
strongest other one is kept aside. When the settled shape is seen again, both are dropped.

A reading holds until another one comes. The state therefore carries a deadline, the instant at
which the rival wins if nothing more is read, and the same reading taken twice counts once.

The modules build on each other: `shapes` (what bars mean in a raster), `sightings` (what one
reading shows), `rivals` (what speaks for another shape), `debounce` (the filter itself). From
outside, import the names below and nothing else. Ratios are 1/10,000 and times are milliseconds
UTC; every decision is made in whole numbers.
"""

from __future__ import annotations

from engine.settle.debounce import (
    LETTERING,
    UNSETTLED,
    Settling,
    elapse,
    line_noted,
    new_title,
    parked,
    take_bars,
    take_ratio,
)
from engine.settle.rivals import MARKED, DwellTimes, Rival
from engine.settle.shapes import STANDARD, BarReading, Outline

__all__ = [
    "LETTERING",
    "MARKED",
    "STANDARD",
    "UNSETTLED",
    "BarReading",
    "DwellTimes",
    "Outline",
    "Rival",
    "Settling",
    "elapse",
    "line_noted",
    "new_title",
    "parked",
    "take_bars",
    "take_ratio",
]
