"""The plan against what was done, and how much jumping that is."""
