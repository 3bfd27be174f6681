"""What a view cannot show is absent, with its reason."""

from __future__ import annotations

import dataclasses

import pytest

from measure.landing.report import report_landing
from measure.landing.scene import set_scenes
from tests.measure.landing.doll import SCALE, Doll, clock, contact, flight, take_up, two_feet

SIDE_ONLY = ("knee_flexion_contact_deg", "trunk_lean_contact_deg", "hip_flexion_contact_deg",
             "ankle_flexion_peak_deg")  # fmt: skip
FRONT_ONLY = ("frontal_knee_angle_deg", "knee_ankle_separation_ratio", "trunk_side_lean_deg")
ANY_VIEW = ("time_to_steady_s", "held_s", "extra_step", "foot_lag_s", "deepest_s")


def reported(heading_deg: float, *, rate_hz: float = 120):
    time_s = clock(rate_hz)
    doll = Doll(
        time_s, knee_deg=take_up(time_s, contact=20, peak=70, rest=10), heading_deg=heading_deg
    )
    return report_landing(set_scenes(
        doll.film(), time_s=time_s, flights=[flight()], contacts=two_feet(0.01), scale=SCALE
    )[0])  # fmt: skip


@pytest.mark.parametrize(
    ("heading_deg", "there", "absent", "hint"),
    [(-90, SIDE_ONLY, FRONT_ONLY, "front"), (0, FRONT_ONLY, SIDE_ONLY, "side")],
)
def test_each_view_gives_its_own(heading_deg, there, absent, hint):
    report, refusals = reported(heading_deg)
    assert all(getattr(report, name) is not None for name in (*there, *ANY_VIEW))
    assert all(getattr(report, name) is None for name in absent)
    assert any(hint in refused.hint for refused in refusals)


def test_oblique_gives_neither_and_says_so():
    report, refusals = reported(45)
    assert all(getattr(report, name) is None for name in (*SIDE_ONLY, *FRONT_ONLY))
    assert all(getattr(report, name) is not None for name in ANY_VIEW)
    assert {refused.what for refused in refusals} >= {"landing posture", "landing frontal"}


@pytest.mark.parametrize("heading_deg", [-90, 0])
def test_every_number_has_its_doubt(heading_deg):
    report, _ = reported(heading_deg)
    values = dataclasses.asdict(report)
    for name, value in values.items():
        stem, _, unit = name.rpartition("_")
        if unit in ("deg", "ratio", "s") and "sigma" not in name and name != "deepest_s":
            sigma = values[f"{stem}_sigma_{unit}"]
            assert (sigma is None) == (value is None), name
            if isinstance(value, dict):
                assert set(sigma) == set(value), name


def test_hops_in_a_row_are_not_asked_to_hold():
    time_s = clock(60)
    contacts = [*(contact(foot, 1.3, 1.5) for foot in ("left", "right")),
                *(contact(foot, 1.9, None) for foot in ("left", "right"))]  # fmt: skip
    scenes = set_scenes(
        Doll(time_s).film(), time_s=time_s, flights=[flight(), flight(1.5, 1.9)],
        contacts=contacts, scale=SCALE,
    )  # fmt: skip
    first, last = (report_landing(scene)[0] for scene in scenes)
    assert first.is_rebounded
    assert first.held_s is None
    assert not last.is_rebounded
    assert last.held_s is not None
