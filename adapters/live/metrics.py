"""The totals of live rooms in the Prometheus text format."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

from prometheus_client import CollectorRegistry, generate_latest, start_http_server
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from adapters.live.durable_room import DurableRoom
from engine.errors import UnusableError

LABEL_OF = {"events": "kind", "refusals": "reason", "decisions": "kind"}


class Rooms(Collector):
    """Collects the totals of rooms each time they are read."""

    def __init__(self, rooms: Callable[[], Iterable[DurableRoom]]) -> None:
        self._rooms = rooms

    def collect(self) -> Iterator[Metric]:
        """Give every metric of every room."""
        rooms = [*self._rooms()]
        for name, words in (
            ("events", "Events heard, by kind."),
            ("refusals", "What was not taken, by reason."),
            ("decisions", "Decisions made, by kind."),
        ):
            family = CounterMetricFamily(f"roomcue_{name}", words, labels=("room", LABEL_OF[name]))
            for room in rooms:
                # A copy, since another thread may add kinds meanwhile.
                counted: dict[str, int] = dict(getattr(room.counts, name))
                for kind, count in sorted(counted.items()):
                    family.add_metric((room.room.name, kind), count)
            yield family
        yield _travels(rooms)
        for metric, figures in ((GaugeMetricFamily, _GAUGES), (CounterMetricFamily, _COUNTERS)):
            for name, words, read in figures:
                plain = metric(f"roomcue_{name}", words, labels=("room",))
                for room in rooms:
                    plain.add_metric((room.room.name,), read(room))
                yield plain


def _travels(rooms: Iterable[DurableRoom]) -> Metric:
    family = CounterMetricFamily(
        "roomcue_travels",
        "Travels of the lens since the room's journal began, by preset.",
        labels=("room", "preset", "by"),
    )
    for room in rooms:
        for one in room.engine.state.tally.travels:
            family.add_metric((room.room.name, one.preset, "rules"), one.ordered)
            family.add_metric((room.room.name, one.preset, "hand"), one.by_hand)
    return family


_GAUGES: tuple[tuple[str, str, Callable[[DurableRoom], float]], ...] = (
    ("prompts_open", "Prompts that wait for a person.", lambda one: one.prompts_open),
    (
        "outbox_depth",
        "Messages that the broker has not taken.",
        lambda one: len(one.record.outbox.waiting),
    ),
    (
        "longest_lag_seconds",
        "The longest that a message waited to be committed.",
        lambda one: one.counts.longest_lag,
    ),
)
_COUNTERS: tuple[tuple[str, str, Callable[[DurableRoom], float]], ...] = (
    (
        "log_lines_dropped",
        "Lines of the log that nobody read in time, of all rooms.",
        lambda one: one.counts.log.lines,
    ),
    ("commits", "Transactions of the journal.", lambda one: one.counts.commits),
    ("messages", "Messages that came.", lambda one: one.counts.waited),
    (
        "lag_seconds",
        "How long messages waited to be committed, all together.",
        lambda one: one.counts.lag,
    ),
)


class PortError(UnusableError):
    """The port for metrics cannot be opened."""


def registry_of(rooms: Callable[[], Iterable[DurableRoom]]) -> CollectorRegistry:
    """Make a registry that collects the totals of some rooms."""
    registry = CollectorRegistry()
    registry.register(Rooms(rooms))
    return registry


def room_metrics_text(room: DurableRoom) -> str:
    """Write one room's metrics as text."""
    return generate_latest(registry_of(lambda: (room,))).decode()


@contextmanager
def serve_metrics(port: int, rooms: Callable[[], Iterable[DurableRoom]]) -> Iterator[None]:
    """Serve the metrics of rooms over HTTP, to this machine only; raises `PortError`."""
    try:
        server, thread = start_http_server(port, "127.0.0.1", registry_of(rooms))
    except OSError as error:
        raise PortError(
            f"no figures can be served on port {port}: {error.strerror}; name another with "
            "--metrics, or leave it out: they come on out/alive too"
        ) from error
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
