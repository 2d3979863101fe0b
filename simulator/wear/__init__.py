"""How far lens presets have crept: travels counted, offsets measured, when it will show.

The ledger replays nights on the engine and adds nothing of its own. Needs numpy and scipy (the
extra `wear`). Never meets `simulator.proof`.
"""
