"""The clip's clock and scale: the athlete's flights as witnesses for calibration to judge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.clock_evidence import ClockEvidence
from calibration.falls import Fall, measure_fall
from calibration.repeats import Repeats, find_repeats
from calibration.scale import (
    reconcile_scales,
    scale_from_gravity,
    scale_from_reference,
    scale_from_stature,
)
from calibration.time_base import fit_time_base
from calibration.values import Estimate, Refused, Scale, TimeBase
from measure.body import centre_of_mass_px
from measure.contacts.coarse import CoarseFlight
from measure.contacts.floor import stature_in_px
from measure.request import ClipRequest
from measure.segments import Sex
from measure.types import FOOT_LANDMARKS, Floats, Landmark, PoseTrack

USUAL_STATURE_M = Estimate(1.70, 0.10)
"""Stands in where nobody gave a stature, to judge a clock and to set windows; no number in
metres rests on it."""
REFERENCE_DEPTH_DOUBT = 0.03
BOX_STATURES = 0.08
"""Who lands lower by this than she left came off a box."""


@dataclass(frozen=True, slots=True)
class ClockFacts:
    """What the file says about its own clock."""

    stamps_file_s: Floats
    capture_rate_tag_hz: float | None
    playback_intent: int | None
    edit_rate: float | None


@dataclass(frozen=True, slots=True)
class Clock:
    """The clip's clock and scale."""

    time_base: TimeBase
    scale: Scale | Refused
    falls: tuple[Fall, ...]


def decide_clock(
    flights: Sequence[CoarseFlight], track: PoseTrack, *, facts: ClockFacts, repeats: Repeats,
    request: ClipRequest, gravity_mps2: float,
) -> Clock:  # fmt: skip
    """Decide how fast the file plays and how large a pixel is.

    Parameters
    ----------
    flights : sequence of CoarseFlight
        Found on file time.
    track : PoseTrack
        Distinct pictures only.
    facts : ClockFacts
    repeats : Repeats
    request : ClipRequest
    gravity_mps2 : float

    Returns
    -------
    Clock
    """
    falls = _falls(flights, track, sex=request.sex)
    rulers = _rulers(track, request)
    given = reconcile_scales(rulers) if rulers else None
    ruler, assumed = (given, False) if isinstance(given, Scale) else (_assumed(track), True)
    evidence = ClockEvidence(
        capture_rate_tag_hz=facts.capture_rate_tag_hz, playback_intent=facts.playback_intent,
        edit_rate_not_one=_edited(facts),
        falls=falls, ruler=ruler, ruler_assumed=assumed, repeats=repeats,
        asked_capture_rate_hz=request.capture_rate_hz,
    )  # fmt: skip
    time_base = fit_time_base(facts.stamps_file_s, evidence=evidence, gravity_mps2=gravity_mps2)
    return Clock(time_base, _scale(given, falls, time_base, evidence, request, gravity_mps2), falls)


def decide_file_clock(
    facts: ClockFacts, *, motion_level: Floats, request: ClipRequest, gravity_mps2: float
) -> tuple[TimeBase, NDArray[np.bool_]]:
    """Decide how fast a file plays in which nobody jumps.

    Parameters
    ----------
    facts : ClockFacts
    motion_level : ndarray of shape (N - 1,)
    request : ClipRequest
    gravity_mps2 : float

    Returns
    -------
    (TimeBase, ndarray of shape (N,))
        The clock, and which frames show a picture of their own.
    """
    repeats = find_repeats(facts.stamps_file_s, motion_level=motion_level)
    evidence = ClockEvidence(
        capture_rate_tag_hz=facts.capture_rate_tag_hz, playback_intent=facts.playback_intent,
        edit_rate_not_one=_edited(facts), repeats=repeats,
        asked_capture_rate_hz=request.capture_rate_hz,
    )  # fmt: skip
    time_base = fit_time_base(facts.stamps_file_s, evidence=evidence, gravity_mps2=gravity_mps2)
    return time_base, ~repeats.repeated


def _edited(facts: ClockFacts) -> bool:
    return facts.edit_rate is not None and abs(facts.edit_rate - 1) > 1e-3


def _falls(
    flights: Sequence[CoarseFlight], track: PoseTrack, *, sex: Sex | None
) -> tuple[Fall, ...]:
    """Parabolas of the centre of mass in every jump that is long enough.

    A drop is no witness: its first part is stepping off, not falling.
    """
    heights_px = -centre_of_mass_px(track, sex=sex)[:, 1]
    falls = []
    stature_px = stature_in_px(track)
    for flight in flights:
        if not flight.is_jump or lands_lower(flight, track, stature_px=stature_px):
            continue
        rows = slice(flight.first_row, flight.last_row + 1)
        times = track.file_time_s[rows]
        fall = measure_fall(
            times, heights_px[rows], airborne_file_s=(float(times[0]), float(times[-1]))
        )
        if isinstance(fall, Fall):
            falls.append(fall)
    return tuple(falls)


def lands_lower(flight: CoarseFlight, track: PoseTrack, *, stature_px: float) -> bool:
    """Tell whether both feet land well below where they left, as off a box."""
    sinks_px = []
    for lift in flight.lifts:
        marks = FOOT_LANDMARKS[lift.foot]
        low = np.fmax(track.px[:, marks.heel, 1], track.px[:, marks.toe, 1])
        before = low[max(0, lift.first_row - 4) : lift.first_row]
        after = low[lift.last_row + 1 : lift.last_row + 5]
        if np.isfinite(before).any() and np.isfinite(after).any():
            sinks_px.append(float(np.nanmedian(after) - np.nanmedian(before)))
    return bool(sinks_px) and min(sinks_px) > BOX_STATURES * stature_px


def _rulers(track: PoseTrack, request: ClipRequest) -> list[Scale]:
    rulers = []
    if request.stature_m is not None:
        scale = _stature_scale(track, Estimate(request.stature_m, 0.01))
        if isinstance(scale, Scale):
            rulers.append(scale)
    if request.reference is not None:
        reference = request.reference
        rulers.append(
            scale_from_reference(
                np.array(reference.first_px), np.array(reference.second_px),
                length_m=reference.length_m, depth_doubt=REFERENCE_DEPTH_DOUBT,
            )
        )  # fmt: skip
    return rulers


def _stature_scale(track: PoseTrack, stature_m: Estimate) -> Scale | Refused:
    return scale_from_stature(
        track.px[:, Landmark.NOSE], track.px[:, [Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL]],
        stature_m=stature_m,
    )  # fmt: skip


def _assumed(track: PoseTrack) -> Scale | None:
    scale = _stature_scale(track, USUAL_STATURE_M)
    return scale if isinstance(scale, Scale) else None


def _scale(
    given: Scale | Refused | None, falls: tuple[Fall, ...], time_base: TimeBase,
    evidence: ClockEvidence, request: ClipRequest, gravity_mps2: float,
) -> Scale | Refused:  # fmt: skip
    """The given scale where it stands, else gravity's where the clock rests on no guess."""
    if isinstance(given, Scale | Refused):
        return given
    clock_is_known = evidence.asked_capture_rate_hz is not None or (
        evidence.capture_rate_tag_hz is not None
    )
    if clock_is_known and time_base.refusal is None:
        return scale_from_gravity(falls, time_base=time_base, gravity_mps2=gravity_mps2)
    if request.stature_m is not None:
        return Refused(
            what="scale", reason="the athlete never stands upright and still in this clip",
            hint="Let the clip begin with a second of quiet standing.",
        )  # fmt: skip
    return Refused(
        what="scale", reason="neither a stature nor a reference length was given",
        hint="Give the athlete's stature.",
    )
