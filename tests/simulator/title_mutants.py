"""Mutants of the code that begins and ends titles and remembers them, by function."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from engine import override_requests, prompts, remembered, titles
from tests.simulator.order_mutants import Pieces

TITLE_MUTANTS: Final[tuple[tuple[ModuleType, str, Pieces], ...]] = (
    (
        titles,
        "begin_title",
        (
            (
                "a title has no first minutes",
                "first_minutes=tx.now + pace.first_minutes if pace.first_minutes else None",
                "first_minutes=None",
            ),
            ("a wish of the last title is this one's", "core.ripe = False", "pass"),
            ("a no for one title is for the next one", 'tx.fire("panels", "free")', "pass"),
            (
                "what was unreached is never tried again in a new title",
                "allow_retries(tx)",
                "pass",
            ),
        ),
    ),
    (
        titles,
        "play_on",
        (("a no to a title is forgotten once it goes on", "if title.refused:", "if False:"),),
    ),
    (
        titles,
        "interrupt_title",
        (
            (
                "a no to a title is forgotten with its source",
                'refused=core.panels == "refused" and core.refused_until == "title"',
                "refused=False",
            ),
        ),
    ),
    (
        prompts,
        "take_refusals_back",
        (
            (
                "a no to a title that was left is not taken back",
                "core.interrupted = core.interrupted._replace(refused=False)",
                "pass",
            ),
        ),
    ),
    (
        remembered,
        "recall_title",
        (("a title begins without its last choice", "choose_again(tx, known.choice)", "pass"),),
    ),
    (
        remembered,
        "remember_choice",
        (("a choice is not remembered", "_keep(core, known._replace(choice=choice))", "pass"),),
    ),
    (
        remembered,
        "_forget_what_is_on",
        (
            ("a choice that is forgotten lasts on", 'give_back(tx, "forgotten")', "pass"),
            (
                "a shape that is forgotten is kept by what is on",
                "core.remembered, core.stood, core.longest = None",
                "_, core.stood, core.longest = None",
            ),
        ),
    ),
    (
        remembered,
        "_learnt_anew",
        (("a title that was left keeps its choice", ", choice=NO_CHOICE", ""),),
    ),
    (
        override_requests,
        "_given_back",
        (("what is given back is chosen again", "forget_choice(tx.core, cues)", "pass"),),
    ),
    (
        titles,
        "end_title",
        (("an override for a title outlasts it", 'core.override_until == "title"', "False"),),
    ),
    (
        titles,
        "end_session",
        (
            (
                "a session's end leaves somebody in the light",
                "if at_screen and",
                "if False and",
            ),
            (
                "a refusal outlasts the end of the session",
                'tx.fire("panels", "start_afresh")',
                "pass",
            ),
            ("an override outlasts the end of the session", "give_back(tx, ", "str("),
        ),
    ),
    (
        titles,
        "let_session_run",
        (("a session begins anew with every word", "core.timers.session is None and", ""),),
    ),
    (
        titles,
        "withdraw_orders",
        (
            (
                "an open picture order is forgotten and not withdrawn",
                "withdraw(tx, core.picture, code)",
                "pass",
            ),
        ),
    ),
    (
        titles,
        "allow_retries",
        (
            (
                "what was unreached is never tried again",
                "core.tries, core.unreached, core.missed = 0, None, None",
                "core.tries = 0",
            ),
            (
                "what has failed is never tried again",
                "core.failed, core.shown = False, None",
                "pass",
            ),
        ),
    ),
)
