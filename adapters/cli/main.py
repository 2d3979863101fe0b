"""The command line. Status 0: all is well; 1: problems were found; 2: the input is unusable.

What it stands on is loaded where an interrupt ends it quietly already.
"""

from __future__ import annotations

import io
import os
import signal
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from adapters.cli import command_start

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType

INTERRUPTED: Final = 130
ONCE_MORE: Final = 0.1
"""So many seconds later an interrupt comes once more, if it has been lost."""


def main() -> None:
    """Run the command line."""
    command_start.note()
    _stand_in_for_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # the output may not know every letter
    with _interruptible():
        from adapters.cli.command_group import app  # noqa: PLC0415 - it takes a moment to load
        from adapters.cli.exit_status import lost_output_reported  # noqa: PLC0415 - the same

        with lost_output_reported():
            app()


def _stand_in_for_closed_streams() -> None:
    """Read nothing from a standard stream that is closed (`>&-`), and write to it for nobody.

    The next file that is opened would have its number, and be written into by whatever prints.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115


@contextmanager
def _interruptible() -> Iterator[None]:
    """End with the status of an interrupt after Ctrl-C, whatever it was turned into on its way.

    A library that runs our code, or is run by it, may raise an error of its own where it is
    interrupted, or lose the interrupt. Then it comes once more, until it is heard.
    """
    interrupted = False

    def interrupt(number: int, _frame: FrameType | None) -> None:
        nonlocal interrupted
        interrupted = True
        signal.setitimer(signal.ITIMER_REAL, ONCE_MORE)
        if number == signal.SIGINT or not _is_heard(sys.exc_info()[1]):
            raise KeyboardInterrupt

    signal.signal(signal.SIGINT, interrupt)
    signal.signal(signal.SIGALRM, interrupt)
    try:
        yield
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception:
        if not interrupted:
            raise
        sys.exit(INTERRUPTED)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)


def _is_heard(at_hand: BaseException | None) -> bool:
    """Tell whether an interrupt is on its way out, and whatever it passes is being tidied up."""
    while at_hand is not None and not isinstance(at_hand, KeyboardInterrupt):
        at_hand = at_hand.__context__
    return at_hand is not None


if __name__ == "__main__":
    main()
