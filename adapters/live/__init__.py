"""Live rooms: MQTT or JSON lines in, one commit, then acknowledgements and orders out.

Everything that waits, retries or holds a socket is here. This package imports from the engine, and
from `rules` to load room files. It never imports from the simulator, so that a running room does
not load any of the proofs.
"""
