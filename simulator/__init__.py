"""Nights in virtual time: recorded, invented and replayed; proofs of rooms; wear of lenses."""

from typing import Final

HEAD_BEGINS: Final = b'{"night":'
"""How the first line of each night begins, as it is exported and invented."""
