"""A followed runner on the lane, and the steps of the run by ground and pose."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.lane_values import Lane
from calibration.values import Refused
from measure.io.runner import RunnerFilm
from measure.legs import restore_legs
from measure.sprint.crossings import Crossings
from measure.sprint.feet import FeetPath, read_feet
from measure.sprint.path import HipPath, read_hip_path
from measure.sprint.stands import Stand, find_stands
from measure.sprint.steps import Steps, find_steps, steps_from_stands
from measure.sprint.trace import RunTrace
from measure.sprint.turn import Turn
from measure.types import Instant

__all__ = [
    "STEADY_LIGHT",
    "FollowedRun",
    "all_stands",
    "is_one_way",
    "no_contacts",
    "stands_of_run",
    "steps_of_run",
    "wrong_line",
    "wrong_way",
]

STEADY_LIGHT = "Film in daylight, or at 60 pictures a second or fewer."
WRONG_WAY_M = 2.0
INSIDE_SHOE_M, WRONG_LINE_M = 0.045, 0.11
"""The model puts heels and toes so far above the sole. Feet read farther above or below that run on
another line than the lane file says."""
STRIDE_IN_S = 0.3
TOUCH_S = 0.05
"""The first stand of the run begins with the end of the turn, give or take."""
EVERY_SECOND = 1.5
"""So much quicker by the pose: the ground hides every second step, even as the rest may be."""
SET_FOOT_M = 0.45
"""What stands less than this ahead of where the hips rested is a foot of the set position."""


@dataclass(frozen=True, slots=True)
class FollowedRun:
    """A followed runner on the lane."""

    film: RunnerFilm
    lane: Lane
    trace: RunTrace
    path: HipPath
    feet: FeetPath
    remarks: tuple[str, ...]
    frame_s: float

    @staticmethod
    def read(
        film: RunnerFilm, trace: RunTrace, lane: Lane, *, remarks: tuple[str, ...], frame_s: float
    ) -> FollowedRun:
        """Put a film's poses on the lane."""
        laid_over = restore_legs(replace(film.track, px=film.lane_px), time_s=film.time_s).px
        return FollowedRun(
            film, lane, trace, read_hip_path(film.time_s, laid_over, lane),
            read_feet(film.time_s, laid_over, lane), (*trace.others, *remarks), frame_s,
        )  # fmt: skip


def stands_of_run(
    run: FollowedRun, start: Instant | None, turn: Turn | Refused | None
) -> tuple[Stand, ...]:
    """Stands of the run, after the turn or after the set position."""
    if isinstance(turn, Refused):
        return ()
    if turn is not None:
        return all_stands(run, turn.end.time_s - TOUCH_S)
    from_s = run.trace.start_s if start is None else start.time_s
    rest_m = float(np.interp(from_s, run.path.time_s, run.path.distance_m))
    way = np.sign(run.path.distance_m[-1] - rest_m)
    return tuple(
        stand for stand in all_stands(run, from_s + STRIDE_IN_S)
        if way * (stand.distance_m - rest_m) > SET_FOOT_M
    )  # fmt: skip


def all_stands(run: FollowedRun, from_s: float | None = None) -> tuple[Stand, ...]:
    """Stands from a moment on, or from where the runner is followed."""
    ground = run.film.ground
    if ground is None:
        return ()
    first_s = float(ground.time_s[0]) if from_s is None else from_s
    return find_stands(ground, from_s=first_s, until_s=float(run.path.time_s[-1]))


def no_contacts(run: FollowedRun, turn: Turn | Refused | None) -> Refused:
    """Say why no ground contacts are given."""
    if isinstance(turn, Refused):
        return _no_beginning("contact_time_s", turn)
    seen = "the shoes do not stand out from the ground, or the ground hides them"
    if run.film.ground is None:
        seen = "the camera moved, or the runner is too small"
    hint = "Film with the phone still, on short ground, in shoes of another colour than it."
    if run.film.flickers:
        seen, hint = "a lamp flickers", STEADY_LIGHT
    return Refused("contact_time_s", f"Steps on the ground are not seen: {seen}.", hint)


def steps_of_run(
    run: FollowedRun, start: Instant | None, turn: Turn | Refused | None, crossings: Crossings,
    stands: tuple[Stand, ...],
) -> Steps | Refused:  # fmt: skip
    """Steps from the start, or the turn, to the last mark."""
    if isinstance(turn, Refused):
        return _no_beginning("steps", turn)
    last_s = crossings.marks[-1].time_s if crossings.marks else float(run.path.time_s[-1])
    timed = tuple(stand for stand in stands if stand.start.time_s < last_s)
    by_ground = steps_from_stands(timed, run.path)
    from_s = run.trace.start_s if start is None else start.time_s
    if isinstance(turn, Turn):
        from_s = turn.end.time_s
    by_pose = find_steps(run.feet, run.path, from_s=from_s + STRIDE_IN_S, until_s=last_s)
    if isinstance(by_ground, Refused):
        return by_pose
    if isinstance(by_pose, Refused):
        return by_ground
    hidden = by_pose.frequency_hz.value > EVERY_SECOND * by_ground.frequency_hz.value
    return by_pose if hidden else by_ground


def _no_beginning(what: str, turn: Refused) -> Refused:
    return Refused(
        what, "Without the end of the turn it is not known where the run begins.", turn.hint
    )


def wrong_way(run: FollowedRun) -> Refused | None:
    """A course that goes one way, run the other way."""
    course_m = run.lane.survey.course_m
    went_m = float(run.path.distance_m[-1] - run.path.distance_m[0])
    way = np.sign(course_m[-1] - course_m[0])
    if is_one_way(course_m) and went_m * way < -WRONG_WAY_M:
        return Refused(
            "sprint", "The runner runs the other way than the course is written.",
            "Swap the distances in the lane file, or name the marks in the order they are crossed.",
        )  # fmt: skip
    return None


def is_one_way(course_m: tuple[float, ...]) -> bool:
    """Whether a course does not turn back."""
    return len(set(np.sign(np.diff(course_m)))) <= 1


def wrong_line(run: FollowedRun) -> Refused | None:
    """Feet that are not on the ground of the runner's line."""
    read_m = float(np.median([np.median(low) for low in run.feet.ground_m.values()]))
    ground_m = read_m - INSIDE_SHOE_M
    if abs(ground_m) < WRONG_LINE_M:
        return None
    side = "farther from" if ground_m > 0 else "nearer to"
    return Refused(
        "sprint", f"The runner's feet are {abs(ground_m):.1f} m off the ground of the line given: "
        f"the run goes {side} the phone.",
        "Measure again how far the athlete's line is from the near row of marks.",
    )  # fmt: skip
