"""The decision log: one JSON line a decision, stamped with the decision's own time."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import BinaryIO

import structlog

from engine.decisions import DECISIONS, Decision
from engine.events import moment_of


def decision_log(stream: BinaryIO, room: str) -> structlog.typing.FilteringBoundLogger:
    """Make a logger that writes to `stream`, with the room's name on every line."""
    logger: structlog.typing.FilteringBoundLogger = structlog.wrap_logger(
        structlog.BytesLogger(stream),
        wrapper_class=structlog.make_filtering_bound_logger("info"),
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.JSONRenderer(serializer=_serialized),
        ],
    )
    return logger.bind(room=room)


def log_decisions(
    log: structlog.typing.FilteringBoundLogger, decisions: Iterable[Decision]
) -> None:
    """Write decisions, a line each."""
    for decision in decisions:
        data = DECISIONS.dump_python(decision, mode="json")
        kind = data.pop("kind")
        data["at"] = moment_of(decision.at).isoformat(timespec="milliseconds")
        log.info(kind, **data)


def _serialized(data: object, **_: object) -> bytes:
    return json.dumps(data, ensure_ascii=False).encode()
