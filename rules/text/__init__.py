"""A room file as text: nodes that know their place, quantities with units, S-FEEL cells.

Knows YAML and units, and nothing of rooms. What cannot be read becomes a located finding, and
reading goes on behind it. Lowest room of this floor: it imports from the engine alone.
"""
