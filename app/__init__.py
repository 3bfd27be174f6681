"""What people touch: the command line, the history and the reports."""
