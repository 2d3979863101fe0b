"""Mutants of the code that hears events and fires timers, by function."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from engine import deadlines, handlers, lens, outcomes, override_requests, panel_reports
from tests.simulator.order_mutants import Pieces

REPORT_MUTANTS: Final[tuple[tuple[ModuleType, str, Pieces], ...]] = (
    (
        lens,
        "count_travel_by_hand",
        (
            (
                "an override's preset wish is kept against the person's own move",
                "core.override_look = core.override_look._replace(preset=None)",
                "pass",
            ),
            (
                "a travel that nobody ordered is fought",
                "elif not core.service and",
                "elif False and",
            ),
            ("a technician's travel takes the room over", "not core.service and", ""),
            ("travels by hand are not counted", "tx.count_travel(preset, by_hand=1)", "pass"),
        ),
    ),
    (
        lens,
        "_sets_off",
        (
            (
                "our own travel is taken for an override",
                "if report.preset in {None, core.preset}:",
                "if core.recall is None and report.preset in {None, core.preset}:",
            ),
            (
                "a travel reported twice is counted twice",
                'core.lens != "travelling" and _is_counted(core, report)',
                "False",
            ),
            ("a lost lens is not taken up on its way", "_take_up(tx)", "return"),
        ),
    ),
    (
        lens,
        "_is_counted",
        (
            (
                "a travel that was only accepted is taken for a person's",
                "core.awaited is not None",
                "False",
            ),
        ),
    ),
    (
        lens,
        "_leaves_unheard",
        (
            (
                "an order that was only accepted counts as carried out",
                "elif _was_only_accepted(core) and",
                "elif False and",
            ),
            (
                "a lens that left unheard after it was given up is somebody's doing",
                "if may_set_off(core):",
                "if False:",
            ),
        ),
    ),
    (
        lens,
        "_goes_on",
        (
            (
                "a travel by hand has no end",
                "tx.set_timers(travel=tx.now + tx.room.projector.lens.travel * 3 // 2)",
                "pass",
            ),
        ),
    ),
    (
        outcomes,
        "outcome_heard",
        (
            (
                "a reported travel ends as its order is accepted",
                'event.outcome != "done" or not reported',
                "True",
            ),
        ),
    ),
    (
        lens,
        "_drop_recall",
        (
            (
                "a recall that went elsewhere is not counted",
                "tx.count_travel(core.preset, ordered=1, unconfirmed=1)",
                "pass",
            ),
        ),
    ),
    (
        lens,
        "_reached",
        (
            (
                "what was unreached is never tried again though it was reached",
                "core.unreached = None",
                "pass",
            ),
        ),
    ),
    (
        lens,
        "_missed",
        (
            ("what was missed twice is tried for ever", "core.unreached = core.preset", "pass"),
            ("what was missed is forgotten", "core.missed = core.preset", "pass"),
        ),
    ),
    (
        lens,
        "_rests",
        (
            (
                "a travel of ours that ended elsewhere is somebody's doing",
                "_missed(tx)",
                "count_travel_by_hand(tx, preset)",
            ),
            (
                "a lens that has not set off is taken as arrived",
                "not core.set_off and preset == core.origin",
                "False",
            ),
        ),
    ),
    (
        lens,
        "recall_ended",
        (
            (
                "recalls that are done are not counted",
                "tx.count_travel(core.preset, ordered=1)\n",
                "pass\n",
            ),
            (
                "a refused preset is tried again",
                "core.unreached = core.preset\n        _refused(tx)",
                "_refused(tx)",
            ),
            (
                "a preset that was not reached is tried again",
                'core.awaited == "ours":\n            core.unreached = core.preset',
                'core.awaited == "ours":\n            pass',
            ),
        ),
    ),
    (
        lens,
        "_refused",
        (
            (
                "a refused recall is taken as arrived",
                "core.preset, core.origin, core.back_to = core.origin, None, None",
                "core.origin = core.back_to = None",
            ),
            (
                "a recall refused on its way is taken as never begun",
                "if core.set_off:",
                "if False:",
            ),
        ),
    ),
    (
        lens,
        "travel_time_over",
        (
            (
                "a lens that is overdue is taken as arrived",
                'tx.fire("lens", "time_is_over")',
                'tx.fire("lens", "arrives")',
            ),
        ),
    ),
    (
        panel_reports,
        "panels_stand",
        (
            (
                "an override's panel wish is kept against the person's own move",
                "core.override_look = look._replace(panels=None)",
                "pass",
            ),
            ("fitted panels do not end their prompt", "core.asked.panels == panels", "False"),
            ("a report lights whoever is at the screen", "and not core.asked.at_screen", ""),
            (
                "a title's first minutes do not begin again once panels stand",
                "start_first_minutes(tx)",
                "pass",
            ),
        ),
    ),
    (
        override_requests,
        "_try_anew",
        (
            (
                "a preset that a person wants is not tried again",
                "core.unreached = None",
                "pass",
            ),
            ("a picture that a person wants is not tried again", "allow_retries(tx)", "pass"),
            (
                "panels that a person wants are not asked for again",
                "take_refusals_back(tx)",
                "pass",
            ),
        ),
    ),
    (
        override_requests,
        "begin_override",
        (("an override outlasts the session", "let_session_run(tx)", "pass"),),
    ),
    (
        deadlines,
        "_give_up",
        (
            (
                "an expired prompt is made again",
                'tx.fire("panels", "refuse")',
                'tx.fire("panels", "withdraw")',
            ),
            (
                "an expired prompt is left open",
                'close_prompt(tx, "expired", "not_answered")',
                "pass",
            ),
        ),
    ),
    (
        deadlines,
        "_remind",
        (
            (
                "whoever is at the screen is not warned of the light",
                'send_prompt(tx, "light comes back")',
                "pass",
            ),
            ("a reminder is not said", 'send_prompt(tx, "reminded")', "pass"),
        ),
    ),
    (
        deadlines,
        "_pause",
        (
            ("a pause never counts as a stop", "tx.core.pause_over = True", "pass"),
            ("a title outlasts a pause that counts as a stop", "interrupt_title(tx)", "pass"),
        ),
    ),
    (
        outcomes,
        "picture_ended",
        (
            ("a picture that was refused is taken as shown", "core.failed = True", "pass"),
            (
                "a picture that failed is never tried again",
                "tx.set_timers(retry=tx.now + RETRY_AFTER[core.tries])",
                "pass",
            ),
        ),
    ),
    (
        outcomes,
        "picture_tried_again",
        (
            (
                "a picture's time to be tried again does nothing",
                "tx.core.failed, tx.core.shown = False, None",
                "pass",
            ),
        ),
    ),
    (
        outcomes,
        "cue_ended",
        (("a cue that failed is ordered for ever", "core.cues = tuple(", "_ = tuple("),),
    ),
    (
        handlers,
        "_service",
        (
            ("the picture is taken as known after service", "core.shown = None", "pass"),
            (
                "a technician is left with an open prompt",
                'close_prompt(tx, "withdrawn", "technician")',
                "pass",
            ),
            (
                "a technician is left with an open picture order",
                'withdraw_orders(tx, "technician")',
                "pass",
            ),
            ("what failed before service is never tried again", "allow_retries(tx)", "pass"),
        ),
    ),
    (
        handlers,
        "_projector",
        (
            ("a picture is taken as known without light", "core.shown = None", "pass"),
            ("the session outlasts the light", "end_session(tx)", "pass"),
        ),
    ),
    (
        handlers,
        "_playback",
        (
            ("a pause never ends by itself", "pause=tx.now + tx.room.pace.pause, ", ""),
            (
                "a pause that is over counts as a stop for ever",
                "core.pause_over = False",
                "pass",
            ),
            ("a title outlasts its stop", 'if event.state == "stopped":', "if False:"),
        ),
    ),
    (
        handlers,
        "_resumed",
        (
            ("a travel is taken as over after a restart", "tx.set_timers(travel=ends)", "pass"),
            (
                "an order that a restart cut off is taken as done",
                "core.picture = core.shown = None",
                "core.picture = None",
            ),
            (
                "a travel that a restart cut off is taken as failed",
                "core.unreached = unreached",
                "pass",
            ),
        ),
    ),
    (
        handlers,
        "grant_recalls_of_new_night",
        (
            (
                "every event grants a night's recalls",
                "if night_at(core, tx.now) > night_at(core, core.night):",
                "if True:",
            ),
        ),
    ),
    (
        handlers,
        "_admit",
        (
            (
                "an event that was heard before counts again",
                "if event.id in tally.seen:",
                "if False:",
            ),
        ),
    ),
)
