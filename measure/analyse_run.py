"""From one clip of a run along a lane to its report."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from calibration.lane import fit_lane
from calibration.values import Refused, TimeBase
from measure.analysis import Analysis
from measure.clock import decide_file_clock
from measure.film import check_whole, clip_facts, clock_facts, gravity_of
from measure.io.changes import PictureChanges, measure_changes
from measure.io.lane_file import load_lane
from measure.io.look import GREY_STEP
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
    changes = _changes(clip, told)
    check_whole(clip)
    facts = clock_facts(clip, clip.stamps.file_time_s)
    time_base, distinct = decide_file_clock(
        facts, motion_level=changes.motion_level, request=request, gravity_mps2=gravity_of(request)
    )
    frame_time_s = facts.stamps_file_s / time_base.file_s_per_s
    run = _timed_run(clip, request, model, time_base, told)
    report = Report(
        clip=clip_facts(clip, frame_time_s, distinct), time_base=time_base,
        versions=installed_versions(model.name), view="side",
        exercise=request.exercise or "sprint", sprint=run.report, refusals=run.refusals,
    )  # fmt: skip
    track, time_s = (None, np.empty(0)) if run.film is None else (run.film.track, run.film.time_s)
    return Analysis(request, report, track, time_s, frame_time_s, run=run)


def _changes(clip: Clip, told: Progress) -> PictureChanges:
    count = clip.stamps.frame_count

    def pictures() -> Iterator[NDArray[np.uint8]]:
        for frame in clip.frames():
            told("pictures", (frame.index + 1) / count)
            yield frame.grey_small(GREY_STEP)

    return measure_changes(pictures())


def _timed_run(
    clip: Clip, request: ClipRequest, model: PoseModel, time_base: TimeBase, told: Progress
) -> SprintOutcome:
    if time_base.refusal is not None:
        return SprintOutcome(None, (time_base.refusal,))
    if request.lane is None:
        return SprintOutcome(None, (NO_LANE,))
    lane = fit_lane(
        load_lane(request.lane), width_px=clip.stream.width_px, height_px=clip.stream.height_px
    )
    if isinstance(lane, Refused):
        return SprintOutcome(None, (lane,))
    return analyse_sprint(
        clip, model, lane, time_base=time_base, facts=RunFacts(
            turns=request.exercise == "shuffle_sprint", start_s=request.start_s,
            start_foot=request.start_foot, mass_kg=request.mass_kg, stature_m=request.stature_m,
        ), progress=lambda part: told("run", part),
    )  # fmt: skip
