"""From one clip of a run along a lane to its report."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from calibration.lane import fit_lane
from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.analysis import Analysis
from measure.clock import decide_file_clock
from measure.film import check_whole, clip_facts, clock_facts, gravity_of
from measure.io.changes import ChangeMeter, PictureChanges
from measure.io.lane_file import load_lane
from measure.io.look import GREY_STEP
from measure.io.motion import MotionMap, read_motion
from measure.io.pose import PoseModel
from measure.io.read import Clip
from measure.io.sprint_run import RunFacts, SprintOutcome, analyse_sprint
from measure.report import Report
from measure.request import ClipRequest
from measure.versions import installed_versions

__all__ = ["analyse_run"]

Progress = Callable[[str, float], None]

NO_LANE = Refused(
    what="sprint", reason="no lane was given, so no mark has a distance",
    hint="Mark the cones once for this place and give the lane file.",
)  # fmt: skip


def analyse_run(clip: Clip, request: ClipRequest, model: PoseModel, told: Progress) -> Analysis:
    """Time one run along a lane.

    Parameters
    ----------
    clip : Clip
    request : ClipRequest
    model : PoseModel
    told : callable
        Told the name of the step and the part of it that is done, 0 to 1.

    Returns
    -------
    Analysis

    Raises
    ------
    UnreadableClip
        When the film breaks off.
    """
    lane = _lane(clip, request)
    changes, motion = _first_look(clip, lane, told)
    check_whole(clip)
    facts = clock_facts(clip, clip.stamps.file_time_s)
    time_base, distinct = decide_file_clock(
        facts, motion_level=changes.motion_level, request=request, gravity_mps2=gravity_of(request)
    )
    frame_time_s = facts.stamps_file_s / time_base.file_s_per_s
    known = motion if time_base.file_s_per_s == 1.0 else None
    run = _timed_run(clip, lane, request, model, time_base, known, told)
    report = Report(
        clip=clip_facts(clip, frame_time_s, distinct), time_base=time_base,
        versions=installed_versions(model.name), view="side",
        exercise=request.exercise or "sprint", sprint=run.report, refusals=run.refusals,
    )  # fmt: skip
    track, time_s = (None, np.empty(0)) if run.film is None else (run.film.track, run.film.time_s)
    return Analysis(request, report, track, time_s, frame_time_s, run=run)


def _lane(clip: Clip, request: ClipRequest) -> Lane | Refused:
    if request.lane is None:
        return NO_LANE
    return fit_lane(
        load_lane(request.lane), width_px=clip.stream.width_px, height_px=clip.stream.height_px
    )


def _first_look(
    clip: Clip, lane: Lane | Refused, told: Progress
) -> tuple[PictureChanges, MotionMap | None]:
    """Compare all pictures; and, in the same pass, map what moves should they be in real time."""
    if isinstance(lane, Lane):
        meter = ChangeMeter()
        as_filed = TimeBase("as_filed", 1 / clip.stamps.usual_interval_s, 1.0, ())
        motion = read_motion(
            clip, lane, time_base=as_filed, progress=lambda part: told("pictures", part),
            each_frame=lambda frame: meter.take(frame.grey_small(GREY_STEP)),
        )  # fmt: skip
        if isinstance(motion, MotionMap):
            return meter.changes(), motion
    meter = ChangeMeter()
    for frame in clip.frames():
        meter.take(frame.grey_small(GREY_STEP))
        told("pictures", (frame.index + 1) / clip.stamps.frame_count)
    return meter.changes(), None


def _timed_run(
    clip: Clip, lane: Lane | Refused, request: ClipRequest, model: PoseModel,
    time_base: TimeBase, motion: MotionMap | None, told: Progress,
) -> SprintOutcome:  # fmt: skip
    if time_base.refusal is not None:
        return SprintOutcome(None, (time_base.refusal,))
    if isinstance(lane, Refused):
        return SprintOutcome(None, (lane,))
    return analyse_sprint(
        clip, model, lane, time_base=time_base, facts=RunFacts(
            turns=request.exercise == "shuffle_sprint", start_s=request.start_s,
            start_foot=request.start_foot, mass_kg=request.mass_kg, stature_m=request.stature_m,
        ), progress=lambda part: told("run", part), motion=motion,
    )  # fmt: skip
