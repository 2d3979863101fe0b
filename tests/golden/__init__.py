"""Recorded evenings with the decisions that are expected of them."""
