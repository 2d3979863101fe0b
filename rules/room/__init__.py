"""A room file as a room: its models, what refers to what, its physics, and the compiled Room.

`load` leads from text to a Room, or to every finding at once. Stands on `rules.text`. Whoever adds
a section adds its model in `schema`, its checks in `checks` or `physics`, its meaning in `build`.
"""
