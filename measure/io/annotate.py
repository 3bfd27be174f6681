"""The film and the pictures with everything on them that was measured."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.errors import UnreadableClip
from measure.io.captions import say_event, say_feet, say_moment, say_time
from measure.io.draw import (
    draw_foot,
    draw_level,
    draw_skeleton,
    draw_text,
    fit_capital_px,
    text_width_px,
)
from measure.io.frame import TURNS, Frame
from measure.io.look import CameraPath
from measure.io.moments import (
    HIPS,
    Event,
    list_events,
    list_spans,
    nearest_frame,
    pose_at,
    read_hip_curve,
    state_at,
)
from measure.io.plot import Axes, Story, draw_cursor, draw_strip, plot_hip_height
from measure.io.read import Clip, open_clip
from measure.io.write import write_clip, write_picture
from measure.types import Floats, Foot

if TYPE_CHECKING:
    from measure.analyse import Analysis

Bytes = NDArray[np.uint8]
Progress = Callable[[str, float], None]

LONGEST_SIDE_PX = 1280
"""Of the film written, the lines below the picture included."""
CAPITAL_SHARE = 0.024
"""Height of the letters in widths of the film: 9 points on a phone held upright."""
DEEPEST_SHOWN_S = 0.1
"""The deepest moment is marked from this long before it until this long after."""
FEET: tuple[Foot, ...] = ("left", "right")


def annotate_clip(
    analysis: Analysis, out_path: Path, *, progress: Progress | None = None
) -> None:
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
        sheet = _lay_sheet(analysis, clip)

        def pictures() -> Iterator[Bytes]:
            for number, frame in enumerate(clip.frames(), start=1):
                at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
                yield _compose(analysis, sheet, frame, lines=_lines_at(analysis, at_s))
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
        jump, and ``hip_height.png``.

    Raises
    ------
    UnreadableClip
        When the clip is not the one that was measured.
    OutputFailed
        When a picture can't be written.
    """
    story = _tell(analysis)
    written: list[Path] = []
    with _open_same(analysis) as clip:
        sheet = _lay_sheet(analysis, clip)
        shown = _frames_of(analysis, clip, story.events)
        for frame in clip.frames(wanted=shown):
            at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
            for event in shown[frame.index]:
                lines = say_event(event, frame_time_s=at_s)
                path = folder / f"jump{event.jump}_{event.kind}.jpg"
                write_picture(path, _compose(analysis, sheet, frame, lines=lines))
                written.append(path)
    path = folder / "hip_height.png"
    write_picture(path, plot_hip_height(story))
    return [*written, path]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where everything stands on a picture of the film; the same for all its frames."""

    width_px: int
    picture_px: int
    """Height of the film's part; the words and the strip follow below."""
    capital_px: float
    strip: Bytes
    axes: Axes
    story: Story

    @property
    def words_px(self) -> int:
        """Height of the words: when, and two lines of what."""
        return round(6.6 * self.capital_px)


def _open_same(analysis: Analysis) -> Clip:
    clip = open_clip(analysis.request.path)
    if clip.stream.sha256 != analysis.report.clip.sha256:
        raise UnreadableClip(
            f"{analysis.request.path.name} is no longer the clip that was measured.",
            "Measure it again.",
        )
    return clip


def _tell(analysis: Analysis) -> Story:
    report, track, time_s = analysis.report, analysis.track, analysis.time_s
    m_per_px = report.scale.m_per_px if report.scale is not None else None
    marks_s = () if report.sprint is None else tuple(mark.time_s for mark in report.sprint.marks)
    return Story(
        hip=read_hip_curve(track, time_s, m_per_px=m_per_px),
        spans={foot: list_spans(report.contacts, foot=foot) for foot in FEET},
        events=list_events(report.jumps, track=track, row_time_s=time_s), marks_s=marks_s,
        time_name="Time, s" if report.time_base.refusal is None else "Time in the file, s",
    )  # fmt: skip


def _lay_sheet(analysis: Analysis, clip: Clip) -> _Sheet:
    width, height = clip.stream.width_px, clip.stream.height_px
    below = 14.5 * CAPITAL_SHARE
    scale = min(1.0, LONGEST_SIDE_PX / max(width, height + below * width))
    out_width, out_height = (max(2, round(side * scale / 2) * 2) for side in (width, height))
    capital_px = CAPITAL_SHARE * out_width
    story = _tell(analysis)
    strip, axes = draw_strip(story, width_px=out_width, height_px=round(7.5 * capital_px))
    return _Sheet(out_width, out_height, capital_px, strip, axes, story)


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


def _lines_at(analysis: Analysis, at_s: float) -> tuple[str, ...]:
    return say_time(analysis.report, at_s=at_s), *say_moment(analysis.report, at_s=at_s)


def _compose(
    analysis: Analysis, sheet: _Sheet, frame: Frame, *, lines: tuple[str, ...]
) -> Bytes:
    """Lay a frame, the body, the words and the strip onto one picture."""
    at_s = frame.file_time_s / analysis.report.time_base.file_s_per_s
    height = sheet.picture_px + sheet.words_px + sheet.strip.shape[0]
    whole = np.zeros((height, sheet.width_px, 3), np.uint8)
    picture = whole[: sheet.picture_px]
    _put_upright(picture, frame)
    points_px, visibility = pose_at(analysis.track, analysis.time_s, at_s=at_s)
    points_px = _as_filmed(analysis, frame, points_px) * sheet.width_px / frame.width_px
    draw_skeleton(picture, points_px, visibility)
    _draw_marks(picture, sheet, points_px, at_s=at_s)
    _write_words(whole[sheet.picture_px :], sheet, lines, at_s=at_s)
    strip = whole[sheet.picture_px + sheet.words_px :]
    strip[:] = sheet.strip
    draw_cursor(strip, sheet.axes, at_s=at_s)
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
    camera: CameraPath | None = getattr(analysis, "camera", None)
    if camera is None or camera.still:
        return points_px
    first_from_picture = camera.at(frame.index)
    turned = np.linalg.inv(first_from_picture[:, :2])
    moved: Floats = (points_px - first_from_picture[:, 2]) @ turned.T
    return moved


def _draw_marks(picture: Bytes, sheet: _Sheet, points_px: Floats, *, at_s: float) -> None:
    for foot in FEET:
        state = state_at(sheet.story.spans[foot], at_s=at_s)
        draw_foot(picture, points_px, foot=foot, state=state, size_px=0.8 * sheet.capital_px)
    for event in sheet.story.events:
        if event.kind == "deepest" and abs(event.time_s - at_s) <= DEEPEST_SHOWN_S:
            hips = points_px[HIPS].mean(axis=0)
            draw_level(picture, hips, size_px=sheet.capital_px, text="deepest")


def _write_words(
    below: Bytes, sheet: _Sheet, lines: tuple[str, ...], *, at_s: float
) -> None:
    """Write the lines, and to the right of the first one where both feet are."""
    margin = 0.8 * sheet.capital_px
    room_px = sheet.width_px - 2 * margin
    feet = ""
    if any(sheet.story.spans.values()):
        feet = say_feet({foot: state_at(spans, at_s=at_s)
                         for foot, spans in sheet.story.spans.items()})  # fmt: skip
    feet_px = text_width_px(feet, capital_px=sheet.capital_px)
    for number, line in enumerate(lines):
        room = room_px - (feet_px + margin if number == 0 and feet else 0)
        capital_px = fit_capital_px(line, capital_px=sheet.capital_px, width_px=room)
        place = margin, (1.7 + 2.0 * number) * sheet.capital_px
        draw_text(below, line, place, capital_px=capital_px, outlined=False)
    place = sheet.width_px - margin - feet_px, 1.7 * sheet.capital_px
    draw_text(below, feet, place, capital_px=sheet.capital_px, outlined=False)
