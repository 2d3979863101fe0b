"""What a room tells a technician: what was not taken, a room file that is, a lens that is due."""

from __future__ import annotations

from adapters.live.messages import OutgoingMessage, body_of, rfc3339
from engine.catalogue import Catalogue
from engine.decisions import NoteCode
from engine.refusal import Refused


def refusal_message(refused: Refused, subtopic: str, now: int) -> OutgoingMessage:
    """Say what was not taken, and why."""
    shown = subtopic[:80].encode("ascii", "backslashreplace").decode()
    data = {"kind": "refused", "code": refused.code, "topic": f"in/{shown}"}
    body = body_of({**data, "words": refused.words, "at": rfc3339(now)})
    return OutgoingMessage("reason", body)


def taken_message(now: int) -> OutgoingMessage:
    """Say that the room file that came is in force."""
    words_ = "The room file is in force until the one named at the start has changed."
    return OutgoingMessage(
        "reason", body_of({"kind": "taken", "words": words_, "at": rfc3339(now)})
    )


def lens_due_message(catalogue: Catalogue, preset: str, details: str, now: int) -> OutgoingMessage:
    """Say that a preset is to be looked at, so that the hub can tell the owner."""
    code: NoteCode = "look_at_lens"
    data = {
        "kind": "wear",
        "preset": preset,
        "code": code,
        "words": catalogue.say("note", code, {"preset": preset}),
        "details": details,
        "at": rfc3339(now),
    }
    return OutgoingMessage("reason", body_of(data))
