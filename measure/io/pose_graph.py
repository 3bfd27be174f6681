"""The reference: mediapipe's own graph, which the fast back end is held against in a test.

The graph keeps its own region from picture to picture (smoothed, with a lag, at an assumed
30 pictures per second), so it is no :class:`measure.io.pose.PoseModel`; it says which region it
used, so that the other can be asked about the same one. Importing it takes most of a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measure.io.pose import Region
from measure.types import Landmark

__all__ = ["GraphReading", "ReferenceGraph"]

Floats = NDArray[np.float64]

_GRAPH = "mediapipe/modules/pose_landmark/pose_landmark_cpu.binarypb"
_FULL_MODEL = 1
_CROP_PX = 256


@dataclass(frozen=True, slots=True)
class GraphReading:
    """What the graph saw in one picture."""

    px: Floats
    """Shape (33, 2), edge-based pixels."""
    visibility: Floats
    world_m: Floats
    region: Region | None
    """Where it looked, in edge-based pixels; None for the first picture after it lost the body."""


class ReferenceGraph:
    """mediapipe's pose graph with the full model and unsmoothed landmarks."""

    def __init__(self) -> None:
        from mediapipe.python.solution_base import SolutionBase

        self._graph = SolutionBase(
            binary_graph_path=_GRAPH,
            side_inputs={
                "model_complexity": _FULL_MODEL, "smooth_landmarks": False,
                "enable_segmentation": False, "smooth_segmentation": False,
                "use_prev_landmarks": True,
            },
            outputs=["pose_landmarks", "pose_world_landmarks", "pose_rect_from_landmarks"],
        )  # fmt: skip
        self._rect: Any = None

    def close(self) -> None:
        """Stop the graph's threads."""
        self._graph.close()

    def read(self, rgb: NDArray[np.uint8]) -> GraphReading | None:
        """Read the next picture, shape (H, W, 3); None where nobody is seen."""
        height, width = rgb.shape[:2]
        outputs = self._graph.process(input_data={"image": rgb})
        used, self._rect = self._rect, outputs.pose_rect_from_landmarks
        if outputs.pose_landmarks is None:
            return None
        points = outputs.pose_landmarks.landmark
        region = None if used is None else _region(used, width, height)
        shift_px = _shift_px(region) if region is not None else np.zeros(2)
        px = np.array([[p.x * width, p.y * height] for p in points])[: len(Landmark)]
        return GraphReading(
            px=px + shift_px,
            visibility=np.array([p.visibility for p in points])[: len(Landmark)],
            world_m=np.array([[p.x, p.y, p.z] for p in outputs.pose_world_landmarks.landmark]),
            region=region,
        )


def _region(rect: Any, width: int, height: int) -> Region:
    """The rectangle as the square that its crop really shows."""
    centre = (rect.x_center * width, rect.y_center * height)
    raw = Region(centre, rect.width * width, rect.rotation)
    shift = _shift_px(raw)
    return Region((centre[0] + shift[0], centre[1] + shift[1]), raw.size_px, raw.angle_rad)


def _shift_px(region: Region) -> Floats:
    """What the graph's pixels lack to be edge-based.

    Its crop puts corners of pixels on middles of pixels (half a pixel of the crop, half a pixel
    of the picture): one to two picture pixels when the crop shrinks the picture much.
    """
    scale = region.upright_from_crop(_CROP_PX)[:, :2]
    return np.asarray(0.5 - scale @ [0.5, 0.5], dtype=np.float64)
