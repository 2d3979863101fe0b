"""One playback event passes few enough places to be followed, and DEVELOPERS.md names them."""

from pathlib import Path

from tests.house.event_path import passed, stops, walked

MOST_MODULES = 16
MOST_FUNCTIONS = 76


def test_a_playback_event_passes_few_modules_and_functions() -> None:
    decisions, functions = passed()
    assert decisions > 0, "an event that leads to nothing is followed too easily"
    assert len({module for module, _ in functions}) <= MOST_MODULES, sorted(functions)
    assert len(functions) <= MOST_FUNCTIONS, sorted(functions)


async def test_the_way_in_the_developers_guide_is_the_way_that_an_event_takes(
    tmp_path: Path,
) -> None:
    """From the socket to the order: every stop is called, and first called in that order."""
    way, told = await walked(tmp_path), stops()
    assert len(told) > MOST_MODULES, "both ends of the way are told"
    assert set(told) <= set(way), "a stop has another name, or is not passed"
    assert told == [place for place in way if place in told]


def test_the_way_that_is_told_leads_through_few_modules() -> None:
    assert len({module for module, _ in stops()}) <= MOST_MODULES
