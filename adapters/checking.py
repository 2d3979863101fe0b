"""A room file that came as a message, checked as an integrator would: by `roomcue check`.

The check is a process of its own, so that the rooms stay awake meanwhile.
"""

from __future__ import annotations

import asyncio
import json
import sys
from typing import Final

SHOWN: Final = 5
"""So many findings are told."""


async def faults_of(text: str) -> tuple[str, ...]:
    """Check a room file; gives what is wrong with it, nothing if it may be taken."""
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "adapters.cli",
        "check",
        "--json",
        "-",
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        out, err = await process.communicate(text.encode())
    except asyncio.CancelledError:
        process.kill()
        await process.wait()
        raise
    if process.returncode == 0:
        return ()
    try:
        findings = json.loads(out)["findings"]
    except (ValueError, KeyError, TypeError):
        return (err.decode(errors="replace").strip() or "the check ended without a word",)
    wrong = [_sentence(one) for one in findings if one["severity"] == "error"]
    more = len(wrong) - SHOWN
    return (*wrong[:SHOWN], *((f"and {more} more",) if more > 0 else ()))


def _sentence(finding: dict[str, object]) -> str:
    return f"{finding['line']}:{finding['column']}: {finding['message']}. {finding['suggestion']}"
