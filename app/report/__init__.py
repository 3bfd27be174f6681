"""Results as text for people: pure functions from values to lines."""
