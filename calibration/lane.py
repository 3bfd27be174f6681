"""Fit one camera to all marks of a lane.

A map along the row of cones alone reads a runner 12 to 39 cm wrong, since she runs on another
line and her hips are a metre above it; one camera with honest priors reads her within a
centimetre from one row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calibration.lane_camera import LaneView, project
from calibration.lane_checks import WHAT, check_survey
from calibration.lane_slope import measure_slope
from calibration.lane_values import Lane, LaneMark, LaneSurvey
from calibration.values import Refused

__all__ = ["LanePriors", "fit_lane"]

Floats = NDArray[np.float64]

FOCAL, YAW, ROLL, STATION, DISTANCE, RADIAL = 0, 1, 3, 5, 6, 7
START_YAWS_RAD = (-0.15, 0.0, 0.15)
RADIAL_BOUND_SIGMAS = 3.0
ODD_MARK = 25.0
"""A mark is named where leaving it out lowers the misfit by this much (two numbers, 1 in 300 000
by chance), measured in the misfit of the others."""
CLICKS_BEFORE = 6.0
"""Marks that fit one another to a tenth of a pixel were set better than a person usually does."""
WORST_MISFIT = 9.0
"""Misfit per number above which nothing is believed: marks three times as far off as a click."""
WORST_PRIOR_SIGMAS = 3.5
ANY_ROLL_DEG = 10.0
"""With upright things in the picture the phone need not have been level."""
SLOPE_STEP_PCT = 0.5
"""A measured slope is told to this, so that the same hill is the same hill."""
WORST_SLOPE_SIGMAS = 4.0


@dataclass(frozen=True, slots=True)
class LanePriors:
    """What is believed about a phone beside a lane before looking at the marks."""

    mark_sigma_px: float = 0.8
    """How well a person marks a cone, for a picture 1920 pixels long; grows with the picture."""
    field_of_view_deg: float = 66.0
    """Along the picture's longer side: the main lens of most phones when filming."""
    focal_sigma_share: float = 0.12
    """Of the picture's longer side."""
    yaw_sigma_deg: float = 15.0
    pitch_sigma_deg: float = 6.0
    roll_sigma_deg: float = 1.0
    height_m: float = 1.3
    height_sigma_m: float = 0.25
    told_height_sigma_m: float = 0.05
    station_sigma_m: float = 20.0
    told_distance_sigma_m: float = 0.15
    distance_sigma_share: float = 0.5
    """Where the phone's distance was not measured."""
    radial_sigma: float = 0.03


def fit_lane(
    survey: LaneSurvey, *, width_px: int, height_px: int, priors: LanePriors | None = None
) -> Lane | Refused:
    """Fit the camera that sees the marks where they were marked.

    Parameters
    ----------
    survey : LaneSurvey
    width_px, height_px : int
        The upright picture in which the marks were set.
    priors : LanePriors, optional

    Returns
    -------
    Lane or Refused
        Refused with the name of a mark that does not fit, where one can be named. The covariance
        is widened where the marks fit worse than a careful click.

    Notes
    -----
    Eight numbers, least squares with Gaussian priors. *Wrong* when the whole row was measured
    with a wrong tape: a common scale shows only through the lens and the phone's distance.
    """
    fault = check_survey(survey, width_px=width_px, height_px=height_px)
    if fault is not None:
        return fault
    priors = priors or LanePriors()
    view = _view(survey, width_px, height_px)
    mean, sigma = _beliefs(survey, view, priors)
    mark_sigma_px = priors.mark_sigma_px * max(1.0, max(width_px, height_px) / 1920)
    task = _Task(survey.marks, view, mean, sigma, survey.row_spacing_m or 0.0, mark_sigma_px)
    fit = _solve(task)
    fault = _misfit(task, fit)
    if fault is not None:
        return fault
    careful = replace(task, mark_sigma_px=_seen_sigma_px(task, fit))
    return _with_slope(_as_lane(survey, careful, _solve(careful)))


@dataclass(frozen=True, slots=True)
class _Task:
    marks: tuple[LaneMark, ...]
    view: LaneView
    mean: Floats
    sigma: Floats
    row_spacing_m: float
    mark_sigma_px: float

    def without(self, index: int) -> _Task:
        rest = self.marks[:index] + self.marks[index + 1 :]
        return _Task(rest, self.view, self.mean, self.sigma, self.row_spacing_m, self.mark_sigma_px)

    def residual_px(self, camera: Floats) -> Floats:
        points_m = [
            (mark.distance_m, 0.0, self.row_spacing_m * (mark.row == "far")) for mark in self.marks
        ]
        return project(camera, self.view, np.array(points_m)) - [mark.px for mark in self.marks]


@dataclass(frozen=True, slots=True)
class _Fit:
    camera: Floats
    unit: Floats
    """The camera in prior standard deviations from the prior mean."""
    covariance: Floats
    residual_px: Floats
    misfit: float
    """Sum of squares of residuals and prior pulls, each over its sigma."""


def _view(survey: LaneSurvey, width_px: int, height_px: int) -> LaneView:
    near = sorted((m.distance_m, m.px[0]) for m in survey.marks if m.row == "near")
    return LaneView(width_px, height_px, 1 if near[-1][1] > near[0][1] else -1)


def _beliefs(survey: LaneSurvey, view: LaneView, priors: LanePriors) -> tuple[Floats, Floats]:
    """Prior mean and sigma of the camera's eight numbers."""
    long_px = max(view.width_px, view.height_px)
    focal_px = long_px / 2 / math.tan(math.radians(priors.field_of_view_deg / 2))
    near = sorted((m.distance_m, m.px) for m in survey.marks if m.row == "near")
    span_m = near[-1][0] - near[0][0]
    seen_m = focal_px * span_m / math.dist(near[0][1], near[-1][1])
    distance_m, distance_sigma_m = seen_m, priors.distance_sigma_share * seen_m
    if survey.phone_distance_m is not None:
        distance_m, distance_sigma_m = survey.phone_distance_m, priors.told_distance_sigma_m
    height_m, height_sigma_m = priors.height_m, priors.height_sigma_m
    if survey.phone_height_m is not None:
        height_m, height_sigma_m = survey.phone_height_m, priors.told_height_sigma_m
    # A phone held level beside a hill sees the ground climb; lane heights are square to the ground.
    roll = -view.direction * math.atan(survey.slope_pct / 100)
    middle_m = float(np.mean([mark.distance_m for mark in survey.marks]))
    mean = [focal_px, 0.0, 0.0, roll, height_m, middle_m, distance_m, 0.0]
    roll_sigma_deg = ANY_ROLL_DEG if survey.uprights_px else priors.roll_sigma_deg
    sigma = [
        priors.focal_sigma_share * long_px, math.radians(priors.yaw_sigma_deg),
        math.radians(priors.pitch_sigma_deg), math.radians(roll_sigma_deg),
        height_sigma_m, priors.station_sigma_m, distance_sigma_m, priors.radial_sigma,
    ]  # fmt: skip
    return np.array(mean), np.array(sigma)


def _solve(task: _Task) -> _Fit:
    from scipy.optimize import least_squares  # slow to import, and no jump needs it

    def pulls(unit: Floats) -> Floats:
        misses = task.residual_px(task.mean + task.sigma * unit) / task.mark_sigma_px
        return np.concatenate([misses.ravel(), unit])

    bound = np.full(task.mean.size, np.inf)
    bound[RADIAL] = RADIAL_BOUND_SIGMAS
    bound[DISTANCE] = 0.95 * task.mean[DISTANCE] / task.sigma[DISTANCE]
    bound[FOCAL] = 0.9 * task.mean[FOCAL] / task.sigma[FOCAL]
    best = None
    for yaw_rad in START_YAWS_RAD:
        start = np.zeros(task.mean.size)
        start[YAW] = yaw_rad / task.sigma[YAW]
        found = least_squares(pulls, start, bounds=(-bound, bound), x_scale=1.0)
        best = found if best is None or found.cost < best.cost else best
    assert best is not None
    camera = task.mean + task.sigma * best.x
    covariance = np.linalg.inv(best.jac.T @ best.jac) * np.outer(task.sigma, task.sigma)
    residual_px = task.residual_px(camera)
    return _Fit(camera, best.x, covariance, residual_px, 2 * float(best.cost))


def _seen_sigma_px(task: _Task, fit: _Fit) -> float:
    """How well these marks were set, by how little they miss what fits them; no worse than usual.

    What is believed beforehand counts as much as `CLICKS_BEFORE` numbers that were read.
    """
    told_by_priors = float(np.trace(fit.covariance / np.outer(task.sigma, task.sigma)))
    spare = 2 * len(task.marks) - (task.mean.size - told_by_priors)
    squares_px2 = CLICKS_BEFORE * task.mark_sigma_px**2 + float(np.sum(fit.residual_px**2))
    return min(task.mark_sigma_px, math.sqrt(squares_px2 / (CLICKS_BEFORE + max(spare, 0.0))))


def _misfit(task: _Task, fit: _Fit) -> Refused | None:
    odd = _odd_mark(task, fit)
    if odd is not None:
        return odd
    if fit.misfit / (2 * len(task.marks)) > WORST_MISFIT:
        rms_px = float(np.sqrt(np.mean(np.sum(fit.residual_px**2, axis=1))))
        return Refused(
            WHAT, f"The marks do not fit one straight lane: they miss it by {rms_px:.0f} px.",
            "Check the distances, and that each mark is where its cone meets the ground.",
        )  # fmt: skip
    pulled = np.abs(fit.unit) > WORST_PRIOR_SIGMAS
    pulled[STATION] = False
    if pulled[ROLL]:
        climbs_pct = 100 * math.tan(-task.view.direction * float(fit.camera[ROLL]))
        return Refused(
            WHAT, f"The row of marks climbs by {climbs_pct:+.0f} % in the picture, which a phone "
            "held level does not show of this lane.",
            "Give the lane's slope_pct, or mark upright things (uprights_px) beside it; or film "
            "with the phone level.",
        )  # fmt: skip
    if np.any(pulled):
        return Refused(
            WHAT, "The marks, their distances and the phone's place do not go together.",
            "Measure the distance from the phone to the near row and between cones again.",
        )  # fmt: skip
    return None


def _odd_mark(task: _Task, fit: _Fit) -> Refused | None:
    """Name the mark without which all others fit."""
    if len(task.marks) < 4 or fit.misfit < ODD_MARK:  # nothing could lower it by so much
        return None
    rest = [_solve(task.without(index)) for index in range(len(task.marks))]
    index = int(np.argmin([other.misfit for other in rest]))
    spread = max(1.0, rest[index].misfit / (2 * len(task.marks) - 2))
    if (fit.misfit - rest[index].misfit) / spread < ODD_MARK:
        return None
    mark = task.marks[index]
    off_px = task.residual_px(rest[index].camera)[index]
    return Refused(
        WHAT,
        f"{mark.name[0].upper()}{mark.name[1:]} does not fit the others: they put it "
        f"{float(np.hypot(*off_px)):.0f} px away.",
        "Check this cone's distance and where it was marked; or leave it out.",
    )


def _with_slope(lane: Lane) -> Lane | Refused:
    """The slope as the upright things tell it, unless it was given."""
    if not lane.survey.uprights_px:
        return lane
    slope = measure_slope(lane)
    if isinstance(slope, Refused):
        return slope
    given_pct = lane.survey.slope_pct
    if given_pct == 0:
        told_pct = SLOPE_STEP_PCT * round(slope.value / SLOPE_STEP_PCT)
        return replace(lane, survey=replace(lane.survey, slope_pct=told_pct))
    if abs(slope.value - given_pct) > WORST_SLOPE_SIGMAS * slope.sigma:
        return Refused(
            WHAT, f"A slope of {given_pct:+g} % was given, and the upright things show "
            f"{slope.value:+.1f} %.", "Measure the slope again, or leave it out.",
        )  # fmt: skip
    return lane


def _as_lane(survey: LaneSurvey, task: _Task, fit: _Fit) -> Lane:
    wider = max(1.0, fit.misfit / (2 * len(task.marks)))
    direction: Literal[-1, 1] = 1 if task.view.direction > 0 else -1
    return Lane(
        survey=survey, width_px=task.view.width_px, height_px=task.view.height_px,
        direction=direction, camera=fit.camera, covariance=fit.covariance * wider,
        residual_px=fit.residual_px,
    )  # fmt: skip
