"""From the text of a room file to a compiled room, or to every finding at once."""
