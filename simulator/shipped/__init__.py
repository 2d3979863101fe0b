"""The rooms and nights that come with roomcue."""

from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent
NIGHTS: Final = FOLDER / "nights"
DEMO_ROOM: Final = FOLDER / "hayloft.yaml"
DEMO_NIGHT: Final = NIGHTS / "evening.jsonl"
