"""Nights in virtual time: recorded, invented and replayed; proofs of rooms; wear of lenses."""
