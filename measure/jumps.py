"""Heights of one jump: from its time in the air, and from the path of the centre of mass.

In the air the centre of mass rises and falls as a thrown stone. When it tops out, after the
take-off, says how fast it left the ground, whatever posture the athlete lands in: the height is
g (t_top - t_take_off)^2 / 2. No scale is needed, and no clock but the frames' own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.body import centre_of_mass_px
from measure.physics import height_from_flight
from measure.standing import Standing, find_standing, lower_toe_px
from measure.types import Estimate, Flight, Floats, PoseTrack, Refused, Scale


@dataclass(frozen=True, slots=True)
class JumpSettings:
    """Tunables of `measure_jumps`."""

    fewest_rows: int = 5
    largest_gap_share: float = 0.35
    """A hole in the path longer than this share of the flight hides its shape."""
    body_sigma_m: float = 0.008
    """How far the pose's centre of mass strays from the true one within a flight: landmarks sit
    elsewhere in a stretched body than in a tucked one. Measured on drawn figures."""
    body_memory_s: float = 0.1
    """... over this time, so that neighbouring frames err alike."""
    frame_share: float = 0.25
    """Error that is new in each frame, as a share of the straying."""
    common_take_off_sigma_s: float = 0.0
    """Doubt of the take-off instant that repeats from jump to jump: how slowly a foot leaves
    differs between people and shoes. It cancels in one athlete's trend."""
    standing_sigma_m: float = 0.013
    """Doubt of the centre's level at take-off against that in quiet standing."""
    same_ground_share: float = 0.03
    """Standing counts where the toes are as low as at take-off, within this share of the
    centre's height above them: not on a box, not nearer to the camera."""


@dataclass(frozen=True, slots=True)
class JumpHeights:
    """The three heights of one flight, which are three different things."""

    height: Estimate
    """g T^2 / 8: reads high where the landing posture is lower."""
    height_com: Estimate | Refused
    """Rise of the centre of mass from take-off to the top."""
    height_standing: Estimate | Refused
    """Rise of the centre of mass above quiet standing, the heel raise included."""


@dataclass(frozen=True, slots=True)
class _Arc:
    """The thrown stone's path: c0 + c1 t - fall t^2 / 2 about the middle of the flight."""

    middle_s: float
    level_px: float
    speed_px_per_s: float
    fall_px_per_s2: float
    apex_sigma_s: float

    @property
    def apex_s(self) -> float:
        return self.middle_s + self.speed_px_per_s / self.fall_px_per_s2

    def height_px(self, time_s: float) -> float:
        since_s = time_s - self.middle_s
        return self.level_px + self.speed_px_per_s * since_s - self.fall_px_per_s2 * since_s**2 / 2


def measure_jumps(
    flights: Sequence[Flight], *, track: PoseTrack, time_s: Floats, scale: Scale | None = None,
    gravity_mps2: float = STANDARD_GRAVITY_MPS2, settings: JumpSettings | None = None,
) -> tuple[JumpHeights, ...]:  # fmt: skip
    """Measure how high each flight went.

    Parameters
    ----------
    flights : sequence of Flight
    track : PoseTrack
        Raw or cleaned; frames may be missing and unevenly spaced. From a camera that stands
        still, or with its movement taken out.
    time_s : ndarray of shape (T,)
        Real time of the track's rows, on the clock of the flights.
    scale : Scale, optional
        Only the height above standing needs it.
    gravity_mps2 : float
    settings : JumpSettings, optional

    Returns
    -------
    tuple of JumpHeights
        One for each flight.

    Raises
    ------
    ValueError
        When the times do not belong to the track, or a flight ends before it begins.

    Notes
    -----
    *When this is wrong*: a camera that moves, a wrong clock, something heavy in the hands.
    """
    settings = settings or JumpSettings()
    if time_s.shape != track.file_time_s.shape:
        raise ValueError(f"time_s: expected shape {track.file_time_s.shape}, got {time_s.shape}")
    centre_px = centre_of_mass_px(track)
    stands = find_standing(track, time_s=time_s, centre_px=centre_px)
    toe_px = lower_toe_px(track)
    heights = []
    for flight in flights:
        arc = _fit_arc(time_s, -centre_px[:, 1], flight=flight, settings=settings)
        com = _height_com(arc, flight, gravity_mps2=gravity_mps2, settings=settings)
        ground_px = _ground_px(time_s, toe_px, flight=flight)
        stand = _same_ground(stands, ground_px=ground_px, flight=flight, settings=settings)
        standing = _height_standing(
            arc, flight, stand=stand, scale=scale, gravity_mps2=gravity_mps2, settings=settings
        )
        heights.append(
            JumpHeights(height_from_flight(flight, gravity_mps2=gravity_mps2), com, standing)
        )
    return tuple(heights)


def _fit_arc(
    time_s: Floats, height_px: Floats, *, flight: Flight, settings: JumpSettings
) -> _Arc | Refused:
    """Fit free fall to the centre of mass between take-off and landing.

    Generalised least squares: errors of frames dt apart are alike by exp(-dt / memory), so a
    high frame rate is not taken for more knowledge than it is.
    """
    start_s, end_s = flight.take_off.time_s, flight.landing.time_s
    seen = (time_s >= start_s) & (time_s <= end_s) & np.isfinite(height_px)
    times, heights = time_s[seen], height_px[seen]
    holes_s = np.diff(np.concatenate([[start_s], times, [end_s]]))
    too_few = times.size < settings.fewest_rows
    if too_few or holes_s.max() > settings.largest_gap_share * (end_s - start_s):
        return Refused(
            what="height_com_m",
            reason=f"The body is seen whole in only {times.size} pictures of the flight, or not "
            "all through it.",
            hint="Film at 60 pictures a second or more with the whole body in the picture.",
        )
    arc = _least_squares(times, heights, middle_s=(start_s + end_s) / 2, settings=settings)
    if arc is None or not start_s < arc.apex_s < end_s:
        return Refused(
            what="height_com_m",
            reason="The body's path in the air does not rise and fall as a thrown body's does.",
            hint="Keep the phone still and other people out of the way.",
        )
    return arc


def _least_squares(
    times: Floats, heights: Floats, *, middle_s: float, settings: JumpSettings
) -> _Arc | None:
    """Solve for the arc; None where the path does not bend down clearly."""
    since = times - middle_s
    basis = np.stack([np.ones_like(since), since, -(since**2) / 2], axis=1)
    likeness = np.exp(-np.abs(times[:, None] - times) / settings.body_memory_s)
    root = np.linalg.cholesky(likeness + settings.frame_share**2 * np.eye(times.size))
    whitened, target = np.linalg.solve(root, basis), np.linalg.solve(root, heights)
    solution = np.linalg.lstsq(whitened, target, rcond=None)[0]
    level, speed, fall = (float(number) for number in solution)
    if fall <= 0:
        return None
    misfit = target - whitened @ solution
    scatter_px = math.sqrt(float(misfit @ misfit) / max(times.size - 3, 1))
    # The flight is its own ruler: the fall in pixels is g in metres.
    stray_px = max(scatter_px, settings.body_sigma_m * fall / STANDARD_GRAVITY_MPS2)
    covariance = np.linalg.inv(whitened.T @ whitened) * stray_px**2
    if fall < 3 * math.sqrt(covariance[2, 2]):
        return None
    slopes = np.array([0.0, 1 / fall, -speed / fall**2])
    return _Arc(middle_s, level, speed, fall, math.sqrt(slopes @ covariance @ slopes))


def _height_com(
    arc: _Arc | Refused, flight: Flight, *, gravity_mps2: float, settings: JumpSettings
) -> Estimate | Refused:
    if isinstance(arc, Refused):
        return arc
    rise_s = arc.apex_s - flight.take_off.time_s
    sigma_s = math.hypot(
        arc.apex_sigma_s, flight.take_off.sigma_s, settings.common_take_off_sigma_s
    )
    return Estimate(gravity_mps2 * rise_s**2 / 2, gravity_mps2 * rise_s * sigma_s)


def _height_standing(
    arc: _Arc | Refused, flight: Flight, *, stand: Standing | None, scale: Scale | None,
    gravity_mps2: float, settings: JumpSettings,
) -> Estimate | Refused:  # fmt: skip
    """Add the rise from quiet standing to take-off.

    A take-off taken too late lowers the first part by what it adds to the second; only what the
    scale and the fall disagree about is left of its error.
    """
    if isinstance(arc, Refused):
        return Refused("height_standing_m", arc.reason, arc.hint)
    if scale is None:
        return Refused(
            "height_standing_m",
            "Without metres per pixel the rise from quiet standing is not known.",
            "Give the athlete's stature, and stand tall and still for a second before the jump.",
        )
    if stand is None:
        return Refused(
            "height_standing_m",
            "No quiet standing on both feet, on the ground of the take-off, is seen in the clip.",
            "Stand tall and still for a second before the jump, both feet in view.",
        )
    rise_s = arc.apex_s - flight.take_off.time_s
    raised_px = arc.height_px(flight.take_off.time_s) + stand.centre_px
    disagreement_mps = (gravity_mps2 - arc.fall_px_per_s2 * scale.m_per_px) * rise_s
    sigma_m = math.hypot(
        raised_px * scale.m_per_px_sigma,
        stand.centre_sigma_px * scale.m_per_px,
        settings.standing_sigma_m,
        gravity_mps2 * rise_s * arc.apex_sigma_s,
        disagreement_mps * math.hypot(flight.take_off.sigma_s, settings.common_take_off_sigma_s),
    )
    return Estimate(gravity_mps2 * rise_s**2 / 2 + raised_px * scale.m_per_px, sigma_m)


def _ground_px(time_s: Floats, toe_px: Floats, *, flight: Flight) -> float:
    """Level of the toes just before they leave; NaN where they are not seen then."""
    before_s = flight.take_off.time_s - time_s
    toes = toe_px[(before_s > 0.01) & (before_s < 0.12)]
    toes = toes[np.isfinite(toes)]
    return float(np.median(toes)) if toes.size else math.nan


def _same_ground(
    stands: Sequence[Standing], *, ground_px: float, flight: Flight, settings: JumpSettings
) -> Standing | None:
    """Choose the quiet standing nearest in time on the ground that the jump left."""
    fitting = [
        stand
        for stand in stands
        if abs(stand.toe_px - ground_px)
        < settings.same_ground_share * (stand.toe_px - stand.centre_px)
    ]
    return min(fitting, key=lambda stand: _time_between(stand, flight), default=None)


def _time_between(stand: Standing, flight: Flight) -> float:
    if stand.end_s <= flight.take_off.time_s:
        return flight.take_off.time_s - stand.end_s
    return max(stand.start_s - flight.landing.time_s, 0.0)
