"""A body track as bytes and back; equal tracks give equal bytes."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from measure.types import PoseTrack

ARRAYS = ("frame_index", "file_time_s", "px", "visibility", "world_m")
SIZES = ("width_px", "height_px")


def track_as_bytes(track: PoseTrack) -> bytes:
    """Give a track in numpy's compressed form, arrays named as in ``PoseTrack``."""
    content = io.BytesIO()
    arrays = {name: getattr(track, name) for name in ARRAYS}
    sizes = {name: np.int64(getattr(track, name)) for name in SIZES}
    np.savez_compressed(content, **arrays, **sizes)
    return content.getvalue()


def read_track(content: bytes) -> PoseTrack:
    """Give the track that some bytes hold.

    Raises
    ------
    ValueError
        They hold none.
    """
    from measure.types import PoseTrack

    with np.load(io.BytesIO(content), allow_pickle=False) as kept:
        missing = [name for name in (*ARRAYS, *SIZES) if name not in kept]
        if missing:
            raise ValueError(f"content: expected a body track, got one without {missing}")
        return PoseTrack(
            **{name: kept[name] for name in ARRAYS}, **{name: int(kept[name]) for name in SIZES}
        )
