"""A new room's file, made of a few wishes: commented, and without a fault that `check` finds.

`request` reads what somebody wishes; `room_text` writes the file. The highest room of this floor.
"""
