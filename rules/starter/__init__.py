"""Write a new room's file from a few wishes: commented, and without a fault that `check` finds.

`request` reads the wishes, `ratio_bands` divides the ratios among presets and panels, `room_text`
writes the file. This is the highest package of this floor.
"""
