"""The decision log: one JSON line for each decision, with the decision's own time.

A line has the same content as the message on `out/reason`.
"""

from __future__ import annotations

from collections.abc import Iterable, MutableMapping
from contextlib import suppress
from datetime import datetime
from typing import Any, BinaryIO, Final, cast

import structlog
from pydantic_core import to_json
from structlog.typing import Processor

from adapters.safe_text import escaped
from engine.refusal import Refused


class TolerantStream:
    """A stream that drops what cannot be written, so that no room fails because of its log."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def write(self, data: bytes) -> int:
        """Write, ignoring errors; give the number of bytes written."""
        with suppress(OSError, ValueError):
            return self._stream.write(data)
        return 0

    def flush(self) -> None:
        """Flush, ignoring errors."""
        with suppress(OSError, ValueError):
            self._stream.flush()


def decision_log(
    stream: BinaryIO | TolerantStream, room: str, *, plain: bool = False
) -> structlog.typing.FilteringBoundLogger:
    """Make a logger that writes to `stream`, with the room's name on every line.

    Lines are JSON, or with `plain` text for a terminal, which leaves out the facts.
    """
    logger: structlog.typing.FilteringBoundLogger = structlog.wrap_logger(
        structlog.BytesLogger(cast("BinaryIO", stream)),
        wrapper_class=structlog.make_filtering_bound_logger("info"),
        processors=_PLAIN if plain else _JSON,
        cache_logger_on_first_use=True,
    )
    return logger.bind(room=room)


def log_decisions(
    log: structlog.typing.FilteringBoundLogger, decisions: Iterable[dict[str, Any]]
) -> None:
    """Write one line for each decision, given as `messages.decision_data` makes them."""
    for data in decisions:
        rest = dict(data)
        log.info(rest.pop("kind"), **rest)


def log_refusal(
    log: structlog.typing.FilteringBoundLogger,
    at: str,
    refused: Refused,
    subtopic: str,
    event: str | None,
) -> None:
    """Write a line for what was not taken; `event` is its id, if it had one."""
    about = {"topic": f"in/{subtopic}", "code": refused.code}
    about |= {} if event is None else {"id": event}
    log.warning("refused", at=at, **about, words=refused.words)


def _serialized(data: object, **_: object) -> bytes:
    return to_json(data)


def _in_words(_logger: object, _method: str, line: MutableMapping[str, Any]) -> bytes:
    """Format a line for people: what happened, in which room, and why."""
    kind, room, level = line.pop("event"), line.pop("room"), line.pop("level")
    at = line.pop("at", None)
    reason = line.pop("reason", None) or line.pop("words", None)
    rest = {name: line[name] for name in line if name not in _HIDDEN_IN_TERMINAL}
    rest |= rest.pop("parameters", {})
    if rest.get("code") == "row":
        del rest["code"]  # The rule beside it says so.
    said = " ".join(f"{name}={value}" for name, value in rest.items())
    stamp = "" if at is None else f"{datetime.fromisoformat(at).astimezone():%H:%M:%S} "
    mark = "" if level == "info" else f"{level}: "
    text = f"{stamp}{room}: {mark}{kind}" + (f" {said}" if said else "")
    return escaped(text + (f" - {reason}" if reason else "")).encode()


_HIDDEN_IN_TERMINAL: Final = frozenset(
    {"facts", "ends", "region", "aspect", "lift", "cautions", "words"}
)
"""Fields that lines for a terminal leave out."""
_JSON: Final[list[Processor]] = [
    structlog.processors.add_log_level,
    structlog.processors.JSONRenderer(serializer=_serialized),
]
_PLAIN: Final[list[Processor]] = [structlog.processors.add_log_level, _in_words]
