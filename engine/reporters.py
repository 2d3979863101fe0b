"""Who tells a picture's shape, and who contradicts the others for a whole title."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.aspect import NARROWEST, WIDEST, ratio_text, same_shape
from engine.facts import first_minutes_run
from engine.state import UnheededWord

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.room import Reporter, Source
    from engine.state import Core
    from engine.transaction import Transaction

PAIR: Final = 2


def note_unheeded(core: Core, ratio: int) -> None:
    """Note what a detector says (1/10,000) while the format code is believed.

    A ratio that no picture has says nothing of the shape.
    """
    if not NARROWEST <= ratio <= WIDEST:
        return
    if not first_minutes_run(core):
        weigh_unheeded(core)  # What was said before the title has stood in it for long.
    agreed = core.unheeded is not None and core.unheeded.agreed
    core.unheeded = UnheededWord(ratio, agreed)
    weigh_unheeded(core)


def weigh_unheeded(core: Core) -> None:
    """Note it if code and detector agree."""
    if core.unheeded is not None and agree_by_now(core):
        core.unheeded = core.unheeded._replace(agreed=True)


def agree_by_now(core: Core) -> bool:
    """Tell whether the detector, though unheeded, says what the format code says."""
    word = core.unheeded
    return word is not None and core.coded is not None and same_shape(word.ratio, core.coded)


def name_who_contradicts(tx: Transaction, own: int, stood: int) -> None:
    """Name a reporter who never agreed with any other on the shape of a title.

    Of two that contradict each other, name the one that was not believed. `stood` is how long (ms)
    the title's `own` shape stood. Nobody is named for a title that was only looked into, nor for
    one that is only remembered: no reading has shown it this time.
    """
    core, source = tx.core, tx.source
    if source is None or not core.shapes or stood < tx.room.pace.first_minutes:
        return
    said = _said(core, source)
    for reporter in _contradicting(said, source.first_word):
        tx.note(
            "contradicts",
            "engine: readings",
            reporter=reporter,
            said=ratio_text(said[reporter][-1]),
            stood=ratio_text(own),
        )


def _said(core: Core, source: Source) -> dict[Reporter, tuple[int, ...]]:
    """Give the shapes that each reporter has named in this title, in 1/10,000."""
    by_code = core.coded is not None and (source.first_word == "code" or not core.detected)
    said: dict[Reporter, tuple[int, ...]] = {"code" if by_code else "detector": core.shapes}
    if core.unheeded is not None:  # Only where the code is believed is a detector not heeded.
        said["detector"] = core.shapes if core.unheeded.agreed else (core.unheeded.ratio,)
    elif not by_code and core.coded is not None:
        said["code"] = (core.coded,)
    if core.declared is not None:
        said["player"] = (core.declared,)
    return said


def _contradicting(said: Mapping[Reporter, tuple[int, ...]], first: Reporter) -> Iterator[Reporter]:
    """Give who agrees with nobody; of two who disagree, the one without the first word."""
    believed = first if first in said else next(iter(said))
    for reporter, shapes in said.items():
        others = [one for other, told in said.items() if other != reporter for one in told]
        agrees = any(same_shape(one, shape) for one in others for shape in shapes)
        if others and not agrees and (reporter != believed or len(said) > PAIR):
            yield reporter
