"""Who tells a picture's shape, and who contradicts the others for a whole title."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from engine.aspect import ratio_text, same_shape

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.room import Reporter
    from engine.transaction import Transaction

PAIR: Final = 2


def name_who_contradicts(tx: Transaction, stood: int) -> None:
    """Name a reporter whose word on the shape was another one's for no moment of a title.

    Of two that contradict each other it is the one that was not believed. `stood` is for how long
    (ms) the title's own shape stood; a title that is only looked into says nothing of them.
    """
    core, source = tx.core, tx.source
    if source is None or not core.shapes or core.longest is None:
        return
    if stood < tx.room.pace.first_minutes:
        return
    said: dict[Reporter, tuple[int, ...]] = {"detector" if core.detected else "code": core.shapes}
    if core.coded is not None and "code" not in said:
        said["code"] = (core.coded,)
    if core.declared is not None:
        said["player"] = (core.declared,)
    for reporter in _contradicting(said, source.first_word):
        tx.note(
            "contradicts",
            "engine: readings",
            reporter=reporter,
            said=ratio_text(said[reporter][-1]),
            stood=ratio_text(core.longest),
        )


def _contradicting(said: Mapping[Reporter, tuple[int, ...]], first: Reporter) -> Iterator[Reporter]:
    """Give who agrees with nobody else. Of two it is the other than who has the first word."""
    believed = first if first in said else next(iter(said))
    for reporter, shapes in said.items():
        others = [one for other, told in said.items() if other != reporter for one in told]
        agrees = any(same_shape(one, shape) for one in others for shape in shapes)
        if others and not agrees and (reporter != believed or len(said) > PAIR):
            yield reporter
