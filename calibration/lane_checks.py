"""What can be wrong with a lane before anything is fitted."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from calibration.lane_values import LaneMark, LaneSurvey, Row
from calibration.values import Refused

__all__ = ["check_survey"]

FEWEST_MARKS = 3
"""Three marks fix a line seen in perspective; the fourth is the first that checks it."""
SAME_POINT_PX = 4.0
WHAT = "lane"


def check_survey(survey: LaneSurvey, *, width_px: int, height_px: int) -> Refused | None:
    """Give the first fault of a marked lane, or None.

    Parameters
    ----------
    survey : LaneSurvey
    width_px, height_px : int
        The upright picture in which it was marked.

    Returns
    -------
    Refused or None
    """
    return next(_faults(survey, width_px, height_px), None)


def _faults(survey: LaneSurvey, width_px: int, height_px: int) -> Iterator[Refused]:
    near = _row(survey, "near")
    count = len({mark.distance_m for mark in near})
    if count < FEWEST_MARKS:
        yield Refused(
            WHAT, f"Only {count} distances are marked in the near row; it takes {FEWEST_MARKS}.",
            "Mark at least three cones of the row nearest to the phone, better five.",
        )  # fmt: skip
    for mark in survey.marks:
        if not (0 <= mark.px[0] <= width_px and 0 <= mark.px[1] <= height_px):
            yield Refused(
                WHAT, f"{_sentence(mark)} lies outside the picture of {width_px} by {height_px}.",
                "Mark the lane in the upright picture of this camera at this size.",
            )  # fmt: skip
    for row in ("near", "far"):
        yield from _row_faults(_row(survey, row))
    yield from _measure_faults(survey)


def _row_faults(row: list[LaneMark]) -> Iterator[Refused]:
    for one, other in pairwise(row):
        if one.distance_m == other.distance_m:
            yield Refused(
                WHAT, f"Two {one.row} marks carry the same distance, {one.distance_m:g} m.",
                "Give each cone of a row its own distance.",
            )  # fmt: skip
        if np.hypot(*np.subtract(one.px, other.px)) < SAME_POINT_PX:
            yield Refused(
                WHAT, f"{_sentence(one)} and the one at {other.distance_m:g} m lie on one point.",
                "Mark each cone where it stands on the ground.",
            )  # fmt: skip
    steps = np.diff([mark.px[0] for mark in row])
    if steps.size and not (np.all(steps > 0) or np.all(steps < 0)):
        usual = np.sign(np.median(steps)) or 1.0
        wrong = row[int(np.argmax(steps * usual < 0)) + 1]
        yield Refused(
            WHAT, f"The marks are out of order at {wrong.distance_m:g} m in the {wrong.row} row.",
            "Distances must grow along the picture; swap the two cones' distances.",
        )  # fmt: skip


def _measure_faults(survey: LaneSurvey) -> Iterator[Refused]:
    far = _row(survey, "far")
    if far and not (survey.row_spacing_m and survey.row_spacing_m > 0):
        yield Refused(
            WHAT, "A far row is marked without its spacing.",
            "Give row_spacing_m, the distance between the two rows.",
        )  # fmt: skip
    distance_m = survey.phone_distance_m
    if distance_m is not None and not distance_m > max(1.0, -survey.athlete_offset_m):
        yield Refused(
            WHAT, f"A phone {distance_m:g} m from the row cannot see a lane.",
            "Give phone_distance_m, from the phone to the near row, square to the lane.",
        )  # fmt: skip
    if not survey.course_m:
        yield Refused(WHAT, "No distance is named to be timed.", "Give at least one in course.")


def _row(survey: LaneSurvey, row: Row) -> list[LaneMark]:
    marks = [mark for mark in survey.marks if mark.row == row]
    return sorted(marks, key=lambda mark: mark.distance_m)


def _sentence(mark: LaneMark) -> str:
    return mark.name[0].upper() + mark.name[1:]
