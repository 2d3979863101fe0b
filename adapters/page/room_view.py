"""What the page shows of a room at one moment, put together from `standing`, as plain values.

Nothing is shown that `standing` does not say. Whoever is at the screen gets their own view; all
others share one, which offers nothing that could light the picture on them.
"""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from adapters.page.offers import Button, Offers
from adapters.page.page_words import on_page
from adapters.page.picture_choices import A_WALK, WayToSee, reason, travel_cost, ways
from adapters.page.wall_seen import known_panels_of, sight_of
from adapters.render.family_wall import draw_family_wall
from engine.room import DARK

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from adapters.page.page_words import PageCode
    from engine.room import Room

AT_SCREEN_ORDER: Final = ("done", "no", "more_time")
"""What whoever is at the screen may say, in the page's order."""
OF_OTHERS: Final = ("more_time",)
"""What others may say meanwhile: nothing that brings the light back."""
ASKED_ORDER: Final = ("ready", "done", "no", "not_tonight", "more_time")


ANYWAY: Final[Mapping[str, str]] = {
    **dict.fromkeys(("first_minutes", "per_title", "per_night", "put_back", "unreached"), "preset"),
    **dict.fromkeys(("helper", "mid_title"), "panels"),
}
"""The holds that a person's own wish passes, each with the part of the look that it keeps back."""


class StandingHeard(NamedTuple):
    """How a room stands as the page has heard it."""

    room: Room
    said: dict[str, Any]
    """The payload of `standing`."""
    heard: int
    """When it came, by the clock of the page's server (ms UTC)."""
    gone: bool = False
    """Whether roomcue is not answering."""
    fault: str | None = None
    """Why it takes nothing, though it is there, in a sentence."""


class AtScreen(NamedTuple):
    """Somebody is at the screen."""

    heading: str
    words: str
    cautions: list[str]
    ends: int
    """When the light comes back if nothing is said, by the server's clock (ms UTC)."""
    left: str
    """The same as minutes and seconds that are left."""
    buttons: list[Button]
    foot: str
    urgent: bool


class Asked(NamedTuple):
    """The open question, before anybody has gone."""

    words: str
    cautions: list[str]
    buttons: list[Button]


class HappeningSeen(NamedTuple):
    """What is happening, in a line, and how it is seen."""

    line: str
    why: str
    drawing: str
    seen: str
    next: str


class WhyNot(NamedTuple):
    """What keeps something back."""

    words: list[str]
    button: Button | None
    """To have it all the same; None: it cannot be had."""


class ChoiceRow(NamedTuple):
    """One thing to choose a value of: lights, or a fact that the house tells."""

    label: str
    buttons: list[Button]
    number: str | None = None
    """The value of a number that is typed, as text; the one button tells it."""
    field: str = ""


class RoomView(NamedTuple):
    """All that the page shows of a room, from top to bottom."""

    at_screen: AtScreen | None
    asked: Asked | None
    now: HappeningSeen
    why_not: WhyNot | None
    hands: list[Button]
    undo: Button | None
    ways: list[WayToSee]
    lights: list[ChoiceRow]
    facts: list[ChoiceRow]
    wrong: Button
    folds: bool
    """Whether what is not needed now is folded away: somebody is asked, or at the screen, or
    nothing can be pressed anyway."""
    gone: str | None
    """Since when nothing was heard, as a sentence; None: roomcue answers."""
    offers: dict[str, Any]


def room_view(standing: StandingHeard, *, own: bool) -> RoomView:
    """Put together what somebody sees; `own`: they are the one who is at the screen."""
    room, said = standing.room, standing.said
    say = partial(on_page, room.catalogue)
    offers = Offers()
    prompt = said["prompt"]
    busy = prompt is not None and prompt["at_screen"]
    view = RoomView(
        at_screen=_at_screen(standing, offers, own=own) if busy else None,
        asked=_asked(standing, offers) if prompt is not None and not busy else None,
        now=_happening(standing),
        why_not=None if busy else _why_not(room, said, offers),
        hands=[] if busy else [*_hands(room, said, offers)],
        undo=None if busy else _undo(room, said, offers),
        ways=[] if busy else ways(room, said, offers),
        lights=[] if busy else [*_lights(room, said, offers)],
        facts=[*_facts(room, said, offers)],
        wrong=offers.button("mark", say("wrong"), "mark", {}),
        folds=prompt is not None or standing.gone,
        gone=_gone(standing) if standing.gone else None,
        offers=offers.by_value,
    )
    return view._replace(offers={}) if standing.gone else view


def _gone(standing: StandingHeard) -> str:
    """Say that nothing can be pressed, why, and of when what is shown is."""
    say, time = partial(on_page, standing.room.catalogue), clock_time(standing.room, standing.heard)
    if standing.fault is not None:
        return say("gone_faulty", words=standing.fault, time=time)
    return say("gone", time=time)


def clock_time(room: Room, moment: int) -> str:
    """Write a moment (ms UTC) as the room's time of day."""
    return datetime.fromtimestamp(moment / 1_000, ZoneInfo(room.time_zone)).strftime("%H:%M")


def _local(room: Room, moment: str) -> datetime:
    """Read a moment (RFC 3339) as the room's time."""
    return datetime.fromisoformat(moment).astimezone(ZoneInfo(room.time_zone))


# ---------------------------------------------------------------------------- people at the screen


def _at_screen(standing: StandingHeard, offers: Offers, *, own: bool) -> AtScreen:
    room, prompt = standing.room, standing.said["prompt"]
    say = partial(on_page, room.catalogue)
    who = prompt["who"]
    words = AT_SCREEN_ORDER if own or who is None else OF_OTHERS
    if own:
        goes_dark = prompt["stage"] == "on the way"
        heading, foot = say("wait_for_dark" if goes_dark else "at_screen_yours"), ""
    elif who is None:
        heading, foot = (
            say("at_screen_unnamed"),
            say("only_if_you"),
        )
    else:
        heading = say("at_screen_of", who=who)
        foot = say("no_light_from_here", who=who)
    left = max(0, round(prompt["ends_in"]))
    return AtScreen(
        heading=heading,
        words=prompt["words"] if own or who is None else "",
        cautions=[*prompt["cautions"].values()] if own or who is None else [],
        ends=round((standing.heard + prompt["ends_in"] * 1_000) / 1_000) * 1_000,
        left=f"{left // 60}:{left % 60:02}",
        buttons=[*_answers(standing, offers, words)],
        foot=foot,
        urgent=prompt["stage"] == "light comes back",
    )


def _answers(standing: StandingHeard, offers: Offers, words: tuple[str, ...]) -> Iterator[Button]:
    """Offer the answers that may be given, of those named."""
    room, prompt = standing.room, standing.said["prompt"]
    say = partial(on_page, room.catalogue)
    for word in words:
        if word in prompt["choices"]:
            label = prompt["choices"][word]
            if word == "no" and prompt["at_screen"]:
                label = say("cannot")
            fields = {"prompt": prompt["id"], "answer": word}
            yield offers.button(f"answer.{prompt['id']}.{word}", label, "answer", fields)


def _asked(standing: StandingHeard, offers: Offers) -> Asked:
    prompt = standing.said["prompt"]
    return Asked(
        words=prompt["words"],
        cautions=[*prompt["cautions"].values()],
        buttons=[*_answers(standing, offers, ASKED_ORDER)],
    )


# ------------------------------------------------------------------------------ what is happening


def _happening(standing: StandingHeard) -> HappeningSeen:
    room, said = standing.room, standing.said
    say = partial(on_page, room.catalogue)
    sight = sight_of(room, said)
    sentences = [say(sight.code)]
    panels = known_panels_of(room, said)
    if len(room.panels) > 1:
        on = panels is not None and room.panels[panels].opening is not None
        code: PageCode = "panels_on" if on else "panels_free"
        sentences.append(say("panels_unknown" if panels is None else code))
    if said["parts"]["picture"]["failed"]:
        sentences.append(room.catalogue.say("note", "picture_failed"))
    coming = next(iter(said["next"]), None)
    return HappeningSeen(
        line=_line(room, said),
        why="" if said["why"]["code"] in said["holds"] else said["why"]["words"],
        drawing=draw_family_wall(room, sight.wall),
        seen=" ".join(sentences),
        next="" if coming is None else _next(room, coming),
    )


def _line(room: Room, said: dict[str, Any]) -> str:
    """Say in one line what is on."""
    say = partial(on_page, room.catalogue)
    source, title = said["source"], said["title"]
    if said["parts"]["picture"]["stands"] == DARK and said["source"] is None:
        return say("seen_dark")
    what = (title or {}).get("name") or (room.spoken(source) if source else "")
    code: PageCode = {
        "playing": "is_playing",
        "paused": "is_paused",
        "stopped": "is_stopped",
    }.get(said["playback"], "is_unknown")  # type: ignore[assignment]
    return say(code, what=what) if source else say("is_unknown", what="")


def _next(room: Room, coming: dict[str, Any]) -> str:
    """Say what comes next, and at what time of day."""
    say = partial(on_page, room.catalogue)
    words = str(coming["words"])
    if coming["at"] is not None:
        moment = _local(room, coming["at"])
        return say("next", time=f"{moment:%H:%M}", words=words)
    return words


def _why_not(room: Room, said: dict[str, Any], offers: Offers) -> WhyNot | None:
    """Say what is kept back, what would help, and offer to do it anyway."""
    if not said["holds"]:
        return None
    hold = next((one for one in said["holds"] if one in ANYWAY), said["holds"][0])
    words = [room.catalogue.say("hold", hold), room.catalogue.say("help", hold)]
    part = ANYWAY.get(hold)
    name = None if part is None else (said["wanted"] or {}).get(part)
    if part is None or name in {None, said["parts"][part]["stands"]} or reason(said, part, name):
        return WhyNot(words, None)
    code, seconds = A_WALK if part == "panels" else travel_cost(room)
    button = offers.button(
        f"anyway.{part}:{name}",
        on_page(room.catalogue, "do_it_anyway"),
        "override",
        {"taken": True, "until": _until(said), "look": {part: name}, "source": said["source"]},
        detail=on_page(room.catalogue, code, seconds=seconds),
    )
    return WhyNot([words[0]], button)


def _until(said: dict[str, Any]) -> str:
    """Say for how long a person's choice holds: for the title that is on, or else tonight."""
    return "session" if said["title"] is None else "title"


# ------------------------------------------------------------------------------- people's own way


def _hands(room: Room, said: dict[str, Any], offers: Offers) -> Iterator[Button]:
    """Offer to leave it, to give back, and to look for a lens that is lost."""
    say = partial(on_page, room.catalogue)
    person = said["override"] == "person"
    for until, code in (("title", "leave_title"), ("session", "leave_tonight")):
        if said["source"] is None or (until == "title" and said["title"] is None):
            continue
        fields = {"taken": True, "until": until, "source": said["source"]}
        pressed = person and said["override_until"] == until
        yield offers.button(
            f"leave.{until}",
            say(code),  # type: ignore[arg-type]
            "override",
            fields,
            pressed=pressed,
        )
    if person:
        yield offers.button("automatic", say("automatic"), "override", {"taken": False})
    if said["lens"] == "unknown" and len(room.presets) > 1:
        yield offers.button("find_lens", say("find_lens"), "find_lens", {})
    if "helper" in said["holds"]:
        yield offers.button("helper.free", say("free_again"), "helper", {"free": True})


def _undo(room: Room, said: dict[str, Any], offers: Offers) -> Button | None:
    """Offer to put back what moved last; a second press means another thing, and is another."""
    say = partial(on_page, room.catalogue)
    look = said["undo"]
    if look is None:
        return None
    named = ".".join(f"{part}:{value}" for part, value in look.items() if value is not None)
    since = said["undo_since"]
    moment = "" if since is None else f"{_local(room, since):%H:%M}"
    who = said["undo_who"] or ""
    by = "named" if who else said["undo_by"]
    label = say("undo") if since is None else say("undo_since", time=moment, by=by, who=who)
    value = f"undo.{named}.{since}"
    return offers.button(value, label, "undo", {}, detail=said["undo_words"] or "")


# ------------------------------------------------------------------------------- lights and facts


def _lights(room: Room, said: dict[str, Any], offers: Offers) -> Iterator[ChoiceRow]:
    say = partial(on_page, room.catalogue)
    for cue, values in room.cues.items():
        known = said["parts"]["cues"].get(cue, {})
        stands = known.get("stands") or known.get("ordered")
        buttons = [
            offers.button(
                f"cue.{cue}:{value}",
                room.spoken(value, cue),
                "override",
                {"taken": True, "until": "session", "look": {"cues": {cue: value}}},
                pressed=value == stands,
            )
            for value in values
        ]
        if stands is not None:
            again = {"taken": False, "look": {"cues": {cue: stands}}}
            label = say("default_part")
            buttons.append(offers.button(f"cue.{cue}", label, "override", again))
        yield ChoiceRow(room.spoken(cue), buttons)


def _facts(room: Room, said: dict[str, Any], offers: Offers) -> Iterator[ChoiceRow]:
    """Offer the facts that the room file lets people tell."""
    say = partial(on_page, room.catalogue)
    for name, fact in room.told.items():
        value = said["told"].get(name)
        if not fact.values:
            field = f"number-{name}"
            label = say("number_set")
            button = offers.number(f"told.{name}", label, name, field)
            shown = "" if value is None else str(value)
            yield ChoiceRow(room.spoken(name), [button], shown, field)
            continue
        yield ChoiceRow(
            room.spoken(name),
            [
                offers.button(
                    f"told.{name}:{one}",
                    room.spoken_value(one, name),
                    f"told/{name}",
                    {"value": one},
                    pressed=value is one if isinstance(one, bool) else value == one,
                )
                for one in fact.values
            ],
        )
