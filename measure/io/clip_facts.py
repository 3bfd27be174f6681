"""What a clip's file says about itself, read from its container, stream and first picture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.sidedata.sidedata import Type as SideDataType

from measure.errors import UnreadableClip
from measure.io.container import film_stream

CAPTURE_RATE_KEY = "com.android.capture.fps"
PLAYBACK_INTENT_KEY = "com.apple.quicktime.full-frame-rate-playback-intent"
RECORDED_KEYS = ("com.apple.quicktime.creationdate", "creation_time")
QUARTER_TURNS_DEG = {(1, 0, 0, 1): 0, (0, 1, -1, 0): 90, (-1, 0, 0, -1): 180, (0, -1, 1, 0): 270}
FIRST_PHONE_YEAR = 1995
"""Cameras without a set clock write 1904 or 1970."""


@dataclass(frozen=True, slots=True)
class ClipStream:
    """A clip's own words. None of them is believed here."""

    path: Path
    sha256: str
    """Hash of the whole file's bytes, hexadecimal."""
    width_px: int
    height_px: int
    """Size of the upright picture."""
    rotation_deg: int
    """Clockwise turn that the file asks for: 0, 90, 180 or 270."""
    codec: str
    nominal_rate_hz: float | None
    """Average rate as declared; the timestamps decide."""
    capture_rate_tag_hz: float | None
    """What the phone says it captured at (CHECKS: decides nothing alone)."""
    playback_intent: int | None
    """1: meant to be played at the full rate, 0: as slow motion."""
    edit_rate: float | None
    """Playing speed that the edit list asks for: the one that differs most from 1, else 1.0;
    None without an edit list."""
    pixel_aspect: float
    """Width over height of a pixel as shown; 1.0 for phones."""
    recorded_at: str | None
    """ISO 8601, UTC."""
    declared_duration_s: float | None


def read_clip_stream(
    container: av.container.InputContainer,
    first: av.VideoFrame,
    *,
    path: Path,
    sha256: str,
    edit_rates: tuple[float, ...],
) -> ClipStream:
    """Collect what the file says.

    Parameters
    ----------
    container : InputContainer
        The opened file.
    first : VideoFrame
        Its first picture, which carries the display matrix.
    path, sha256 : Path, str
        Where the file is and its hash.
    edit_rates : tuple of float
        From `measure.io.boxes.read_edit_rates`.

    Returns
    -------
    ClipStream

    Raises
    ------
    UnreadableClip
        When the picture is to be shown mirrored or slanted.
    """
    stream = film_stream(container)
    tags = {**container.metadata, **stream.metadata}
    rotation_deg = _clockwise_turn_deg(first, path)
    turned = rotation_deg % 180 != 0
    intent = _number(tags.get(PLAYBACK_INTENT_KEY))
    return ClipStream(
        path=path,
        sha256=sha256,
        width_px=first.height if turned else first.width,
        height_px=first.width if turned else first.height,
        rotation_deg=rotation_deg,
        codec=stream.codec_context.name,
        nominal_rate_hz=float(stream.average_rate) if stream.average_rate else None,
        capture_rate_tag_hz=_number(tags.get(CAPTURE_RATE_KEY)),
        playback_intent=None if intent is None else int(intent),
        edit_rate=max(edit_rates, key=lambda rate: abs(rate - 1.0), default=None),
        pixel_aspect=float(stream.sample_aspect_ratio or 1.0),
        recorded_at=_recorded_at(tags),
        declared_duration_s=_duration_s(container),
    )


def _clockwise_turn_deg(picture: av.VideoFrame, path: Path) -> int:
    attached: Any = picture.side_data  # its declared key type is wrong
    matrix = attached.get(SideDataType.DISPLAYMATRIX)
    if matrix is None:
        return 0
    # Rows of three: the turn, in 16.16 fixed point, stands in the first two of the first two.
    turn = np.frombuffer(memoryview(matrix), dtype=np.int32)[[0, 1, 3, 4]]
    signs = tuple(int(part) for part in np.rint(turn / np.abs(turn).max(initial=1)))
    if signs not in QUARTER_TURNS_DEG:
        # Mirrored, left and right would be the wrong way round in the picture or in the report.
        raise UnreadableClip(
            f"{path.name} asks to be shown mirrored or slanted.",
            "Switch off mirroring in the camera's settings, or film with the rear camera.",
        )
    return QUARTER_TURNS_DEG[signs]


def _number(text: str | None) -> float | None:
    try:
        value = float(text) if text is not None else None
    except ValueError:
        return None
    return value if value is not None and 0 <= value < float("inf") else None


def _recorded_at(tags: Mapping[str, str]) -> str | None:
    for key in RECORDED_KEYS:
        try:
            moment = datetime.fromisoformat(tags[key])
        except (KeyError, ValueError):
            continue
        if moment.year >= FIRST_PHONE_YEAR:
            # Without a zone it is UTC by the container's rules.
            aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            return aware.astimezone(UTC).isoformat()
    return None


def _duration_s(container: av.container.InputContainer) -> float | None:
    stream = film_stream(container)
    if stream.duration is not None and stream.time_base is not None:
        return float(stream.duration * stream.time_base)
    return container.duration / av.time_base if container.duration is not None else None
