"""The hayloft as a live room: the file, its light and where its lens rests."""

from __future__ import annotations

from engine.events import (
    LensReport,
    ProjectorReport,
    SourceChosen,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
LIT = (ProjectorReport(state="lit"), SourceChosen(source="disc"))
AT_BROAD = LensReport(moving=False, preset="broad")
