"""Fits that turn file time into real time and pixels into metres."""
