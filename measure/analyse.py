"""From one clip to its report: the one place where reading and physics meet."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from importlib.metadata import PackageNotFoundError, version

import numpy as np
from numpy.typing import NDArray

from calibration.gravity import STANDARD_GRAVITY_MPS2, gravity_at
from calibration.repeats import Repeats, find_repeats
from calibration.values import Refused, Scale, TimeBase
from measure.clean import CleanSettings, clean_track
from measure.clock import USUAL_STATURE_M, Clock, ClockFacts, decide_clock
from measure.contacts.coarse import (
    CoarseFlight,
    CoarseSettings,
    FootHeights,
    find_flights,
    find_lifts,
    measure_foot_heights,
)
from measure.contacts.event import LANDING, TAKE_OFF
from measure.contacts.judge import JudgeSettings
from measure.contacts.plan import FootPaths, PlanSettings, interpolate_feet, plan_events
from measure.contacts.segment import Segmentation, segment_clip, time_event
from measure.errors import NothingToMeasure, UnreadableClip
from measure.io.look import FirstLook, look_at_clip
from measure.io.pose import PoseModel
from measure.io.read import Clip, open_clip
from measure.io.windows import read_event_pictures
from measure.jumps import JumpHeights, JumpSettings, measure_jumps
from measure.legs import LegSettings, restore_legs
from measure.report import ClipFacts, JumpReport, Report, Versions
from measure.request import ClipRequest, Reference
from measure.types import Flight, Floats, PoseTrack

__all__ = ["Analysis", "ClipRequest", "Reference", "analyse_clip"]

Progress = Callable[[str, float], None]

LONGEST_CLIP_S = 300.0
SHORTEST_CLIP_S = 0.4
FEWEST_ROWS = 8


@dataclass(frozen=True, slots=True)
class FlightSettings:
    """Which coarse flights are jumps, once the clock is known."""

    shortest_s: float = 0.06
    longest_s: float = 1.0
    gravity_shares: tuple[float, float] = (0.72, 1.38)
    """Fall of the hips over gravity, with a known scale; limbs and stature move it."""
    gravity_shares_unscaled: tuple[float, float] = (0.55, 1.7)


@dataclass(frozen=True)
class Analysis:
    """A report and what pictures of it need."""

    request: ClipRequest
    report: Report
    track: PoseTrack
    """Cleaned, in the pixels of the first picture."""
    time_s: Floats
    """Real time of the track's rows; file time where the clock is refused."""
    frame_time_s: Floats
    """Real time of every frame, shape (N,)."""
    flights: tuple[Flight, ...] = ()
    """The report's jumps, in order."""


def analyse_clip(
    request: ClipRequest, *, progress: Progress | None = None, model: PoseModel | None = None
) -> Analysis:
    """Measure one clip.

    Parameters
    ----------
    request : ClipRequest
    progress : callable, optional
        Told the name of the step and the part of it that is done, 0 to 1.
    model : PoseModel, optional
        The bundled one where None.

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
        _check_length(clip)
        pose_model = model or _bundled_pose()
        look = look_at_clip(clip, pose_model, progress=lambda part: told("poses", part))
        scene = _set_scene(clip, look, request)
        if scene.clock.time_base.refusal is not None:
            return _refused_analysis(clip, look, scene, request, pose_model.name)
        segmentation = _segment(clip, look, scene, told)
    return _measured_analysis(clip, look, scene, segmentation, request, pose_model.name)


def _bundled_pose() -> PoseModel:
    from measure.io.pose_landmarks import BundledPose

    return BundledPose()


def _check_length(clip: Clip) -> None:
    duration_s = float(clip.stamps.file_time_s[-1])
    if duration_s > LONGEST_CLIP_S:
        raise UnreadableClip(
            f"The clip is {duration_s / 60:.0f} minutes long.",
            f"Cut it to the set itself, {LONGEST_CLIP_S / 60:.0f} minutes at most.",
        )
    if clip.stamps.frame_count < FEWEST_ROWS or duration_s < SHORTEST_CLIP_S:
        raise UnreadableClip(
            f"The clip holds only {clip.stamps.frame_count} pictures ({duration_s:.2f} s).",
            "Film from a second before the movement to a second after it.",
        )


@dataclass(frozen=True, slots=True)
class _Scene:
    """What is known before any picture is looked at closely."""

    track: PoseTrack
    """Distinct pictures, legs restored, cleaned."""
    time_s: Floats
    frame_time_s: Floats
    distinct: NDArray[np.bool_]
    """Which frames show a picture of their own, shape (N,)."""
    clock: Clock
    gravity_mps2: float
    repeats: Repeats
    heights: FootHeights | None = None
    flights: tuple[CoarseFlight, ...] = field(default=())


def _set_scene(clip: Clip, look: FirstLook, request: ClipRequest) -> _Scene:
    gravity_mps2 = (
        STANDARD_GRAVITY_MPS2
        if request.latitude_deg is None
        else gravity_at(latitude_deg=request.latitude_deg)
    )
    repeats = find_repeats(look.frame_file_time_s, motion_level=look.changes.motion_level)
    distinct = ~repeats.repeated
    raw = _rows_of(look.athlete.track, distinct[look.athlete.track.frame_index])
    _check_track(raw)
    raw = restore_legs(raw)
    heights = measure_foot_heights(raw)
    flights = find_flights(find_lifts(heights), raw, raw.file_time_s, stride=heights.stride)
    facts = ClockFacts(
        look.frame_file_time_s, clip.stream.capture_rate_tag_hz, clip.stream.playback_intent,
        clip.stream.edit_rate,
    )  # fmt: skip
    clock = decide_clock(
        flights, raw, facts=facts, repeats=repeats, request=request, gravity_mps2=gravity_mps2
    )
    slow = clock.time_base.file_s_per_s
    time_s = raw.file_time_s / slow
    return _Scene(
        track=clean_track(raw, time_s=time_s), time_s=time_s,
        frame_time_s=look.frame_file_time_s / slow, distinct=distinct, clock=clock,
        gravity_mps2=gravity_mps2, repeats=repeats, heights=heights,
        flights=_real_flights(flights, raw, clock, heights, gravity_mps2, request),
    )  # fmt: skip


def _rows_of(track: PoseTrack, keep: NDArray[np.bool_]) -> PoseTrack:
    return replace(
        track, frame_index=track.frame_index[keep], file_time_s=track.file_time_s[keep],
        px=track.px[keep], visibility=track.visibility[keep], world_m=track.world_m[keep],
    )  # fmt: skip


def _check_track(track: PoseTrack) -> None:
    if np.isfinite(track.px[:, 0, 0]).sum() < FEWEST_ROWS:
        raise NothingToMeasure(
            "The athlete is in the picture for too short a time.",
            "Film from a second before the movement to a second after it, the whole body in view.",
        )


def _real_flights(
    flights: Sequence[CoarseFlight], track: PoseTrack, clock: Clock, heights: FootHeights,
    gravity_mps2: float, request: ClipRequest,
) -> tuple[CoarseFlight, ...]:  # fmt: skip
    """Keep the flights whose hips fall as gravity asks, on the real clock."""
    settings = FlightSettings()
    slow = clock.time_base.file_s_per_s
    if isinstance(clock.scale, Scale):
        m_per_px, (low, high) = clock.scale.m_per_px, settings.gravity_shares
    else:
        m_per_px = USUAL_STATURE_M.value / heights.stature_px
        low, high = settings.gravity_shares_unscaled
    kept = []
    for flight in flights:
        duration_s = track.file_time_s[flight.last_row] - track.file_time_s[flight.first_row]
        share = flight.fall_px_per_s2 * slow**2 * m_per_px / gravity_mps2
        share_sigma = flight.fall_sigma_px_per_s2 / flight.fall_px_per_s2 * share
        plausible = low - 2 * share_sigma < share < high + 2 * share_sigma
        in_time = settings.shortest_s < duration_s / slow < settings.longest_s
        if plausible and in_time and share_sigma < 0.5:
            kept.append(flight)
    return tuple(kept)


def _segment(clip: Clip, look: FirstLook, scene: _Scene, told: Progress) -> Segmentation:
    """Look closely at every event of every flight."""
    assert scene.heights is not None
    paths = _paths(scene)
    lifts = find_lifts(scene.heights)
    plans = plan_events(
        scene.flights, lifts, scene.heights, paths, time_s=scene.time_s, distinct=scene.distinct,
        picture_px=(clip.stream.width_px, clip.stream.height_px),
    )  # fmt: skip
    pictures = read_event_pictures(
        clip, plans, paths, camera=look.camera, progress=lambda part: told("feet", part / 2)
    )
    interval_s = scene.repeats.interval_file_s / scene.clock.time_base.file_s_per_s
    events = []
    for number, (plan, near) in enumerate(zip(plans, pictures, strict=True), start=1):
        events.append(time_event(plan, near, interval_s=interval_s))
        told("feet", 0.5 + number / len(plans) / 2)
    return segment_clip(scene.flights, lifts, events, time_s=scene.time_s)


def _paths(scene: _Scene) -> FootPaths:
    assert scene.heights is not None
    stature_px = scene.heights.stature_px
    scale = scene.clock.scale
    standing_m = stature_px * scale.m_per_px if isinstance(scale, Scale) else USUAL_STATURE_M.value
    return interpolate_feet(
        scene.track, scene.time_s, scene.frame_time_s, stature_px=stature_px,
        standing_m=standing_m,
    )  # fmt: skip


def _refused_analysis(
    clip: Clip, look: FirstLook, scene: _Scene, request: ClipRequest, pose_model: str
) -> Analysis:
    refusal = scene.clock.time_base.refusal
    assert refusal is not None
    report = Report(
        clip=_clip_facts(clip, scene), time_base=scene.clock.time_base,
        versions=_versions(pose_model), exercise=request.exercise, refusals=(refusal,),
    )  # fmt: skip
    return Analysis(request, report, scene.track, scene.time_s, scene.frame_time_s)


def _measured_analysis(
    clip: Clip, look: FirstLook, scene: _Scene, segmentation: Segmentation, request: ClipRequest,
    pose_model: str,
) -> Analysis:  # fmt: skip
    scale = scene.clock.scale
    jumps = tuple(
        flight for flight in segmentation.flights if _rises(flight, scene)
    )  # fmt: skip
    heights = measure_jumps(
        jumps, track=scene.track, time_s=scene.time_s,
        scale=scale if isinstance(scale, Scale) else None, gravity_mps2=scene.gravity_mps2,
    )  # fmt: skip
    refusals = [*segmentation.refusals, *_height_refusals(heights)]
    if not jumps and not segmentation.refusals:
        refusals.append(_no_jump(look))
    if isinstance(scale, Refused):
        refusals.append(scale)
    report = Report(
        clip=_clip_facts(clip, scene), time_base=scene.clock.time_base,
        versions=_versions(pose_model), exercise=request.exercise or _propose(jumps),
        scale=scale if isinstance(scale, Scale) else None, contacts=segmentation.contacts,
        jumps=tuple(map(_jump_report, jumps, heights)), refusals=tuple(refusals),
    )  # fmt: skip
    return Analysis(request, report, scene.track, scene.time_s, scene.frame_time_s, jumps)


def _rises(flight: Flight, scene: _Scene) -> bool:
    """Tell a jump from a drop off a box."""
    slow = scene.clock.time_base.file_s_per_s
    return any(
        coarse.is_jump and coarse.start_s / slow == flight.coarse_s[0] for coarse in scene.flights
    )


def _propose(jumps: Sequence[Flight]) -> str | None:
    return "vertical" if jumps else None


def _no_jump(look: FirstLook) -> Refused:
    athlete = look.athlete
    if athlete.feet_cut_share > 0.2:
        return Refused(
            what="jumps", reason="the athlete's feet are outside the picture",
            hint="Step back or tilt the phone until the whole body and the floor are in view.",
        )  # fmt: skip
    return Refused(
        what="jumps", reason="at no moment are both feet off the ground as in a jump",
        hint="Film one whole jump, from quiet standing to a second after the landing.",
    )  # fmt: skip


def _height_refusals(heights: Sequence[JumpHeights]) -> list[Refused]:
    """Each reason once, however many jumps it concerns."""
    found = [
        value
        for jump in heights
        for value in (jump.height_com, jump.height_standing)
        if isinstance(value, Refused)
    ]
    return list(dict.fromkeys(found))


def _jump_report(flight: Flight, heights: JumpHeights) -> JumpReport:
    flight_sigma_s = float(np.hypot(flight.take_off.sigma_s, flight.landing.sigma_s))
    com = heights.height_com if not isinstance(heights.height_com, Refused) else None
    standing = (
        heights.height_standing if not isinstance(heights.height_standing, Refused) else None
    )
    return JumpReport(
        take_off_s=flight.take_off.time_s, take_off_sigma_s=flight.take_off.sigma_s,
        landing_s=flight.landing.time_s, landing_sigma_s=flight.landing.sigma_s,
        flight_time_s=flight.landing.time_s - flight.take_off.time_s,
        flight_time_sigma_s=flight_sigma_s,
        height_m=heights.height.value, height_sigma_m=heights.height.sigma,
        height_com_m=com and com.value, height_com_sigma_m=com and com.sigma,
        height_standing_m=standing and standing.value,
        height_standing_sigma_m=standing and standing.sigma,
        take_off_side=flight.take_off_side, landing_side=flight.landing_side,
    )  # fmt: skip


def _clip_facts(clip: Clip, scene: _Scene) -> ClipFacts:
    return ClipFacts(
        sha256=clip.stream.sha256, width_px=clip.stream.width_px, height_px=clip.stream.height_px,
        frame_count=int(scene.frame_time_s.shape[0]),
        duration_s=float(scene.frame_time_s[-1] - scene.frame_time_s[0]),
        rotation_deg=clip.stream.rotation_deg,
        repeated_frame_count=int((~scene.distinct).sum()),
        missing_frame_count=clip.stamps.missing_frame_count,
        recorded_at=clip.stream.recorded_at,
    )  # fmt: skip


def _versions(pose_model: str) -> Versions:
    settings = (
        CoarseSettings(), PlanSettings(), TAKE_OFF, LANDING, JudgeSettings(), CleanSettings(),
        LegSettings(), JumpSettings(), FlightSettings(),
    )  # fmt: skip
    digest = hashlib.sha256(repr(settings).encode()).hexdigest()
    try:
        installed = version("flightmark")
    except PackageNotFoundError:
        installed = "0+unknown"
    return Versions(installed, pose_model, digest)
