"""The parabola of one flight: how fast the body seems to fall, in pixels and file seconds.

In the air the centre of mass falls at g. What the file shows instead tells how fast it plays
(with a known scale) or how large a pixel is (with a known clock).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.fall_fits import Parabola, fit_parabola, misfits_of
from calibration.values import Refused

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FallSettings:
    """Tunables of `measure_fall`."""

    fewest_samples: int = 7
    """With six pictures or fewer the curvature says nothing about the clock."""
    largest_misfit: float = 0.12
    """Residual over the height of the arc (fall times T squared over 8) above which the path is
    no parabola: arms, a lost track, a clock that changes on the way."""
    tempo_ratio: float = 1.3
    """A clock that jumps by this factor within the flight counts as changed (fall: squared)."""
    least_tempo_misfit: float = 0.045
    """A clock that changes to half or double anywhere but in the first or last sixth of a flight
    leaves this share of the arc or more off the plain parabola (computed). Two drawn jumps with a
    turn left 0.029 and 0.043. A change by less than some 1.4 passes unseen."""
    fewest_for_tempo: int = 12
    """Fewer pictures can't tell a ramp from noise."""
    structured: float = 1.15
    """Residuals whose neighbours are less alike than this (root of samples that count as one) hold
    neither a step nor a ramp."""
    step_gain: float = 16.0
    """A time step or a change of tempo must raise twice the log likelihood by this much."""
    step_residual_ratio: float = 0.45
    """... and must leave no more than this share of the residual: the body model's own error
    looks like a step down to half of it."""
    end_run_sigmas: float = 4.0
    end_run_share: float = 0.03
    """Pictures at either end of the flight, two or more in a row, that lie off the parabola by this
    many robust sigmas and by this share of the arc show another pace there."""
    outlier_sigmas: float = 2.0
    """Beyond this many robust sigmas a sample loses weight (Huber)."""


@dataclass(frozen=True, slots=True)
class Fall:
    """One flight as a parabola of the file's clock."""

    start_file_s: float
    """Take-off, or as near to it as is known."""
    end_file_s: float
    """Landing."""
    fall_px_per_file_s2: float
    """Downward acceleration of the centre of mass."""
    fall_sigma_px_per_file_s2: float
    """From the scatter about the parabola only; doubt of scale and body model comes on top."""
    residual_px: float
    """Standard deviation about the parabola."""
    sample_count: int
    """Distinct pictures used."""
    is_parabola: bool = True
    """False where the path bends otherwise: such a flight can't witness for or against a clock."""
    changes_tempo: bool = False
    """The clock changes its pace within the flight: a slow-motion ramp."""
    missing_file_s: float = 0.0
    """Time that the stamps fail to show at ``missing_at_file_s``: a dropped picture with even
    stamps; negative for a picture too many."""
    missing_at_file_s: float | None = None

    @property
    def duration_file_s(self) -> float:
        """Time in the air on the file's clock, a missing picture included."""
        return self.end_file_s - self.start_file_s + self.missing_file_s


def measure_fall(
    file_time_s: Floats,
    height_px: Floats,
    *,
    airborne_file_s: tuple[float, float],
    settings: FallSettings | None = None,
) -> Fall | Refused:
    """Fit free fall to the centre of mass of one flight.

    Parameters
    ----------
    file_time_s : ndarray of shape (N,)
        Stamps of the distinct pictures within the flight, increasing. Leave repeats out: they
        are no new information.
    height_px : ndarray of shape (N,)
        Height of the centre of mass in the picture, upwards; NaN where not seen. A single body
        point does: only where the limbs keep still.
    airborne_file_s : (float, float)
        Take-off and landing on the same clock.
    settings : FallSettings, optional

    Returns
    -------
    Fall or Refused
        Refused where there are too few pictures to see a curve.

    Notes
    -----
    y = c0 + c1 t - a t^2 / 2 by Huber-weighted least squares. For N even samples over a flight
    T with point noise s, sigma of a is 2 sqrt(180) s / (sqrt(N) T^2); correlated residuals
    widen it. *When this is wrong*: a camera that tilts or an athlete who comes nearer bends the
    path as well; limbs that swing unlike the body model do too.
    """
    settings = settings or FallSettings()
    _check(file_time_s, height_px, airborne_file_s)
    seen = np.isfinite(height_px)
    times, heights = file_time_s[seen], height_px[seen]
    fall = _measure(times, heights, airborne_file_s, settings)
    if isinstance(fall, Fall) and fall.changes_tempo:
        # Where a flight begins and ends is known to a picture; one of the push-off bends it.
        within = _measure(times[1:-1], heights[1:-1], airborne_file_s, settings)
        if isinstance(within, Fall) and not within.changes_tempo:
            return within
    return fall


def _measure(
    file_time_s: Floats, heights: Floats, airborne_file_s: tuple[float, float],
    settings: FallSettings,
) -> Fall | Refused:  # fmt: skip
    times = file_time_s - airborne_file_s[0]
    count = int(times.shape[0])
    if count < settings.fewest_samples:
        return Refused(
            what="fall",
            reason=f"The flight shows only {count} distinct pictures.",
            hint="Film at 60 pictures a second or more.",
        )
    plain = _fit(times, heights, settings)
    missing_s, missing_at, stepped = _best_step(times, heights, plain, settings)
    bends = stepped.residual_px <= settings.largest_misfit * _arc_px(times, stepped)
    ramp = _tempo_changes(times, heights, stepped, settings) or (
        missing_at is not None and _leaves_at_ends(times, plain, settings)
    )
    return Fall(
        start_file_s=airborne_file_s[0],
        end_file_s=airborne_file_s[1],
        fall_px_per_file_s2=stepped.fall,
        fall_sigma_px_per_file_s2=stepped.fall_sigma,
        residual_px=stepped.residual_px,
        sample_count=count,
        is_parabola=stepped.fall > 0 and bends and not ramp,
        changes_tempo=ramp,
        missing_file_s=missing_s,
        missing_at_file_s=None if missing_at is None else missing_at + airborne_file_s[0],
    )


def _check(times: Floats, heights: Floats, airborne: tuple[float, float]) -> None:
    if times.ndim != 1 or times.shape != heights.shape:
        raise ValueError(
            f"height_px: expected the shape of file_time_s {times.shape}, got {heights.shape}"
        )
    if times.size > 1 and not np.all(np.diff(times) > 0):
        raise ValueError("file_time_s: expected strictly increasing")
    if not airborne[1] > airborne[0]:
        raise ValueError(f"airborne_file_s: expected start before end, got {airborne}")


def _fit(
    times: Floats, heights: Floats, settings: FallSettings, extra: Floats | None = None
) -> Parabola:
    return fit_parabola(times, heights, outlier_sigmas=settings.outlier_sigmas, extra=extra)


def _best_step(
    times: Floats, heights: Floats, plain: Parabola, settings: FallSettings
) -> tuple[float, float | None, Parabola]:
    """Look for pictures that were dropped (or doubled) without the stamps showing it."""
    if plain.widening < settings.structured:
        return 0.0, None, plain
    interval_s = float(np.median(np.diff(times)))
    tried: list[tuple[int, int]] = []
    moved: list[Floats] = []
    for after in range(4, times.size - 3):
        later = np.arange(times.size) >= after
        for pictures in (1, 2, -1):
            stepped = np.where(later, times + pictures * interval_s, times)
            if pictures > 0 or np.all(np.diff(stepped) > -0.5 * interval_s):
                tried.append((after, pictures))
                moved.append(stepped)
    if not tried:
        return 0.0, None, plain
    misfits = misfits_of(np.array(moved), heights, outlier_sigmas=settings.outlier_sigmas)
    best = int(np.argmin(misfits))
    fit = _fit(moved[best], heights, settings)
    if not (fit.misfit < plain.misfit and _clearly_better(fit, plain, times.size, settings)):
        return 0.0, None, plain
    after, pictures = tried[best]
    return pictures * interval_s, float(times[after - 1] + times[after]) / 2, fit


def _clearly_better(fit: Parabola, plain: Parabola, count: int, settings: FallSettings) -> bool:
    independent = count / fit.widening**2
    gain = independent * math.log(max(plain.misfit, 1e-12) / max(fit.misfit, 1e-12))
    return (
        gain > settings.step_gain
        and fit.residual_px < settings.step_residual_ratio * plain.residual_px
    )


def _tempo_changes(
    times: Floats, heights: Floats, plain: Parabola, settings: FallSettings
) -> bool:
    """Tell whether the clock changes its pace within the flight (a slow-motion ramp).

    At a change the picture's speed and fall both jump; the parabola with a second, bent part
    from some picture on catches the jump in fall.
    """
    if times.size < settings.fewest_for_tempo or plain.widening < settings.structured:
        return False
    if _leaves_at_ends(times, plain, settings):
        return True
    if plain.residual_px < settings.least_tempo_misfit * _arc_px(times, plain):
        return False
    least = settings.tempo_ratio**2
    for after in _where_tempo_may_change(times, heights, plain, settings):
        late = np.maximum(times - times[after], 0.0)
        kink = _fit(times, heights, settings, extra=late)
        bend = _fit(times, heights, settings, extra=late**2)
        better = kink if kink.misfit < bend.misfit else bend
        if _clearly_better(better, plain, times.size, settings) and _speeds_differ(
            times, heights, after, least, settings
        ):
            return True
    return False


def _where_tempo_may_change(
    times: Floats, heights: Floats, plain: Parabola, settings: FallSettings
) -> list[int]:
    """Give the pictures after which the path might bend: were all samples independent, it would."""
    after = np.arange(3, times.size - 3)
    late: Floats = np.maximum(times - times[after, None], 0.0)
    extra = np.concatenate([late, late**2])
    both = misfits_of(
        np.broadcast_to(times, extra.shape), heights, extra=extra,
        outlier_sigmas=settings.outlier_sigmas,
    )  # fmt: skip
    misfits = np.maximum(both.reshape(2, -1).min(axis=0), 1e-12)
    gains = times.size * np.log(max(plain.misfit, 1e-12) / misfits)
    return [int(one) for one in after[gains > 0.99 * settings.step_gain]]


def _speeds_differ(
    times: Floats, heights: Floats, after: int, least: float, settings: FallSettings
) -> bool:
    """Fit both parts alone where they are long enough, and compare their falls."""
    fewest = settings.fewest_samples - 2
    if min(after, times.size - after) < fewest:
        return True
    falls = [
        _fit(times[part], heights[part], settings).fall
        for part in (slice(0, after), slice(after, None))
    ]
    return min(falls) <= 0 or max(falls) / min(falls) > least


def _leaves_at_ends(times: Floats, fit: Parabola, settings: FallSettings) -> bool:
    """Tell whether the first or last two or more samples lie off on the same side."""
    if times.size < settings.fewest_for_tempo:
        return False
    least_px = settings.end_run_share * _arc_px(times, fit)
    limit = max(settings.end_run_sigmas * fit.spread_px, least_px)
    length = max(2, times.size // 20)
    ends = (fit.residuals_px[:length], fit.residuals_px[-length:])
    return any(bool(np.all(np.sign(end[0]) * end > limit)) for end in ends)


def _arc_px(times: Floats, fit: Parabola) -> float:
    """Height of the arc over the time that was seen."""
    return abs(fit.fall) * float(np.ptp(times)) ** 2 / 8
