"""Judge a mutation run: which changes of the engine does no test notice, and is that explained?

`make mutants` runs mutmut and then this. It fails if less than 95 % of the mutants are killed, if a
survivor is not explained in `survivors.toml`, or if an explanation has no survivor any more.
"""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, NamedTuple

LEAST_KILLED: Final = 0.95
NOTICED: Final = frozenset({"killed", "timeout", "segfault", "caught by type check"})
"""What mutmut says of a mutant that did not get through."""
UNKNOWN: Final = "not checked"
"""What it says of a mutant that it has not come to."""
MUTMUT: Final = Path(sys.executable).with_name("mutmut")
EXPLAINED: Final = Path(__file__).with_name("survivors.toml")


class Result(NamedTuple):
    """What became of one mutant."""

    name: str
    """Such as `engine.lens.x__rests__mutmut_7`."""
    status: str

    @property
    def module(self) -> str:
        """The module of the engine that was changed."""
        return self.name.split(".")[1]

    @property
    def function(self) -> str:
        """The changed function, such as `lens._rests` or `transaction.Transaction.note`."""
        module, _, mangled = self.name.removeprefix("engine.").partition(".")
        function = mangled.rpartition("__mutmut_")[0]
        if function.startswith("xǁ"):
            return f"{module}.{function[2:].replace('ǁ', '.')}"
        return f"{module}.{function.removeprefix('x_')}"


class Explanation(NamedTuple):
    """Why survivors are left alive: a change that no test can notice, or need not."""

    function: str
    change: str
    """A piece of the changed lines by which the survivor is known; the new ones begin with "+"."""
    why: str

    def covers(self, result: Result, changed: str) -> bool:
        """Tell whether this is said of a survivor whose changed lines are these."""
        return self.function == result.function and self.change in changed


def explanations(text: str) -> list[Explanation]:
    """Read `survivors.toml`: for each function a table from pieces of changed lines to reasons."""
    return [
        Explanation(function, change, why)
        for function, changes in tomllib.loads(text).items()
        for change, why in changes.items()
    ]


def results() -> list[Result]:
    """Ask mutmut what became of every mutant."""
    listed = _mutmut("results", "--all", "true")
    pairs = (line.strip().rpartition(": ") for line in listed.splitlines() if ": " in line)
    return [Result(name, status) for name, _, status in pairs]


def changed_lines(name: str) -> str:
    """Ask mutmut which lines a mutant takes out (-) and puts in (+)."""
    shown = _mutmut("show", name).splitlines()
    changed = (line for line in shown if line[:1] in {"-", "+"} and line[:3] not in {"---", "+++"})
    return "\n".join(f"{line[0]} {line[1:].strip()}" for line in changed)


def figures(found: Sequence[Result]) -> list[str]:
    """Write how many mutants each module has, and how many of them live, one module a line."""
    found = [one for one in found if one.status != UNKNOWN]
    total = Counter(one.module for one in found)
    left = Counter(one.module for one in found if one.status not in NOTICED)
    rows = [(name, total[name], left[name]) for name in sorted(total)]
    rows.append(("all", total.total(), left.total()))
    return [
        f"{name:18}{mutants:5} mutants{alive:5} alive{1 - alive / max(mutants, 1):8.1%} killed"
        for name, mutants, alive in rows
    ]


def judge(
    found: Sequence[Result],
    known: Sequence[Explanation],
    changed_lines: Callable[[str], str] = changed_lines,
) -> list[str]:
    """Say what is wrong with a run, one fault a line."""
    unknown = sum(one.status == UNKNOWN for one in found)
    alive = [one for one in found if one.status not in NOTICED | {UNKNOWN}]
    faults = [f"{unknown} mutants were not tried: the run has not ended"] if unknown else []
    if len(alive) > (1 - LEAST_KILLED) * len(found) or not found:
        faults.append(f"less than {LEAST_KILLED:.0%} of the mutants are killed")
    used: set[Explanation] = set()
    for one in alive:
        changed = changed_lines(one.name)
        covering = [each for each in known if each.covers(one, changed)]
        used.update(covering)
        if not covering:
            faults.append(f"{one.name} ({one.status}) is not explained: {changed}")
    faults += [
        f"{each.function}: {each.change!r} is explained, but nothing of it survives"
        for each in known
        if each not in used
    ]
    return faults


def _mutmut(*words: str) -> str:
    return subprocess.run([MUTMUT, *words], capture_output=True, text=True, check=True).stdout


if __name__ == "__main__":
    every = results()
    sys.stdout.write("\n".join(figures(every)) + "\n")
    sys.exit("\n".join(judge(every, explanations(EXPLAINED.read_text("utf-8")))) or None)
