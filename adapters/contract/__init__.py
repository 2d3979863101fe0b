"""What goes over the broker, as a document for whoever writes the other side.

Made from the models that the live room speaks with, and from a night that is played, so that it
cannot say anything else. Stands on `adapters.live`; a live room never needs it.
"""
