"""Values in; text, SVG, JSON and cards out. Nothing here writes a file or asks anybody.

A module is one kind of picture or text. Stands on the floors below; knows no command and no
broker.
"""
