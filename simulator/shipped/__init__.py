"""The rooms and nights that come with roomcue."""

from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent
NIGHTS: Final = FOLDER / "nights"
HAYLOFT: Final = FOLDER / "hayloft.yaml"
"""Two presets on a lens that reports, one set of side panels, a hub that answers."""
CELLAR: Final = FOLDER / "cellar.yaml"
"""A fixed zoom, no panels, a hub that only obeys: a stretch and a crop are all there is."""
LONGROOM: Final = FOLDER / "longroom.yaml"
"""Three presets on a lens that does not report, two sets of panels, hours to keep."""
ROOMS: Final = (HAYLOFT, CELLAR, LONGROOM)
SCHEMA: Final = FOLDER / "room.schema.json"
"""The JSON Schema that the rooms' first line names; `roomcue schema` prints the same."""
DEMO_ROOM: Final = HAYLOFT
DEMO_NIGHT: Final = NIGHTS / "evening.jsonl"
