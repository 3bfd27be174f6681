"""Drawn lanes: grass with cones, in the camera of the lane tests."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.lane_values import LaneSurvey

Bytes = NDArray[np.uint8]


def ground(seed: int = 0, *, width: int = 1920, height: int = 1080) -> Bytes:
    """Grass below a pale sky, with blotches to hold on to."""
    rng = np.random.default_rng(seed)
    blotches = rng.normal(0, 1, (height // 12 + 1, width // 12 + 1)).astype(np.float32)
    smooth = cv2.resize(blotches, (width, height), interpolation=cv2.INTER_LINEAR)
    picture = np.array([70.0, 130.0, 60.0])[None, None] + 14 * smooth[..., None]
    picture[: height * 2 // 5] += [110.0, 70.0, 150.0]
    return np.asarray(np.clip(picture, 0, 255), dtype=np.uint8)


def with_cones(picture: Bytes, survey: LaneSurvey, *, height_px: float = 16.0) -> Bytes:
    """Draw an orange cone with a white band on every mark, eight times oversampled."""
    drawn, fine = picture.copy(), 8
    for mark in survey.marks:
        x, y = mark.px
        left, top = int(x) - 20, int(y) - 30
        patch = np.repeat(np.repeat(drawn[top : top + 40, left : left + 40], fine, 0), fine, 1)
        foot = np.array([x - left, y - top])
        for low, high, colour in ((0, 1, (235, 90, 20)), (0.35, 0.6, (240, 240, 235))):
            rows = np.array([low, high]) * height_px
            halves = height_px * 0.35 * (1 - 0.8 * np.array([low, high]))
            outline = np.array([[-1, 0], [1, 0], [1, 1], [-1, 1]])
            corners = foot + np.stack(
                [outline[:, 0] * halves[outline[:, 1]], -rows[outline[:, 1]]], axis=1
            )
            cv2.fillPoly(patch, [np.rint(corners * fine - 0.5).astype(np.int32)], colour)
        drawn[top : top + 40, left : left + 40] = cv2.resize(
            patch, (40, 40), interpolation=cv2.INTER_AREA
        )
    return drawn


def moved(picture: Bytes, picture_from_first: NDArray[np.float64]) -> Bytes:
    """The picture of a camera that moved; the map is in edge-based pixels."""
    centred = picture_from_first.copy()
    centred[:, 2] += picture_from_first[:, :2] @ [0.5, 0.5] - 0.5
    return np.asarray(
        cv2.warpAffine(
            picture, centred, picture.shape[1::-1], flags=cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_REFLECT,
        ),
        dtype=np.uint8,
    )  # fmt: skip


def small_move(*, shift_px: tuple[float, float], turn_deg: float = 0.0) -> NDArray[np.float64]:
    """Similarity about the picture's middle."""
    turn = np.deg2rad(turn_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([960.0, 540.0])
    return np.hstack([matrix, (middle + shift_px - matrix @ middle)[:, None]])
