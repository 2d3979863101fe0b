"""The room's page: what phones in the room look at, and what people say there.

The server is one more client of the contract between room and hub: it shows what `standing` and
`alive` say, and says what a person presses, with their name. It knows nothing of how a room runs.
"""
