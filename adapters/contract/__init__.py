"""The document of all messages, for people who write a hub.

Made from the models that the live room speaks with, and from a night that is played, so that it
cannot say anything else. Stands on `adapters.live`; a live room never needs it.
"""
