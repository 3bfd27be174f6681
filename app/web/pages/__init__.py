"""The pages; each asks, makes one call, and shows."""
