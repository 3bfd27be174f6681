"""Marks that a person clicked, tried against one camera; what is kept of a place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calibration.lane import fit_lane
from calibration.values import Refused
from measure.errors import FlightmarkError
from measure.io.lane_file import read_lane


@dataclass(frozen=True)
class MarkFit:
    """How well one mark lies where the fitted camera sees it."""

    name: str
    off_px: float


@dataclass(frozen=True)
class LaneTrial:
    """What came of fitting the marks as they stand."""

    fits: tuple[MarkFit, ...]
    fault: str | None

    @property
    def is_good(self) -> bool:
        """Whether the place can be kept."""
        return self.fault is None


def lane_setup(
    marks: Sequence[Mapping[str, Any]], *, course_m: Sequence[float], measures: Mapping[str, Any]
) -> dict[str, Any]:
    """Give the lane file's content.

    Parameters
    ----------
    marks : sequence of mapping
        Each with ``px``, ``distance_m`` and ``row``.
    course_m : sequence of float
        Distances to time, in order.
    measures : mapping
        The rest of a lane file: offsets, phone, surface, slope.
    """
    kept = [
        {"distance_m": each["distance_m"], "px": list(each["px"]), "row": each.get("row", "near")}
        for each in marks
    ]
    course = [{"distance_m": distance_m} for distance_m in course_m]
    return {"marks": kept, "course": course, **{k: v for k, v in measures.items() if v is not None}}


def try_lane(setup: Mapping[str, Any], *, width_px: int, height_px: int) -> LaneTrial:
    """Fit one camera to the marks and say how far each is off."""
    try:
        survey = read_lane(dict(setup))
    except FlightmarkError as error:
        return LaneTrial((), str(error))
    lane = fit_lane(survey, width_px=width_px, height_px=height_px)
    if isinstance(lane, Refused):
        return LaneTrial((), f"{lane.reason} {lane.hint}")
    fits = tuple(
        MarkFit(mark.name, math.hypot(float(off[0]), float(off[1])))
        for mark, off in zip(survey.marks, lane.residual_px, strict=True)
    )
    return LaneTrial(fits, None)


def reference_setup(marks: Sequence[Mapping[str, Any]], *, length_m: float) -> dict[str, Any]:
    """Give what is kept of a known length between the first two marks."""
    return {
        "reference": {
            "first_px": list(marks[0]["px"]), "second_px": list(marks[1]["px"]),
            "length_m": length_m,
        }
    }  # fmt: skip
