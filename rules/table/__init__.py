"""A rule table looked over as a whole: overlaps, gaps, rows that never win. Exact, never sampled.

`analysis` works on regions alone; `table_findings` says what it finds at the lines of a room file.
Stands on `rules.room`, and nothing of a single evening is known here.
"""
