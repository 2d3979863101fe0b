"""Nights: read recorded ones, replay them, try other rules on them, invent new ones.

Time is virtual: it jumps to whatever is due next. Where nobody has recorded an answer to an
order, the stand-in hub answers. This is the lowest room of the simulator: proof and wear import
from here, and this imports nothing of theirs.
"""
