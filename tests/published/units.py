"""A units library of others' making, against which light and lengths are checked."""

from functools import cache

import pint


@cache
def units() -> pint.UnitRegistry[float]:
    """Read the library's units when they are needed first: that takes most of a second."""
    return pint.UnitRegistry()
