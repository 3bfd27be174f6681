"""Clips and body tracks, kept by their content in a folder or in any object store."""

from app.store.drawn import DrawnFiles
from app.store.files import FileStore, open_store
from app.store.kept import KeptFile
from app.store.tracks import read_track, track_as_bytes

__all__ = ["DrawnFiles", "FileStore", "KeptFile", "open_store", "read_track", "track_as_bytes"]
