"""One sprint clip, from pictures and a fitted lane to its splits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from calibration.lane import LanePriors
from calibration.lane_place import lane_covariance_m2
from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.io.followed_run import (
    STEADY_LIGHT,
    FollowedRun,
    all_stands,
    is_one_way,
    no_contacts,
    stands_of_run,
    steps_of_run,
    wrong_line,
    wrong_way,
)
from measure.io.lane_scene import look_at_lane
from measure.io.motion import MotionMap
from measure.io.pose import PoseModel
from measure.io.read import Clip
from measure.io.runner import RunnerFilm, RunnerSettings, film_runner
from measure.io.set_change import change_from_set
from measure.report import ForceProfile, SprintReport
from measure.sprint.crossings import CrossingSettings, time_crossings
from measure.sprint.front_foot import FrontFoot, see_front_foot
from measure.sprint.path import HipPath
from measure.sprint.run_curve import fit_run_curve
from measure.sprint.run_force import profile_run
from measure.sprint.speed import SpeedCurve
from measure.sprint.stands import Stand
from measure.sprint.start import START_RULE, find_first_movement
from measure.sprint.steps import Steps
from measure.sprint.summary import (
    add_motion,
    add_stands,
    summarise_marks,
    summarise_splits,
)
from measure.sprint.top_speed import read_top_speed
from measure.sprint.trace import RunTrace, trace_runner
from measure.sprint.turn import Turn, time_turn
from measure.types import Foot, Instant

__all__ = ["RunFacts", "SprintOutcome", "SprintSettings", "analyse_sprint"]

Progress = Callable[[float], None]

FEWEST_POSES = 8
LEAST_SEEN_SHARE = 0.5
START_SET_RULE = f"{START_RULE}, set by hand"
HAND_SIGMA_FRAMES = 0.5
"""A person picks a frame, and may pick its neighbour."""
UNDER_WAY_S = 0.6
NO_START_FOOT = Refused(
    "start_foot", "From the side a picture does not tell the left leg from the right one without "
    "a start and steps on the ground.",
    "Say which foot was in front at the start, so that both sides can be compared.",
)  # fmt: skip
FEWEST_STANDS = 5
LEAST_TIMED_SHARE = 0.5
"""Of the steps must be timed, or those that stand out are an odd choice."""
EARLIEST_START_S = 0.2


@dataclass(frozen=True, slots=True)
class SprintSettings:
    """Everything tunable of a sprint, for the report's hash."""

    priors: LanePriors = field(default_factory=LanePriors)
    runner: RunnerSettings = field(default_factory=RunnerSettings)
    crossings: CrossingSettings = field(default_factory=CrossingSettings)


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a person says about a run."""

    turns: bool = False
    """The course begins with a shuffle and turns into a run."""
    start_s: float | None = None
    """Real seconds; found from the picture where None."""
    start_foot: Foot | None = None
    """In front in the set position."""
    mass_kg: float | None = None
    stature_m: float | None = None


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
    lane: Lane | None = None
    """As it fits this clip."""


def analyse_sprint(
    clip: Clip, model: PoseModel, lane: Lane, *, time_base: TimeBase,
    facts: RunFacts | None = None, settings: SprintSettings | None = None,
    progress: Progress | None = None, motion: MotionMap | None = None,
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
    facts : RunFacts, optional
    settings : SprintSettings, optional
    progress : callable, optional
        Told the part that is done, 0 to 1.
    motion : MotionMap, optional
        What moves along this very lane on this clock, where it was read already.

    Returns
    -------
    SprintOutcome
        What was timed stays, whatever else is refused.
    """
    if time_base.status == "refused":
        raise ValueError("time_base: expected one that is not refused")
    settings, facts = settings or SprintSettings(), facts or RunFacts()
    told = progress or (lambda part: None)
    if (clip.stream.width_px, clip.stream.height_px) != (lane.width_px, lane.height_px):
        return _nothing(_other_picture(clip, lane))
    scene = look_at_lane(
        clip, lane, time_base=time_base, known=motion, told=lambda part: told(0.3 * part)
    )
    if isinstance(scene, Refused):
        return _nothing(scene)
    lane, motion = scene.lane, scene.motion
    returns = not is_one_way(lane.survey.course_m)
    trace = trace_runner(motion.time_s, motion.distance_m, motion.moving_m2, returns=returns)
    if isinstance(trace, Refused):
        return _nothing(trace)
    film = film_runner(
        clip, model, lane, trace, time_base=time_base,
        empty_rgb=motion.still_rgb if motion.camera_still else None,
        settings=settings.runner, progress=lambda part: told(0.3 + 0.7 * part),
    )  # fmt: skip
    if motion.flickers:  # what covers the ground is told by its light
        film = replace(film, ground=None, flickers=True)
    if film.time_s.size < max(FEWEST_POSES, LEAST_SEEN_SHARE * film.asked):
        return replace(_nothing(_not_seen(film)), film=film, trace=trace)
    frame_s = clip.stamps.usual_interval_s / time_base.file_s_per_s
    return _timed(FollowedRun.read(
        film, trace, scene.lane, remarks=scene.remarks, frame_s=frame_s
    ), facts, settings)


def _timed(run: FollowedRun, facts: RunFacts, settings: SprintSettings) -> SprintOutcome:
    wrong = wrong_way(run) or wrong_line(run)
    if wrong is not None:
        return SprintOutcome(None, (wrong,), run.path, run.film, run.trace, run.lane)
    course_m = run.lane.survey.course_m
    crossings = time_crossings(
        run.path, course_m, lane_covariance_m2=lane_covariance_m2(run.lane, np.array(course_m)),
        settings=settings.crossings,
    )  # fmt: skip
    start = _start(run, facts)
    begins = start if isinstance(start, Instant) else None
    turn = _turn(run) if facts.turns else None
    curve = _curve(run, begins, facts.turns)
    force = _force(run, curve, facts)
    top = read_top_speed(run.path, run.lane)
    stands = stands_of_run(run, begins, turn)
    steps = steps_of_run(run, begins, turn, crossings, stands)
    few = isinstance(steps, Steps) and len(stands) < LEAST_TIMED_SHARE * steps.count
    contact = no_contacts(run, turn) if few or len(stands) < FEWEST_STANDS else None
    foot = _front_foot(run, begins, stands, facts)
    parts = (start, turn, curve, force, top, steps, contact, foot)
    refusals = (*crossings.refusals, *(part for part in parts if isinstance(part, Refused)))
    report = SprintReport(
        start_s=begins.time_s if begins else None, start_sigma_s=begins.sigma_s if begins else None,
        start_rule=START_RULE if facts.start_s is None else START_SET_RULE,
        marks=summarise_marks(crossings), splits=summarise_splits(crossings, begins),
        surface=run.lane.survey.surface,
        slope_pct=run.lane.survey.slope_pct, followed=run.remarks,
        force_profile=None if isinstance(force, Refused) else force,
        start_foot=foot.foot if isinstance(foot, FrontFoot) else facts.start_foot,
        start_foot_chance=foot.chance if isinstance(foot, FrontFoot) else None,
    )  # fmt: skip
    report = add_motion(report, turn=turn, curve=curve, top=top, steps=steps)
    report = add_stands(report, stands if contact is None else ())
    return SprintOutcome(report, refusals, run.path, run.film, run.trace, run.lane)


def _turn(run: FollowedRun) -> Turn | Refused:
    return time_turn(run.path, run.feet, all_stands(run), ground=run.film.ground)


def _force(
    run: FollowedRun, curve: SpeedCurve | Refused | None, facts: RunFacts
) -> ForceProfile | Refused | None:
    """The profile, where it was asked for by saying the mass."""
    if facts.mass_kg is None or not isinstance(curve, SpeedCurve):
        return None
    if facts.stature_m is None:
        return Refused(
            "force_profile", "The drag of the air needs the athlete's stature.",
            "Give the stature too.",
        )  # fmt: skip
    return profile_run(
        curve, mass_kg=facts.mass_kg, stature_m=facts.stature_m,
        slope_pct=run.lane.survey.slope_pct,
    )  # fmt: skip


def _start(run: FollowedRun, facts: RunFacts) -> Instant | Refused:
    if facts.start_s is not None:
        return Instant(facts.start_s, HAND_SIGMA_FRAMES * run.frame_s)
    if run.trace.start_s < EARLIEST_START_S:
        return Refused(
            "start_s", "The run has begun before the clip.",
            "Film half a second of the still set position before each run.",
        )  # fmt: skip
    if run.film.flickers:
        return Refused(
            "start_s", "A lamp flickers, and the first movement is told by what changes.",
            STEADY_LIGHT,
        )  # fmt: skip
    pictures = run.film.set_pictures
    if pictures is None:
        return Refused(
            "start_s", "The place where the run begins is not in the picture.",
            "Film the athlete in the set position, at the first mark.",
        )  # fmt: skip
    change = change_from_set(pictures)
    about_s = run.trace.start_s + UNDER_WAY_S
    return find_first_movement(
        pictures.time_s, change, about_s=about_s, px_per_m=pictures.px_per_m
    )


def _front_foot(
    run: FollowedRun, start: Instant | None, stands: tuple[Stand, ...], facts: RunFacts
) -> FrontFoot | Refused | None:
    """What is seen; what a person says counts more, and a shuffle has no front foot."""
    if facts.turns or facts.start_foot:
        return None
    if start is None or run.film.ground is None:
        return NO_START_FOOT
    way = float(np.sign(run.path.distance_m[-1] - run.path.distance_m[0]))
    return see_front_foot(run.film.ground, run.lane, stands, start_s=start.time_s, way=way)


def _curve(run: FollowedRun, start: Instant | None, turns: bool) -> SpeedCurve | Refused | None:
    if turns:
        return None
    if start is None:
        return Refused(
            "time_constant_s", "Without a start there is no curve from rest.",
            "Film half a second of the still set position before the run.",
        )  # fmt: skip
    return fit_run_curve(run.path, start_s=start.time_s)


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
