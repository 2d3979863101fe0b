"""What may go wrong in a night: each thing with a code, its kind, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal, NamedTuple, get_args

TroubleKind = Literal[
    "broken",
    "refused",
    "lost",
    "expired",
    "unanswered",
    "contradicted",
    "forgotten",
    "marked",
    "due",
    "held",
]
KINDS: Final[tuple[TroubleKind, ...]] = get_args(TroubleKind)
"""The kinds of trouble, the worst first. `held` is no fault: a limit of the room file at work."""
TroubleCode = Literal[
    "as_ruled",
    "chosen_by_person",
    "clock_set",
    "cue_refused",
    "cue_unanswered",
    "fact_told",
    "heard_before",
    "held_back_by_hand",
    "held_by_circle",
    "held_by_pace",
    "held_for_people",
    "lens_due",
    "lens_elsewhere",
    "lens_moved_by_hand",
    "lens_not_known",
    "lens_silent",
    "many_travels",
    "name_not_known",
    "nobody_free",
    "old_news",
    "override_left",
    "panels_not_known",
    "panels_otherwise",
    "panels_unasked",
    "picture_refused",
    "picture_unanswered",
    "playback_not_told",
    "projector_dark",
    "promise_broken",
    "prompt_never_done",
    "prompt_unanswered",
    "readings_disagree",
    "readings_stopped",
    "recall_refused",
    "report_refused",
    "reporter_contradicts",
    "restarted",
    "rules_contradict",
    "sender_clock_behind",
    "service_left",
    "shape_not_told",
    "signal_lost",
    "source_not_told",
    "stood_still",
    "wish_refused",
]
"""What went wrong, for machines; a code is never renamed."""


class Remedy(NamedTuple):
    """The kind of a trouble, and what a technician should do about it."""

    kind: TroubleKind
    words: str
    """May name what the trouble is about as `{about}`."""


REMEDIES: Final[Mapping[TroubleCode, Remedy]] = {
    "promise_broken": Remedy(
        "broken",
        "Run 'roomcue check' on the room file: it shows an evening on which the promise is "
        "broken, and the rules that lead there.",
    ),
    "recall_refused": Remedy(
        "refused",
        "Recall {about} with the projector's own remote: if that works, correct what the hub "
        "sends; if not, store the preset anew.",
    ),
    "lens_silent": Remedy(
        "lost",
        "See whether the command reaches the projector and whether the hub passes on the lens's "
        "reports; for a lens that makes none, write 'reports: no' in the room file.",
    ),
    "lens_elsewhere": Remedy(
        "lost",
        "Recall {about} with the projector's own remote and look where the lens stops: store the "
        "preset anew, or correct the name under which the hub reports it.",
    ),
    "lens_not_known": Remedy(
        "lost",
        "Let the hub report where the lens stands when it starts. For tonight, 'find the lens' on "
        "the room's page brings it back.",
    ),
    "lens_moved_by_hand": Remedy(
        "contradicted",
        "Ask who moved the lens, or what touched it; if nothing did, the hub told old news. Recall "
        "{about}, look at the test card, and give the room back to its rules.",
    ),
    "lens_due": Remedy(
        "due",
        "Put up the test card at {about} and measure its corners with 'roomcue align'; store the "
        "preset anew if they have moved.",
    ),
    "many_travels": Remedy(
        "due",
        "See with 'roomcue replay NIGHT --only travels' what moves the lens so often, then choose "
        "a longer linger or fewer recalls in the room file.",
    ),
    "picture_refused": Remedy(
        "refused",
        "Order {about} by hand at the hub, and read there why it is refused: the hub must know "
        "every picture of the room file.",
    ),
    "picture_unanswered": Remedy(
        "unanswered",
        "See whether picture orders reach the hub, and whether it says what became of them; if it "
        "never can, write 'orders: {{answered: no}}' in the room file.",
    ),
    "cue_refused": Remedy(
        "refused", "Set {about} by hand at the hub, and read there why it is refused."
    ),
    "cue_unanswered": Remedy(
        "unanswered",
        "See whether orders for {about} reach the hub, and whether it says what became of them.",
    ),
    "prompt_unanswered": Remedy(
        "unanswered",
        "Ask whether anybody saw the request: see that it comes to a phone, and is heard or seen "
        "there. Where nobody is to be asked, take the panels out of the rule.",
    ),
    "prompt_never_done": Remedy(
        "expired",
        "See how the panels stand and tell the room. Whoever goes to the screen has to say "
        "'done' or 'no' once they are away from it.",
    ),
    "panels_not_known": Remedy(
        "lost",
        "See how the panels stand and tell the room; then see why their reporter does not know.",
    ),
    "panels_otherwise": Remedy(
        "contradicted",
        "See how the panels stand: if they are {about}, correct what reports them; if not, they "
        "were fitted wrongly, so fit them and say 'done' again.",
    ),
    "panels_unasked": Remedy(
        "contradicted",
        "See how the panels stand and ask who changed them; if nobody did, correct what reports "
        "them.",
    ),
    "restarted": Remedy(
        "lost",
        "Look in the system's log why roomcue stopped or lost its broker then: power, an update, "
        "the network.",
    ),
    "stood_still": Remedy(
        "lost",
        "Look in the system's log why the machine stood still then: a full disk, too much to do, "
        "or it slept.",
    ),
    "signal_lost": Remedy(
        "lost",
        "Look at the cable and at the player: try another cable, and a lower resolution.",
    ),
    "projector_dark": Remedy(
        "lost",
        "Find out why the projector gave no light: switched off by somebody or by the hub, too "
        "hot, or its lamp. If it was lit, correct the hub's report.",
    ),
    "readings_stopped": Remedy(
        "lost",
        "See why the detector fell silent: its power, its network, its place in the signal's path.",
    ),
    "readings_disagree": Remedy(
        "contradicted",
        "See in a bright scene which one is right, and switch the other one off or correct it.",
    ),
    "reporter_contradicts": Remedy(
        "contradicted",
        "See in a bright scene who is right. If {about} is wrong, correct it, or say with "
        "'first_word' at the source in the room file who is believed.",
    ),
    "shape_not_told": Remedy(
        "lost",
        "See whether the detector runs and gets this source's signal; for a source that always "
        "has one shape, write that as its 'shape' in the room file.",
    ),
    "source_not_told": Remedy(
        "lost", "Let the hub say which source is shown, when it starts and at every change."
    ),
    "playback_not_told": Remedy(
        "lost",
        "Let the hub say whether {about} plays, when it starts and at every change: without that "
        "word the room stays as it is for menus.",
    ),
    "sender_clock_behind": Remedy(
        "refused",
        "Set the clock of what sends these reports, by a time server; or let it leave out 'at'.",
    ),
    "old_news": Remedy(
        "refused",
        "Let the hub tell only how things are now, and no reports kept from before; 'at' says "
        "since when a thing is so.",
    ),
    "name_not_known": Remedy(
        "refused",
        "Write the same name in the hub and in the room file.",
    ),
    "report_refused": Remedy(
        "refused", "Correct what sends {about}: the reason says what would be right."
    ),
    "heard_before": Remedy(
        "refused",
        "Nothing, if it was sent again to be sure, or if the broker has retained it. What is told "
        "anew, as after a gap, needs a new id.",
    ),
    "wish_refused": Remedy(
        "refused",
        "Nothing is broken: somebody's word came too late, was another's to say, or asked for "
        "what cannot be had. See that their phone shows the reply.",
    ),
    "clock_set": Remedy(
        "contradicted",
        "Set the machine's clock by a time server, and look at the room file's time zone: rules "
        "and limits that go by the hour went by the wrong one.",
    ),
    "rules_contradict": Remedy(
        "contradicted",
        "Run 'roomcue check' on the room file: it names the case in which these rules meet.",
    ),
    "service_left": Remedy(
        "forgotten",
        "Say that service is over before you leave (event 'service', 'begun: false'): until then "
        "roomcue orders nothing.",
    ),
    "override_left": Remedy(
        "forgotten",
        "Show people 'automatic again' on the room's page, or let their remote take the room over "
        "until the title's end and not for the session.",
    ),
    "held_by_pace": Remedy(
        "held",
        "No fault. If it should have come all the same, give it more room under 'pace' in the room "
        "file, and try that with 'roomcue replay NIGHT --room FILE'.",
    ),
    "held_for_people": Remedy(
        "held", "No fault: people come first. If it should have come, ask them to say 'free' again."
    ),
    "held_back_by_hand": Remedy(
        "held", "No fault: somebody wanted it so. It ends with the session."
    ),
    "held_by_circle": Remedy(
        "held", "Run 'roomcue check' on the room file: it shows how its rules lead round."
    ),
    "chosen_by_person": Remedy(
        "marked",
        "Ask whether they had meant it so. If not, show them 'automatic again' and 'undo' on the "
        "room's page.",
    ),
    "fact_told": Remedy(
        "marked",
        "If '{about}' was no longer so, see who tells it and when it is taken back.",
    ),
    "nobody_free": Remedy(
        "marked", "If somebody was free after all, let them say so on the room's page."
    ),
    "as_ruled": Remedy(
        "marked",
        "Compare the room with what is listed here. If it stood so, change rule '{about}'; if not, "
        "correct what was reported, or look at the lens with the test card.",
    ),
}
"""For every code what kind of trouble it is, and what to do."""
