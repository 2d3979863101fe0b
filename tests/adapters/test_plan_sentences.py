"""Every sentence of a plan is true of the figures of the same plan, in any room.

Each kind of sentence has a pattern here, and a judgement of its own that takes the figures of the
plan, never the code that made the sentence. A sentence without a pattern fails as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.render.alignment_text import alignment_rows
from adapters.render.margin_text import bleed_sentence, margin_sentences
from adapters.render.plan_notes import panels_sentence, shape_notes
from adapters.render.plan_sentences import cautions, plan_sentences
from adapters.render.plan_text import LEGEND, about, way_cells, way_head
from engine.planning.margins import margins
from engine.planning.plan import Plan, plan
from engine.room import Light, Room, Throw
from tests.adapters.plan_head_judges import HEAD_JUDGES
from tests.adapters.plan_judges import JUDGES
from tests.adapters.plan_light_judges import LIGHT_JUDGES
from tests.engine.planned import RATIOS as ANY_RATIO
from tests.engine.planned import rooms

EVERY = (*JUDGES, *HEAD_JUDGES, *LIGHT_JUDGES)
LIGHTS = st.none() | st.builds(
    Light,
    st.floats(100, 20_000),
    st.floats(0.3, 1.0),
    st.none() | st.floats(5, 300),
    st.none(),
    st.floats(300, 1_000_000),
)
THROWS = st.none() | st.builds(
    lambda distance, short, long, up, over: Throw(distance, short, short + long, *up, *over),
    st.integers(500_000, 40_000_000),
    st.integers(8_000, 20_000),
    st.integers(0, 20_000),
    st.tuples(st.integers(0, 7_000), st.integers(0, 3_000)),
    st.tuples(st.integers(-1_500_000, 1_500_000), st.integers(-500_000, 500_000)),
)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Plans of any room, with and without light, throw and seats."""
    at: Room = draw(rooms())
    lens = at.projector.lens._replace(transmission_at_long_end=draw(st.floats(0.3, 1.0)))
    projector = at.projector._replace(light=draw(LIGHTS), throw=draw(THROWS), lens=lens)
    quiet: Any = SimpleNamespace(table=SimpleNamespace(rows=()))
    seats = {"row": draw(st.integers(500_000, 60_000_000))}
    pace: Any = SimpleNamespace(per_title=1, per_night=12)
    at = replace(at, projector=projector, rules=quiet, pace=pace, seats=seats)
    return plan(at, tuple(sorted(draw(st.sets(ANY_RATIO, min_size=1, max_size=4)))))


def sentences(found: Plan) -> Iterator[str]:
    """Everything that a plan says in words."""
    yield from head_and_rows(found)
    yield from plan_sentences(found)
    for shape in found.shapes:
        for note in shape_notes(found, shape):
            yield f"{shape.ratio}| {note}"
    for masking in found.maskings:
        yield panels_sentence(found, masking)
    for preset, alignment in found.aligned:
        for label, text in alignment_rows(alignment, found.room.screen.border):
            yield f"{preset}| {label}: {text}"
    for preset in found.room.presets:
        for one in margins(found.room, preset):
            for words in (*margin_sentences(one.edges), bleed_sentence(one)):
                yield f"{preset}@ {words}"


def head_and_rows(found: Plan) -> Iterator[str]:
    """The head, the warnings, the legend, and the rows that it explains."""
    yield from (line.text for line in about(found))
    yield from (f"! {caution}" for caution in cautions(found))
    yield f"legend| {LEGEND}"
    names = way_head(light=False)
    for shape in found.shapes:
        for way in (one for one in shape.ways if not one.as_plain):
            _, *cells = way_cells(found, way, light=False)
            told = "; ".join(f"{name}={cell}" for name, cell in zip(names, cells, strict=True))
            yield f"{shape.ratio}= {way.preset} {way.picture}: {told}"


@settings(max_examples=40)
@given(plans())
def test_every_sentence_is_true_of_the_figures_beside_it(found: Plan) -> None:
    for sentence in sentences(found):
        kinds = [(pattern, judge) for pattern, judge in EVERY if re.fullmatch(pattern, sentence)]
        assert len(kinds) == 1, sentence
        ((pattern, judge),) = kinds
        match = re.fullmatch(pattern, sentence)
        assert match is not None
        assert judge(found, match), sentence


@settings(max_examples=40)
@given(plans())
def test_no_warning_is_left_out_that_belongs_to_what_people_are_asked_to_do(found: Plan) -> None:
    said = " ".join(cautions(found))
    assert "never look into the lens" in said
    assert ("Before you drill" in said) == (found.room.projector.throw is not None)
    assert ("On a ladder" in said) == any(one.first for _, one in found.aligned)
    fitted = any(one.opening is not None for one in found.room.panels.values())
    assert ("Large panels" in said) == fitted
