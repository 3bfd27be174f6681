"""From one clip to its report: the one place where reading and physics meet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calibration.values import Refused
from measure.analysis import Analysis
from measure.cautions import STANDING_NOTICE, assess_cautions
from measure.contacts.segment import Segmentation, TimedEvent, segment_clip
from measure.film import check_film, check_whole, clip_facts, clock_facts, gravity_of
from measure.foot_plans import plan_feet
from measure.io.athlete import POSE_RATE_HZ, AthleteSettings
from measure.io.events import time_events
from measure.io.kept import KeptStrips
from measure.io.look import FirstLook, look_at_clip
from measure.io.pose import PoseModel, Restful
from measure.io.read import Clip, open_clip
from measure.io.shelf import Looked, Shelf
from measure.io.windows import read_event_pictures
from measure.jump_reports import MeasuredJumps, report_jumps
from measure.jump_set import summarise_jumps
from measure.report import Report
from measure.request import ClipRequest, Reference
from measure.scene import Scene, set_scene
from measure.types import Landmark, PoseTrack
from measure.versions import installed_versions

__all__ = ["Analysis", "ClipRequest", "Reference", "analyse_clip"]

Progress = Callable[[str, float], None]

LEAST_SEEN_SHARE = 0.6
MOST_FEET_CUT_SHARE = 0.2
LANE_EXERCISES = ("sprint", "shuffle_sprint")


def analyse_clip(
    request: ClipRequest, *, progress: Progress | None = None, model: PoseModel | None = None,
    processes: int = 1, pose_rate_hz: float = POSE_RATE_HZ, shelf: Shelf | None = None,
) -> Analysis:  # fmt: skip
    """Measure one clip.

    Parameters
    ----------
    request : ClipRequest
    progress : callable, optional
        Told the name of the step and the part of it that is done, 0 to 1.
    model : PoseModel, optional
        The bundled one where None.
    processes : int
        How many look at the feet; the answers are the same. More than one starts fresh
        interpreters that import the main module again, so a script needs its main guard.
    pose_rate_hz : float
        Poses per second of file time, at least. More of them hardly move an event: feet are timed
        in the pixels of every frame.
    shelf : Shelf, optional
        Keeps what is seen of the body, so that the same clip is not looked at twice.

    Returns
    -------
    Analysis

    Raises
    ------
    UnreadableClip
        When the file is no film, too long, or holds too few pictures.
    NothingToMeasure
        When nobody can be followed or the camera moves along.
    """
    told = progress or (lambda step, part: None)
    with open_clip(request.path) as clip:
        check_film(clip)
        pose_model = model or _bundled_pose()
        if request.lane is not None or request.exercise in LANE_EXERCISES:
            from measure.analyse_run import analyse_run  # slow to import, and no jump needs it

            return analyse_run(clip, request, pose_model, told)
        looked = Looked(shelf, clip.stream.sha256, _seen_by(pose_model.name, pose_rate_hz))
        kept = KeptStrips(clip.stream.width_px, interval_s=clip.stamps.usual_interval_s)
        look = looked.look(lambda: _look(clip, pose_model, pose_rate_hz, kept, told))
        scene = set_scene(
            look.athlete.track, facts=clock_facts(clip, look.frame_file_time_s),
            motion_level=look.changes.motion_level, request=request,
            gravity_mps2=gravity_of(request),
        )  # fmt: skip
        if scene.clock.time_base.refusal is not None:
            return _refused(clip, scene, look, request, pose_model.name)
        segmentation = _segment(clip, look, scene, looked, _FeetWatch(kept, told, processes))
    jumps = report_jumps(segmentation, scene, request=request)
    report = _report(clip, look, scene, segmentation, jumps, request, pose_model.name)
    return Analysis(
        request, report, scene.track, scene.time_s, scene.frame_time_s, jumps.flights, look.camera
    )


def _look(
    clip: Clip, model: PoseModel, pose_rate_hz: float, kept: KeptStrips, told: Progress
) -> FirstLook:
    look = look_at_clip(
        clip, model, settings=AthleteSettings(pose_rate_hz),
        progress=lambda part: told("poses", part), kept=kept,
    )  # fmt: skip
    check_whole(clip)
    if isinstance(model, Restful):
        model.rest()  # feet need the memory
    return look


def _seen_by(pose_model: str, pose_rate_hz: float) -> str:
    """All that decides what is seen in a clip: the versions name the program's own files too."""
    return f"{installed_versions(pose_model)} {AthleteSettings(pose_rate_hz)}"


def _bundled_pose() -> PoseModel:
    from measure.io.pose_landmarks import BundledPose

    return BundledPose()


@dataclass(frozen=True)
class _FeetWatch:
    """How feet are looked at."""

    kept: KeptStrips
    told: Progress
    processes: int


def _segment(
    clip: Clip, look: FirstLook, scene: Scene, looked: Looked, watch: _FeetWatch
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
