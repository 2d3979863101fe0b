"""A live room steps, commits and only then speaks, and its journal is the truth."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.live.announcements import refusal_message
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.journal_rows import Page
from adapters.live.messages import MOST_PAYLOAD_BYTES, ROOM_FILE_TOPIC, InboundMessage
from adapters.live.receipts import receipt_of
from engine.events import (
    Event,
    LensReport,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Title,
    ToldFact,
)
from engine.room import Show
from engine.snapshot import encode
from engine.state import DAY
from rules.room.load import load
from simulator.nights.night_file import NightEntry, decision_line, read_head, read_lines
from simulator.shipped import NIGHTS, ROOMS
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.staging import INTERNAL, Stage, differences, staged
from tests.engine.meetings import START, evenings
from tests.golden.evenings import BEGINS, EVENINGS
from tests.soak import sample

SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]


@pytest.mark.parametrize("name", EVENINGS)
def test_a_golden_night_leads_to_its_decisions_through_the_live_room(
    name: str, tmp_path: Path
) -> None:
    """The same decisions as in replay, to the byte."""
    first, *rest = (NIGHTS / f"{name}.jsonl").read_bytes().splitlines()
    head = read_head(first)
    room, start = load(head.room_file, head.room), head.start
    with staged(room, tmp_path / "journal", start) as stage:
        for entry in read_lines(start, rest):
            assert isinstance(entry, NightEntry)
            assert entry.event is not None
            stage.pass_to(entry.now)
            stage.hear(entry.event)
        made = [decision_line(BEGINS, decision) for decision in stage.decisions]
        assert made == (NIGHTS / f"{name}.decisions.jsonl").read_bytes().splitlines()
        assert differences(room, stage.lines()) == []


@settings(max_examples=sample(20, 500), deadline=None)
@given(st.data())
def test_whatever_is_heard_and_wherever_it_stops_the_journal_replays_to_the_byte(
    data: st.DataObject,
) -> None:
    """With batches of any size, power cuts between them, and pages that could not be written."""
    room = data.draw(st.sampled_from(SHIPPED), "room")
    evening = data.draw(evenings(room), "evening")
    luck = data.draw(st.lists(st.sampled_from(["", "", "", "cut", "full"])), "luck")
    with TemporaryDirectory() as folder, staged(room, Path(folder) / "j", START) as stage:
        for index, (wait, event) in enumerate(evening):
            fate = luck[index % len(luck)] if luck else ""
            stage.pass_to(stage.clock.time + wait)
            if isinstance(event, Resumed) or fate == "cut":
                stage.restart()
            if isinstance(event, Resumed):
                continue
            if fate == "full":
                _full_once(stage, event)
            stage.hear(event)
        assert differences(room, stage.lines()) == []
        recorded = [
            entry.decision
            for line in [stage.lines()]
            for entry in read_lines(read_head(line[0]).start, line[1:])
            if isinstance(entry, NightEntry) and entry.decision is not None
        ]
        assert recorded == stage.decisions


def _full_once(stage: Stage, event: Event) -> None:
    """Let one page fail: the room stands as it stood."""
    before = stage.durable.engine.state
    with patch.object(Journal, "write", side_effect=JournalError("the disk is full")):
        try:
            if isinstance(event, INTERNAL):
                stage.durable.hear(event)
            else:
                stage.hear(event)
        except JournalError:
            assert stage.durable.engine.state is before


def test_a_page_that_fails_half_way_leaves_no_trace_in_the_journal(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        before = stage.lines()
        with (
            patch.object(Journal, "commit", side_effect=JournalError("full")),
            pytest.raises(JournalError),
        ):
            stage.hear(Playback(state="playing"))
        assert stage.lines() == before
        stage.hear(Playback(state="playing"))
        assert stage.durable.engine.state.core.playback == "playing"


def test_an_event_with_an_id_takes_effect_once_over_restarts(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(Mark(id="tap"))
        stage.restart()
        stage.hear(Mark(id="tap"))
        assert [one.kind for one in stage.decisions] == ["note"]
        assert stage.refusals == ["repeated"]


def test_what_was_chosen_for_a_film_outlives_a_power_cut_and_a_night(tmp_path: Path) -> None:
    """The room begins anew from its journal, and shows the film as somebody chose it."""
    look = OverrideLook(picture="whole")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, Title(begun=True, name="film"), Playback(state="playing"))
        stage.hear(Override(taken=True, until="title", look=look))
        stage.hear(Playback(state="stopped"))
        stage.restart()
        stage.pass_to(BEGINS + DAY)
        stage.hear(*LIT, Title(begun=True, name="film"), Playback(state="playing"))
        core = stage.durable.engine.state.core
        assert (core.override, core.override_look) == ("person", Show("whole"))
        assert differences(HAYLOFT, stage.lines()) == []


def test_a_redelivery_is_known_by_packet_id_topic_and_payload_in_the_last_connection_alone(
    tmp_path: Path,
) -> None:
    """Checked for each of them: with another one, it is another message."""
    body = b'{"words": "wrong"}'

    def tap(mid: int = 7, digest: bytes = b"d", *, dup: bool = True) -> InboundMessage:
        return InboundMessage("mark", body, receipt=mid.to_bytes(2) + digest, repeated=dup)

    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:

        def marks(message: InboundMessage, *, links: int) -> int:
            for _ in range(links):
                stage.durable.connected()
            return len(stage.note(stage.durable.take([message])).decisions)

        assert marks(tap(dup=False), links=1) == 1
        assert marks(tap(), links=1) == 0, "the same, again over the next connection"
        assert marks(tap(), links=1) == 0, "and again over the one after that"
        assert marks(tap(mid=8), links=1) == 1
        assert marks(tap(digest=b"e"), links=1) == 1
        assert marks(tap(digest=b"e", dup=False), links=1) == 1, "the broker says it is new"
        stage.durable.connected()
        stage.durable.take([InboundMessage("mark", body, receipt=receipt_of(99, "mark", b"other"))])
        assert marks(tap(digest=b"e"), links=1) == 1, "a connection lay between"


def test_a_redelivery_is_known_after_a_power_cut(tmp_path: Path) -> None:
    message = InboundMessage("mark", b"{}", receipt=receipt_of(3, "mark", b"{}"))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.durable.take([message])
        stage.restart()
        answer = stage.note(stage.durable.take([message._replace(repeated=True)]))
        assert answer.decisions == ()
        assert stage.refusals == ["redelivered"]


def test_of_each_kind_of_order_one_waits_for_the_broker(tmp_path: Path) -> None:
    """A newer one takes the older one's place, what is taken back is told, what has ended goes."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        kinds = [json.loads(said.body)["kind"] for said, _ in stage.durable.record.waiting()]
        assert sorted(kinds) == ["cue", "picture"]
        stage.hear(Playback(state="playing"), RatioSeen(ratio=2.39))
        stage.pass_to(BEGINS + 4_900)
        waiting = [said for said, _ in stage.durable.record.waiting()]
        slots = [said.slot for said in waiting if said.slot]
        assert len(slots) == len(set(slots))
        stage.pass_to(BEGINS + 3_600_000)
        assert stage.durable.record.waiting() == ()


def test_what_the_broker_has_taken_waits_no_more_after_a_restart(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        first, second = stage.durable.record.waiting()
        assert first.serial is not None
        stage.durable.record.sent(first.serial)
        stage.durable.record.flush()
        assert len(stage.durable.record.waiting()) == 1
        stage.restart()
        assert second in stage.durable.record.waiting()
        assert first not in stage.durable.record.waiting()


def test_an_order_keeps_its_number_over_a_power_cut(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        before = stage.durable.record.waiting()
        stage.restart()
        kept = {said.about: said.body for said, _ in stage.durable.record.waiting()}
        assert all(
            kept.get(said.about) == said.body for said, _ in before if said.slot != "picture"
        )
        numbers = [one.id for one in stage.decisions if hasattr(one, "id")]
        assert len(numbers) == len(set(numbers))


def test_a_travel_counted_once_is_counted_once_after_a_power_cut(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD, LensReport(moving=True, preset="tall", id="t1"))
        stage.restart()
        stage.hear(LensReport(moving=True, preset="tall", id="t1"))
        stage.hear(LensReport(moving=False, preset="tall", id="t2"))
        travels = {one.preset: one.by_hand for one in stage.durable.engine.state.tally.travels}
        assert travels["tall"] == 1


def test_an_open_prompt_ends_by_its_deadline_over_a_restart(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, LensReport(moving=False, preset="tall"), PanelReport(panels="open"))
        stage.hear(Playback(state="playing"), Title(begun=True), RatioSeen(ratio=1.78))
        stage.pass_to(BEGINS + 60_000)
        asked = stage.durable.engine.state.core.asked
        assert asked is not None
        stage.restart()
        assert stage.durable.engine.state.core.asked == asked
        stage.pass_to(BEGINS + 3_600_000)
        over = [one for one in stage.decisions if one.kind == "prompt over"]
        assert [(one.prompt, one.how) for one in over][:1] == [(asked.id, "expired")]


def test_time_that_passes_without_a_decision_writes_nothing(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.pass_to(BEGINS + 400_000)  # What nobody answers has had its tries.
        commits = stage.durable.counts.commits
        stage.pass_to(BEGINS + 460_000)
        assert stage.durable.counts.commits == commits


def test_a_reading_that_holds_is_neither_stepped_nor_written(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, Playback(state="playing"))
        stage.hear(RatioSeen(ratio=2.39))
        commits = stage.durable.counts.commits
        for _ in range(24):
            stage.clock.time += 10
            stage.hear(RatioSeen(ratio=2.39))
        assert stage.durable.counts.commits == commits
        assert stage.durable.counts.events["ratio"] == 25


def test_the_clock_on_the_wall_is_told_before_what_happens_and_only_when_it_has_changed(
    tmp_path: Path,
) -> None:
    """An hour's jump of the clock, as in summer time, moves the time of day and nothing else."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 119
        stage.hear(*LIT)
        assert stage.durable.engine.state.core.minute == 119
        assert stage.durable.counts.events["time"] == 1
        due = stage.durable.engine.deadline
        stage.clock.face = 180
        stage.hear(Mark())
        assert stage.durable.engine.state.core.minute == 180
        assert stage.durable.engine.deadline == due


@pytest.mark.parametrize(
    ("subtopic", "payload"),
    [
        ("source", b'\xef\xbb\xbf{"source": "console"}\r\n'),
        ("source", b'\xef\xbb\xbf{"contract": 1, "source": "console"}'),
        ("told/guests", b'\xef\xbb\xbf{"value": true}'),
        ("state", b"\xef\xbb\xbf{}"),
    ],
)
def test_a_byte_order_mark_before_a_payload_means_nothing(
    subtopic: str, payload: bytes, tmp_path: Path
) -> None:
    """RFC 8259, 8.1, lets whoever reads JSON pass over it; some programs write one."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.clock.face = 1_200
        stage.hear(*LIT)
        stage.note(stage.durable.take([InboundMessage(subtopic, payload)]))
        assert stage.refusals == []
        stage.note(stage.durable.take([InboundMessage("source", b"\xef\xbb\xbf")]))
        assert stage.refusals == ["malformed"]


@pytest.mark.parametrize(
    ("subtopic", "payload", "retained", "code"),
    [
        ("answer", b'{"prompt": 1, "answer": "done"}', True, "retained"),
        ("override", b'{"taken": true}', True, "retained"),
        ("lens", b'{"moving": true, "preset": "tall"}', True, "retained"),
        ("outcome", b'{"order": 1, "outcome": "done"}', True, "retained"),
        (ROOM_FILE_TOPIC, b"room: hayloft", True, "retained"),
        ("mark", b"[" * 10_000, False, "malformed"),
        ("mark", b'{"words": NaN}', False, "malformed"),
        ("mark", b'{"words": "\xff"}', False, "malformed"),
        ("mark", b" " * (MOST_PAYLOAD_BYTES + 1), False, "too_long"),
        ("ratio", b'{"ratio": ' + b"9" * 400 + b"}", False, "malformed"),
        ("mark", b'{"at": "0000-01-01T00:00:00Z"}', False, "malformed"),
        ("source", b'{"source": "nonesuch"}', False, "unknown_name"),
        ("source", b'{"source": "disc", "kind": "resumed"}', False, "malformed"),
        ("resumed", b"{}", False, "unknown_topic"),
        ("time", b'{"minute": 3}', False, "unknown_topic"),
        ("told", b'{"value": 1}', False, "unknown_topic"),
        ("mark/", b'{"words": "x"}', False, "unknown_topic"),
        ("room/", b"room: hayloft", False, "unknown_topic"),
        ("told/guests", b"3", False, "malformed"),
        ("told/guests", b'{"fact": "x", "value": "\x00"}', False, "malformed"),
        ("", b"{}", False, "unknown_topic"),
        ("\u202e\x00", b"{}", False, "unknown_topic"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_a_reason_and_changes_nothing(
    subtopic: str, payload: bytes, retained: bool, code: str, tmp_path: Path
) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        before = encode(stage.durable.engine.state)
        answer = stage.note(stage.durable.take([InboundMessage(subtopic, payload, retained)]))
        assert stage.refusals == [code]
        assert stage.durable.counts.refusals == {code: 1}
        assert encode(stage.durable.engine.state) == before
        (refused,) = answer.refusals
        catalogue = stage.durable.room.catalogue
        said = json.loads(refusal_message(catalogue, refused, BEGINS).body)
        assert (said["code"], said["words"]) == (code, catalogue.say("refusal", code))
        assert said["details"] not in {"", said["words"]}, "a technician reads what is wrong"


def test_an_emptied_topic_means_that_nobody_says_so_any_more(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, Playback(state="playing"), PanelReport(panels="open"))
        stage.hear(ToldFact(fact="guests", value=True))
        for subtopic in ("playback", "panels", "told/guests", "source", "lens"):
            stage.note(stage.durable.take([InboundMessage(subtopic, b"", retained=True)]))
        core = stage.durable.engine.state.core
        assert (core.playback, core.arrangement, dict(core.told)) == ("unknown", None, {})
        assert core.source == "disc"
        assert stage.refusals == []


def test_old_nights_go_whole_and_the_rest_still_replays(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        for day in range(5):
            stage.clock.time = BEGINS + day * 86_400_000
            stage.hear(*LIT, Mark(words=f"day {day}"))
            stage.hear(Playback(state="playing"), RatioSeen(ratio=2.39))
            stage.hear(ProjectorReport(state="off"))
        stage.durable.record.drop_nights(2)
        lines = stage.lines()
        marks = [line for line in lines if b'"words"' in line]
        assert [b"day 3" in marks[0], b"day 4" in marks[1], len(marks)] == [True, True, 2]
        assert differences(HAYLOFT, lines) == []


def test_outcomes_of_orders_come_back_into_the_room(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        picture = next(one for one in stage.decisions if one.kind == "picture")
        stage.hear(Outcome(order=picture.id, outcome="done"))
        assert stage.durable.engine.state.core.picture is None


def test_a_page_is_one_row_of_state_for_many_events(tmp_path: Path) -> None:
    """A batch is one transaction, however many messages it holds."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        pages: list[Page] = []
        write = Journal.write

        def watched(own: Journal, page: Page) -> None:
            pages.append(page)
            return write(own, page)

        with patch.object(Journal, "write", watched):
            stage.hear(*LIT, AT_BROAD, Playback(state="playing"))
        assert len(pages) == 1
        assert len([line for line in pages[0].lines if line.event]) == 4
