"""Pictures of a run: the runner at each mark, all side by side, and marks on any picture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import picture_from_lane, place_on_lane
from calibration.lane_values import Lane
from measure.io.captions import show
from measure.io.draw import draw_line, draw_skeleton
from measure.io.lettering import BLACK, WHITE, Colour, draw_text, fit_capital_px
from measure.io.moments import nearest_frame, pose_at
from measure.io.read import Clip
from measure.io.runner import RunnerFilm
from measure.io.write import write_picture
from measure.report import SprintReport
from measure.types import Floats, Landmark

__all__ = ["RunScene", "draw_marks", "write_run_pictures"]

Bytes = NDArray[np.uint8]

POST_M = 2.0
"""A mark is drawn as a post of this height over the runner's line."""
PASSED: Colour = (255, 230, 0)
STILL_M = (6.4, 3.6)
"""Width and height of what a picture of one mark shows."""
STRIP_M = (2.4, 2.4)
STILL_PX = 1280
STRIP_PX = 320
BELOW_M = 0.35
"""Shown below the ground of the runner's line."""


@dataclass(frozen=True, slots=True)
class RunScene:
    """What pictures of a run need."""

    report: SprintReport
    lane: Lane
    film: RunnerFilm
    file_s_per_s: float


@dataclass(frozen=True, slots=True)
class _Moment:
    name: str
    """Of the file."""
    said: str
    time_s: float
    time_sigma_s: float
    distance_m: float | None
    """None at the start: there the picture is about the athlete."""


def write_run_pictures(clip: Clip, scene: RunScene, folder: Path) -> list[Path]:
    """Write the picture nearest to the start and to each crossing, and all in one strip.

    Parameters
    ----------
    clip : Clip
        The one that was measured.
    scene : RunScene
    folder : Path
        An existing one.

    Returns
    -------
    list of Path
        ``start.jpg``, ``mark1.jpg``, ``mark2.jpg`` … in the order of the course, and
        ``strip.jpg``.

    Raises
    ------
    OutputFailed
        When a picture can't be written.
    """
    moments = list(_moments(scene.report))
    if not moments:
        return []
    stamps_s = clip.stamps.file_time_s / scene.file_s_per_s
    wanted: dict[int, list[_Moment]] = {}
    for moment in moments:
        index = nearest_frame(stamps_s, at_s=moment.time_s)
        wanted.setdefault(index, []).append(moment)
    written: list[Path] = []
    cuts: list[Bytes] = []
    for frame in clip.frames(wanted=wanted):
        rgb, at_s = frame.rgb(), float(stamps_s[frame.index])
        for moment in wanted[frame.index]:
            path = folder / f"{moment.name}.jpg"
            write_picture(path, _still(rgb, scene, moment, at_s))
            written.append(path)
            cuts.append(_cut_for_strip(rgb, scene, moment, at_s))
    strip = folder / "strip.jpg"
    write_picture(strip, np.hstack(cuts))
    return [*written, strip]


def draw_marks(
    picture: Bytes, scene: RunScene, *, at_s: float, px_per_frame_px: float = 1.0
) -> None:
    """Draw the marks of the course as posts over the runner's line; passed ones light up.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        A frame of the clip at any size, drawn upon.
    scene : RunScene
    at_s : float
        Real time.
    px_per_frame_px : float
        Of the picture.
    """
    size = max(10.0, picture.shape[1] / 110)
    passed_m = [mark.distance_m for mark in scene.report.marks if mark.time_s <= at_s]
    for mark_m in dict.fromkeys(scene.lane.survey.course_m):
        ends = _lane_px(scene, np.array([mark_m, mark_m]), np.array([0.0, POST_M]), at_s)
        colour = PASSED if mark_m in passed_m else WHITE
        _draw_post(picture, ends * px_per_frame_px, colour, f"{mark_m:g} m", size)


def _moments(report: SprintReport) -> Iterator[_Moment]:
    if report.start_s is not None:
        yield _Moment("start", "Start", report.start_s, report.start_sigma_s or 0.0, None)
    for number, mark in enumerate(report.marks, start=1):
        yield _Moment(
            f"mark{number}", f"{mark.distance_m:g} m", mark.time_s, mark.time_sigma_s,
            mark.distance_m,
        )  # fmt: skip


def _still(rgb: Bytes, scene: RunScene, moment: _Moment, at_s: float) -> Bytes:
    picture = _about(rgb, scene, moment, at_s, STILL_M, STILL_PX, skeleton=True)
    lines = [f"{moment.said}: {show(moment.time_s, moment.time_sigma_s, least=3)} s of the clip, "
             f"picture taken at {at_s:.3f} s"]  # fmt: skip
    if scene.report.start_s is not None and moment.distance_m is not None:
        sigma_s = float(np.hypot(moment.time_sigma_s, scene.report.start_sigma_s or 0.0))
        after = show(moment.time_s - scene.report.start_s, sigma_s, least=3)
        lines.append(f"{after} s after the start")
    return _captioned(picture, lines, capital_px=STILL_PX / 60)


def _cut_for_strip(rgb: Bytes, scene: RunScene, moment: _Moment, at_s: float) -> Bytes:
    picture = _about(rgb, scene, moment, at_s, STRIP_M, STRIP_PX, skeleton=False)
    start_s = scene.report.start_s
    time_s = moment.time_s if start_s is None else moment.time_s - start_s
    lines = [moment.said, f"{time_s:.3f} s" if moment.distance_m is not None else "0 s"]
    return _captioned(picture, lines, capital_px=STRIP_PX / 20)


def _about(
    rgb: Bytes, scene: RunScene, moment: _Moment, at_s: float, shown_m: tuple[float, float],
    width_px: int, *, skeleton: bool,
) -> Bytes:  # fmt: skip
    """The part of a picture about the runner, enlarged, with the mark's post."""
    centre_m = _rest_m(scene, at_s) if moment.distance_m is None else moment.distance_m
    foot, top = _lane_px(scene, np.full(2, centre_m), np.array([0.0, POST_M]), at_s)
    px_per_m = float(np.hypot(*(top - foot))) / POST_M
    scale = width_px / (shown_m[0] * px_per_m)
    corner = foot + np.array([-shown_m[0] / 2, BELOW_M - shown_m[1]]) * px_per_m
    to_picture = np.array([[scale, 0.0, 0.0], [0.0, scale, 0.0]])
    to_picture[:, 2] = -scale * corner + scale / 2 - 0.5
    size = width_px, round(width_px * shown_m[1] / shown_m[0])
    picture = np.asarray(cv2.warpAffine(rgb, to_picture, size, flags=cv2.INTER_CUBIC), np.uint8)
    if moment.distance_m is not None:
        _draw_post(picture, (np.array([foot, top]) - corner) * scale, PASSED, "", width_px / 50)
    if skeleton:
        points_px, visibility = pose_at(scene.film.track, scene.film.time_s, at_s=at_s)
        draw_skeleton(picture, (points_px - corner) * scale, visibility)
    return picture


def _rest_m(scene: RunScene, at_s: float) -> float:
    """Where along the lane the hips are about a moment."""
    row = nearest_frame(scene.film.time_s, at_s=at_s)
    hips_px = scene.film.lane_px[row, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=0)
    return float(place_on_lane(scene.lane, hips_px).distance_m)


def _lane_px(scene: RunScene, distance_m: Floats, height_m: Floats, at_s: float) -> Floats:
    """Points over the runner's line in the frame of a moment, where the camera moved a little."""
    first_px = picture_from_lane(scene.lane, distance_m, height_m)
    if scene.film.time_s.size == 0:
        return first_px
    row = nearest_frame(scene.film.time_s, at_s=at_s)
    apart = scene.film.track.px[row] - scene.film.lane_px[row]
    return np.asarray(first_px + np.nanmedian(apart, axis=0))


def _draw_post(
    picture: Bytes, ends_px: Floats, colour: Colour, label: str, size: float
) -> None:
    foot, top = ends_px
    across = np.array([0.6 * size, 0.0])
    for ink, wide in ((BLACK, 3), (colour, 1)):
        draw_line(picture, foot, top, colour=ink, width_px=wide)
        draw_line(picture, foot - across, foot + across, colour=ink, width_px=wide)
    if label:
        place = float(foot[0]) - 1.5 * size, float(foot[1]) + 1.8 * size
        draw_text(picture, label, place, capital_px=size, colour=colour)


def _captioned(picture: Bytes, lines: list[str], *, capital_px: float) -> Bytes:
    below = np.zeros((round((1.0 + 1.7 * len(lines)) * capital_px), *picture.shape[1:]), np.uint8)
    for number, line in enumerate(lines):
        width_px = picture.shape[1] - 1.6 * capital_px
        fitting_px = fit_capital_px(line, capital_px=capital_px, width_px=width_px)
        place = 0.8 * capital_px, (1.6 + 1.7 * number) * capital_px
        draw_text(below, line, place, capital_px=fitting_px, outlined=False)
    return np.vstack([picture, below])
