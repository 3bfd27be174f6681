"""Analyses off the caller's process: on this machine's cores or on a cluster."""
