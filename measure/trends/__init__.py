"""One athlete's numbers over weeks: level, variation, trend, sides, and what is only noise."""
