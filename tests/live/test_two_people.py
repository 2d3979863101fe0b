"""Two people on two foreign clients, in a room of one's own, at the shipped broker and rights."""

from __future__ import annotations

import json
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from tests.live.process import Roomcue
from tests.live.shipped_house import House, shipped_house
from tests.live.strangers import Ears, Listener, Message, Phone

GARRET = """\
room: garret
time_zone: Europe/Oslo

screen: {width: 2.6 m, aspect: 2.35}
projector: {raster: 4096 x 2160}
presets:
  fixed: {fits: 2.35}
panels:
  open: {words: Please take the two curtains down.}
  hung: {opening: 1.85, words: Please hang the two curtains.}
orders: {answered: yes}
sources:
  player: {declares: yes}
shapes:
  flat: "[1.70..1.96)"
pace: {order: 10 min, prompts: {wait: 1 s, remind: 1 h, give_up: 3 h}}

rules:
  policy: first
  rows:
    - name: changing
      case: {playback: playing, varies: yes}
      show: {picture: whole, lift: 0 %}
      because: A film that changes its shape sends nobody to the screen again.
    - name: flat with curtains
      case: {playback: playing, aspect: flat, helper: not(refused)}
      show: {picture: plain, lift: 0 %, panels: hung}
      because: Curtains keep the sides black.
  otherwise:
    picture: plain
    lift: 0 %
    panels: open
    because: Everything else is shown as it is.
"""
"""Times are long, so that nothing runs out however slow the machine is."""
SECOND = timedelta(seconds=1)
IN, OUT = "roomcue/garret/in", "roomcue/garret/out"


class Evening(NamedTuple):
    """The room, its hub, two people and an onlooker."""

    house: House
    room: Roomcue
    orders: Listener
    first: Phone
    second: Listener
    onlooker: Listener

    def hub_says(self, kind: str, **what: object) -> None:
        assert not self.house.say("hub", f"{IN}/{kind}", json.dumps(what))

    def carried_out(self, picture: str, after: int = 0) -> dict[str, Any]:
        """Wait for an order of a picture, later than one that is known, and say that it is done."""
        order: dict[str, Any] = self.orders.wait_for(
            lambda one: one.data.get("picture") == picture and one.data["id"] > after, picture
        ).data
        self.hub_says("outcome", order=order["id"], outcome="done")
        return order

    def first_says(self, word: str, number: int) -> None:
        body = {"prompt": number, "answer": word, "who": "Ana"}
        self.first.say(f"{IN}/answer", json.dumps(body), f"ana {word}")

    def second_says(self, kind: str, marked: str, **what: object) -> None:
        self._second_sends(kind, marked, {**what, "who": "Rui"})

    def second_asks(self, marked: str) -> dict[str, Any]:
        """Let the second ask how everything stands, and give the response."""
        self._second_sends("state", marked, {})
        return reply(self.second, marked)

    def _second_sends(self, kind: str, marked: str, body: dict[str, object]) -> None:
        own = ("-D", "publish", "response-topic", "replies/second")
        data = ("-D", "publish", "correlation-data", marked)
        assert not self.house.say("person", f"{IN}/{kind}", json.dumps(body), *own, *data)

    def stands(self, true: Callable[[dict[str, Any]], object], words: str) -> dict[str, Any]:
        """Wait until it stands so, and give what a phone that comes only then is told at once.

        Only for what has not stood before: the onlooker goes by all that was ever said.
        """
        self.onlooker.wait_for(lambda one: _standing(one) and true(one.data), words)
        with self.house.listens("person", f"{OUT}/standing") as late:
            found = late.wait_for(bool, words)
        assert found.retained
        assert true(found.data)
        data: dict[str, Any] = found.data
        return data

    def rests(self, order: dict[str, Any]) -> None:
        """Let the first mark things until a picture has stood for a second by the room's clock.

        Then no other picture waits for a moment, as large changes that follow each other do.
        """
        began, marks = datetime.fromisoformat(order["at"]), 0
        while True:
            marks += 1
            marked = f"mark {order['id']}.{marks}"
            self.first.say(f"{IN}/mark", "{}", marked)
            if datetime.fromisoformat(reply(self.first, marked)["at"]) - began > SECOND:
                return

    def pictures(self) -> list[str]:
        """Give the pictures that were ordered, in their order."""
        return [one.data["picture"] for one in self.orders.messages if "picture" in one.data]


def _standing(message: Message) -> bool:
    return message.subtopic == "standing"


def reply(person: Ears, correlation: str) -> dict[str, Any]:
    """Give the reply that came to a person with the correlation data of their word."""
    data: dict[str, Any] = person.wait_for(
        lambda one: one.correlation == correlation, f"the reply to '{correlation}'"
    ).data
    return data


def replies(person: Ears) -> list[str | None]:
    """Give the correlation data of all replies to a person but those to marks."""
    heard = [one for one in person.messages if one.topic.startswith("replies/")]
    return [one.correlation for one in heard if one.data.get("to") not in {None, "mark"}]


@contextmanager
def evening(folder: Path) -> Iterator[Evening]:
    """Start the shipped broker, the room, and everybody's client."""
    file = folder / "garret.yaml"
    file.write_text(GARRET)
    with shipped_house(folder) as house:
        port, authority = house.broker.port, house.authority
        asks = f"{OUT}/ask"
        with (
            house.listens("hub", f"{OUT}/order") as orders,
            house.listens("viewer", "#") as onlooker,
            Phone(port, authority, "person", "replies/first", asks) as first,
            house.listens("person", "replies/second") as second,
            Roomcue([file], folder / "j", *house.roomcue(folder)) as room,
        ):
            yield Evening(house, room, orders, first, second, onlooker)


def asked(one: Evening) -> int:
    """Let a film begin for which the room asks for panels; gives the prompt's number."""
    one.hub_says("projector", state="lit")
    one.hub_says("panels", panels="open")
    one.hub_says("source", source="player")
    before = one.carried_out("plain")
    one.hub_says("playback", state="playing")
    one.hub_says("title", begun=True, name="a film", declared=1.85)
    heard = one.first.wait_for(lambda it: it.data.get("kind") == "prompt", "the prompt")
    assert heard.data["words"] == "Please hang the two curtains."
    number: int = heard.data["id"]
    fitted = one.carried_out("plain", after=before["id"])
    assert (before["aspect"], fitted["aspect"]) == (1.7778, 1.85)
    prompt = one.stands(lambda it: it["prompt"], "it is asked")["prompt"]
    assert (prompt["id"], prompt["stage"], prompt["who"]) == (number, "asked", None)
    assert prompt["words"] == heard.data["words"]
    assert prompt["cautions"] == heard.data["cautions"]
    assert prompt["ends"] == heard.data["ends"]
    assert [*prompt["choices"]] == ["ready", "done", "no", "not_tonight", "more_time"]
    return number


def both_speak(one: Evening, number: int) -> None:
    """Let the first say `ready` and the second `no`, while roomcue is held: it hears both at once.

    An onlooker says `done` under the first one's name meanwhile, to which it has no right.
    """
    assert one.room.process is not None
    one.room.process.send_signal(signal.SIGSTOP)
    one.first_says("ready", number)
    one.second_says("answer", "rui no", prompt=number, answer="no")
    stolen = json.dumps({"prompt": number, "answer": "done", "who": "Ana"})
    assert "Not authorized" in one.house.say("viewer", f"{IN}/answer", stolen)
    one.room.process.send_signal(signal.SIGCONT)
    ready = reply(one.first, "ana ready")
    assert (ready["taken"], ready["who"]) == (True, "Ana")
    assert [it["code"] for it in ready["next"]] == ["goes_dark"]
    no = reply(one.second, "rui no")
    assert (no["taken"], no["who"], no["code"]) == (False, "Rui", "at_screen")
    assert no["words"] == (
        "Somebody is at the screen: it stays dark until they say that they are done, "
        "or somebody says that everybody is away."
    )


def dark(one: Evening, number: int) -> int:
    """Let the hub make it dark: so it stays, and the prompt is the first one's; gives the order."""
    order = one.carried_out("dark")
    told = one.stands(lambda it: (it["prompt"] or {}).get("stage") == "at the screen", "dark")
    prompt = told["prompt"]
    assert (prompt["id"], prompt["who"], prompt["at_screen"]) == (number, "Ana", True)
    assert "dark now" in prompt["words"]
    assert "beam" in prompt["cautions"]
    assert [*prompt["choices"]] == ["done", "all_away", "more_time", "no", "not_tonight"]
    assert told["parts"]["picture"]["stands"] == "dark"
    assert {it["hold"] for it in told["looks"]["picture"]} == {"at_screen"}
    assert {it["why"] for it in told["looks"]["picture"]} == {
        "Somebody is at the screen: everything waits for them."
    }
    one.second_says("answer", "rui no again", prompt=number, answer="no")
    assert reply(one.second, "rui no again")["taken"] is False
    one.rests(order)
    assert one.pictures() == ["plain", "plain", "dark"]
    return int(order["id"])


def done(one: Evening, number: int, darkened: int) -> None:
    """Let the first say `done`: their word is taken, and the light comes back."""
    one.first_says("done", number)
    order = one.carried_out("plain", after=darkened)
    said = reply(one.first, "ana done")
    assert (said["taken"], said["code"]) == (True, "answered_done")
    back = next(it for it in said["next"] if it["code"] == "light_back")
    assert back["number"] == order["id"]
    told = one.stands(
        lambda it: (it["panels"], it["parts"]["picture"]["stands"]) == ("hung", "plain"), "light"
    )
    assert (told["prompt"], told["override"]) == (None, "rules")
    one.rests(order)


def wished(one: Evening) -> None:
    """Let the second wish another picture for this title: they have it, until the next one."""
    look = {"picture": "whole"}
    one.second_says("override", "rui whole", taken=True, until="title", look=look)
    order = one.carried_out("whole")
    said = reply(one.second, "rui whole")
    assert (said["taken"], said["who"], said["code"]) == (True, "Rui", "person_asked")
    following = {it["code"]: it["number"] for it in said["next"]}
    assert following == {"picture": order["id"], "until_title": None}
    told = one.stands(lambda it: it["parts"]["picture"]["stands"] == "whole", "the wish")
    assert (told["override"], told["override_until"]) == ("person", "title")
    assert told["override_look"]["picture"] == "whole"
    assert {it["name"]: it["hold"] for it in told["looks"]["picture"]} == {
        "plain": None,
        "whole": None,
    }
    assert told["undo_words"] == "The picture goes back to how it was."
    assert datetime.fromisoformat(told["undo_since"]) == datetime.fromisoformat(order["at"])
    assert told["remembered"] is None
    one.hub_says("title", begun=True, name="another film", declared=1.85)
    one.carried_out("plain", after=order["id"])
    told = one.stands(
        lambda it: (it["title"] or {}).get("name") == "another film" and it["override"] == "rules",
        "given back",
    )
    assert told["override_until"] is None


def remembered(one: Evening) -> None:
    """Let the second ask what is remembered, and have it forgotten: their choice of before."""
    known = one.second_asks("rui asks")["remembered"]
    assert [(it["name"], it["last_choice"]["look"]["picture"]) for it in known] == [
        ("a film", "whole")
    ]
    one.second_says("forget", "rui forgets", name=known[0]["name"])
    assert reply(one.second, "rui forgets")["code"] == "forgotten"
    assert one.second_asks("rui asks again")["remembered"] == []


def test_two_people_on_two_foreign_clients_have_one_evening(tmp_path: Path) -> None:
    """npm's client for the first and mosquitto's for the second: each hears what came of it.

    Nobody but the first lights the screen that they stand at, and an onlooker only reads.
    """
    with evening(tmp_path) as one:
        number = asked(one)
        both_speak(one, number)
        done(one, number, dark(one, number))
        wished(one)
        remembered(one)
        assert one.pictures() == ["plain", "plain", "dark", "plain", "whole", "plain"]
        assert replies(one.first) == ["ana ready", "ana done"]
        assert replies(one.second) == [
            *("rui no", "rui no again", "rui whole", "rui forgets"),
        ]
        over = [it.data["how"] for it in one.first.of("ask") if it.data["kind"] == "prompt over"]
        assert over == ["done"]
        assert {it.subtopic for it in one.onlooker.messages} == {"standing", "alive"}
