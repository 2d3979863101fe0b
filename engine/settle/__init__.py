"""Debounce raw readings of a picture's shape into one settled aspect, without knowing the future.

A reading says how many lines and columns at the edges of a raster are black. It is wrong in three
ways. Darkness makes a bar look larger, each bar independently of the others. Lettering (a channel's
mark, a sign, a subtitle) makes a bar look smaller. A detector slips, and reads anything. The filter
draws these conclusions:

- Two bars of an axis that are equally large are hardly ever darkness. Equal bars on both axes are
  *proof* of a shape. Equal bars on one axis, with light up to the edge of the raster on the other,
  are proof at half weight.
- Bars whose sum is that of a standard shape may belong to a picture that does not lie in the
  middle. It is believed later, and soonest where none of its edges is one that the settled shape
  has as well, or where nothing is settled yet. Where it lies is learnt: later readings are moved
  there before they are judged. Where the bar above is smaller by less than a line of lettering is
  high it is such a picture, rather than one of a standard shape in whose bar something is written.
  But nobody lays a picture far to one side. It is such a picture as well where its smaller bar is
  by accident another standard shape's, which a lit corner of a dark picture would show. Where an
  edge is the settled shape's and stands still, that shape is dark beside it for as long as the dark
  lasts, however the dark moves. Where lines were seen in the larger bar of a picture off the
  middle, what ends in it is a line, until it has stood for longer than any; of a picture at the
  raster's edge one of them is enough, for good.
- A few blank lines or columns beside a clear pair of bars (2 % of the frame at most) are no bars.
  What is uneven in both bars, and of no standard, is likelier written over a pause than a picture.
  A bar at the side that stands still beside a smaller one shows a shape that nobody standardised
  after half a minute.
- Lettering comes and goes, and only by accident does it leave bars of a standard size. So a taller
  standard shape is believed at once, a shape that nobody standardised only after it has held for a
  while. Where lettering has stood in both bars, whatever ends within them waits for as long as
  lettering stands if lettering of this depth was seen before, or of twice or half as many lines,
  or if nobody standardised the shape. The latter waits as well within bars that have only just
  appeared: titles stand at a beginning. A standard shape of another depth waits for a quarter
  longer than that lettering stood. A standard shape waits a little there, however dark the sides
  are, and as long as titles stand where the settled shape is new, and in the bars of an evening's
  first shape. What comes in between, nearer to the settled shape, is the picture in whose bars the
  rest is lettering; once it is there again and the lettering gone, it is believed at once. What
  stood for longer than any lettering does was none, and is not looked for as such. What came into
  one bar before it came into the other, as deep, is lettering: a picture's edges move at one
  moment. Lettering in the bars of a shape that was seen plainly says nothing against that, not
  even where it is as deep as the settled shape, if the wider one was seen for a while. Its depth
  is known from then on. A taller shape is settled behind lettering of its own once no lettering
  stands for so long.
- A detector errs by a line or two, and so meets by accident a standard shape that lettering ends
  next to. What stands in the bars is a standard shape only if all readings of it together are.
- What is within 2 % of the settled shape is that shape. Only one that nobody standardised gives way
  to a standard one within that: 1.85 and 1.90 are both like 1.88.
- Unequal bars are believed late. They show a bar that lettering eats into, if the larger of the
  two is the bar of a standard shape and the other one stands still as well; later still where both
  came at once and differ by less than a line, as uneven lettering does. They show a dark
  picture, if the smaller one is the bar of a standard shape and stands still in a moving scene,
  and if light has been seen where the settled shape has bars.
- No picture is narrower than a square, but 16:9, 3:2 and 4:3 turned upright, and 4:5.
- Bars on all four sides are a window, unless it is small, or of no standard ratio, or came out of
  black: that may be a block of lettering, and waits for longer than a title card stands. Light up
  to all four edges of the raster is none, whatever stood before.
- A detector may count in coarse steps, which all its counts are multiples of. Bars are then of any
  standard shape that they may have been before they were counted, and so is one bar beside a mark.
  Of several that are alike they are of the middle one, which is hardly off whichever it is.
  What stood in a bar before a dark shot and stands there again, as deep, is a mark.
- Everything else is darkness and says nothing. Darkness that the new shape would explain still
  counts towards the time that a wider shape must hold, because a shape may change in the dark, but
  it proves nothing. So does darkness from before the new shape was seen, if no other shape was seen
  in it. What was seen for as long as it must be, and then nothing but such darkness for half as
  long again as its dwell, is settled in the dark.
- The last resort: a rectangle that has stood for longer in all than any dark shot or line does,
  while the settled shape was not seen, is a picture, although none of this says so. It is of a
  standard shape with a mark in one bar if its larger bar is nearly that one's. But where an edge
  has moved and the one opposite has not, or the sides alone have, the settled shape is dark there;
  and what is as small as a block of lettering is one.

A shape that may replace the settled one is a *rival*. One rival is weighed at a time, and the
strongest other one is kept aside, if it was seen later than the settled shape. Time in which one of
them is seen counts against the other, and time in which the settled shape is seen counts against
both. A shape that was read for a while until the settled one was back is a *slip*, and so is the
settled shape where it was read between readings of a wider one that then won. How long it stood
tells how long it may stand again, at any detector's rate: it is believed once it stands four times
as long, and for five readings at least. No bars at all are what a detector reads that fails: where
readings come slowly, one of them proves nothing, and the full frame waits for the second. A shape
that has stood for longer than any slip is *real*, and is believed sooner when it comes back. So is
the shape before the settled one, if it was left not long ago.

A reading holds until another one comes. The state therefore carries a deadline, the instant at
which the rival wins if nothing more is read, and the same reading taken twice counts once.

The modules build on each other: `shapes` (what bars mean in a raster), `sightings` (what one
reading shows), `elsewhere` (whether that is a picture off the middle), `rivals` (what speaks for
another shape), `learnt` (what is known from before), `contest` (how much longer a rival must be
seen), `stillness` (the last resort), `settling` (what it all adds up to), `debounce` (the filter
itself). From outside, import the names below and nothing else. Ratios
are 1/10,000 and times are milliseconds UTC; every decision is made in whole numbers.
"""

from __future__ import annotations

from engine.settle.contest import MARKED
from engine.settle.debounce import LETTERING, elapse, take_bars, take_ratio
from engine.settle.rivals import DwellTimes, Rival
from engine.settle.settling import DOUBT, UNSETTLED, Settling, line_noted, new_title, parked
from engine.settle.shapes import STANDARD, BarReading, Outline

__all__ = [
    "DOUBT",
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
