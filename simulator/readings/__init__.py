"""Labelled evenings of letterbox readings, made by seed: what a detector says, and what is true."""
