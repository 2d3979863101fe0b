"""What each way to show a picture does, on paper: place, light, pixels, alignment.

For whoever plans a room; floats are allowed here, and no decision rests on them. Stands on the
exact optics and the compiled room. No module of an event's way may import from here.
"""
