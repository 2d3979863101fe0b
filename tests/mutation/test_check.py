"""What is said of a mutation run."""

from __future__ import annotations

import ast
from pathlib import Path

from tests.mutation.check import EXPLAINED, Explanation, Result, explanations, figures, judge

KNOWN = Explanation("lens._rests", "preset or None", "It is never empty.")
LEFT = Result("engine.lens.x__rests__mutmut_7", "survived")
KILLED = [Result(f"engine.answers.x_answered__mutmut_{number}", "killed") for number in range(19)]


def changed(_name: str) -> str:
    return "- core.preset = preset\n+ core.preset = preset or None"


def test_a_mutant_is_known_by_its_function() -> None:
    assert LEFT.function == "lens._rests"
    method = Result("engine.transaction.xǁTransactionǁset_timers__mutmut_3", "killed")
    assert (method.module, method.function) == ("transaction", "transaction.Transaction.set_timers")


def test_nineteen_of_twenty_killed_and_the_last_explained_is_enough() -> None:
    assert judge([LEFT, *KILLED], [KNOWN], changed) == []


def test_fewer_are_not_enough() -> None:
    (fault,) = judge([LEFT, *KILLED[1:]], [KNOWN], changed)
    assert "95%" in fault
    assert judge([], [], changed) != []


def test_a_survivor_that_nobody_explains_is_a_fault_whatever_became_of_it() -> None:
    for status in ("survived", "no tests", "skipped", "suspicious"):
        (fault,) = judge([LEFT._replace(status=status), *KILLED], [], changed)
        assert "is not explained" in fault
        assert "+ core.preset = preset or None" in fault


def test_a_run_that_has_not_ended_is_a_fault_and_counts_only_what_was_tried() -> None:
    found = [LEFT._replace(status="not checked"), *KILLED]
    (fault,) = judge(found, [], changed)
    assert fault.startswith("1 mutants were not tried")
    assert figures(found)[-1].split() == ["all", "19", "mutants", "0", "alive", "100.0%", "killed"]


def test_an_explanation_of_nothing_is_a_fault() -> None:
    (fault,) = judge(KILLED, [KNOWN], changed)
    assert "nothing of it survives" in fault


def test_the_figures_are_given_for_each_module_and_all() -> None:
    assert figures([LEFT, *KILLED]) == [
        "answers              19 mutants    0 alive  100.0% killed",
        "lens                  1 mutants    1 alive    0.0% killed",
        "all                  20 mutants    1 alive   95.0% killed",
    ]


def test_every_explanation_names_a_function_of_the_engine_and_says_why(repository: Path) -> None:
    for one in explanations(EXPLAINED.read_text("utf-8")):
        module, *names = one.function.split(".")
        tree = ast.parse((repository / "engine" / f"{module}.py").read_text("utf-8"))
        defined = {node.name for node in ast.walk(tree) if hasattr(node, "name")}
        assert defined.issuperset(names), one.function
        assert one.why.endswith(".")
