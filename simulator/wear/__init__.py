"""Forecast how far lens presets creep: travels counted, offsets measured, when it will show.

Start reading at `assessment`. The ledger replays nights on the engine and counts nothing by
itself. Needs numpy and scipy (the extra `wear`). Nothing here knows `simulator.proof`.
"""
