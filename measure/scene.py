"""What is known about a clip before its feet are looked at closely: clock, scale, rough flights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.repeats import Repeats, find_repeats
from calibration.values import Scale
from measure.clean import clean_track
from measure.clock import USUAL_STATURE_M, Clock, ClockFacts, decide_clock
from measure.contacts.coarse import CoarseFlight, find_flights, find_lifts
from measure.contacts.floor import FootHeights, measure_foot_heights
from measure.contacts.foot_paths import FootPaths, interpolate_feet
from measure.errors import NothingToMeasure
from measure.legs import restore_legs
from measure.place import rows_at_place
from measure.request import ClipRequest
from measure.types import FEWEST_ROWS, Floats, Landmark, PoseTrack


@dataclass(frozen=True, slots=True)
class FlightSettings:
    """Which coarse flights are real, once the clock is known."""

    shortest_s: float = 0.06
    longest_s: float = 1.0
    gravity_shares: tuple[float, float] = (0.72, 1.38)
    """Fall of the hips over gravity, with a known scale; limbs and stature move it."""
    gravity_shares_unscaled: tuple[float, float] = (0.55, 1.7)
    vaguest_share: float = 0.5
    """A fall less well known than this is no witness."""


@dataclass(frozen=True, slots=True)
class Scene:
    """A clip's athlete on the real clock."""

    track: PoseTrack
    """Distinct pictures, legs restored, cleaned."""
    time_s: Floats
    """Real time of the track's rows; file time where the clock is refused."""
    frame_time_s: Floats
    """The same for every frame, shape (N,)."""
    distinct: NDArray[np.bool_]
    """Which frames show a picture of their own, shape (N,)."""
    clock: Clock
    gravity_mps2: float
    repeats: Repeats
    heights: FootHeights
    flights: tuple[CoarseFlight, ...]
    """Those in which somebody falls as gravity asks, rows of ``track``, on file time."""

    @property
    def interval_s(self) -> float:
        """Real time between distinct pictures."""
        return self.repeats.interval_file_s / self.clock.time_base.file_s_per_s

    def gravity_share(self, flight: CoarseFlight) -> float:
        """How fast the hips fall in one of ``flights``, as a share of gravity's."""
        return _gravity_share(
            flight.fall_px_per_s2, self.clock, stature_px=self.heights.stature_px,
            gravity_mps2=self.gravity_mps2,
        )  # fmt: skip

    @property
    def scale(self) -> Scale | None:
        """Metres per pixel where they are known."""
        return self.clock.scale if isinstance(self.clock.scale, Scale) else None


def set_scene(
    track: PoseTrack, *, facts: ClockFacts, motion_level: Floats, request: ClipRequest,
    gravity_mps2: float,
) -> Scene:  # fmt: skip
    """Decide clock and scale and find the rough flights.

    Parameters
    ----------
    track : PoseTrack
        As the pose model left it.
    facts : ClockFacts
    motion_level : ndarray of shape (N - 1,)
        How much each picture differs from the one before where it differs most.
    request : ClipRequest
    gravity_mps2 : float

    Returns
    -------
    Scene

    Raises
    ------
    NothingToMeasure
        Where head and heels are hardly ever seen.
    """
    repeats = find_repeats(facts.stamps_file_s, motion_level=motion_level)
    distinct = ~repeats.repeated
    seen = _rows(track, distinct[track.frame_index])
    seen = _rows(seen, rows_at_place(seen))
    _check(seen)
    restored = restore_legs(seen)
    heights = measure_foot_heights(restored)
    rough = find_flights(
        find_lifts(heights), restored, restored.file_time_s, stride=heights.stride
    )
    clock = decide_clock(
        rough, restored, facts=facts, repeats=repeats, request=request, gravity_mps2=gravity_mps2
    )
    slow = clock.time_base.file_s_per_s
    time_s = restored.file_time_s / slow
    return Scene(
        track=clean_track(restored, time_s=time_s), time_s=time_s,
        frame_time_s=facts.stamps_file_s / slow, distinct=distinct, clock=clock,
        gravity_mps2=gravity_mps2, repeats=repeats, heights=heights,
        flights=_real_flights(rough, clock, heights, gravity_mps2=gravity_mps2),
    )  # fmt: skip


def foot_paths(scene: Scene) -> FootPaths:
    """Put the legs on every frame's own time.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    FootPaths
    """
    stature_px = scene.heights.stature_px
    standing_m = USUAL_STATURE_M.value
    if scene.scale is not None:
        standing_m = stature_px * scene.scale.m_per_px
    return interpolate_feet(
        scene.track, scene.time_s, scene.frame_time_s, stature_px=stature_px,
        standing_m=standing_m,
    )  # fmt: skip


def _rows(track: PoseTrack, keep: NDArray[np.bool_]) -> PoseTrack:
    return replace(
        track, frame_index=track.frame_index[keep], file_time_s=track.file_time_s[keep],
        px=track.px[keep], visibility=track.visibility[keep], world_m=track.world_m[keep],
    )  # fmt: skip


def _check(track: PoseTrack) -> None:
    """Every foot must be seen for a while, and head and heels together."""
    points = [
        Landmark.NOSE, Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL, Landmark.LEFT_TOE,
        Landmark.RIGHT_TOE,
    ]  # fmt: skip
    whole = np.isfinite(track.px[:, points, 0]).all(axis=1)
    if whole.sum() < FEWEST_ROWS:
        raise NothingToMeasure(
            "The athlete is in the picture, from head to feet, for too short a time.",
            "Film from a second before the movement to a second after it, the whole body in view.",
        )


def _real_flights(
    rough: Sequence[CoarseFlight], clock: Clock, heights: FootHeights, *, gravity_mps2: float
) -> tuple[CoarseFlight, ...]:
    """Keep the flights whose hips, or whole body, fall as gravity asks, on the real clock.

    The hips of somebody who turns in the air are seen worst of all; where they seem to float, the
    rest of the body tells.
    """
    settings, slow = FlightSettings(), clock.time_base.file_s_per_s
    is_scaled = isinstance(clock.scale, Scale)
    low, high = settings.gravity_shares if is_scaled else settings.gravity_shares_unscaled
    to_gravity = _gravity_share(
        1.0, clock, stature_px=heights.stature_px, gravity_mps2=gravity_mps2
    )

    def falls_freely(fall: float, fall_sigma: float) -> bool:
        share, sigma = fall * to_gravity, fall_sigma * to_gravity
        return low - 2 * sigma < share < high + 2 * sigma and sigma < settings.vaguest_share

    def is_real(flight: CoarseFlight) -> bool:
        lasts_s = (flight.end_s - flight.start_s) / slow
        return settings.shortest_s < lasts_s < settings.longest_s and (
            falls_freely(flight.fall_px_per_s2, flight.fall_sigma_px_per_s2)
            or any(
                body.start_file_s == flight.start_s and body.is_parabola
                and falls_freely(body.fall_px_per_file_s2, body.fall_sigma_px_per_file_s2)
                for body in clock.falls
            )
        )  # fmt: skip

    return tuple(flight for flight in rough if is_real(flight))


def _gravity_share(
    fall_px_per_s2: float, clock: Clock, *, stature_px: float, gravity_mps2: float
) -> float:
    """A fall over gravity's; by the usual stature where there is no scale."""
    m_per_px = USUAL_STATURE_M.value / stature_px
    if isinstance(clock.scale, Scale):
        m_per_px = clock.scale.m_per_px
    return fall_px_per_s2 * clock.time_base.file_s_per_s**2 * m_per_px / gravity_mps2
