"""The exploration against an explicit-state search of the real engine, graphs judged by networkx.

The exploration steps through classes of environments and keeps only the equipment. Here the same
rooms are lived through state by state (`tests.simulator.concrete`). What was lived through must be
among what was explored; in rooms so small it is all of it, so nothing was explored in vain.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import networkx as nx
import pytest

from engine.room import Room
from rules.room.load import load
from simulator.proof.reachability import Exploration, Explorer
from simulator.proof.successors import Successors
from tests.simulator.concrete import Concrete
from tests.soak import TIMES, sample

_ROOM = """
room: two
time_zone: Europe/Lisbon
screen: {width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}
projector: {raster: 4096 x 2160, lens: {travel: 18 s, reports: REPORTS}}
orders: {answered: ANSWERED}
presets: {PRESETS}
PANELS
sources: {disc: {shape: 2.39}}
told: {bright: yes or no}
promises:
  - {name: bright, never: {bright: yes, WHERE, playback: playing}, because: It is so.}
  - name: still
    never: {bright: no, override: rules, playback: paused, helper: asked}
    because: So.
  - {name: held, never: {playback: paused, travelling: yes, override: rules}, because: It is so.}
  - {name: level, never: {lift: "> 0 %"}, because: It is so.}
rules:
  policy: first
  rows:
    - name: bright
      case: {bright: yes}
      show: {picture: plain, lift: 0 %, BRIGHT}
      because: It is brighter.
    - name: dim
      case: {bright: no}
      show: {picture: plain, lift: 0 %, DIM}
      because: It is larger.
  otherwise: {picture: plain, lift: 0 %}
"""
_LENS = {
    "PRESETS": "broad: {fits: 2.40}, tall: {fits: 1.78}",
    "PANELS": "",
    "WHERE": "preset: broad",
    "BRIGHT": "preset: tall",
    "DIM": "preset: broad",
}
_PANELS = {
    "PRESETS": "fixed: {fits: 2.40}",
    "PANELS": "panels: {sides: {opening: 1.78}}",
    "WHERE": "panels: sides",
    "BRIGHT": "panels: open",
    "DIM": "panels: sides",
}
_TALKING = {"REPORTS": "yes", "ANSWERED": "yes"}
_SILENT = {"REPORTS": "no", "ANSWERED": "no"}
VARIANTS: Final = {
    "a lens that reports": _LENS | _TALKING,
    "a lens that does not": _LENS | _SILENT,
    "panels": _PANELS | _TALKING,
    "panels, nothing answered": _PANELS | _SILENT,
}
ON_THE_WAY: Final = (True, False)
"""Of a prompt: somebody is at the screen, and has not been told that it is dark."""
ALL = pytest.mark.parametrize("name", VARIANTS)
IN_FULL = pytest.mark.parametrize("name", [*VARIANTS][: len(VARIANTS) if TIMES else 2])
"""Rooms with panels have many more states: it takes `make soak` to live through all of them."""


@cache
def both(name: str) -> tuple[Explorer, Exploration, Concrete]:
    """Explore a room, and live through it."""
    text = _ROOM
    for word, value in VARIANTS[name].items():
        text = text.replace(word, value)
    room: Room = load(text, "two.yaml")
    explorer = Explorer(room)
    return explorer, explorer.run(), Concrete(room, sample(4_000, 60_000))


def explored_graph(explorer: Explorer) -> nx.DiGraph[int]:
    """Give the explored states and the ways by which each was met; a way met before is left out."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(explorer.cores)))
    graph.add_edges_from(
        (before, at)
        for key, at in explorer.index_of.items()
        for before in explorer.ways_into[key]
        if before >= 0
    )
    return graph


def every_step(explorer: Explorer) -> nx.DiGraph[int]:
    """Give the explored states and all steps between them: from each with nothing remembered."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    for at, core in enumerate(explorer.cores):
        successors = Successors(explorer.room)
        for _, after, cause in successors.after_events(at, core).successors:
            assert after is not None
            for key, _, _ in successors.after_answers(at, cause.event, after).successors:
                graph.add_edge(at, explorer.index_of[key])
    return graph


@ALL
def test_what_is_lived_through_is_among_what_is_explored(name: str) -> None:
    explorer, exploration, lived = both(name)
    assert exploration.complete
    reached = nx.descendants(lived.graph, 0) | {0}
    assert reached == set(lived.graph)
    assert {lived.keys[at] for at in reached} <= set(explorer.index_of)


@IN_FULL
def test_what_is_explored_is_lived_through(name: str) -> None:
    """The abstraction adds no state of lens, panels and prompt, but for one kind.

    Somebody is on the way and has not been told yet that it is dark: where no order is answered it
    is dark once that is ordered, unless the limit of flashes holds it back. In these rooms nothing
    flashes then, but the exploration takes any picture to have stood before.
    """
    explorer, _, lived = both(name)
    added = set(explorer.index_of) - set(lived.keys)
    asked = [key[-1] for key in added]
    if "nothing answered" in name:
        assert {one[1:] for one in asked if isinstance(one, tuple)} == {ON_THE_WAY}
        asked = [one for one in asked if not isinstance(one, tuple)]
    assert asked == []


@IN_FULL
def test_each_lived_step_is_an_explored_step(name: str) -> None:
    explorer, _, lived = both(name)
    distance = dict(nx.all_pairs_shortest_path_length(every_step(explorer), cutoff=1))
    for one, other in lived.graph.edges:
        before, after = explorer.index_of[lived.keys[one]], explorer.index_of[lived.keys[other]]
        assert after in distance[before], lived.graph.edges[one, other]["what"]


@IN_FULL
def test_the_broken_promises_are_the_same(name: str) -> None:
    """What is found broken breaks in a state that is lived through, and the other way round."""
    explorer, exploration, lived = both(name)
    own = {promise.label for promise in explorer.room.promises}
    found = {one.promise for one in exploration.violations}
    assert found == set().union(*lived.broken)
    assert found
    assert found < own


@ALL
def test_a_broken_promise_is_reached_by_a_shortest_way(name: str) -> None:
    """No way in the explored graph is shorter, nor is one that is lived through."""
    explorer, exploration, lived = both(name)
    graph = explored_graph(explorer)
    assert nx.descendants(graph, 0) | {0} == set(graph)
    shortest = nx.single_source_shortest_path_length(graph, 0)
    steps = nx.single_source_shortest_path_length(lived.graph, 0)
    for violation in exploration.violations:
        way = explorer.path(violation)
        assert len(way) == shortest[violation.cause.before] + 1
        for at, names in enumerate(lived.broken):
            if violation.promise in names:
                assert len(way) <= steps[at]
