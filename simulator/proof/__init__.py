"""Prove what holds in every state that a room can reach, or find an evening that breaks it.

Start reading at `proof`. `reachability` searches the states, `successors` takes the steps, with
the engine's own functions, `invariants` and `judgement` check them, `counterexample` looks for
an evening. Nothing here knows `simulator.wear`.
"""
