"""Nights: recorded ones read and replayed, other rules tried on them, new ones invented.

Time is virtual: it jumps to whatever is due next. The stand-in hub answers orders where nobody
recorded an answer. Lowest room of this floor; proof and wear stand on it.
"""
