"""What is true of a room in every state that it can reach, or the evening that shows it is not.

Every step is the engine's own. `reachability` explores equipment under every environment,
`invariants` judges each step, `counterexample` looks for an evening. Never meets `simulator.wear`.
"""
