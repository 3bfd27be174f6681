"""What there is to see at a moment of a clip: poses, feet on the ground, events; no pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measure.report import JumpReport
from measure.types import Contact, Floats, Foot, Instant, Landmark, PoseTrack

EventKind = Literal["take_off", "landing", "deepest"]
FootState = Literal["ground", "air"]

LONGEST_GAP_S = 0.12
"""Poses farther apart than this are not joined: in between, nobody saw the body."""
DEEPEST_WITHIN_S = 0.9
"""The deepest point after a landing is looked for this long, or until the next take-off."""
SHORTEST_CONTACT_S = 0.08
"""A foot that was seen to come or go stood at least this long, as in a sprint."""
START_LEVEL_S = 0.25
SAME_MOMENT_S = 1e-6
HIPS = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]


@dataclass(frozen=True, slots=True)
class Event:
    """A moment worth a picture of its own."""

    jump: int
    """Number of the jump, counted from 1."""
    kind: EventKind
    time_s: float
    sigma_s: float | None = None
    """None for the deepest point, which is read from the poses."""


@dataclass(frozen=True, slots=True)
class Span:
    """One foot's state from one instant to another; infinite where the clip begins or ends."""

    state: FootState
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class HipCurve:
    """Height of the middle of the hips over where it was at the start."""

    time_s: Floats
    """Shape (T,)."""
    height: Floats
    """Shape (T,), up positive; NaN where the hips are not seen."""
    unit: Literal["cm", "m", "pixels"]


def no_track(width_px: int, height_px: int) -> PoseTrack:
    """Give a track without any row: nobody was seen."""
    marks = len(Landmark)
    return PoseTrack(
        frame_index=np.empty(0, np.int64), file_time_s=np.empty(0),
        px=np.empty((0, marks, 2)), visibility=np.empty((0, marks)),
        world_m=np.empty((0, marks, 3)), width_px=width_px, height_px=height_px,
    )  # fmt: skip


def pose_at(track: PoseTrack, row_time_s: Floats, *, at_s: float) -> tuple[Floats, Floats]:
    """Body points at any moment, on straight lines between the rows around it.

    Parameters
    ----------
    track : PoseTrack
    row_time_s : ndarray of shape (T,)
        Time of each row.
    at_s : float
        Moment on the same clock.

    Returns
    -------
    px : ndarray of shape (33, 2)
        NaN where a point is not seen on both sides of the moment, or the rows lie too far apart.
    visibility : ndarray of shape (33,)
    """
    after = int(np.searchsorted(row_time_s, at_s - SAME_MOMENT_S))
    if after < len(row_time_s) and abs(row_time_s[after] - at_s) <= SAME_MOMENT_S:
        return track.px[after], track.visibility[after]
    if after in (0, len(row_time_s)) or np.diff(row_time_s)[after - 1] > LONGEST_GAP_S:
        return np.full(track.px.shape[1:], np.nan), np.zeros(track.px.shape[1])
    gap_s = row_time_s[after] - row_time_s[after - 1]
    part = (at_s - row_time_s[after - 1]) / gap_s
    px = (1 - part) * track.px[after - 1] + part * track.px[after]
    return px, np.minimum(track.visibility[after - 1], track.visibility[after])


def list_spans(contacts: Sequence[Contact], *, foot: Foot) -> tuple[Span, ...]:
    """When one foot is known to be on the ground, and when in the air.

    Parameters
    ----------
    contacts : sequence of Contact
        Of both feet, each foot's in order of time.
    foot : {"left", "right"}

    Returns
    -------
    tuple of Span
        In order. What lies between two spans is not known: an instant there was not measured.
    """
    if not contacts:
        return ()
    mine = [contact for contact in contacts if contact.foot == foot]
    # Where the clip begins and ends, an open end is no unknown one.
    left_s: float | None = -np.inf
    spans: list[Span] = []
    for number, contact in enumerate(mine):
        start_s = _instant_s(contact.start, otherwise=-np.inf if number == 0 else None)
        last = number == len(mine) - 1
        end_s = _instant_s(contact.end, otherwise=np.inf if last else None)
        if contact.start is not None and left_s is not None:
            spans.append(Span("air", left_s, contact.start.time_s))
        if start_s is None and contact.end is not None:
            start_s = contact.end.time_s - SHORTEST_CONTACT_S
        if end_s is None and contact.start is not None:
            end_s = contact.start.time_s + SHORTEST_CONTACT_S
        if start_s is not None and end_s is not None:
            spans.append(Span("ground", start_s, end_s))
        left_s = None if contact.end is None else contact.end.time_s
    if left_s is not None:
        spans.append(Span("air", left_s, np.inf))
    return tuple(spans)


def _instant_s(instant: Instant | None, *, otherwise: float | None) -> float | None:
    return otherwise if instant is None else instant.time_s


def state_at(spans: Sequence[Span], *, at_s: float) -> FootState | None:
    """State of a foot at a moment; None where it is not known."""
    for span in spans:
        if span.start_s <= at_s < span.end_s:
            return span.state
    return None


def read_hip_curve(track: PoseTrack, row_time_s: Floats, *, m_per_px: float | None) -> HipCurve:
    """Height of the hips over their height at the start of the clip.

    Parameters
    ----------
    track : PoseTrack
        In the pixels of one still picture.
    row_time_s : ndarray of shape (T,)
    m_per_px : float or None
        Without it the curve is in pixels.

    Returns
    -------
    HipCurve

    Notes
    -----
    *When this is wrong*: who walks towards or away from the camera rises or sinks in the picture.
    """
    level_px = track.px[:, HIPS, 1].mean(axis=1)
    seen = np.flatnonzero(np.isfinite(level_px))
    if seen.size == 0:
        return HipCurve(row_time_s, np.full(level_px.shape, np.nan), "pixels")
    at_start = seen[row_time_s[seen] <= row_time_s[seen[0]] + START_LEVEL_S]
    height_px = np.median(level_px[at_start]) - level_px
    if m_per_px is None:
        return HipCurve(row_time_s, height_px, "pixels")
    return HipCurve(row_time_s, height_px * m_per_px * 100, "cm")


def list_events(
    jumps: Sequence[JumpReport], *, track: PoseTrack, row_time_s: Floats
) -> tuple[Event, ...]:
    """Take-off, landing and deepest point of every jump, in order.

    Parameters
    ----------
    jumps : sequence of JumpReport
    track : PoseTrack
    row_time_s : ndarray of shape (T,)

    Returns
    -------
    tuple of Event
        Without a deepest point where the hips are still sinking when they are last seen.
    """
    hip_y_px = track.px[:, HIPS, 1].mean(axis=1)
    events: list[Event] = []
    for number, jump in enumerate(jumps, start=1):
        events.append(Event(number, "take_off", jump.take_off_s, jump.take_off_sigma_s))
        events.append(Event(number, "landing", jump.landing_s, jump.landing_sigma_s))
        until_s = jump.landing_s + DEEPEST_WITHIN_S
        if number < len(jumps):
            until_s = min(until_s, jumps[number].take_off_s)
        told = jump.landing.deepest_s if jump.landing is not None else None
        deepest_s = told or _find_deepest(hip_y_px, row_time_s, jump.landing_s, until_s)
        if deepest_s is not None:
            events.append(Event(number, "deepest", deepest_s))
    return tuple(events)


def _find_deepest(hip_y_px: Floats, row_time_s: Floats, from_s: float, to_s: float) -> float | None:
    rows = np.flatnonzero((row_time_s >= from_s) & (row_time_s <= to_s) & np.isfinite(hip_y_px))
    if rows.size < 3:
        return None
    lowest = int(rows[np.argmax(hip_y_px[rows])])
    return None if lowest == rows[-1] else float(row_time_s[lowest])


def nearest_frame(frame_time_s: Floats, *, at_s: float) -> int:
    """Row of the frame nearest in time, whatever the spacing of the frames.

    Parameters
    ----------
    frame_time_s : ndarray of shape (N,)
        Increasing.
    at_s : float

    Returns
    -------
    int
    """
    return int(np.argmin(np.abs(frame_time_s - at_s)))
