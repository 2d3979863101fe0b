"""The room's page on phones in the room: a real broker, a room that lives, Debian's browser.

One house for all stories; each begins a film of its own and opens phones of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import count, pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.live.broker import until
from tests.live.page_house import DESK, PHONE, SMALL, PageHouse, page_house, quick_room
from tests.live.strangers import FOREIGN

NUMBERS = count(1)
AXE = FOREIGN / "node_modules/axe-core/axe.min.js"
PLACE = """(box => [scrollY + box.top, scrollY + box.bottom, box.left])(
    document.activeElement.getBoundingClientRect())"""
CHANGES = """window.changes = 0; new MutationObserver(() => { changes += 1 }).observe(
    document.querySelector("main"), {childList: true, subtree: true})"""
TOP_FOCUSED = "h1 = document.querySelector('h1'); h1.tabIndex = -1; h1.focus()"
OWN = "[data-part=own]"
"""A part of the page that no stream changes."""
OWN_MADE = """window.part = document.querySelector('main').appendChild(
    document.createElement('section')); part.dataset.part = 'own'"""
SERIOUS = ("serious", "critical")
ONE_SCREEN = """(page => page.scrollHeight <= innerHeight && page.scrollWidth <= innerWidth)(
    document.documentElement)"""
TOO_SMALL = """[...document.querySelectorAll("button, summary")].filter(one => {
    const {width, height} = one.getBoundingClientRect();
    return one.checkVisibility() && Math.min(width, height) < 44
}).map(one => one.textContent)"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageHouse]:
    """Start the house."""
    with page_house(tmp_path_factory.mktemp("house")) as found:
        yield found


def film(house: PageHouse, ratio: float = 2.39) -> str:
    """Begin another film, and give its name."""
    name = f"film {next(NUMBERS)}"
    house.hub.say("override", taken=False)
    house.hub.say("playback", state="stopped")
    house.hub.say("panels", panels="open")
    house.hub.film(name, ratio)
    return name


def asked(house: PageHouse, *phones: Page) -> None:
    """Begin a film for which somebody is asked to fit panels, and wait until phones say so."""
    house.hub.say("helper", free=True)
    film(house, 1.78)
    for phone in phones:
        expect(phone.get_by_role("button", name="Ready", exact=True)).to_be_visible()


def button(phone: Page, name: str) -> Any:  # noqa: ANN401 - playwright's own
    return phone.get_by_role("button", name=name, exact=True)


def drawn(phone: Page) -> str:
    """Give the shape of the picture that is drawn."""
    return phone.locator('[data-part="now"] polygon').first.get_attribute("points") or ""


def test_a_film_changes_the_drawing_on_every_phone(house: PageHouse) -> None:
    ana, rui = house.phone(), house.phone()
    for phone in (ana, rui):
        expect(phone.locator("h2.line")).to_have_count(1)
    first = film(house, 2.39)
    for phone in (ana, rui):
        expect(phone.locator("h2.line")).to_have_text(f"{first} is playing.")
        expect(phone.locator("figcaption")).to_contain_text("fills its place")
    before = drawn(ana)
    film(house, 2.00)
    expect(ana.locator("figcaption")).not_to_contain_text("fills its place")
    until(lambda: drawn(ana) != before, "the picture is drawn otherwise")


def test_whoever_is_at_the_screen_is_not_lit_by_another_phone(house: PageHouse) -> None:
    """What one answers is seen on the other, which can bring nothing back but more time."""
    ana, rui = house.phone("Ana"), house.phone("Rui")
    asked(house, ana, rui)
    button(ana, "Ready").click()
    expect(rui.get_by_role("heading", name="Ana is at the screen.")).to_be_visible()
    expect(ana.get_by_role("heading", name="You are at the screen.")).to_be_visible()
    expect(ana.locator('[data-part="screen"]')).to_contain_text("dark now")
    offered = [one.inner_text() for one in rui.locator('[data-part="screen"] button').all()]
    assert offered == ["More time"]
    for part in ("asked", "hands", "ways", "lights"):
        expect(rui.locator(f'[data-part="{part}"]')).to_be_hidden()
    left = rui.locator("[data-ends]").inner_text()
    until(lambda: rui.locator("[data-ends]").inner_text() != left, "the clock goes on")
    button(ana, "Done").click()
    for phone in (ana, rui):
        expect(phone.locator('[data-part="screen"]')).to_be_hidden()
        expect(phone.locator("figcaption")).to_contain_text("Panels are fitted.")
    expect(ana.locator("#said")).to_contain_text("Thank you. The room goes on from here.")


def test_without_scripts_it_reads_and_answers(house: PageHouse) -> None:
    name = film(house, 2.39)
    phone = house.phone("Eva", script=False)
    expect(phone.locator("h2.line")).to_have_text(f"{name} is playing.")
    button(phone, "That was wrong").click()
    expect(phone.locator("#said")).to_contain_text("Thank you, that is written down")
    button(phone, "Leave it tonight").click()
    expect(button(phone, "Automatic again")).to_be_visible()
    button(phone, "Automatic again").click()
    expect(button(phone, "Automatic again")).to_have_count(0)


def test_on_a_small_phone_it_is_one_screen_and_what_is_unfolded_stays_so(house: PageHouse) -> None:
    """Told facts, then lights are folded there; what somebody opens stays open."""
    film(house, 2.39)
    phone = house.phone(size=SMALL)
    expect(phone.locator("h2.line")).to_contain_text("is playing")
    assert phone.evaluate("document.documentElement.scrollHeight") <= 640
    facts = phone.locator('[data-fold="facts"]')
    expect(facts).not_to_have_attribute("open", "")
    facts.locator("summary").click()
    name = film(house, 2.00)
    expect(phone.locator("h2.line")).to_have_text(f"{name} is playing.")
    expect(facts).to_have_attribute("open", "")
    wide = house.phone(size=PHONE)
    expect(wide.locator('[data-fold="facts"]')).to_have_attribute("open", "")


def test_by_keyboard_the_finger_stays_where_it_was(house: PageHouse) -> None:
    """A press changes the part that it is in, and the next press needs no way back."""
    film(house, 2.39)
    phone = house.phone("Ana")
    lamps = phone.get_by_role("group", name="Lamps").get_by_role("button", name="Full")
    lamps.focus()
    phone.keyboard.press("Enter")
    expect(lamps).to_have_attribute("aria-pressed", "true")
    expect(lamps).to_be_focused()
    phone.keyboard.press("Tab")
    expect(phone.get_by_role("group", name="Lamps").locator("button:focus")).to_have_count(1)


def test_a_finger_on_what_goes_finds_its_place_again(house: PageHouse) -> None:
    """What can't have the focus for now gets it back; what has gone leaves it where it stood."""
    phone = house.phone()
    phone.evaluate(OWN_MADE)
    phone.evaluate("document.querySelector('main').prepend(part)")
    row = "<button name=do value=first>1</button><button name=do value=second {}>2</button>"
    fold = "<details data-fold=own {}><summary>What</summary>" + row.format("") + "</details>"
    second = phone.locator(f"{OWN} [value=second]")

    def swap(html: str) -> None:
        phone.evaluate("html => swap(part, html)", html)

    swap(row.format(""))
    second.focus()
    for away, back in (
        (row.format("disabled"), row.format("")),
        (fold.format(""), fold.format("open")),
    ):
        swap(away)
        expect(phone.locator(OWN)).to_be_focused()
        swap(back)
        expect(second).to_be_focused()
    swap(fold.format(""))
    phone.keyboard.press("Tab")
    expect(phone.locator(f"{OWN} summary")).to_be_focused()
    swap("<button name=do value=third>3</button>")
    expect(phone.locator(OWN)).to_have_text("3")
    phone.keyboard.press("Tab")
    expect(phone.locator(f"{OWN} [value=third]")).to_be_focused()
    swap("")
    expect(phone.locator(OWN)).to_be_hidden()
    expect(phone.locator('[data-part="now"]')).to_be_focused()
    phone.keyboard.press("Shift+Tab")
    expect(phone.locator("header summary")).to_be_focused()
    expect(phone.locator('[data-part="now"]')).not_to_have_attribute("tabindex", "-1")


def tabbed_through(phone: Page) -> list[tuple[float, float, float]]:
    """Give the place of each thing that Tab reaches; anew where a message changes the page."""
    phone.evaluate(CHANGES)
    reached = phone.locator("button:enabled:visible, summary:visible")
    while True:
        changes = phone.evaluate(f"{TOP_FOCUSED}; changes")
        places: list[tuple[float, float, float]] = []
        for _ in range(reached.count()):
            phone.keyboard.press("Tab")
            places.append(tuple(phone.evaluate(PLACE)))
        if phone.evaluate("changes") == changes:
            return places


def test_the_order_of_tabs_is_the_order_on_the_screen(house: PageHouse) -> None:
    phone = house.phone("Ana")
    asked(house, phone)
    places = tabbed_through(phone)
    assert len(set(places)) == len(places) > 10
    for (top, _, _), (_, bottom, _) in pairwise(places):
        assert bottom > top, places
    button(phone, "Not tonight").click()


@pytest.mark.parametrize("language", ["en", "pt"])
def test_an_open_question_and_all_else_fit_on_one_screen_of_a_phone(
    house: PageHouse, language: str, tmp_path: Path
) -> None:
    """In every state, on a phone and on a small one, in either language."""
    text = f"language: {language}\n{quick_room()}"
    with page_house(tmp_path, text=text, beside=house) as ours:
        phones = ours.phone("Ana"), ours.phone("Ana", size=SMALL)
        leave, gone = "[value='leave.session']", "[data-part=gone]"
        name = film(ours, 2.39)
        _are_one_screen(phones, f"h2.line:has-text('{name}')")
        ours.hub.say("helper", free=True)
        film(ours, 1.78)
        _are_one_screen(phones, "[value$='.ready']")
        phones[0].click("[value$='.ready']")
        _are_one_screen(phones, ".alarm [value$='.done']")
        phones[0].click(".alarm [value$='.done']")
        _are_one_screen(phones, leave)
        phones[0].click(leave)
        _are_one_screen(phones, "[value=automatic]")
        ours.room.stop()
        _are_one_screen(phones, gone)
        ours.room.start()
        film(ours, 1.78)
        _are_one_screen(phones, "[value$='.ready']")
        ours.broker.stop()
        _are_one_screen(phones, gone)


def _are_one_screen(phones: tuple[Page, ...], shown: str) -> None:
    """Wait until something is shown; then nothing is beyond the edge of the screen."""
    for phone in phones:
        expect(phone.locator(shown)).to_be_visible()
        until(partial(phone.evaluate, ONE_SCREEN), f"one screen, with {shown}")
        assert phone.evaluate(TOO_SMALL) == [], shown


def test_what_is_not_needed_while_somebody_is_asked_is_folded_away(house: PageHouse) -> None:
    ana = house.phone("Ana")
    asked(house, ana)
    lights = ana.locator('[data-part="lights"]')
    expect(lights.get_by_role("button", name="Low")).to_be_hidden()
    button(ana, "No").click()
    expect(button(ana, "Ready")).to_be_hidden()
    expect(lights.get_by_role("button", name="Low")).to_be_visible()


def test_what_is_folded_for_want_of_room_is_unfolded_when_there_is_room_again(
    house: PageHouse,
) -> None:
    """In whatever order the parts of a page change."""
    phone = house.phone()
    film(house, 2.39)
    low = phone.locator('[data-part="lights"]').get_by_role("button", name="Low")
    expect(low).to_be_visible()
    phone.evaluate(OWN_MADE)
    for lines in (20, 40):
        phone.evaluate("lines => swap(part, '<p>line</p>'.repeat(lines))", lines)
        expect(low).to_be_hidden()
        phone.evaluate("swap(part, '')")
        expect(low).to_be_visible()


def test_what_somebody_folds_or_unfolds_stays_so(house: PageHouse) -> None:
    """Whatever the page would fold or unfold by itself meanwhile."""
    phone = house.phone()
    phone.evaluate(OWN_MADE)
    words = phone.locator(f"{OWN} p")
    fold = "swap(part, '<details data-fold=facts{}><summary>What</summary><p>{}</p></details>')"
    phone.evaluate(fold.format("", "first"))
    expect(words).to_be_hidden()
    phone.click(f"{OWN} summary")
    phone.evaluate(fold.format("", "second"))
    expect(words).to_have_text("second")
    expect(words).to_be_visible()
    expect(phone.locator(f"{OWN} summary")).to_be_focused()
    phone.evaluate(fold.format(" open", "third"))
    phone.evaluate("swap(part, '')")
    phone.evaluate(fold.format("", "fourth"))
    expect(words).to_be_visible()
    phone.click(f"{OWN} summary")
    phone.evaluate(fold.format(" open", "fifth"))
    expect(words).to_have_text("fifth")
    expect(words).to_be_hidden()


def test_what_somebody_unfolds_stays_so_through_presses_and_questions(house: PageHouse) -> None:
    """And on a page that is opened anew, as after a name is given."""
    phone = house.phone("Ana")
    asked(house, phone)
    lights = phone.locator('[data-part="lights"]')
    low = lights.get_by_role("button", name="Low")
    expect(low).to_be_hidden()
    lights.locator("summary").click()
    low.click()
    expect(low).to_have_attribute("aria-pressed", "true")
    expect(low).to_be_visible()
    button(phone, "Ready").click()
    expect(lights).to_be_hidden()
    button(phone, "It cannot be done").click()
    expect(phone.locator('[data-part="screen"]')).to_be_hidden()
    asked(house, phone)
    expect(low).to_be_visible()
    phone.reload()
    expect(low).to_be_visible()
    button(phone, "Not tonight").click()


def test_a_press_counts_though_something_new_comes_under_the_finger(house: PageHouse) -> None:
    """What is new comes a moment after it, with a number that was just typed told first."""
    phone = house.phone()
    new = "swap(part, '<input id=typed value=1><button type=button id=here>{}</button>')"
    phone.evaluate(OWN_MADE)
    phone.evaluate(
        """window.told = []; part.addEventListener('click', () => {
            told.push(document.getElementById('typed').value) })"""
    )
    phone.evaluate(new.format("old"))
    phone.fill("#typed", "12")
    phone.evaluate(new.format("new"))
    phone.hover("#here")
    phone.evaluate("told.length = 0")
    phone.mouse.down()
    phone.evaluate(new.format("newest"))
    expect(phone.locator("#here")).to_have_text("old")
    phone.mouse.up()
    assert phone.evaluate("told") == ["12"]
    expect(phone.locator("#here")).to_have_text("newest")
    phone.focus("#here")
    phone.keyboard.down("Space")
    phone.evaluate(new.format("by key"))
    phone.keyboard.up("Space")
    assert phone.evaluate("told") == ["12", "1"]
    expect(phone.locator("#here")).to_have_text("by key")


def test_whoever_types_sees_the_newest_afterwards(house: PageHouse) -> None:
    """What came meanwhile waits; an older part never takes the place of a newer one."""
    phone = house.phone()
    part = phone.locator(OWN)
    phone.evaluate(OWN_MADE)
    phone.evaluate("swap(part, '<input id=typed form=say name=n value=1>')")
    phone.fill("#typed", "12")
    phone.evaluate("swap(part, 'older'); swap(part, 'newer')")
    expect(phone.locator("#typed")).to_have_value("12")
    phone.evaluate("document.activeElement.blur()")
    expect(part).to_have_text("newer")
    phone.evaluate("swap(part, '<input id=typed form=say name=n value=1>')")
    phone.fill("#typed", "12")
    phone.evaluate("swap(part, 'older')")
    phone.evaluate("document.activeElement.value = 1; swap(part, 'newest')")
    phone.wait_for_timeout(50)
    expect(part).to_have_text("newest")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_nothing_serious_stands_in_the_way_of_a_screen_reader(house: PageHouse, size: str) -> None:
    """In each of three states: something plays, somebody is asked, somebody is at the screen."""
    name = film(house, 2.39)
    phone = house.phone("Ana", size=DESK) if size == "desk" else house.phone("Ana")
    expect(phone.locator("h2.line")).to_have_text(f"{name} is playing.")
    _is_accessible(phone)
    asked(house, phone)
    _is_accessible(phone)
    button(phone, "Ready").click()
    expect(phone.get_by_role("heading", name="You are at the screen.")).to_be_visible()
    _is_accessible(phone)
    button(phone, "It cannot be done").click()
    expect(phone.locator('[data-part="screen"]')).to_be_hidden()


def _is_accessible(phone: Page) -> None:
    """Let axe look at the page; every button is as large as a thumb."""
    phone.evaluate(AXE.read_text("utf-8"))
    found = phone.evaluate("axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']})")
    wrong = [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]]
    assert [one for one in found["violations"] if one["impact"] in SERIOUS] == [], wrong
    for one in phone.locator("button:visible").all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44, one.inner_text()


def test_it_comes_back_with_the_server_the_room_and_the_broker(house: PageHouse) -> None:
    """And says meanwhile that roomcue is not answering, and offers nothing to press."""
    name = film(house, 2.39)
    phone = house.phone("Ana")
    expect(phone.locator("h2.line")).to_have_text(f"{name} is playing.")
    gone = phone.locator('[data-part="gone"]')
    house.room.stop()
    expect(gone).to_contain_text("roomcue is not answering. This is how it stood at")
    _is_accessible(phone)
    expect(phone.locator("button:enabled:visible")).to_have_count(0)
    house.room.start()
    expect(gone).to_be_hidden()
    house.broker.stop()
    expect(gone).to_contain_text("roomcue is not answering.")
    house.broker.start()
    expect(gone).to_be_hidden()
    assert house.page.stop() == 0
    expect(phone.locator("#lost")).to_be_visible()
    house.page.start()
    expect(phone.locator("#lost")).to_be_hidden()
    later = film(house, 2.39)
    expect(phone.locator("h2.line")).to_have_text(f"{later} is playing.")
    button(phone, "That was wrong").click()
    expect(phone.locator("#said")).to_contain_text("Thank you")


def test_its_log_names_nobody(house: PageHouse) -> None:
    film(house, 2.39)
    button(house.phone("Anabela"), "That was wrong").click()
    assert "Anabela" not in house.page.said()
    assert Path(house.file).name not in house.page.said()
