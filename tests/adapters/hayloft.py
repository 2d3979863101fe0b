"""The hayloft as a live room: the file, its light and where its lens rests."""

from __future__ import annotations

from engine.events import (
    LensReport,
    ProjectorReport,
    SourceChosen,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.brisk_hayloft import brisk_hayloft

HAYLOFT = load(brisk_hayloft(), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
AT_BROAD = LensReport(moving=False, preset="broad")
