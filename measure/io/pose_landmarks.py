"""Pose by the networks inside the pinned mediapipe wheel, run directly through LiteRT.

Agrees with mediapipe's own graph to a tenth of a pixel at half its cost (the test that holds the
two together states the figures). Left out: the graph's smoothing of the region over time, which
lags and does not know the frame rate; ``measure.io.athlete`` places regions instead.
"""

from __future__ import annotations

import contextlib
import functools
import math
import os
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measure.io.pose import Landmarks, Picture, Region, region_from_axis
from measure.io.pose_weights import detector_file, landmark_sha256, load_cut_landmark_model
from measure.types import Landmark

__all__ = ["BundledPose"]

Floats = NDArray[np.float64]

_DETECTOR_PX = 224
_CROP_PX = 256
_HALF_WINDOW = 4
"""Heat-map cells on each side of a point in which its place is refined: a 9 x 9 window."""
_PEAK = 0.5
"""A heat map whose highest value in the window stays below this is not believed."""
_SAME_PERSON_OVERLAP = 0.3
_AXIS = (33, 34)
"""Extra points of the network: middle of the hips, and one on the circle round the body."""
_OUTPUT_OF_WIDTH = {195: "points", 1: "presence", 117: "world", 39: "heat"}


class BundledPose:
    """Detector and landmark network of the mediapipe wheel.

    Parameters
    ----------
    detect_above, presence_above : float
        Scores below which a detection or a person in a region is not believed.
    threads : int
        More than one gains nothing on these networks.
    """

    def __init__(
        self, *, detect_above: float = 0.5, presence_above: float = 0.5, threads: int = 1
    ) -> None:
        self.name = f"mediapipe_pose_full/{landmark_sha256()[:12]}"
        self._detect_above = detect_above
        self._presence_above = presence_above
        self._detector = _Networks(lambda: detector_file().read_bytes(), threads=threads)
        self._landmarks = _Networks(lambda: load_cut_landmark_model()[0], threads=threads)

    def detect(self, picture: Picture, area: Region | None = None) -> list[Region]:
        """Find people in an upright square part of the picture, or in all of it; best first."""
        area = area or _whole(picture)
        matrix = area.upright_from_crop(_DETECTOR_PX)
        crop = picture.warp(matrix, size_px=_DETECTOR_PX)
        crop = np.where(_outside(picture, matrix)[:, :, None], np.uint8(0), crop)
        boxes, scores = self._detector((crop.astype(np.float32) * (2 / 255) - 1)[None])
        if boxes.shape[-1] == 1:
            boxes, scores = scores, boxes
        found = _people(boxes[0], _sigmoid(scores[0, :, 0]), above=self._detect_above)
        corner = np.array(area.centre_px) - area.size_px / 2
        return [
            region_from_axis(corner + axis * area.size_px, score=score) for axis, score in found
        ]

    def rest(self) -> None:
        """Free the networks: some 50 MB for each thread that used them, loaded again in 50 ms."""
        self._detector.forget()
        self._landmarks.forget()

    def landmarks(self, picture: Picture, region: Region) -> Landmarks | None:
        """Read one person's points, or None where the network sees nobody in the region."""
        crop = picture.warp(region.upright_from_crop(_CROP_PX), size_px=_CROP_PX)
        outputs = self._landmarks((crop * np.float32(1 / 255))[None])
        named = {_OUTPUT_OF_WIDTH[output.shape[-1]]: output for output in outputs}
        score = float(named["presence"].ravel()[0])
        if not score >= self._presence_above:
            return None
        return _decode(named, region, score)


_LOADING = threading.Lock()


@contextlib.contextmanager
def _unheard() -> Iterator[None]:
    """Keep what the library writes while loading ("INFO: Created ...") off the terminal.

    It writes from C to the process's standard error and has no switch for it; faults raise.
    """
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


class _Network:
    """One network on one thread pool."""

    def __init__(self, model: bytes, *, threads: int) -> None:
        from ai_edge_litert.interpreter import Interpreter

        with _LOADING, _unheard():
            self._interpreter = Interpreter(model_content=model, num_threads=threads)
            self._interpreter.allocate_tensors()
        self._input = self._interpreter.get_input_details()[0]["index"]
        self._outputs = [one["index"] for one in self._interpreter.get_output_details()]

    def __call__(self, image: NDArray[np.float32]) -> list[NDArray[np.float32]]:
        self._interpreter.set_tensor(self._input, image)
        self._interpreter.invoke()
        return [self._interpreter.get_tensor(index) for index in self._outputs]


class _Networks:
    """The same network as often as threads ask at once; loaded when first asked."""

    def __init__(self, model: Callable[[], bytes], *, threads: int) -> None:
        self._model = functools.cache(model)
        self._threads = threads
        self._idle: list[_Network] = []

    def __call__(self, image: NDArray[np.float32]) -> list[NDArray[np.float32]]:
        try:
            network = self._idle.pop()
        except IndexError:
            network = _Network(self._model(), threads=self._threads)
        try:
            return network(image)
        finally:
            self._idle.append(network)

    def forget(self) -> None:
        """Forget all that was loaded and is idle."""
        self._idle.clear()
        self._model.cache_clear()


def _whole(picture: Picture) -> Region:
    width, height = picture.width_px, picture.height_px
    return Region((width / 2, height / 2), float(max(width, height)))


def _outside(picture: Picture, matrix: Floats) -> NDArray[np.bool_]:
    """Crop pixels that lie beyond the picture: black for the detector, as it was trained."""
    middle = np.arange(_DETECTOR_PX) + 0.5
    x = matrix[0, 0] * middle + matrix[0, 2]
    y = matrix[1, 1] * middle + matrix[1, 2]
    outside_x = (x < 0) | (x > picture.width_px)
    outside_y = (y < 0) | (y > picture.height_px)
    return np.asarray(outside_y[:, None] | outside_x[None, :], dtype=np.bool_)


def _people(boxes: NDArray[Any], scores: Floats, *, above: float) -> list[tuple[Floats, float]]:
    """Group overlapping boxes into people: axis in parts of the area's side, and best score."""
    kept = np.flatnonzero(scores >= above)
    kept = kept[np.argsort(-scores[kept], kind="stable")]
    anchors = _anchors()[kept]
    raw = boxes[kept].astype(np.float64) / _DETECTOR_PX
    corner = raw[:, :2] + anchors - raw[:, 2:4] / 2
    box = np.hstack([corner, corner + raw[:, 2:4]])
    axis = raw[:, 4:8].reshape(-1, 2, 2) + anchors[:, None]
    people: list[tuple[Floats, float]] = []
    rest = np.arange(kept.size)
    while rest.size:
        same = _overlap(box[rest[0]], box[rest]) > _SAME_PERSON_OVERLAP
        group = rest[same]
        weight = scores[kept[group]]
        people.append((np.average(axis[group], axis=0, weights=weight), float(weight[0])))
        rest = rest[~same]
    return people


def _overlap(box: Floats, others: Floats) -> Floats:
    """Shared area over joint area."""
    size = np.minimum(box[2:], others[:, 2:]) - np.maximum(box[:2], others[:, :2])
    shared = np.prod(np.clip(size, 0, None), axis=1)
    areas = np.prod(others[:, 2:] - others[:, :2], axis=1)
    joint = areas + np.prod(box[2:] - box[:2]) - shared
    return np.asarray(shared / np.maximum(joint, 1e-12), dtype=np.float64)


@functools.cache
def _anchors() -> Floats:
    """Centres about which the detector states its boxes, in parts of the side, shape (2254, 2)."""
    levels = []
    for stride, count in ((8, 2), (16, 2), (32, 6)):
        cells = _DETECTOR_PX // stride
        y, x = np.meshgrid(*[(np.arange(cells) + 0.5) / cells] * 2, indexing="ij")
        levels.append(np.repeat(np.stack([x.ravel(), y.ravel()], axis=1), count, axis=0))
    return np.concatenate(levels)


def _decode(outputs: Mapping[str, NDArray[Any]], region: Region, score: float) -> Landmarks:
    raw = outputs["points"].reshape(-1, 5).astype(np.float64)
    crop = _refine(raw[:, :2] / _CROP_PX, outputs["heat"][0]) * _CROP_PX
    matrix = region.upright_from_crop(_CROP_PX)
    px = crop @ matrix[:, :2].T + matrix[:, 2]
    world = outputs["world"].reshape(-1, 3)[: len(Landmark)].astype(np.float64)
    cos, sin = math.cos(region.angle_rad), math.sin(region.angle_rad)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return Landmarks(
        px=px[: len(Landmark)],
        visibility=_sigmoid(raw[: len(Landmark), 3]),
        world_m=world @ turn.T,
        score=score,
        axis_px=px[list(_AXIS)],
    )


def _refine(points: Floats, heat: NDArray[Any]) -> Floats:
    """Move each point to the centroid of its heat map nearby, where the heat map has a peak.

    ``points`` has shape (39, 2) in parts of the crop, ``heat`` (rows, columns, 39) in log odds.
    """
    rows, columns, count = heat.shape
    cell = np.trunc(points * [columns, rows]).astype(int)
    inside = np.all((points >= 0) & (cell < [columns, rows]), axis=1)
    window = np.arange(-_HALF_WINDOW, _HALF_WINDOW + 1)
    row = cell[:, 1, None, None] + window[None, :, None]
    column = cell[:, 0, None, None] + window[None, None, :]
    valid = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    picked = heat[
        np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1), np.arange(count)[:, None, None]
    ]
    weight = _sigmoid(picked.astype(np.float64)) * valid
    total = weight.sum(axis=(1, 2))
    believed = inside & (weight.max(axis=(1, 2)) >= _PEAK) & (total > 0)
    centroid = np.stack(
        [(weight * column).sum(axis=(1, 2)) / columns, (weight * row).sum(axis=(1, 2)) / rows],
        axis=1,
    )
    return np.where(believed[:, None], centroid / np.where(total > 0, total, 1)[:, None], points)


def _sigmoid(x: NDArray[Any]) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(x, -60, 60))), dtype=np.float64)
