"""Stub."""

from __future__ import annotations

from collections.abc import Sequence

from engine.room import Room


def document(rooms: Sequence[Room], version: str) -> dict[str, object]:
    """Nothing yet."""
    return {"rooms": len(rooms), "version": version}
