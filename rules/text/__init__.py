"""A room file as text: nodes that know their place, quantities with units, S-FEEL cells.

This package knows YAML and units but nothing of rooms. What cannot be read becomes a finding with
its line and column, and reading goes on after it. It is the lowest package of this floor and
imports only from the engine.
"""
