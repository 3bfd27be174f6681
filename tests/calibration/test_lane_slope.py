"""Slopes told by posts beside a lane, seen by a known camera that was held askew."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_camera import LaneView, project
from calibration.lane_place import place_on_lane
from calibration.lane_slope import measure_slope
from calibration.lane_values import Lane, LaneSurvey, Upright
from calibration.values import Estimate, Refused
from tests.calibration.lanes import VIEW, Floats, camera, hips_px, survey

HIPS_M = np.linspace(0.5, 18.0, 8)
POSTS_M = ((3.0, 4.0), (15.0, 6.0))
"""Along the lane, and beyond its near row."""


def seen_on(slope: float, *, askew_deg: float, view: LaneView = VIEW) -> Floats:
    """A phone askew by so much against level, beside a lane that climbs."""
    return camera(roll_rad=-view.direction * math.atan(slope) + math.radians(askew_deg))


def posts(
    seen_by: Floats, slope: float, *, view: LaneView = VIEW, height_m: float = 2.5,
    noise: Floats | None = None,
) -> tuple[Upright, ...]:  # fmt: skip
    lean = math.atan(slope)
    found: list[Upright] = []
    for number, (along_m, away_m) in enumerate(POSTS_M):
        foot = np.array([along_m, 0.0, away_m])
        top = foot + height_m * np.array([math.sin(lean), math.cos(lean), 0.0])
        px = project(seen_by, view, np.stack([foot, top]))
        px = px if noise is None else px + noise[number]
        found.append(((float(px[0, 0]), float(px[0, 1])), (float(px[1, 0]), float(px[1, 1]))))
    return tuple(found)


def fitted(marked: LaneSurvey) -> Lane:
    lane = fit_lane(marked, width_px=1920, height_px=1080)
    assert isinstance(lane, Lane), lane
    return lane


@pytest.mark.parametrize("view", [VIEW, LaneView(1920, 1080, -1)])
@pytest.mark.parametrize(("slope", "askew_deg"), [(0.0, 2.5), (0.04, 0.0), (-0.065, -3.0)])
def test_a_hill_is_measured_whatever_way_the_phone_was_held(
    slope: float, askew_deg: float, view: LaneView
) -> None:
    seen_by = seen_on(slope, askew_deg=askew_deg, view=view)
    marked = survey(seen_by, view=view, uprights_px=posts(seen_by, slope, view=view))
    lane = fitted(marked)
    assert lane.survey.slope_pct == pytest.approx(100 * slope, abs=0.26)
    assert lane.survey.slope_pct % 0.5 == 0
    slope_read = measure_slope(lane)
    assert isinstance(slope_read, Estimate)
    assert slope_read.value == pytest.approx(100 * slope, abs=0.1)
    assert 0.3 < slope_read.sigma < 1.0
    read = place_on_lane(lane, hips_px(seen_by, HIPS_M, view=view, slope=slope))
    np.testing.assert_allclose(read.distance_m, HIPS_M, atol=0.02)


def test_the_stated_doubt_covers_the_error() -> None:
    rng = np.random.default_rng(3)
    seen_by = seen_on(0.03, askew_deg=1.0)
    over_sigma = []
    for _ in range(40):
        ends = posts(seen_by, 0.03, noise=rng.normal(0, 1.0, (2, 2, 2)))
        lane = fitted(survey(seen_by, noise_px=0.8, rng=rng, uprights_px=ends))
        slope = measure_slope(lane)
        assert isinstance(slope, Estimate)
        over_sigma.append((slope.value - 3) / slope.sigma)
    # Posts that lean a little are in the doubt, but not in this error.
    assert 0.5 < np.sqrt(np.mean(np.square(over_sigma))) < 1.25


def test_a_given_slope_stays_and_must_agree() -> None:
    seen_by = seen_on(0.04, askew_deg=1.5)
    ends = posts(seen_by, 0.04)
    assert fitted(survey(seen_by, uprights_px=ends, slope_pct=4.3)).survey.slope_pct == 4.3
    other = survey(seen_by, uprights_px=ends, slope_pct=-4.0)
    said = fit_lane(other, width_px=1920, height_px=1080)
    assert isinstance(said, Refused)
    assert "-4 %" in said.reason
    assert "+4.0 %" in said.reason


def test_uprights_that_tell_nothing_are_refused() -> None:
    seen_by = camera()
    short = posts(seen_by, 0.0, height_m=0.4)
    straight, (foot, top) = posts(seen_by, 0.0)
    leaning = straight, (foot, (top[0] + 25, top[1]))
    for ends, reason in ((short, "pixels tall"), (leaning, "lean by")):
        said = fit_lane(survey(seen_by, uprights_px=ends), width_px=1920, height_px=1080)
        assert isinstance(said, Refused)
        assert reason in said.reason


def test_a_hill_that_nobody_told_of_is_named() -> None:
    said = fit_lane(survey(seen_on(0.1, askew_deg=0.0)), width_px=1920, height_px=1080)
    assert isinstance(said, Refused)
    assert "climbs by +10 %" in said.reason
    assert "slope_pct" in said.hint
