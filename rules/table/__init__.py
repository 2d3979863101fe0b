"""Analysis of a whole rule table: overlaps, gaps, rows that never win. Exact, never sampled.

`analysis` works on sets of values. `table_findings` reports the results at the lines of a room
file. This package imports from `rules.room` and knows nothing of what happens on an evening.
"""
