"""One sprint clip, from pictures and a fitted lane to its splits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from calibration.lane import LanePriors
from calibration.lane_place import lane_covariance_m2
from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.io.motion import read_motion
from measure.io.pose import PoseModel
from measure.io.read import Clip
from measure.io.runner import RunnerFilm, RunnerSettings, film_runner
from measure.io.set_change import change_from_set
from measure.legs import restore_legs
from measure.report import MarkTime, SplitTime, SprintReport, TurnTime
from measure.sprint.crossings import Crossings, CrossingSettings, time_crossings
from measure.sprint.feet import FeetPath, read_feet
from measure.sprint.path import HipPath, read_hip_path
from measure.sprint.run_curve import fit_run_curve
from measure.sprint.set_foot import read_front_foot
from measure.sprint.speed import SpeedCurve
from measure.sprint.splits import time_splits
from measure.sprint.start import START_RULE, find_first_movement
from measure.sprint.steps import Steps, find_steps
from measure.sprint.top_speed import TopSpeed, read_top_speed
from measure.sprint.trace import RunTrace, trace_runner
from measure.sprint.turn import Turn, time_turn
from measure.types import Foot, Instant

__all__ = ["SprintOutcome", "SprintSettings", "analyse_sprint"]

Progress = Callable[[float], None]

FEWEST_POSES = 8
LEAST_SEEN_SHARE = 0.5
WRONG_WAY_M = 2.0
WRONG_LINE_M = 0.35
"""Feet read this far above or below the ground run on another line than the lane file says."""
START_SET_RULE = "set_by_hand"
UNDER_WAY_S = 0.3
STRIDE_IN_S = 0.3


@dataclass(frozen=True, slots=True)
class SprintSettings:
    """Everything tunable of a sprint, for the report's hash."""

    priors: LanePriors = field(default_factory=LanePriors)
    runner: RunnerSettings = field(default_factory=RunnerSettings)
    crossings: CrossingSettings = field(default_factory=CrossingSettings)


@dataclass(frozen=True, slots=True)
class SprintOutcome:
    """What one sprint clip gave, and what pictures of it need."""

    report: SprintReport | None
    """None where nobody could be followed."""
    refusals: tuple[Refused, ...]
    path: HipPath | None = None
    film: RunnerFilm | None = None
    """Poses as filmed, and laid over the first picture."""
    trace: RunTrace | None = None


def analyse_sprint(
    clip: Clip, model: PoseModel, lane: Lane, *, time_base: TimeBase, turns: bool = False,
    start_s: float | None = None, settings: SprintSettings | None = None,
    progress: Progress | None = None,
) -> SprintOutcome:  # fmt: skip
    """Time one run along a lane.

    Parameters
    ----------
    clip : Clip
    model : PoseModel
    lane : Lane
        Fitted to marks in this clip's picture, or in one from the same spot.
    time_base : TimeBase
        Not a refused one.
    turns : bool
        The course begins with a shuffle and turns into a run.
    start_s : float, optional
        Set by a person, real seconds; found from the picture where None.
    settings : SprintSettings, optional
    progress : callable, optional
        Told the part that is done, 0 to 1.

    Returns
    -------
    SprintOutcome
        What was timed stays, whatever else is refused.
    """
    if time_base.status == "refused":
        raise ValueError("time_base: expected one that is not refused")
    settings = settings or SprintSettings()
    told = progress or (lambda part: None)
    if (clip.stream.width_px, clip.stream.height_px) != (lane.width_px, lane.height_px):
        return _nothing(_other_picture(clip, lane))
    motion = read_motion(clip, lane, time_base=time_base, progress=lambda part: told(0.3 * part))
    if isinstance(motion, Refused):
        return _nothing(motion)
    returns = not _is_one_way(lane.survey.course_m)
    trace = trace_runner(motion.time_s, motion.distance_m, motion.moving_m2, returns=returns)
    if isinstance(trace, Refused):
        return _nothing(trace)
    film = film_runner(
        clip, model, lane, trace, time_base=time_base, camera_still=motion.camera_still,
        settings=settings.runner, progress=lambda part: told(0.3 + 0.7 * part),
    )  # fmt: skip
    if film.time_s.size < max(FEWEST_POSES, LEAST_SEEN_SHARE * film.asked):
        return replace(_nothing(_not_seen(film)), film=film, trace=trace)
    return _timed(_Run.read(film, lane, trace, motion.camera_still), turns, start_s, settings)


@dataclass(frozen=True, slots=True)
class _Run:
    """A followed runner on the lane."""

    film: RunnerFilm
    lane: Lane
    trace: RunTrace
    path: HipPath
    feet: FeetPath
    camera_still: bool

    @staticmethod
    def read(film: RunnerFilm, lane: Lane, trace: RunTrace, camera_still: bool) -> _Run:
        laid_over = restore_legs(replace(film.track, px=film.lane_px), time_s=film.time_s).px
        return _Run(
            film, lane, trace, read_hip_path(film.time_s, laid_over, lane),
            read_feet(film.time_s, laid_over, lane), camera_still,
        )  # fmt: skip


def _timed(
    run: _Run, turns: bool, start_s: float | None, settings: SprintSettings
) -> SprintOutcome:
    wrong = _wrong_way(run) or _wrong_line(run)
    if wrong is not None:
        return SprintOutcome(None, (wrong,), run.path, run.film, run.trace)
    course_m = run.lane.survey.course_m
    crossings = time_crossings(
        run.path, course_m, lane_covariance_m2=lane_covariance_m2(run.lane, np.array(course_m)),
        settings=settings.crossings,
    )  # fmt: skip
    start = _start(run) if start_s is None else Instant(start_s, 0.0)
    begins = start if isinstance(start, Instant) else None
    turn = time_turn(run.path, run.feet) if turns else None
    curve = _curve(run, begins, turns)
    top = read_top_speed(run.path, run.lane)
    steps = _steps(run, begins, turn, crossings)
    parts = (start, turn, curve, top, steps)
    refusals = (*crossings.refusals, *(part for part in parts if isinstance(part, Refused)))
    report = _report(run, crossings, begins, START_RULE if start_s is None else START_SET_RULE)
    report = _with_motion(report, turn, curve, top, steps)
    return SprintOutcome(report, refusals, run.path, run.film, run.trace)


def _start(run: _Run) -> Instant | Refused:
    pictures = run.film.set_pictures
    if pictures is None:
        return Refused(
            "start_s", "The place where the run begins is not in the picture.",
            "Film the athlete in the set position, at the first mark.",
        )  # fmt: skip
    change = change_from_set(pictures)
    about_s = run.trace.start_s + UNDER_WAY_S
    return find_first_movement(pictures.time_s, change, about_s=about_s)


def _curve(run: _Run, start: Instant | None, turns: bool) -> SpeedCurve | Refused | None:
    if turns:
        return None
    if start is None:
        return Refused(
            "time_constant_s", "Without a start there is no curve from rest.",
            "Film half a second of the still set position before the run.",
        )  # fmt: skip
    return fit_run_curve(run.path, start_s=start.time_s)


def _steps(
    run: _Run, start: Instant | None, turn: Turn | Refused | None, crossings: Crossings
) -> Steps | Refused:
    from_s = run.trace.start_s if start is None else start.time_s
    if isinstance(turn, Turn):
        from_s = turn.end.time_s
    last_s = crossings.marks[-1].time_s if crossings.marks else float(run.path.time_s[-1])
    return find_steps(run.feet, run.path, from_s=from_s + STRIDE_IN_S, until_s=last_s)


def _report(
    run: _Run, crossings: Crossings, start: Instant | None, start_rule: str
) -> SprintReport:
    survey = run.lane.survey
    return SprintReport(
        start_s=start.time_s if start else None, start_sigma_s=start.sigma_s if start else None,
        start_rule=start_rule,
        marks=tuple(MarkTime(m.distance_m, m.time_s, m.sigma_s) for m in crossings.marks),
        splits=tuple(
            SplitTime(s.to_m, s.time_s, s.sigma_s, s.from_m, s.mean_speed_mps)
            for s in time_splits(crossings, start)
        ),
        start_foot=_front_foot(run, start), surface=survey.surface, slope_pct=survey.slope_pct,
        followed=(*run.trace.others, *(() if run.camera_still else (
            "the camera moved a little; every picture was laid over the first",))),
    )  # fmt: skip


def _front_foot(run: _Run, start: Instant | None) -> Foot | None:
    return None if start is None else read_front_foot(run.feet, run.path, start_s=start.time_s)


def _with_motion(
    report: SprintReport, turn: Turn | Refused | None, curve: SpeedCurve | Refused | None,
    top: TopSpeed | Refused, steps: Steps | Refused,
) -> SprintReport:  # fmt: skip
    if isinstance(turn, Turn):
        report = replace(report, turn=TurnTime(
            turn.start.time_s, turn.start.sigma_s, turn.end.time_s, turn.end.sigma_s, turn.side
        ))  # fmt: skip
    if isinstance(top, TopSpeed):
        report = replace(
            report, max_speed_mps=top.speed_mps.value, max_speed_sigma_mps=top.speed_mps.sigma,
            max_speed_at_m=top.distance_m,
        )  # fmt: skip
    if isinstance(curve, SpeedCurve):
        report = replace(
            report, time_constant_s=curve.time_constant_s.value,
            time_constant_sigma_s=curve.time_constant_s.sigma,
            curve_speed_mps=curve.max_speed_mps.value,
            curve_speed_sigma_mps=curve.max_speed_mps.sigma,
            curve_offset_s=curve.offset_s.value, curve_offset_sigma_s=curve.offset_s.sigma,
        )  # fmt: skip
    if isinstance(steps, Steps):
        report = replace(
            report, step_count=int(steps.time_s.size),
            step_length_m=steps.length_m.value, step_length_sigma_m=steps.length_m.sigma,
            step_frequency_hz=steps.frequency_hz.value,
            step_frequency_sigma_hz=steps.frequency_hz.sigma,
        )  # fmt: skip
    return report


def _wrong_way(run: _Run) -> Refused | None:
    """A course that goes one way, run the other way."""
    course_m = run.lane.survey.course_m
    went_m = float(run.path.distance_m[-1] - run.path.distance_m[0])
    way = np.sign(course_m[-1] - course_m[0])
    if _is_one_way(course_m) and went_m * way < -WRONG_WAY_M:
        return Refused(
            "sprint", "The runner runs the other way than the course is written.",
            "Swap the distances in the lane file, or name the marks in the order they are crossed.",
        )  # fmt: skip
    return None


def _is_one_way(course_m: tuple[float, ...]) -> bool:
    return len(set(np.sign(np.diff(course_m)))) <= 1


def _wrong_line(run: _Run) -> Refused | None:
    """Feet that are not on the ground of the runner's line."""
    ground_m = float(np.median([np.median(low) for low in run.feet.ground_m.values()]))
    if abs(ground_m) < WRONG_LINE_M:
        return None
    side = "farther from" if ground_m > 0 else "nearer to"
    return Refused(
        "sprint", f"The runner's feet are {abs(ground_m):.1f} m off the ground of the line given: "
        f"the run goes {side} the phone.",
        "Measure again how far the athlete's line is from the near row of marks.",
    )  # fmt: skip


def _nothing(refusal: Refused) -> SprintOutcome:
    return SprintOutcome(None, (refusal,))


def _other_picture(clip: Clip, lane: Lane) -> Refused:
    return Refused(
        "lane", f"The lane was marked in a picture of {lane.width_px} by {lane.height_px}, the "
        f"clip's is {clip.stream.width_px} by {clip.stream.height_px}.",
        "Mark the lane in this clip, or film as the lane was marked.",
    )  # fmt: skip


def _not_seen(film: RunnerFilm) -> Refused:
    return Refused(
        "sprint", f"A body is made out in only {film.time_s.size} of {film.asked} pictures.",
        "Film closer, in better light, or with nobody between the phone and the runner.",
    )  # fmt: skip
