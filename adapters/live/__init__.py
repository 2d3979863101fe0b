"""Rooms that live: MQTT or JSON lines in, one commit, then acknowledgements and orders out.

Everything that waits, retries or holds a socket is here. Stands on the engine and on `rules` for
room files; never on the simulator, so that nothing of a proof is loaded on an evening.
"""
