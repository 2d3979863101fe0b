"""One playback event passes few enough places to be followed without turning back."""

from tests.house.event_path import passed

MOST_MODULES = 16
MOST_FUNCTIONS = 80


def test_a_playback_event_passes_few_modules_and_functions() -> None:
    decisions, functions = passed()
    assert decisions > 0, "an event that leads to nothing is followed too easily"
    assert len({module for module, _ in functions}) <= MOST_MODULES, sorted(functions)
    assert len(functions) <= MOST_FUNCTIONS, sorted(functions)
