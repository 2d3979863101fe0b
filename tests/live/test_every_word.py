"""Every word that people may say, at the shipped broker with the shipped rights: each is answered.

Two people on two clients of others, npm's and mosquitto's, each with a response topic of their own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from tests.live.process import Roomcue
from tests.live.shipped_house import House, shipped_house
from tests.live.strangers import Ears, Listener, Phone

LOFT = """\
room: loft
time_zone: Europe/Oslo

screen: {width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}
projector: {raster: 4096 x 2160, lens: {travel: 2 min, reports: yes}}
presets:
  broad: {fits: 2.40}
  tall: {fits: 1.78}
panels:
  open: {words: Please take the two curtains down.}
  sides: {opening: 1.78, words: Please hang the two curtains.}
sources:
  player: {declares: yes}
told:
  guests: yes or no
cues:
  lamps: full or low
shapes:
  flat: "[1.70..1.96)"
pace: {linger: 0 s, prompts: {wait: 0 s, remind: 1 h, give_up: 3 h}}

rules:
  policy: first
  rows:
    - name: flat
      case: {playback: playing, aspect: flat, helper: not(refused)}
      show: {picture: plain, lift: 0 %, preset: tall, panels: sides}
      because: Curtains keep the sides black.
  otherwise:
    picture: plain
    lift: 0 %
    because: Everything else is shown where the lens stands.

labels:
  guests: Guests
  lamps: Lamps
  full: Full
  low: Low
"""
"""The hub says nothing of orders, only where the lens is; nothing runs out on a slow machine."""
IN, OUT = "roomcue/loft/in", "roomcue/loft/out"
FOR_NOBODY = re.compile(r"\d|_|(?<!\w)['\"]")
"""A ratio, a name as programs write it, a quoted name."""


class Evening(NamedTuple):
    """The house, two people, what the orders say, and a phone that only hears reasons."""

    house: House
    ana: Phone
    rui: Listener
    orders: Listener
    onlooker: Listener
    reasons: Listener

    def hub_says(self, kind: str, **what: object) -> None:
        assert not self.house.say("hub", f"{IN}/{kind}", json.dumps(what))

    def ana_says(self, kind: str, mark: str, **what: object) -> dict[str, Any]:
        """Say something at Ana's phone, and give the reply that comes with its mark."""
        self.ana.say(f"{IN}/{kind}", json.dumps({**what, "who": "Ana"}), mark)
        return reply(self.ana, mark)

    def rui_says(self, kind: str, mark: str, **what: object) -> dict[str, Any]:
        """The same at Rui's."""
        own = ("-D", "publish", "response-topic", "replies/rui")
        data = ("-D", "publish", "correlation-data", mark)
        body = json.dumps({**what, "who": "Rui"})
        assert not self.house.say("person", f"{IN}/{kind}", body, *own, *data)
        return reply(self.rui, mark)

    def arrives(self, preset: str, after: int = 0) -> int:
        """Let the lens arrive where an order later than one that is known sends it."""
        order: dict[str, Any] = self.orders.wait_for(
            lambda one: one.data.get("preset") == preset and one.data["id"] > after, preset
        ).data
        self.hub_says("lens", moving=False, preset=preset)
        self.stands(preset=preset, lens="resting")
        return int(order["id"])

    def stands(self, **wanted: object) -> dict[str, Any]:
        """Wait until a phone that comes along finds it so."""

        def so(data: dict[str, Any]) -> bool:
            return all(data[name] == value for name, value in wanted.items())

        said = self.onlooker.wait_for(
            lambda one: one.subtopic == "standing" and so(one.data), f"{wanted}"
        )
        data: dict[str, Any] = said.data
        return data


def reply(person: Ears, mark: str) -> dict[str, Any]:
    """Give the reply to a word: it says why and what comes next, in words for people."""
    data: dict[str, Any] = person.wait_for(lambda one: one.correlation == mark, mark).data
    words = [data["words"], data["help"] or "", *(one["words"] for one in data["next"])]
    assert data["words"]
    assert data["next"]
    assert not [one for one in words if FOR_NOBODY.search(one)], words
    return data


@contextmanager
def evening(folder: Path) -> Iterator[Evening]:
    """Start the shipped broker, the room, and everybody's client."""
    file = folder / "loft.yaml"
    file.write_text(LOFT)
    with shipped_house(folder) as house:
        port, authority = house.broker.port, house.authority
        with (
            house.listens("hub", f"{OUT}/order") as orders,
            house.listens("viewer", "#") as onlooker,
            house.listens("person", f"{OUT}/reason") as reasons,
            house.listens("person", "replies/rui") as rui,
            Phone(port, authority, "person", "replies/ana", f"{OUT}/ask") as ana,
            Roomcue([file], folder / "j", *house.roomcue(folder)),
        ):
            yield Evening(house, ana, rui, orders, onlooker, reasons)


def find_the_lens(one: Evening) -> int:
    """Nobody knows where it is, and a person has it found; gives the order's number."""
    one.hub_says("projector", state="lit")
    one.hub_says("panels", panels="open")
    one.hub_says("source", source="player")
    one.hub_says("playback", state="stopped")
    one.stands(playback="stopped", preset=None)
    found = one.ana_says("find_lens", "find", preset="broad")
    assert (found["taken"], found["words"]) == (True, "As you wish.")
    assert [it["code"] for it in found["next"]] == ["lens", "until_arrival"]
    return one.arrives("broad")


def asked(one: Evening) -> int:
    """A flat film begins: the lens goes, and people are asked."""
    one.hub_says("playback", state="playing")
    one.hub_says("title", begun=True, name="a film", declared=1.85)
    one.arrives("tall")
    heard = one.ana.wait_for(lambda it: it.data.get("kind") == "prompt", "the prompt")
    assert heard.data["words"] == "Please hang the two curtains."
    number: int = heard.data["id"]
    return number


def answer(one: Evening, number: int) -> None:
    """More time, a `no` of one, a late `done` of the other, and words that come too late."""
    more = one.rui_says("answer", "more", prompt=number, answer="more_time")
    assert (more["taken"], more["code"]) == (True, "more_time")
    no = one.rui_says("answer", "no", prompt=number, answer="no")
    assert (no["taken"], no["code"], no["who"]) == (True, "answered_no", "Rui")
    one.stands(prompt=None, panels="open", playback="playing")
    late = one.ana_says("answer", "late", prompt=number, answer="done")
    assert (late["taken"], late["who"]) == (True, "Ana")
    assert one.stands(panels="sides")["parts"]["panels"]["stands"] == "sides"
    over = one.rui_says("answer", "over", prompt=number, answer="not_tonight")
    assert (over["taken"], over["code"]) == (False, "not_asked")


def tell(one: Evening) -> None:
    """A told fact, whether somebody is free, a complaint, and what cannot be understood."""
    guests = one.ana_says("told/guests", "guests", value=True)
    assert guests["words"] == "Thank you, that is known now. Guests: Yes."
    assert one.stands(told={"guests": True})
    busy = one.rui_says("helper", "busy", free=False)
    assert (busy["taken"], busy["code"]) == (True, "nobody_free")
    assert one.rui_says("helper", "free", free=True)["taken"]
    one.ana.say(f"{IN}/mark", json.dumps({"words": "blurred"}), "wrong")
    assert reply(one.ana, "wrong")["code"] == "noted"
    assert one.ana_says("told/guests", "odd", value="many")["taken"] is False
    assert one.rui_says("answer", "odd", prompt="all")["code"] == "malformed"
    assert one.ana_says("forget", "forget", name="nothing")["code"] == "not_remembered"


def let_the_picture_come(one: Evening) -> None:
    """Mark things until no picture waits: large changes keep a third of a second apart."""
    for number in count():
        one.ana.say(f"{IN}/mark", "{}", f"calm {number}")
        coming = reply(one.ana, f"calm {number}")["next"]
        if "The picture changes." not in [it["words"] for it in coming]:
            return


def wish(one: Evening, found: int) -> None:
    """A light, another place of the lens, undo, "leave it", and "automatic again"."""
    let_the_picture_come(one)
    light = one.rui_says("override", "light", taken=True, until="title", look=_cues(lamps="low"))
    assert [it["words"] for it in light["next"]] == ["Lamps: Low."]
    one.orders.wait_for(lambda it: it.data.get("value") == "low", "the lamps' order")
    lens = one.ana_says("override", "lens", taken=True, until="title", look={"preset": "broad"})
    assert (lens["taken"], lens["who"]) == (True, "Ana")
    assert "until_title" in {it["code"] for it in lens["next"]}
    there = one.arrives("broad", after=found)
    told = one.stands(preset="broad", lens="resting", override="person")
    assert told["undo_words"]
    assert told["undo_who"] == "Ana"
    back = one.rui_says("undo", "undo")
    assert (back["taken"], back["code"]) == (True, "person_asked")
    one.arrives("tall", after=there)
    assert one.ana_says("override", "leave", taken=True, until="session")["taken"]
    one.stands(override="person", override_until="session")
    given = one.rui_says("override", "automatic", taken=False)
    assert given["taken"]
    assert "override_ends" in {it["code"] for it in given["next"]}


def _cues(**cues: str) -> dict[str, object]:
    return {"cues": cues}


def test_every_word_of_two_people_is_answered_at_the_shipped_rights(tmp_path: Path) -> None:
    with evening(tmp_path) as one:
        found = find_the_lens(one)
        number = asked(one)
        answer(one, number)
        tell(one)
        wish(one, found)
        reason = one.reasons.wait_for(lambda it: it.data["kind"] == "recall", "a reason")
        assert reason.data["reason"]
        with one.house.listens("person", f"{OUT}/reply") as common:
            assert not one.house.say("person", f"{IN}/undo")
            heard = common.wait_for(lambda it: it.data["to"] == "undo", "a reply for all")
            assert heard.data["words"]
