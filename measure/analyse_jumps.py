"""From the first look at a clip to the report of its jumps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calibration.values import Refused
from measure.analysis import Analysis
from measure.cautions import STANDING_NOTICE, assess_cautions
from measure.contacts.segment import Segmentation, TimedEvent, segment_clip
from measure.film import clip_facts, clock_facts, gravity_of
from measure.foot_plans import plan_feet
from measure.io.events import time_events
from measure.io.kept import KeptStrips
from measure.io.look import FirstLook
from measure.io.read import Clip
from measure.io.shelf import Looked
from measure.io.windows import read_event_pictures
from measure.jump_reports import MeasuredJumps, report_jumps
from measure.jump_set import summarise_jumps
from measure.report import Report
from measure.request import ClipRequest
from measure.scene import Scene, set_scene
from measure.types import Landmark, PoseTrack
from measure.versions import installed_versions

__all__ = ["FeetWatch", "analyse_jumps"]

Progress = Callable[[str, float], None]

LEAST_SEEN_SHARE = 0.6
MOST_FEET_CUT_SHARE = 0.2


@dataclass(frozen=True)
class FeetWatch:
    """How feet are looked at."""

    kept: KeptStrips
    told: Progress
    processes: int


def analyse_jumps(
    clip: Clip, look: FirstLook, request: ClipRequest, *, looked: Looked, watch: FeetWatch,
    pose_model: str,
) -> Analysis:  # fmt: skip
    """Measure the jumps in a clip that was looked at once.

    Parameters
    ----------
    clip : Clip
    look : FirstLook
    request : ClipRequest
    looked : Looked
        Where it is kept what was seen of the feet.
    watch : FeetWatch
        How feet are looked at.
    pose_model : str
        Name of the model that poses come from.

    Returns
    -------
    Analysis

    Raises
    ------
    NothingToMeasure
        When too few rows show a body.
    """
    scene = set_scene(
        look.athlete.track, facts=clock_facts(clip, look.frame_file_time_s),
        motion_level=look.changes.motion_level, request=request,
        gravity_mps2=gravity_of(request),
    )  # fmt: skip
    if scene.clock.time_base.refusal is not None:
        return _refused(clip, scene, look, request, pose_model)
    segmentation = _segment(clip, look, scene, looked, watch)
    jumps = report_jumps(segmentation, scene, request=request)
    report = _report(clip, look, scene, segmentation, jumps, request, pose_model)
    return Analysis(
        request, report, scene.track, scene.time_s, scene.frame_time_s, jumps.flights, look.camera
    )


def _segment(
    clip: Clip, look: FirstLook, scene: Scene, looked: Looked, watch: FeetWatch
) -> Segmentation:
    """Look closely at every event of every flight."""
    feet = plan_feet(scene, picture_px=(clip.stream.width_px, clip.stream.height_px))

    def time_all() -> list[TimedEvent]:
        pictures = read_event_pictures(
            clip, feet.plans, feet.paths, camera=look.camera, kept=watch.kept
        )
        return time_events(
            feet.plans, pictures, interval_s=scene.interval_s, processes=watch.processes,
            progress=lambda part: watch.told("feet", part), forget=watch.kept.forget,
        )  # fmt: skip

    events = looked.events(
        feet.plans, time_all, px_per_m=feet.paths.px_per_m, interval_s=scene.interval_s
    )
    return segment_clip(
        feet.flights, feet.lifts, events, time_s=scene.time_s, unseen=feet.unseen
    )


def _refused(
    clip: Clip, scene: Scene, look: FirstLook, request: ClipRequest, pose_model: str
) -> Analysis:
    refusal = scene.clock.time_base.refusal
    assert refusal is not None
    refusals = (refusal,) if scene.flights or scene.clock.falls else (_no_jump(look), refusal)
    report = Report(
        clip=clip_facts(clip, scene.frame_time_s, scene.distinct),
        time_base=scene.clock.time_base, versions=installed_versions(pose_model),
        exercise=request.exercise, refusals=refusals,
    )  # fmt: skip
    return Analysis(
        request, report, scene.track, scene.time_s, scene.frame_time_s, camera=look.camera
    )


def _report(
    clip: Clip, look: FirstLook, scene: Scene, segmentation: Segmentation, jumps: MeasuredJumps,
    request: ClipRequest, pose_model: str,
) -> Report:  # fmt: skip
    refusals = list(jumps.refusals)
    feet_are_cut = look.athlete.feet_cut_share > MOST_FEET_CUT_SHARE
    if not jumps.reports and (feet_are_cut or not segmentation.refusals):
        refusals = [_no_jump(look)]
    if isinstance(scene.clock.scale, Refused):
        refusals.append(scene.clock.scale)
    return Report(
        clip=clip_facts(clip, scene.frame_time_s, scene.distinct),
        time_base=scene.clock.time_base, versions=installed_versions(pose_model),
        view=jumps.movement.view, exercise=jumps.movement.exercise, scale=scene.scale,
        contacts=segmentation.contacts, jumps=jumps.reports,
        jump_set=summarise_jumps(
            jumps.reports, contacts=segmentation.contacts, untimed_s=jumps.untimed_s
        ),
        cautions=assess_cautions(jumps.reports, sex=request.sex),
        standing_notice=STANDING_NOTICE if jumps.reports else None, refusals=tuple(refusals),
    )  # fmt: skip


def _no_jump(look: FirstLook) -> Refused:
    if look.athlete.feet_cut_share > MOST_FEET_CUT_SHARE:
        return Refused(
            what="jumps", reason="the athlete's feet are outside the picture",
            hint="Step back or tilt the phone until the whole body and the floor are in view.",
        )  # fmt: skip
    if look.athlete.seen_share < LEAST_SEEN_SHARE:
        return Refused(
            what="jumps",
            reason=f"the athlete is seen in only {look.athlete.seen_share:.0%} of the pictures",
            hint="Film one whole jump without leaving the picture.",
        )  # fmt: skip
    if _lies(look.athlete.track):
        return Refused(
            what="jumps", reason="the athlete lies on the side in this picture",
            hint="Turn the clip upright on the phone, or send the phone's own file.",
        )  # fmt: skip
    if look.brightness < 25:
        return Refused(
            what="jumps", reason="the clip is too dark to see both feet leave the ground",
            hint="Film in daylight or with the lights on.",
        )  # fmt: skip
    return Refused(
        what="jumps", reason="at no moment are both feet off the ground as in a jump",
        hint="Film one whole jump, from quiet standing to a second after the landing.",
    )  # fmt: skip


def _lies(track: PoseTrack) -> bool:
    """Tell whether the trunk is nearer to the horizontal than to the vertical all the while."""
    shoulders = track.px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]].mean(axis=1)
    hips = track.px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1)
    across, down = np.abs(np.nanmedian(hips - shoulders, axis=0))
    return bool(across > down)
