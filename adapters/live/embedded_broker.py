"""An embedded broker for this machine only, to try roomcue without another broker.

It keeps everything in memory, so messages that wait in it are lost when it stops. The journal makes
up for that on roomcue's side; a hub may not.
"""

from __future__ import annotations

import socket
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from engine.errors import UnusableError

DEFAULT_PORT: Final = 1883
LOOPBACK: Final = "127.0.0.1"
EMBEDDED_LIMITS: Final = (
    "The embedded broker keeps messages in memory alone, knows no passwords and no rights, and "
    "serves this machine only: it is for trying things out. For every evening use a broker that "
    "keeps what waits in it over a restart."
)
_SETTINGS: Final = """\
id = 0

[router]
id = 0
max_connections = 1000
max_outgoing_packet_count = 200
max_segment_size = 10485760
max_segment_count = 10
"""
_LISTENER: Final = """
[{version}.1]
name = "{version}"
listen = "{host}:{port}"
next_connection_delay_ms = 1

[{version}.1.connections]
connection_timeout_ms = 60000
max_payload_size = 1052672
max_inflight_count = 100
dynamic_filters = true
"""


class EmbeddedError(UnusableError):
    """The embedded broker is not installed or cannot be started."""


def require_broker() -> None:
    """Raise `EmbeddedError` where the package of the embedded broker is not installed."""
    if find_spec("iotcore") is None:
        raise EmbeddedError(
            "the embedded broker is not installed: say `make evening`, which installs it, or "
            "`pip install iotcore`, or name another broker with --broker mqtt://host"
        )


def _require_free(port: int) -> None:
    """Raise `EmbeddedError` where something listens already: the package itself would not say."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, port))
        except OSError as error:
            raise EmbeddedError(
                f"no broker can be started on port {port}: {error.strerror}; name another with "
                "--port"
            ) from error


@contextmanager
def running_broker(port: int = DEFAULT_PORT) -> Iterator[None]:
    """Run a broker: MQTT 5 on `port`, MQTT 3.1.1 on the next port; raises `EmbeddedError`."""
    require_broker()
    for number in (port, port + 1):
        _require_free(number)
    from iotcore import Broker  # noqa: PLC0415 - an optional extra, needed only here

    with tempfile.TemporaryDirectory(prefix="roomcue-") as folder:
        settings = Path(folder) / "broker.toml"
        listeners = (("v5", port), ("v4", port + 1))
        settings.write_text(
            _SETTINGS
            + "".join(
                _LISTENER.format(version=version, host=LOOPBACK, port=number)
                for version, number in listeners
            ),
            "utf-8",
        )
        broker = Broker(config_path=str(settings), listen=LOOPBACK, port=port)
        try:
            broker.start()
        except (OSError, RuntimeError) as error:
            raise EmbeddedError(
                f"no broker can be started on port {port}: {error}; name another with --port"
            ) from error
        try:
            yield
        finally:
            broker.stop()
