"""The clock and the scale on drawn clips, from the true joints: no pose model needed."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from calibration.clock_evidence import ClockEvidence
from calibration.falls import Fall, measure_fall
from calibration.scale import ASSUMED_STATURE
from calibration.time_base import fit_time_base
from calibration.values import Scale

pytestmark = pytest.mark.clips

NAMES = (
    "vertical_side_30", "vertical_side_60", "vertical_side_120", "vertical_side_240",
    "vertical_front_60", "vertical_oblique_60", "vertical_variable_60", "vertical_set_side_60",
    "vertical_slow_240in30", "drop_hops_side_60", "single_leg_left_side_60",
)  # fmt: skip

# Share of the body's mass, ends and centre from the first end: de Leva 1996, J Biomech 29:1223,
# mean of women and men.
SEGMENTS = (
    ("thigh", 0.1447, "hip", "knee", 0.385),
    ("shank", 0.0457, "knee", "ankle", 0.442),
    ("foot", 0.0133, "heel", "toe", 0.42),
    ("upper arm", 0.0263, "shoulder", "elbow", 0.576),
    ("forearm", 0.0150, "elbow", "wrist", 0.457),
)
TRUNK_SHARE, TRUNK_CENTRE, HEAD_SHARE = 0.4302, 0.405, 0.0681


def centre_of_mass_px(folder: Path, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Real times and heights (px, upwards) of the centre of mass from the true joints."""
    truth = np.load(folder / f"{name}.npz")
    names = [str(joint) for joint in truth["joints"]]
    heights = {joint: -truth["px"][:, number, 1] for number, joint in enumerate(names)}

    def both(joint: str) -> np.ndarray:
        found = [heights[key] for key in heights if key in (f"{joint}.L", f"{joint}.R")]
        assert len(found) == 2, names
        return np.asarray(found[0] + found[1]) / 2

    total = TRUNK_SHARE * (both("shoulder") + TRUNK_CENTRE * (both("hip") - both("shoulder")))
    total = total + HEAD_SHARE * both("ear")
    share = TRUNK_SHARE + HEAD_SHARE
    for _, mass, near, far, centre in SEGMENTS:
        total = total + 2 * mass * (both(near) + centre * (both(far) - both(near)))
        share += 2 * mass
    return np.asarray(truth["time_s"]), total / share


def falls_in(folder: Path, name: str, truth: dict, *, slow: float) -> tuple[Fall, ...]:  # type: ignore[type-arg]
    time_s, height_px = centre_of_mass_px(folder, name)
    falls = []
    for jump in truth["jumps"]:
        airborne = (time_s > jump["take_off_s"]) & (time_s < jump["landing_s"])
        fall = measure_fall(
            time_s[airborne] * slow,
            height_px[airborne],
            airborne_file_s=(jump["take_off_s"] * slow, jump["landing_s"] * slow),
        )
        assert isinstance(fall, Fall), fall
        falls.append(fall)
    return tuple(falls)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("assumed", [False, True])
def test_the_clock_of_a_clip_and_of_the_same_clip_slowed(
    shared_clips: Path, name: str, assumed: bool
) -> None:
    truth = json.loads((shared_clips / f"{name}.json").read_text())
    m_per_px = truth["camera"]["m_per_px_at_athlete"]
    sigma = 0.025
    if assumed:
        m_per_px *= ASSUMED_STATURE.value / truth["athlete"]["stature_m"]
        sigma = ASSUMED_STATURE.sigma / ASSUMED_STATURE.value
    time_s, _ = centre_of_mass_px(shared_clips, name)
    refused = []
    for slow in (1.0, 2.0, 4.0, 8.0):
        base = fit_time_base(
            time_s * slow,
            evidence=ClockEvidence(
                falls=falls_in(shared_clips, name, truth, slow=slow),
                ruler=Scale(m_per_px, sigma * m_per_px, source="stature"),
                ruler_assumed=assumed,
            ),
        )
        if base.status == "refused":
            refused.append(slow)
        else:
            assert base.file_s_per_s == pytest.approx(slow, rel=0.02)
            assert base.checked_by_gravity
    assert refused == [], name
