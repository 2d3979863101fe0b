"""Figures for whoever plans a room: where pictures land, light, pixels, alignment.

Uses the exact optics and the compiled room. Floats are allowed here because no decision rests on
them. No module that an event passes through may import from here.
"""
