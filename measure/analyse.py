"""From one clip to its report: the one place where reading and physics meet."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

import numpy as np
from numpy.typing import NDArray

from calibration.gravity import STANDARD_GRAVITY_MPS2, gravity_at
from calibration.lane import fit_lane
from calibration.values import Refused, TimeBase
from measure.cautions import STANDING_NOTICE, assess_cautions
from measure.clean import CleanSettings
from measure.clock import ClockFacts, decide_file_clock
from measure.contacts.event import LANDING, TAKE_OFF
from measure.contacts.floor import CoarseSettings
from measure.contacts.judge import JudgeSettings
from measure.contacts.plan import PlanSettings
from measure.contacts.segment import Segmentation, TimedEvent, segment_clip
from measure.errors import UnreadableClip
from measure.foot_plans import plan_feet
from measure.io.athlete import POSE_RATE_HZ, AthleteSettings
from measure.io.changes import PictureChanges, measure_changes
from measure.io.events import time_events
from measure.io.lane_file import load_lane
from measure.io.look import GREY_STEP, CameraPath, FirstLook, look_at_clip
from measure.io.pose import PoseModel
from measure.io.read import Clip, open_clip
from measure.io.shelf import Looked, Shelf, source_stamp
from measure.io.sprint_run import RunFacts, SprintOutcome, SprintSettings, analyse_sprint
from measure.io.windows import read_event_pictures
from measure.jump_reports import MeasuredJumps, report_jumps
from measure.jump_set import summarise_jumps
from measure.jumps import JumpSettings
from measure.legs import LegSettings
from measure.report import ClipFacts, Report, Versions
from measure.request import ClipRequest, Reference
from measure.scene import FEWEST_ROWS, FlightSettings, Scene, set_scene
from measure.types import Flight, Floats, Landmark, PoseTrack

__all__ = ["Analysis", "ClipRequest", "Reference", "analyse_clip"]

Progress = Callable[[str, float], None]

LONGEST_CLIP_S = 300.0
SHORTEST_CLIP_S = 0.4
LEAST_SEEN_SHARE = 0.6
MOST_FEET_CUT_SHARE = 0.2
LANE_EXERCISES = ("sprint", "shuffle_sprint")
NO_LANE = Refused(
    what="sprint", reason="no lane was given, so no mark has a distance",
    hint="Mark the cones once for this place and give the lane file.",
)  # fmt: skip


@dataclass(frozen=True)
class Analysis:
    """A report and what pictures of it need."""

    request: ClipRequest
    report: Report
    track: PoseTrack | None
    """Cleaned, in the pixels of the first picture; None for a run in which nobody was seen."""
    time_s: Floats
    """Real time of the track's rows; file time where the clock is refused."""
    frame_time_s: Floats
    """Real time of every frame, shape (N,)."""
    flights: tuple[Flight, ...] = ()
    """The report's jumps, in order."""
    camera: CameraPath | None = None
    run: SprintOutcome | None = None
    """Of a run along a lane."""


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
        _check_film(clip)
        pose_model = model or _bundled_pose()
        if request.lane is not None or request.exercise in LANE_EXERCISES:
            return _analyse_run(clip, request, pose_model, told)
        looked = Looked(shelf, clip.stream.sha256, _seen_by(pose_model.name, pose_rate_hz))
        look = looked.look(lambda: _look(clip, pose_model, pose_rate_hz, told))
        scene = set_scene(
            look.athlete.track, facts=_clock_facts(clip, look.frame_file_time_s),
            motion_level=look.changes.motion_level, request=request,
            gravity_mps2=_gravity(request),
        )  # fmt: skip
        if scene.clock.time_base.refusal is not None:
            return _refused(clip, scene, look, request, pose_model.name)
        segmentation = _segment(clip, look, scene, looked, _FeetWatch(told, processes))
    jumps = report_jumps(segmentation, scene, request=request)
    report = _report(clip, look, scene, segmentation, jumps, request, pose_model.name)
    return Analysis(
        request, report, scene.track, scene.time_s, scene.frame_time_s, jumps.flights, look.camera
    )


def _look(clip: Clip, model: PoseModel, pose_rate_hz: float, told: Progress) -> FirstLook:
    look = look_at_clip(
        clip, model, settings=AthleteSettings(pose_rate_hz),
        progress=lambda part: told("poses", part),
    )  # fmt: skip
    _check_whole(clip)
    return look


def _seen_by(pose_model: str, pose_rate_hz: float) -> str:
    """All that decides what is seen in a clip, the program's own files included."""
    return f"{_versions(pose_model)} {AthleteSettings(pose_rate_hz)} {source_stamp()}"


def _bundled_pose() -> PoseModel:
    from measure.io.pose_landmarks import BundledPose

    return BundledPose()


def _gravity(request: ClipRequest) -> float:
    if request.latitude_deg is None:
        return STANDARD_GRAVITY_MPS2
    return gravity_at(latitude_deg=request.latitude_deg)


def _check_film(clip: Clip) -> None:
    _check_whole(clip)
    duration_s = float(clip.stamps.file_time_s[-1])
    if duration_s > LONGEST_CLIP_S:
        raise UnreadableClip(
            f"The clip is {duration_s / 60:.1f} minutes long.",
            f"Cut it to the set itself, {LONGEST_CLIP_S / 60:.0f} minutes at most.",
        )
    if clip.stamps.frame_count < FEWEST_ROWS or duration_s < SHORTEST_CLIP_S:
        raise UnreadableClip(
            f"The clip holds only {clip.stamps.frame_count} pictures ({duration_s:.2f} s).",
            "Film from a second before the movement to a second after it.",
        )
    if abs(clip.stream.pixel_aspect - 1) > 0.01:
        raise UnreadableClip(
            "The clip's pixels are not square, so lengths across and upright differ.",
            "Use the video as the phone saved it, not one that was converted.",
        )


def _check_whole(clip: Clip) -> None:
    """A file that breaks off is not measured: what is missing may be the landing."""
    if clip.ended_early or clip.damaged_count > 0:
        raise UnreadableClip(
            "The clip is damaged or its end is missing.",
            "Copy it from the phone again and wait until the copy is complete.",
        )


def _clock_facts(clip: Clip, stamps_file_s: Floats) -> ClockFacts:
    return ClockFacts(
        stamps_file_s, clip.stream.capture_rate_tag_hz, clip.stream.playback_intent,
        clip.stream.edit_rate,
    )  # fmt: skip


@dataclass(frozen=True)
class _FeetWatch:
    """How feet are looked at."""

    told: Progress
    processes: int


def _segment(
    clip: Clip, look: FirstLook, scene: Scene, looked: Looked, watch: _FeetWatch
) -> Segmentation:
    """Look closely at every event of every flight."""
    feet = plan_feet(scene, picture_px=(clip.stream.width_px, clip.stream.height_px))

    def time_all() -> list[TimedEvent]:
        pictures = read_event_pictures(clip, feet.plans, feet.paths, camera=look.camera)
        return time_events(
            feet.plans, pictures, interval_s=scene.interval_s, processes=watch.processes,
            progress=lambda part: watch.told("feet", part),
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
        clip=_clip_facts(clip, scene.frame_time_s, scene.distinct),
        time_base=scene.clock.time_base, versions=_versions(pose_model),
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
        clip=_clip_facts(clip, scene.frame_time_s, scene.distinct),
        time_base=scene.clock.time_base, versions=_versions(pose_model),
        view=jumps.movement.view, exercise=jumps.movement.exercise, scale=scene.scale,
        contacts=segmentation.contacts, jumps=jumps.reports,
        jump_set=summarise_jumps(jumps.reports, contacts=segmentation.contacts),
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


def _analyse_run(clip: Clip, request: ClipRequest, model: PoseModel, told: Progress) -> Analysis:
    """Time one run along a lane."""
    changes = _changes(clip, told)
    _check_whole(clip)
    facts = _clock_facts(clip, clip.stamps.file_time_s)
    time_base, distinct = decide_file_clock(
        facts, motion_level=changes.motion_level, request=request, gravity_mps2=_gravity(request)
    )
    frame_time_s = facts.stamps_file_s / time_base.file_s_per_s
    run = _timed_run(clip, request, model, time_base, told)
    report = Report(
        clip=_clip_facts(clip, frame_time_s, distinct), time_base=time_base,
        versions=_versions(model.name), view="side", exercise=request.exercise or "sprint",
        sprint=run.report, refusals=run.refusals,
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


def _clip_facts(clip: Clip, frame_time_s: Floats, distinct: NDArray[np.bool_]) -> ClipFacts:
    return ClipFacts(
        sha256=clip.stream.sha256, width_px=clip.stream.width_px, height_px=clip.stream.height_px,
        frame_count=int(frame_time_s.shape[0]),
        duration_s=float(frame_time_s[-1] - frame_time_s[0]),
        rotation_deg=clip.stream.rotation_deg,
        repeated_frame_count=int((~distinct).sum()) + clip.stamps.repeated_stamp_count,
        missing_frame_count=clip.stamps.missing_frame_count,
        recorded_at=clip.stream.recorded_at,
    )  # fmt: skip


def _versions(pose_model: str) -> Versions:
    settings = (
        CoarseSettings(), PlanSettings(), TAKE_OFF, LANDING, JudgeSettings(), CleanSettings(),
        LegSettings(), JumpSettings(), FlightSettings(), SprintSettings(),
    )  # fmt: skip
    digest = hashlib.sha256(repr(settings).encode()).hexdigest()
    try:
        installed = version("flightmark")
    except PackageNotFoundError:
        installed = "0+unknown"
    return Versions(installed, pose_model, digest)
