"""The film and the pictures with everything on them that was measured."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.errors import UnreadableClip
from measure.io.captions import say_event, say_landing, say_moment, say_time
from measure.io.frame import TURNS, Frame
from measure.io.moments import (
    Event,
    HipCurve,
    list_events,
    list_spans,
    nearest_frame,
    no_track,
    pose_at,
    read_hip_curve,
)
from measure.io.plot import Story, plot_hip_height
from measure.io.read import Clip, open_clip
from measure.io.run_pictures import RunScene, draw_marks, write_run_pictures
from measure.io.run_plot import plot_run
from measure.io.sheet import Body, Sheet, Words, draw_sheet, lay_sheet, new_picture
from measure.io.write import write_clip, write_picture
from measure.types import FEET, Floats

if TYPE_CHECKING:
    from measure.analyse import Analysis

Bytes = NDArray[np.uint8]
Progress = Callable[[str, float], None]


def annotate_clip(analysis: Analysis, out_path: Path, *, progress: Progress | None = None) -> None:
    """Write the clip once more, with what was measured drawn on it.

    Parameters
    ----------
    analysis : Analysis
    out_path : Path
        An mp4 film that any browser plays; it appears once it is complete. Every frame is kept at
        the moment the file gives it, so slow motion stays slow; the time written on the picture is
        the real one, and it says how much slower the film is.
    progress : callable, optional
        Told the name of the step and the part of it that is done, 0 to 1.

    Raises
    ------
    UnreadableClip
        When the clip is not the one that was measured.
    OutputFailed
        When the film can't be written.
    """
    times_s = analysis.frame_time_s * analysis.report.time_base.file_s_per_s
    with _open_same(analysis) as clip:
        sheet = _lay(analysis, clip)

        def pictures() -> Iterator[Bytes]:
            for number, frame in enumerate(clip.frames(), start=1):
                at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
                yield _compose(analysis, sheet, frame, _words_at(analysis, at_s))
                if progress is not None:
                    progress("annotate", min(number / len(times_s), 1.0))

        write_clip(out_path, pictures(), times_s=times_s.tolist())


def write_stills(analysis: Analysis, folder: Path) -> list[Path]:
    """Write the picture nearest to every event, and a plot of the whole clip.

    Parameters
    ----------
    analysis : Analysis
    folder : Path
        An existing one.

    Returns
    -------
    list of Path
        ``jump1_take_off.jpg``, ``jump1_landing.jpg``, ``jump1_deepest.jpg`` and so on for every
        jump, and ``hip_height.png``; of a run ``start.jpg``, ``mark1.jpg`` and so on, all of
        them side by side in ``strip.jpg``, and ``run.png`` with distance and speed over time.

    Raises
    ------
    UnreadableClip
        When the clip is not the one that was measured.
    OutputFailed
        When a picture can't be written.
    """
    scene = _run_scene(analysis)
    if scene is not None:
        return _write_run(analysis, scene, folder)
    story = _tell(analysis)
    written: list[Path] = []
    with _open_same(analysis) as clip:
        sheet = _lay(analysis, clip)
        shown = _frames_of(analysis, clip, story.events)
        for frame in clip.frames(wanted=shown):
            at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
            for event in shown[frame.index]:
                words = _words_of(analysis, event, frame_time_s=at_s)
                path = folder / f"jump{event.jump}_{event.kind}.jpg"
                write_picture(path, _compose(analysis, sheet, frame, words))
                written.append(path)
    path = folder / "hip_height.png"
    write_picture(path, plot_hip_height(story))
    return [*written, path]


def _write_run(analysis: Analysis, scene: RunScene, folder: Path) -> list[Path]:
    with _open_same(analysis) as clip:
        written = write_run_pictures(clip, scene, folder)
    assert analysis.run is not None
    if analysis.run.path is None:
        return written
    path = folder / "run.png"
    write_picture(path, plot_run(analysis.run.path, scene.report))
    return [*written, path]


def _run_scene(analysis: Analysis) -> RunScene | None:
    run = analysis.run
    if run is None or analysis.report.sprint is None or run.lane is None or run.film is None:
        return None
    # The report may have been moved by hand since, so it is the analysis's own.
    return RunScene(
        analysis.report.sprint, run.lane, run.film, analysis.report.time_base.file_s_per_s
    )


def _open_same(analysis: Analysis) -> Clip:
    clip = open_clip(analysis.request.path)
    if clip.stream.sha256 != analysis.report.clip.sha256:
        raise UnreadableClip(
            f"{analysis.request.path.name} is no longer the clip that was measured.",
            "Measure it again.",
        )
    return clip


def _tell(analysis: Analysis) -> Story:
    report, time_s = analysis.report, analysis.time_s
    track = analysis.track or no_track(report.clip.width_px, report.clip.height_px)
    m_per_px = report.scale.m_per_px if report.scale is not None else None
    marks_s = () if report.sprint is None else tuple(mark.time_s for mark in report.sprint.marks)
    path = None if analysis.run is None else analysis.run.path
    return Story(
        hip=read_hip_curve(track, time_s, m_per_px=m_per_px)
        if path is None
        else HipCurve(path.time_s, path.distance_m, "m"),
        spans={foot: list_spans(report.contacts, foot=foot) for foot in FEET},
        events=list_events(report.jumps, track=track, row_time_s=time_s), marks_s=marks_s,
        ends_s=(float(analysis.frame_time_s[0]), float(analysis.frame_time_s[-1])),
        time_name="Time, s" if report.time_base.refusal is None else "Time in the file, s",
    )  # fmt: skip


def _lay(analysis: Analysis, clip: Clip) -> Sheet:
    stream = clip.stream
    return lay_sheet(_tell(analysis), width_px=stream.width_px, height_px=stream.height_px)


def _frames_of(analysis: Analysis, clip: Clip, events: tuple[Event, ...]) -> dict[int, list[Event]]:
    """Number of the frame nearest to each event, with its events."""
    # A repeated picture shows an earlier moment than its own, so only the poses' rows will do.
    repeated = analysis.report.clip.repeated_frame_count > 0
    taken_s = analysis.time_s if repeated else analysis.frame_time_s
    shown: dict[int, list[Event]] = {}
    for event in events:
        at_s = taken_s[nearest_frame(taken_s, at_s=event.time_s)]
        file_time_s = at_s * analysis.report.time_base.file_s_per_s
        index = nearest_frame(clip.stamps.file_time_s, at_s=file_time_s)
        shown.setdefault(index, []).append(event)
    return shown


def _words_at(analysis: Analysis, at_s: float) -> Words:
    report = analysis.report
    return Words((say_time(report, at_s=at_s), *say_moment(report, at_s=at_s)))


def _words_of(analysis: Analysis, event: Event, *, frame_time_s: float) -> Words:
    landing = analysis.report.jumps[event.jump - 1].landing
    angles = None if event.kind == "take_off" else say_landing(landing, at_s=event.time_s)
    return Words((*say_event(event, frame_time_s=frame_time_s), angles or ""), feet_row=1)


def _compose(analysis: Analysis, sheet: Sheet, frame: Frame, words: Words) -> Bytes:
    at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
    whole, frame_part = new_picture(sheet)
    _put_upright(frame_part, frame)
    body = Body.unseen()
    if analysis.track is not None:
        points_px, visibility = pose_at(analysis.track, analysis.time_s, at_s=at_s)
        body = Body(_as_filmed(analysis, frame, points_px), visibility)
    scene = _run_scene(analysis)
    if scene is not None:
        draw_marks(frame_part, scene, at_s=at_s, px_per_frame_px=sheet.px_per_frame_px)
    draw_sheet(whole, sheet, body, analysis.report.jumps, words=words, at_s=at_s)
    return whole


def _put_upright(picture: Bytes, frame: Frame) -> None:
    """Convert a frame to its size in the film, all in one go, and turn it upright."""
    height, width = picture.shape[:2]
    turned = frame.rotation_deg % 180 != 0
    stored_width, stored_height = (height, width) if turned else (width, height)
    stored = frame.reformatter.reformat(
        frame.picture, width=stored_width, height=stored_height, format="rgb24", threads=1
    ).to_ndarray()
    picture[:] = cv2.rotate(stored, TURNS[frame.rotation_deg]) if frame.rotation_deg else stored


def _as_filmed(analysis: Analysis, frame: Frame, points_px: Floats) -> Floats:
    """From the first picture's pixels to this one's, where the camera moved."""
    camera = analysis.camera
    if camera is None or camera.still:
        return points_px
    first_from_picture = camera.at(frame.index)
    turned: Floats = np.linalg.inv(first_from_picture[:, :2])
    return np.asarray((points_px - first_from_picture[:, 2]) @ turned.T, dtype=np.float64)
