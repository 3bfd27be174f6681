"""Results in and out of the history as files: CSV, Parquet, JSON lines."""
