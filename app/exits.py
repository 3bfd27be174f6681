"""Exit codes of the command line, as the README lists them."""

MEASURED = 0
NOTHING_MEASURED = 1
WRONG_CALL = 2
NOT_READ_OR_WRITTEN = 3
FAULT = 4
INTERRUPTED = 130
