"""Nights in virtual time: recorded, made, replayed."""
