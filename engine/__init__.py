"""What the room decides: pure functions over immutable data, no clock, no file, no chance."""
