"""Mutants of the code that puts prompts to people and hears their answers, by function."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from engine import answers, prompts
from tests.simulator.order_mutants import Pieces

ANSWER_MUTANTS: Final[tuple[tuple[ModuleType, str, Pieces], ...]] = (
    (
        answers,
        "answered",
        (
            (
                "an answer to another prompt counts",
                "core.asked is None or core.asked.id != event.prompt",
                "core.asked is None",
            ),
            ("anybody lights whoever is there", "_require_their_word(core.asked, event)", "pass"),
            ("that all are away is not heard", "elif core.asked.at_screen:", "elif False:"),
        ),
    ),
    (
        answers,
        "_require_their_word",
        (
            (
                "a nameless no lights whoever is at the screen",
                'event.answer == "done" or',
                "True or",
            ),
            (
                "another's word lights whoever is at the screen",
                "else event.who == asked.who",
                "else event.who",
            ),
        ),
    ),
    (
        answers,
        "_refuse",
        (
            (
                "whoever says no is asked again",
                'tx.fire("panels", "refuse")',
                'tx.fire("panels", "withdraw")',
            ),
            ("a refusal outlasts the session", "let_session_run(tx)", "pass"),
        ),
    ),
    (
        answers,
        "_answered_late",
        (
            (
                "a late done leaves the panels as they were",
                'panels_stand(tx, known, "answered_late")',
                "pass",
            ),
            ("a late no is taken", 'event.answer != "done" or', ""),
            ("a done is heard twice", 'past.get(event.prompt, "") is None', "False"),
        ),
    ),
    (
        answers,
        "_go_to_screen",
        (
            ("a second ready keeps the dark for longer", "if asked.at_screen:", "if False:"),
            ("whoever is ready gets no more time", "tx.now + give_up)", "tx.core.timers.give_up)"),
        ),
    ),
    (
        prompts,
        "end_darkness_at",
        (
            (
                "the dark ends without warning",
                "remind=ends - before",
                "remind=None",
            ),
        ),
    ),
    (
        answers,
        "_put_end_off",
        (
            ("more time is no time", "end_darkness_at(tx, ends)", "pass"),
            ("more time is given for ever", ", asked.latest)", ", tx.now * 9)"),
        ),
    ),
    (
        answers,
        "helper_heard",
        (
            ("a no cannot be taken back", "take_refusals_back(tx)", "pass"),
            ("somebody at the screen is taken for nobody", "and core.asked.at_screen", "and False"),
        ),
    ),
    (
        prompts,
        "open_prompt",
        (
            ("the prompt never expires", ", give_up=tx.now + pace.give_up", ""),
            ("nobody is reminded", "remind=tx.now + pace.remind, ", ""),
            (
                "a prompt expires at once",
                "give_up=tx.now + pace.give_up",
                "give_up=tx.now + pace.remind",
            ),
            ("the prompt is not said", 'send_prompt(tx, "asked")', "pass"),
        ),
    ),
    (
        prompts,
        "close_prompt",
        (
            ("half fitted panels are taken as they stood", "core.arrangement = None", "pass"),
            ("an end of a prompt is not said", "tx.decisions.append(", "repr("),
            (
                "a closed prompt's end still comes",
                "tx.set_timers(remind=None, give_up=None)",
                "pass",
            ),
        ),
    ),
)
