"""Mutants of the code that chooses and orders, by function."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from engine import choosing, reconcile, transition_table

Pieces = tuple[tuple[str, str, str], ...]
"""Mutants of one function: a name, a piece of the function's text, and what replaces it."""

_TRAVELS: Final = (
    ("a recall in a pause", '("paused", by_rules and pausing(core)),', ""),
    ("the pace's limit for a title is ignored", "core.left_title <= 0", "False"),
    ("a title's second recall goes anywhere", " or only_back", ""),
    ("the pace's limit for a night is ignored", "core.left_night <= 0", "False"),
    ("a recall in mid-title", '("first_minutes", mid_title),', ""),
    ("a recall without lingering", '("linger", not is_ripe(core)),', ""),
    ("a person's preset waits for the next title", "by_rules and core.title and", "core.title and"),
    (
        "a person's preset waits for the next night",
        "by_rules and core.left_night",
        "core.left_night",
    ),
    ("a person's preset waits for the film's end", "mid_title = by_rules and", "mid_title ="),
    (
        "a second recall during the first after a restart",
        "awaited or core.timers.travel is not None or",
        "",
    ),
    (
        "a recall of a lens that was only said to be there",
        '(awaited and core.lens == "resting")',
        "False",
    ),
    ("what was unreached is tried again and again", '("unreached", core.unreached == want),', ""),
    ("a recall while somebody is at the screen", "somebody_at_screen(core)", "False"),
    ("a recall before panels are off", "and removes(tx.room, arrangement, panels)", "and False"),
    ("rules send the lens to and fro", '("circle", core.recalls >= ONCE_AND_BACK),', ""),
    (
        "a person's preset waits for the end of a pause",
        "by_rules and pausing(core)",
        "pausing(core)",
    ),
    ("a travel under way is no reason to wait", 'core.lens == "travelling"', "False"),
)
_RECALLS: Final = (
    ("recalls of a night are not counted", "core.left_night = max(0, core.left_night - 1)", "pass"),
    ("recalls of a title are not counted", "core.left_title = max(0, core.left_title - 1)", "pass"),
    ("a recall counts twice for a night", "core.left_night - 1)", "core.left_night - 2)"),
    ("a recall before the picture is confirmed", "core.picture is not None or", ""),
    ("a recall before the picture has shrunk", "or _unsafe(tx, biggest)", ""),
    ("a recall is taken as under way at once", "core.set_off, core.ripe", "_, core.ripe"),
    ("a travel is given half its time", "lens.travel * 3 // 2 if", "lens.travel // 2 if"),
    (
        "the same wish is ripe for ever",
        "core.ripe, core.echo = False, False",
        "_, core.echo = 0, 0",
    ),
)
_PICTURES: Final = (
    ("no limit of flashes", "core.timers.flash is not None", "False"),
    ("the dark waits for the limit of flashes", "target.picture != DARK and", ""),
    (
        "safety waits for the limit of flashes",
        "and not _unsafe(tx, standing_place(tx.room, core))",
        "",
    ),
    ("the limit of flashes is half as long", "tx.now + FLASH", "tx.now + FLASH // 2"),
    (
        "no withdrawal of an older picture",
        'withdraw(tx, core.picture, "newer_picture")',
        "pass",
    ),
    ("a picture order has no end", "picture=ends, ", ""),
    (
        "a new picture is taken as failed",
        "core.shown, core.failed = target, False",
        "core.shown = target",
    ),
)
_WANTED_PICTURES: Final = (
    ("another lens, and a menu is distorted", "and _menu(tx)", "and False"),
    ("no dark for whoever is at the screen", "somebody_at_screen(core)", "False"),
    ("a person's own picture is replaced", "return None", "pass"),
    ("a distorted menu is left to a person", "or _distorts(tx)", ""),
    ("nobody is told why a picture is plain instead", "holds.append(hold)", "pass"),
    ("the dark stays when nobody is there", "or is_dark(core)", ""),
    ("a picture on panels is left to a person", "_unsafe(tx, preset) or", ""),
    ("a picture follows the readings in a pause", "core.shown.picture == DARK", "True"),
)
_ASKING: Final = (
    (
        "a prompt that nobody needs is kept",
        'close_prompt(tx, "withdrawn", "not_wanted")',
        "return",
    ),
    ("whoever is at the screen is left in the light", "if asked.at_screen:", "if False:"),
    ("a withdrawn prompt is still counted as open", 'tx.fire("panels", "withdraw")', "pass"),
    ("nobody is asked", "open_prompt(tx, want)", "pass"),
)
_ASK_HOLDS: Final = (
    ("a helper who refused is asked again", '("helper", core.panels == "refused"),', ""),
    (
        "panels are fitted in a pause before the travel after it",
        "going is not None or after_pause",
        "going is not None",
    ),
    ("somebody is asked in mid-title", '("mid_title", mid_title),', ""),
    ("somebody is asked while the lens travels", '("travelling", core.lens == "travelling"),', ""),
    (
        "panels are fitted before the travel",
        '("travel_first", travels and not removes(tx.room, core.arrangement, want)),',
        "",
    ),
    ("somebody is asked again and again", '("circle", core.asks >= ONCE_AND_BACK),', ""),
    (
        "somebody is asked without lingering",
        '("linger", not is_ripe(core) or core.timers.linger_people is not None),',
        "",
    ),
    ("a person's panels wait for the film's end", "mid_title = by_rules and", "mid_title ="),
)
_TO_SCREEN: Final = (
    ("a person is sent to the screen while the lens travels", 'core.lens == "travelling"', "False"),
    ("a person is sent to the screen before the dark", "core.shown == NOTHING_LIT and", ""),
    ("light before the dark is confirmed", "and core.picture is None", ""),
    ("a person is sent to the screen again and again", "sent=True", "sent=False"),
    ("a person is never sent to the screen", "or core.asked.sent", "or True"),
)
_CUES: Final = (
    (
        "a person's own cue is never ordered",
        "if current == value:",
        "if current == value or name in own:",
    ),
    (
        "rules order cues against a person's own",
        "dict(core.wanted.cues) | own",
        "dict(core.wanted.cues)",
    ),
    (
        "no withdrawal of an older cue",
        'withdraw(tx, under_way.pop(name).id, "newer_setting")',
        "under_way.pop(name)",
    ),
    ("a cue order has no end", "tx.set_timers(cue=", "dict(cue="),
    ("a cue is ordered again and again", "if current == value:", "if False:"),
)

ORDER_MUTANTS: Final[tuple[tuple[ModuleType, str, Pieces], ...]] = (
    (
        reconcile,
        "_possible_travel",
        (("nobody is told why the lens waits", "holds.append(hold)", "pass"),),
    ),
    (reconcile, "travel_hold", _TRAVELS),
    (reconcile, "_order_recall", _RECALLS),
    (reconcile, "_order_picture", _PICTURES),
    (reconcile, "_wanted_picture", _WANTED_PICTURES),
    (reconcile, "_ask_for_panels", _ASKING),
    (reconcile, "ask_hold", _ASK_HOLDS),
    (reconcile, "_send_to_screen", _TO_SCREEN),
    (reconcile, "_order_cues", _CUES),
    (
        reconcile,
        "_unsafe",
        (
            ("what failed is taken as safe", "or core.failed", ""),
            (
                "what nobody knows is taken as safe",
                "core.shown is None or",
                "core.shown is not None and",
            ),
        ),
    ),
    (
        reconcile,
        "standing_place",
        (
            (
                "a picture is widened before the travel ends",
                "larger_preset(room, core.origin, core.preset)",
                "core.preset",
            ),
            (
                "a lens of unknown place is taken as at its preset",
                "return core.preset if",
                "return core.preset or [*room.presets][-1] if",
            ),
            (
                "a picture does not shrink before the travel",
                "larger_preset(room, core.preset, going)",
                "core.preset",
            ),
        ),
    ),
    (
        reconcile,
        "everything_waits_for",
        (
            ("orders while a technician is at work", "if core.service:", "if False:"),
            ("orders without light", "core.projector not in LIT", "False"),
        ),
    ),
    (
        reconcile,
        "picture_hold",
        (
            ("a menu is distorted by hand", 'return "menu"', "return None"),
            ("a picture that cannot be shown is shown", 'else "nearest"', "else None"),
        ),
    ),
    (
        transition_table,
        "may_be_found",
        (("a lens is lost for whoever wants it", 'model.override == "person" or', ""),),
    ),
    (
        transition_table,
        "nothing_plays",
        (
            (
                "a lens of unknown place is recalled in a pause",
                "or model.pause_over",
                'or model.playback == "paused"',
            ),
            (
                "a lens of unknown place is recalled while something plays",
                "or model.pause_over",
                'or model.playback == "playing"',
            ),
            ("a lens of unknown place is never recalled", "or model.pause_over", "and False"),
        ),
    ),
    (
        choosing,
        "_ripen",
        (
            (
                "linger ignored",
                "core.ripe = lingers == 0",
                "core.ripe = True",
            ),
            ("a person's own wish has to linger", 'core.override == "person" or', ""),
            ("another wish is as ripe as the one before", "changed or", ""),
        ),
    ),
    (
        choosing,
        "choose_look",
        (
            (
                "a pause does not hold the look",
                "pausing(core) and core.row is not None",
                "False",
            ),
            ("rules choose against an override", 'core.override == "person"', "False"),
        ),
    ),
    (
        choosing,
        "_see_news",
        (
            ("everything is news", "if news != core.news:", "if True:"),
            ("nothing is news", "core.recalls, core.asks = news, 0, 0", "_, _ = news, 0, 0"),
        ),
    ),
    (
        choosing,
        "_stand_with",
        (
            (
                "what somebody has been asked for undoes itself",
                "core.asked if core.asks > 0 else None",
                "None",
            ),
        ),
    ),
)
