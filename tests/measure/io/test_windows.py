"""The pixels about a foot event: cut, halved, steadied, and the bare ground behind."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from measure.contacts.foot_paths import FootPaths
from measure.contacts.plan import EventPlan
from measure.contacts.trace import EventPictures
from measure.io.cut import BLUR_PX
from measure.io.feet_seen import Box
from measure.io.frame import Frame, FramePart
from measure.io.kept import KeptStrips
from measure.io.look import CameraPath
from measure.io.read import Clip, open_clip
from measure.io.windows import FINEST_PX_PER_M, read_event_pictures
from measure.types import Floats, Landmark
from tests.clip_files import even_ticks, write_film

WIDTH, HEIGHT, COUNT, RATE_HZ = 320, 240, 24, 60.0
BOX = (60, 80, 260, 220)
STATURE_PX = 340.0
GREY, BRIGHT = 90, 235
STANDS_UNTIL = 12


def _toe_px(number: int) -> tuple[float, float]:
    """Stands at first, then rises and goes right; edge-based pixels."""
    since = max(0, number - STANDS_UNTIL)
    return 150.5 + 3.0 * since, 190.5 - 6.0 * since


def _ground() -> Floats:
    grain = gaussian_filter(np.random.default_rng(1).normal(size=(HEIGHT, WIDTH)), 3)
    return GREY + 12 * grain / grain.std()


def _pictures(shake_px: Floats) -> Iterator[np.ndarray]:
    """A bright blob at the toe over grained ground; the camera shakes by whole pixels."""
    rows, columns = np.mgrid[:HEIGHT, :WIDTH] + 0.5
    for number in range(COUNT):
        x, y = _toe_px(number)
        blob = np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * 5.0**2))
        grey = _ground() * (1 - blob) + BRIGHT * blob
        grey = np.roll(grey, tuple(shake_px[number][::-1]), axis=(0, 1))
        yield np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _film(folder: Path, shake_px: Floats | None = None) -> Path:
    if shake_px is None:
        shake_px = np.zeros((COUNT, 2), dtype=int)
    return write_film(
        folder / "film.mp4", _pictures(shake_px), ticks=even_ticks(COUNT, RATE_HZ),
        encoder={"crf": "8"},
    )  # fmt: skip


def _paths(px_per_m: float) -> FootPaths:
    px = np.full((COUNT, len(Landmark), 2), np.nan)
    for number in range(COUNT):
        toe = np.array(_toe_px(number))
        px[number, Landmark.LEFT_TOE] = toe
        px[number, Landmark.LEFT_HEEL] = toe - [30.0, 0.0]
        px[number, Landmark.LEFT_ANKLE] = toe - [30.0, 20.0]
    return FootPaths(np.arange(COUNT) / RATE_HZ, px, STATURE_PX, STATURE_PX / px_per_m)


def _plan(frames: range = range(6, 20)) -> EventPlan:
    return EventPlan("take_off", "left", 0, 0.2, 2.4, np.array(frames), 8, np.arange(COUNT), BOX)


STILL = CameraPath(np.array([0]), np.array([[[1.0, 0, 0], [0, 1.0, 0]]]), 0.0)


def _read(
    path: Path, plans: list[EventPlan], *, px_per_m: float = 200.0, camera: CameraPath = STILL
) -> dict[int, EventPictures]:
    with open_clip(path) as clip:
        cut = dict(read_event_pictures(clip, plans, _paths(px_per_m), camera=camera))
        return {number: one.ready() for number, one in cut.items()}


def _blob_at(picture: np.ndarray, ground: np.ndarray) -> Floats:
    """Middle of the blob; pixel centres on whole numbers."""
    weight = np.clip((picture - ground).mean(axis=2) - 25, 0, None)
    rows, columns = np.indices(weight.shape)
    return np.array([np.average(columns, weights=weight), np.average(rows, weights=weight)])


def _check_blob(event: EventPictures, *, abs_px: float) -> None:
    for picture, toe in zip(event.pictures, event.toe_px, strict=True):
        assert _blob_at(picture, event.background.picture) == pytest.approx(toe, abs=abs_px)


def test_the_toe_lies_in_its_window_where_the_pose_says(tmp_path: Path) -> None:
    event = _read(_film(tmp_path), [_plan()])[0]
    assert event.pictures.shape == (14, BOX[3] - BOX[1], BOX[2] - BOX[0], 3)
    assert event.time_s == pytest.approx(np.arange(6, 20) / RATE_HZ)
    assert event.reference_row == 2
    assert event.px_per_m == pytest.approx(200.0)
    assert event.toe_px[0] == pytest.approx([150.5 - 60 - 0.5, 190.5 - 80 - 0.5])
    assert event.heel_px == pytest.approx(event.toe_px - [30.0, 0.0])
    _check_blob(event, abs_px=0.4)


def test_close_pictures_are_halved_and_the_toe_stays_in_place(tmp_path: Path) -> None:
    event = _read(_film(tmp_path), [_plan()], px_per_m=1.5 * FINEST_PX_PER_M)[0]
    assert event.pictures.shape[1:3] == ((BOX[3] - BOX[1]) // 2, (BOX[2] - BOX[0]) // 2)
    assert event.px_per_m == pytest.approx(0.75 * FINEST_PX_PER_M)
    _check_blob(event, abs_px=0.3)


def test_the_ground_behind_the_standing_foot_is_found(tmp_path: Path) -> None:
    event = _read(_film(tmp_path), [_plan()])[0]
    true = gaussian_filter(_ground(), BLUR_PX)[BOX[1] : BOX[3], BOX[0] : BOX[2]]
    error = event.background.picture.mean(axis=2) - true
    column, row = np.round(event.toe_px[event.reference_row]).astype(int)
    assert event.background.seen[row, column]
    assert np.abs(error[row - 4 : row + 5, column - 4 : column + 5]).mean() < 6
    assert np.abs(error).mean() < 3
    standing = event.pictures[event.reference_row]
    assert standing[row, column].mean() - event.background.picture[row, column].mean() > 90


def test_a_shaking_camera_is_taken_out(tmp_path: Path) -> None:
    shake_px = np.random.default_rng(2).integers(-6, 7, (COUNT, 2))
    shake_px[0] = 0
    maps = np.tile([[1.0, 0, 0], [0, 1.0, 0]], (COUNT, 1, 1))
    maps[:, :, 2] = -shake_px
    camera = CameraPath(np.arange(COUNT), maps, 8.0)
    shaken = _film(tmp_path, shake_px)
    _check_blob(_read(shaken, [_plan()], camera=camera)[0], abs_px=0.4)
    unsteadied = _read(shaken, [_plan()])[0]
    away = [
        np.hypot(*(_blob_at(picture, GREY * np.ones_like(picture)) - toe))
        for picture, toe in zip(unsteadied.pictures, unsteadied.toe_px, strict=True)
    ]
    assert max(away) > 2


def test_every_event_is_handed_over_once_when_it_is_complete(tmp_path: Path) -> None:
    late, early = _plan(range(10, 22)), _plan(range(6, 12))
    ground = np.arange(0, 14)
    early = EventPlan("landing", "left", 0, 0.1, 2.4, early.frames, 8, ground, BOX)
    with open_clip(_film(tmp_path)) as clip:
        order = [
            (number, event.time_s.size)
            for number, event in read_event_pictures(
                clip,
                [EventPlan("take_off", "left", 0, 0.3, 2.4, late.frames, 12, ground, BOX), early],
                _paths(200.0), camera=STILL,
            )
        ]  # fmt: skip
    assert order == [(1, 6), (0, 12)]


@dataclass
class _Kept:
    """Keeps a strip of some pictures."""

    parts: dict[int, FramePart]

    def claim(self, wanted: Mapping[int, Collection[Box]]) -> set[int]:
        return {
            index for index, boxes in wanted.items()
            if index in self.parts and all(self.parts[index].holds(*box) for box in boxes)
        }  # fmt: skip

    def pop(self, index: int) -> FramePart:
        return self.parts.pop(index)


def _read_with_kept(
    path: Path, frames: Collection[int], strip: Box, camera: CameraPath,
    monkeypatch: pytest.MonkeyPatch,
) -> tuple[EventPictures, list[int]]:  # fmt: skip
    """Read one event with a strip of some frames kept; the frames decoded again as well."""
    decoded: list[int] = []
    with open_clip(path) as clip:
        kept = _Kept({one.index: one.part(*strip) for one in clip.frames(wanted=frames)})
        whole = Clip.frames

        def watched(self: Clip, **options: Any) -> Iterator[Frame]:
            for frame in whole(self, **options):
                decoded.append(frame.index)
                yield frame

        monkeypatch.setattr(Clip, "frames", watched)
        cut = dict(
            read_event_pictures(
                clip, [_plan()], _paths(200.0), camera=camera, kept=cast(KeptStrips, kept)
            )
        )
    monkeypatch.undo()
    return cut[0].ready(), decoded


SWAY = CameraPath(
    np.array([0, COUNT]), np.array([[[1, 0, 0], [0, 1, 0]], [[1, 0.01, 5], [-0.01, 1, 7]]]), 8.0
)


@pytest.mark.parametrize("camera", [STILL, SWAY], ids=["still", "swaying"])
@pytest.mark.parametrize(
    ("frames", "strip", "is_decoded"),
    [
        (range(COUNT), (40, 60, 300, 240), False),
        (range(COUNT), (100, 60, 300, 240), True),  # doesn't hold the window
        (range(7, 15), (40, 60, 300, 240), True),
        ((), (40, 60, 300, 240), True),
    ],
)
def test_what_was_kept_gives_the_same_bits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, camera: CameraPath, frames: Collection[int],
    strip: Box, is_decoded: bool,
) -> None:  # fmt: skip
    path = _film(tmp_path)
    expected = _read(path, [_plan()], camera=camera)[0]
    event, decoded = _read_with_kept(path, frames, strip, camera, monkeypatch)
    np.testing.assert_array_equal(event.pictures, expected.pictures)
    np.testing.assert_array_equal(event.background.picture, expected.background.picture)
    assert bool(decoded) == is_decoded
    if strip[0] < BOX[0]:
        assert not set(decoded) & set(frames)


def test_nothing_planned_nothing_read(tmp_path: Path) -> None:
    assert _read(_film(tmp_path), []) == {}
