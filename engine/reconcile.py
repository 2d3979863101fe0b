"""Turn the wanted look into orders: only for what differs, and in the safe order.

First the picture shrinks into what is free and people are asked to take panels off, then the lens
travels, then the picture widens and people are asked to fit panels. One travel at a time.

Whatever must wait becomes a hold, a `HoldCode`. A hold ends by itself when
its cause does: the next step looks again.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

from engine.aspect import SCALE
from engine.choosing import AS_IT_STANDS, is_ripe
from engine.decisions import CueOrder, PictureOrder, RecallOrder, Region
from engine.facts import (
    aspect_of,
    first_minutes_run,
    in_title,
    may_be_menu,
    pausing,
    shape_of_title,
)
from engine.holds import NOTED, HoldCode
from engine.lens import may_be_on_its_way, was_put_back
from engine.optics import CACHE_SIZE, Rect, can_show, fit, larger_preset, on_panel, removes, window
from engine.prompts import close_prompt, open_prompt, send_prompt
from engine.room import DARK, PLAIN, WHOLE, Show
from engine.state import OpenCue, OrderedPicture
from engine.titles import withdraw
from engine.transition_table import may_be_found, nothing_plays

if TYPE_CHECKING:
    from engine.events import ProjectorState
    from engine.room import Room
    from engine.state import Core
    from engine.transaction import Grounds, Transaction

NOTHING_LIT: Final = OrderedPicture(DARK, SCALE, 0, Rect(0, 0, 0, 0))
ONCE_AND_BACK: Final = 2
"""How many recalls, and how many prompts, may follow until something outside changes."""
FLASH: Final = 334
"""How long a large change of the picture stands at least (ms): three a second are the most."""
LIT: Final[frozenset[ProjectorState | Literal["unknown"]]] = frozenset({"lit", "unknown"})


def reconcile(tx: Transaction) -> None:
    """Order and ask for what the wanted look needs and nothing forbids."""
    core = tx.core
    holds: list[HoldCode] = []
    waits_for = everything_waits_for(core)
    if waits_for is not None:
        holds.append(waits_for)
    else:
        if somebody_at_screen(core):
            holds.append("at_screen")
        going = _possible_travel(tx, holds)
        _ask_for_panels(tx, going, holds)
        _order_picture(tx, going, holds)
        if "at_screen" in holds:
            _send_to_screen(tx)
        if going is not None:
            _order_recall(tx, going, holds)
        _order_cues(tx)
    # One thing may keep back lens and panels alike.
    each = tuple(dict.fromkeys(holds))
    for code in each:
        if code in NOTED and code not in core.holds:
            tx.note(code, "engine: " + NOTED[code])
    core.holds = each


def everything_waits_for(core: Core) -> HoldCode | None:
    """Give what everything waits for before anything may be ordered."""
    if core.service:
        return "service"
    if core.projector not in LIT:
        return "projector"
    return "no_source" if core.source is None else None


def somebody_at_screen(core: Core) -> bool:
    """Tell whether somebody is at the screen or on the way: it stays dark, and nothing moves."""
    return core.asked is not None and core.asked.at_screen


def _possible_travel(tx: Transaction, holds: list[HoldCode]) -> str | None:
    """Give the preset to which the lens shall travel now; None, with a hold, where it must wait."""
    core = tx.core
    want = core.wanted.preset
    if want is None and core.lens == "unknown" and nothing_plays(core, tx.room):
        if len(tx.room.presets) > 1:
            holds.append("lens_nowhere")
        return None
    if want is None or want == core.preset:
        return None
    hold = travel_hold(tx, want)
    if hold is None:
        return want
    holds.append(hold)
    return None


def travel_hold(tx: Transaction, want: str) -> HoldCode | None:
    """Find the first thing that forbids a recall now."""
    core, arrangement, panels = tx.core, tx.core.arrangement, tx.core.wanted.panels
    awaited = may_be_on_its_way(core, tx.room)
    if core.lens == "travelling" or (awaited and core.lens == "resting"):
        return "travelling"  # and nothing else needs to be looked at
    by_rules = core.override == "rules"  # A person's wish knows no pace.
    in_film = in_title(tx.facts["playback"], title=core.title)
    mid_title = by_rules and in_film and not first_minutes_run(core)
    only_back = core.back_to not in (None, want)
    astray = core.lens == "unknown" and (
        awaited or core.timers.travel is not None or not may_be_found(core, tx.room)
    )
    tests: tuple[tuple[HoldCode, bool], ...] = (
        ("at_screen", somebody_at_screen(core)),
        ("paused", by_rules and pausing(core)),
        ("lens_unknown", astray),
        (
            "panels",
            panels is not None and panels != arrangement and removes(tx.room, arrangement, panels),
        ),
        ("put_back", by_rules and bool(core.put_back) and _put_back(tx)),
        ("first_minutes", mid_title),
        ("per_title", by_rules and core.title and (core.left_title <= 0 or only_back)),
        ("per_night", by_rules and core.left_night <= 0),
        ("unreached", core.unreached == want),
        ("asked", core.asked is not None and core.asked.panels == panels),
        ("circle", core.recalls >= ONCE_AND_BACK),
        ("linger", not is_ripe(core)),
    )
    return next((hold for hold, holds in tests if holds), None)


def _put_back(tx: Transaction) -> bool:
    """Tell whether somebody has put the lens back for this source and shape."""
    return was_put_back(tx.core, shape_of_title(tx.room, tx.core, tx.settling))


def _order_recall(tx: Transaction, going: str, holds: list[HoldCode]) -> None:
    """Send the lens off, once the picture is safe at both ends of the way."""
    core, room = tx.core, tx.room
    biggest = larger_preset(room, core.preset, going)
    if core.picture is not None or _unsafe(tx, biggest):
        holds.append("picture")
        return
    if not tx.fire("lens", "recall"):
        holds.append("lens_unknown")
        return
    lens = room.projector.lens
    ends = tx.now + (lens.travel * 3 // 2 if lens.reports else lens.travel)
    order = RecallOrder(
        **tx.head(tx.grounds(core.title_row), of_title=True),
        id=tx.next_number(),
        ends=ends,
        preset=going,
    )
    tx.decisions.append(order)
    if core.preset is not None:
        tx.may_be_undone(Show(preset=core.preset))
    core.origin, core.preset, core.recall = core.preset, going, order.id
    core.set_off, core.ripe, core.echo = False, False, going
    core.awaited = "ours"
    if core.title:
        core.left_title = max(0, core.left_title - 1)
        core.back_to = core.origin if core.override == "rules" else core.back_to
    core.left_night = max(0, core.left_night - 1)
    if core.override == "rules":
        core.recalls += 1
    tx.set_timers(travel=ends, echo=ends + lens.travel)


def _unsafe(tx: Transaction, preset: str | None) -> bool:
    """Tell whether the picture as it stands would fall on a panel at that preset."""
    core, room = tx.core, tx.room
    if core.shown is None or core.failed:
        return _panels_may_stand(tx)
    return on_panel(room, core.shown.region, preset, core.arrangement)


def _panels_may_stand(tx: Transaction) -> bool:
    """Tell whether something of the screen is covered, or may be."""
    screen = tx.room.screen
    return window(tx.room, tx.core.arrangement) != (screen.width, screen.height)


def _order_picture(tx: Transaction, going: str | None, holds: list[HoldCode]) -> None:
    """Order the picture where it does not stand as it should."""
    core = tx.core
    target = _wanted_picture(tx, going, holds)
    if target is None:
        return
    if _same_to_hardware(target, core.shown):
        core.shown = target  # only its name may have changed
        return
    just_changed = core.timers.flash is not None
    if just_changed and target.picture != DARK and not _unsafe(tx, standing_place(tx.room, core)):
        holds.append("flash")
        return
    if core.picture is not None:
        withdraw(tx, core.picture, "newer_picture")
        core.picture = None
    order = PictureOrder(
        **tx.head(_grounds_for_picture(tx, target)),
        id=tx.next_number(),
        ends=tx.now + tx.room.pace.order,
        picture=target.picture,
        aspect=target.aspect / SCALE,
        lift=target.lift / SCALE,
        region=_region(target.region),
    )
    tx.decisions.append(order)
    if core.shown is not None:
        core.tries = 0  # Another picture than the one that failed.
        _remember_picture(tx, core.shown, target)
    core.shown, core.failed = target, False
    if tx.room.answers:
        core.picture = order.id
    ends = order.ends if tx.room.answers else None
    tx.set_timers(picture=ends, retry=None, flash=tx.now + FLASH)


def _remember_picture(tx: Transaction, shown: OrderedPicture, target: OrderedPicture) -> None:
    """Remember the picture that may be put back; the dark is nobody's wish."""
    moved = (shown.picture, shown.lift) != (target.picture, target.lift)
    stand_in = target.picture != tx.core.wanted.picture  # What was wanted cannot be had.
    if moved and not (stand_in or tx.core.failed) and DARK not in {shown.picture, target.picture}:
        tx.may_be_undone(Show(shown.picture, shown.lift))


@lru_cache(CACHE_SIZE)
def _region(rect: Rect) -> Region:
    return Region(left=rect.left, top=rect.top, width=rect.width, height=rect.height)


def _grounds_for_picture(tx: Transaction, target: OrderedPicture) -> Grounds:
    """Say which row asks for a picture, or which principle of our own."""
    core = tx.core
    if target.picture == DARK:
        return tx.own_grounds("engine: safety", "at_screen")
    if core.override == "person":
        distorts = core.wanted.picture in tx.room.pictures
        if (target.picture == PLAIN or distorts) and _menu(tx):
            return tx.own_grounds("engine: menus", "menu")
        look = core.override_look or AS_IT_STANDS
        if _names_no_picture(look) and is_dark(core):
            return tx.own_grounds("engine: safety", "light_back")
        if look == AS_IT_STANDS:
            return tx.own_grounds("engine: inside the opening", "inside_panels")
    return tx.grounds(core.row)


def _same_to_hardware(one: OrderedPicture, other: OrderedPicture | None) -> bool:
    """Tell whether two pictures are one to the hardware: plain and whole differ only in name."""
    if other is None:
        return False
    if (one.aspect, one.lift, one.region) != (other.aspect, other.lift, other.region):
        return False
    return one.picture == other.picture or {one.picture, other.picture} == {PLAIN, WHOLE}


def _wanted_picture(
    tx: Transaction, going: str | None, holds: list[HoldCode]
) -> OrderedPicture | None:
    """Give the picture that should stand now; None where a person's own is to be left alone."""
    core, room = tx.core, tx.room
    if somebody_at_screen(core):
        return NOTHING_LIT
    preset = standing_place(room, core, going)
    look = core.override_look or AS_IT_STANDS
    picture, lift = core.wanted.picture, core.wanted.lift if look.lift is None else look.lift
    keeps = core.override == "person" and _names_no_picture(look)
    if keeps:
        # Whoever names nothing leaves it as it is; to other presets and panels it is fitted anew.
        stays = look == AS_IT_STANDS and not (_unsafe(tx, preset) or _distorts(tx) or is_dark(core))
        if stays and (core.failed or core.shown is not None):
            holds += ["left_alone"] if core.failed else []
            return None
        if (look == AS_IT_STANDS and not stays) or (picture in room.pictures and _menu(tx)):
            picture, lift = PLAIN, 0
        elif stays and picture == WHOLE and tx.facts["playback"] != "stopped":
            picture = PLAIN  # What stood is given again, but no menu's picture to a film.
    # The film's shape is not its menu's: whoever has chosen anything else gets it whole.
    in_full = keeps and look != AS_IT_STANDS and tx.facts["playback"] == "stopped"
    aspect = aspect_of(tx.source, core, tx.settling)
    shape = core.frame if aspect is None or in_full or picture == WHOLE else aspect
    if pausing(core) and core.override == "rules" and core.shown is not None:
        # Whatever is heard in a pause, the film's own shape stays.
        shape = shape if core.shown.picture == DARK else core.shown.aspect
    hold = picture_hold(tx, picture, shape, preset)
    if hold is not None:
        holds.append(hold)
        picture = PLAIN
    if hold == "menu" and (aspect is None or tx.facts["playback"] == "stopped"):
        # The film's shape is not the menu's: nothing is cut. What is not told to have stopped may
        # be the film itself, which is no smaller for what somebody asks of it.
        picture, shape = WHOLE, core.frame
    return OrderedPicture(
        picture, shape, lift, fit(room, picture, lift, shape, preset, core.arrangement)
    )


def picture_hold(tx: Transaction, picture: str, shape: int, preset: str | None) -> HoldCode | None:
    """Say why a picture cannot be shown at a shape and a preset; None: it can."""
    core, room = tx.core, tx.room
    if core.override == "person" and _menu(tx) and picture in room.pictures:
        return "menu"  # It is not distorted even by hand; the hand counts when it plays.
    return None if can_show(room, picture, shape, preset, core.arrangement) else "nearest"


def _names_no_picture(look: Show) -> bool:
    """Tell whether a person's look leaves the picture as it stands."""
    return look.picture is None and look.lift is None


def is_dark(core: Core) -> bool:
    """Tell whether the picture was last ordered to be dark, for somebody at the screen."""
    return core.shown is not None and core.shown.picture == DARK


def _distorts(tx: Transaction) -> bool:
    """Tell whether a menu is, or may be, distorted by the picture that was ordered last."""
    shown = tx.core.shown
    return shown is not None and shown.picture in tx.room.pictures and _menu(tx)


def _menu(tx: Transaction) -> bool:
    """Tell whether what is shown may be a menu."""
    return may_be_menu(tx.source, tx.facts["playback"])


def standing_place(room: Room, core: Core, going: str | None = None) -> str | None:
    """Give the preset at which a picture must be safe now: the largest raster of the way ahead.

    That is the way of a travel under way, or the one to where the lens is going next. None: nobody
    knows where it stands.
    """
    if core.lens == "travelling":
        return larger_preset(room, core.origin, core.preset)
    return core.preset if going is None else larger_preset(room, core.preset, going)


def _ask_for_panels(tx: Transaction, going: str | None, holds: list[HoldCode]) -> None:
    """Ask for panels to be fitted or taken off, or withdraw a prompt that nobody needs now."""
    core = tx.core
    want = core.wanted.panels
    asked = core.asked
    if asked is not None:
        if asked.panels == want and want != core.arrangement:
            return
        if asked.at_screen:
            return  # Nobody is left standing in the light.
        close_prompt(tx, "withdrawn", "not_wanted")
        tx.fire("panels", "withdraw")
    if want is None or want == core.arrangement:
        return
    hold = ask_hold(tx, going, want)
    if hold is not None:
        holds.append(hold)
        return
    tx.fire("panels", "ask")
    if core.override == "rules":
        core.asks += 1
    open_prompt(tx, want)


def _send_to_screen(tx: Transaction) -> None:
    """Send whoever is ready to the screen, once the picture is dark or will not be."""
    core = tx.core
    if core.asked is None or core.asked.sent:
        return
    if core.lens == "travelling":
        return  # Nothing moves under its own power while somebody is there.
    if core.shown == NOTHING_LIT and core.picture is None:
        core.asked = core.asked._replace(sent=True)
        send_prompt(tx, "at the screen")


def ask_hold(tx: Transaction, going: str | None, want: str) -> HoldCode | None:
    """Find the first thing that forbids asking now."""
    core = tx.core
    by_rules = core.override == "rules"
    # A pause is a good moment to ask: nobody misses anything, and the picture may go dark.
    after_pause = by_rules and pausing(core) and core.wanted.preset not in (None, core.preset)
    travels = going is not None or after_pause
    in_film = in_title(tx.facts["playback"], title=core.title)
    mid_title = by_rules and in_film and not (first_minutes_run(core) or pausing(core))
    tests: tuple[tuple[HoldCode, bool], ...] = (
        ("helper", core.panels == "refused"),
        ("mid_title", mid_title),
        ("travelling", core.lens == "travelling"),
        ("travel_first", travels and not removes(tx.room, core.arrangement, want)),
        ("circle", core.asks >= ONCE_AND_BACK),
        ("linger", not is_ripe(core) or core.timers.linger_people is not None),
    )
    return next((hold for hold, holds in tests if holds), None)


def _order_cues(tx: Transaction) -> None:
    """Order the cues that differ."""
    core = tx.core
    if core.cues == core.wanted.cues and not core.open_cues and not core.cue_overrides:
        return
    under_way = {cue.cue: cue for cue in core.open_cues}
    stand = dict(core.cues)
    own = {one.cue: one.value for one in core.cue_overrides}
    for name, value in sorted((dict(core.wanted.cues) | own).items()):
        current = under_way[name].value if name in under_way else stand.get(name)
        if current == value:
            continue
        if name in under_way:
            withdraw(tx, under_way.pop(name).id, "newer_setting")
        row = tx.row_now if (name, value) in tx.cues_now else core.row
        order = CueOrder(
            **tx.head(tx.grounds(row, name if name in own else None)),
            id=tx.next_number(),
            ends=tx.now + tx.room.pace.order,
            cue=name,
            value=value,
        )
        tx.decisions.append(order)
        if tx.room.answers:
            under_way[name] = OpenCue(order.id, name, value, order.ends)
        else:
            stand[name] = value
    core.cues = tuple(sorted(stand.items()))
    core.open_cues = tuple(under_way[name] for name in sorted(under_way))
    tx.set_timers(cue=min((cue.ends for cue in core.open_cues), default=None))
